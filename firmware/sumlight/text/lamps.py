"""Of lamps: how a bank ages, what happened to it, and tubes that are changed."""

WORDS = {
    # a bank for itself
    "bank_stands": "Bank {bank}: {hours:.0f} lamp hours, {light_mw_cm2:.2f} mW/cm² at the meter.",
    "still_running_in": (
        "Bank {bank}: {hours:.0f} lamp hours; still running in. New lamps fade fastest in the first {seasoned_h:.0f} "
        "h, so nothing is predicted before then."
    ),
    "too_few_days": (
        "Bank {bank}: {hours:.0f} lamp hours; {seen} of {days} days with readings after the first {seasoned_h:.0f} h. "
        "At least {fewest} are needed before a trend is shown."
    ),
    "no_curve": "Bank {bank}: no curve fits its readings: {why}.",
    "seasoned_light_unknown": (
        "What these lamps gave once run in is not on record, so their share of new is not known."
    ),
    "share_of_new": "That is {share:.1%} of new ({low:.1%} to {high:.1%}).",
    "share_of_new_all_seasons": "That is {share:.1%} of new ({low:.1%} to {high:.1%}, the room's seasons included).",
    "change_these_lamps": "The replacement level of {level:.0%} is reached: change these lamps.",
    "level_beyond_cap": (
        "The replacement level of {level:.0%} lies more than {cap_h:.0f} lamp hours ahead; nothing is predicted beyond "
        "six times the observed time."
    ),
    "level_at_least": (
        "The replacement level of {level:.0%} is at least {low_h:.0f} lamp hours ahead; an upper bound would lie "
        "beyond six times the observed time ({cap_h:.0f} h from now) and is not predicted."
    ),
    "level_in_hours": "Replacement level of {level:.0%} in {hours:.0f} lamp hours ({low_h:.0f} to {high_h:.0f}).",
    "usual_recipe_takes": ("Recipe {recipe} takes {now_s:.0f} s now, at {level:.0%} of new it takes {then_s:.0f} s."),
    # why no curve
    "curve_needs_readings": "a curve with {unknowns} unknowns needs more readings than {readings}",
    "lamp_reading_above_zero": "light and weight of every reading must be above 0",
    "too_few_left": "too few readings are left after those far off were put aside",
    "ages_too_alike": "the readings cannot tell these unknowns apart; their ages are too much alike",
    # what happened
    "a_tube_out": (
        "{share:.0%} less light all at once at {hours:.0f} h: it looks as if a tube has gone out. Look at the lit bank "
        "with UV goggles on."
    ),
    "tubes_out": (
        "{share:.0%} less light all at once at {hours:.0f} h: it looks as if {tubes} tubes have gone out. Look at the "
        "lit bank with UV goggles on."
    ),
    "light_lost": (
        "{share:.0%} less light all at once at {hours:.0f} h, not by whole tubes. Look for a failing tube or ballast."
    ),
    "light_lost_or_cold": (
        "{share:.0%} less light all at once at {hours:.0f} h, not by whole tubes: a failing tube or ballast, or a room "
        "that has turned cold."
    ),
    "light_fouled": (
        "{share:.0%} less light at {hours:.0f} h, and the sensor's own light fell too: clean diffuser and sensor."
    ),
    "light_cleaned": (
        "{share:.0%} more light at {hours:.0f} h, and the sensor's own light rose too: the diffuser was cleaned."
    ),
    "unknown_swap": ("{share:.0%} more light at {hours:.0f} h: were tubes changed? Record the swap, then calibrate."),
    "unknown_swap_or_warm": (
        "{share:.0%} more light at {hours:.0f} h: were tubes changed? Then record the swap and calibrate. A room that "
        "is heated again gives more light too."
    ),
    "tube_swapped": "Tube swapped at {hours:.0f} h: {share:+.0%} light.",
    "calibrated_then": (
        "{share:+.0%} at {hours:.0f} h: the box was calibrated then; earlier light is put into the new unit."
    ),
    "sensor_light_fell": (
        "The sensor's own light has fallen by {share:.0%}: clean the diffuser; the lamps are judged without it."
    ),
    # signs of wear
    "slow_strike": (
        "Tubes strike slowly: {now_s:.1f} s instead of {usual_s:.1f} s. Cathodes or starters are wearing out."
    ),
    "slow_warm_up": "Warm-up takes {now_s:.0f} s instead of {usual_s:.0f} s.",
    "light_flickers": (
        "The light flickers by {now:.1%}, it was {usual:.1%}. A tube or its starter is probably near its end."
    ),
    # banks beside each other
    "weak_bank": "Bank {weak} is the weak one: {share:.0%} of new, bank {best} has {best_share:.0%}.",
    "unequal_banks": "Bank {weak} gives {share:.0%} less than bank {best}: its side takes longer for a dose.",
    # when to change them
    "use_not_known": "No date is given before the use of {days} days is known.",
    "lamps_not_used": "The lamps were not used in the last {days} days, so no date can be given.",
    "date_beyond_cap": (
        "At the present use of {use_h:.1f} h a week no date is given: it lies after {day}, beyond six times the "
        "observed time."
    ),
    "date_far_ahead": (
        "At the present use of {use_h:.1f} h a week the replacement level is more than ten years ahead."
    ),
    "date_not_before": (
        "At the present use of {use_h:.1f} h a week the replacement level is not reached before {day}; a later bound "
        "is not given."
    ),
    "date_about": (
        "At the present use of {use_h:.1f} h a week the replacement level is reached about {day} ({low} to {high})."
    ),
    # tubes that are changed
    "lamp_set_recorded": "Lamp set {number} of bank {bank} is recorded.",
    "lamps_begin_anew": (
        "Hours and starts begin at zero; the old calibration no longer holds: expose a step tablet before the first "
        "panel."
    ),
    "lamps_begin_at": (
        "Hours and starts go on from {hours:g} h and {strikes} starts; the old calibration no longer holds: expose a "
        "step tablet before the first panel."
    ),
    "logbook_cannot_be_written": "The logbook cannot be written: {why}.",
    "make_room": "Make room on the card or replace it.",
    "no_such_bank": "there is no bank '{bank}'; there is {known}",
    "tubes_not_during_exposure": "Tubes cannot be changed during an exposure.",
    "finish_panel_first": "Finish the panel first, or give it up.",
    "lamp_type_empty": "'lamp_type' is empty: write what is printed on the tube",
    "places_or_count": (
        "name either 'positions', the places that were changed, or 'tubes', how many it has, if all were"
    ),
    "places_once": "places are whole numbers from 1 to {most}, each named once",
}
