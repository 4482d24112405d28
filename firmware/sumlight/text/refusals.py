"""Why a command is not carried out now, and what helps. Which code goes with which is up to whoever refuses."""

WORDS = {
    # what stands in the way
    "exposure_under_way": "An exposure is under way.",
    "no_exposure_under_way": "No exposure is under way.",
    "nothing_waits_to_go_on": "Nothing is waiting to go on.",
    "lid_not_opened_since_light": "The lid was not opened since the last light.",
    "lid_not_shut": "The lid is not shut.",
    "fault_by_name": "{title}.",
    "fault_is_standing": "A fault is standing.",
    "look_needs_a_word": "Say in a few words what was found.",
    "may_still_lie_inside": "What was lit last may still lie inside.",
    "recipe_has_changed": "The recipe has changed since you looked.",
    "box_has_moved_on": "The box has moved on since you looked.",
    "meter_gives_no_reading": "The light meter of bank {bank} gives no reading.",
    "last_panel_is_recorded": "The last panel is still being recorded.",
    "computer_too_slow": "This computer is too slow: {rate_hz:.0f} ticks a second, {needed_hz:.0f} needed.",
    "series_not_taken_up": "A {kind} series cannot be taken up after a restart.",
    "real_box_by_hand": "this is a real box; its parts are moved by hand",
    "line_too_long": "a line may hold at most {limit_kib} KiB; the connection is closed",
    "dark_beside_something_else": "the line asks for dark and for something else; only dark is done",
    "refused_and_remedy": "{told}. {remedy}",
    "no_process_to_kill": "this simulated box has no process of its own that could be killed",
    "no_hands_asked_for": "nothing is asked of anybody's hands just now",
    "text_too_long_for_a_line": "That is too much text.",
    "leds_never_calibrated": "Bank {bank} has LEDs, and the number in box.yaml says nothing about those.",
    "dose_cannot_be_told": "The light cannot have been right, so nobody can say how much this panel got.",
    "guard_before_dose": (
        "This dose takes about {needs_s:.0f} s of light here, but the recipe's time_guard_s ends it after "
        "{guard_s:.0f} s."
    ),
    "limit_before_dose": (
        "This dose takes about {needs_s:.0f} s of light here, but the box's limits.lit_limit_s ends it after "
        "{guard_s:.0f} s."
    ),
    # what helps
    "acknowledge_before_looking": "Clear it first, when its cause is gone.",
    "longer_guard_or_less_dose": "If the lamps are in order, raise time_guard_s in the recipe; else clean or renew "
    "them.",
    "more_light_or_less_dose": (
        "The light is too weak for this dose: clean or renew the lamps, or change the limit in box.yaml."
    ),
    "calibrate_leds_first": "Expose a step tablet, read a radiometer or teach first; then panels can be lit.",
    "abandon_and_see_to_light": "Give up this panel and see to the light.",
    "finish_or_abandon_first": "Finish it first, or give it up.",
    "nothing_to_abandon": "There is nothing to give up.",
    "start_a_panel_instead": "Start a panel instead.",
    "shut_it_then_try": "Shut it, then try again.",
    "read_its_remedy": "Read its remedy, then acknowledge it.",
    "reload_and_read": "Load the page again and read it, then press.",
    "look_again_then_press": "Look again, then press.",
    "check_cable_tried_again": "Check the sensor's cable; it is tried again every second.",
    "try_in_a_moment": "Try again in a moment.",
    "end_what_else_runs": "End what else runs on this computer, or use a faster one.",
    "begin_it_anew": "Start it again.",
    "mend_recipe_then_start": "Mend the recipe, then start again.",
    "shorten_label_or_note": "Shorten the label or the note.",
    "lit_limit_counts": (
        "time_guard_s is {wanted_s:g} s and limits.lit_limit_s of this box allows {limit_s:g} s: light ends by that"
    ),
    # recipes and series that this box cannot run
    "together_needs_two_banks": "'together' lights both sides at once and needs two lamp banks; this box has one.",
    "turn_or_add_bank": "Use 'turned', or add a bank to box.yaml.",
    "draft_too_long": (
        "This box lights a side for {limit_s:g} s at most (limits.lit_limit_s); the draft wants {lit_s:g} s."
    ),
    "shorten_or_raise_limit": "Shorten the time, or raise the limit in box.yaml.",
    "draft_too_short": (
        "In {lit_s:g} s a lamp that does not strike would not be noticed; this box waits {limit_s:g} s for light."
    ),
    "longer_or_dose": "Give a longer time, or a dose.",
    "recipe_without_dose": "This recipe has neither a dose nor a time yet.",
    "strip_or_give_one": "Expose a test strip with it, or give it a time or a dose.",
    "tablet_without_dose": "This recipe has no dose to compare with.",
    "give_reference_dose": "Give the dose that is known to just hold the step.",
    "no_such_series": "'{kind}' is not a series.",
    "there_is": "There is {known}.",
    "doses_or_seconds": "A series has either doses or seconds.",
    "give_one_of_two": "Give one of the two.",
    "so_many_legs": "{count} rounds are not possible.",
    "give_legs": "Give 1 to {most}.",
    "so_long_a_leg": "{seconds:g} s is not possible.",
    "give_seconds": "Give more than 0 and at most {most_s:g} s.",
    "so_high_a_dose": "A dose of {dose_mj_cm2:g} is not possible.",
    "give_dose": "Give 0 to {most_mj_cm2:g}.",
}
