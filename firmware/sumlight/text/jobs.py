"""Of jobs: plans, steps of a panel's card, what to do now, timers."""

PLANS = {
    "plan_board_one": "Board, one side",
    "plan_board_two": "Board, two sides",
    "plan_sheet_two": "Sheet, two sides",
    "plan_half_etched": "Half-etched sheet",
}
"""The built-in plans."""

TITLES = {
    "step_cut": "Cut and deburr",
    "step_degrease": "Degrease",
    "step_water_break": "Water-break test",
    "step_dry": "Dry",
    "step_laminate": "Laminate side {side}",
    "step_settle": "Let it settle",
    "step_expose": "Expose side {side}",
    "step_expose_both": "Expose both sides",
    "step_hold": "Hold",
    "step_outer_film": "Outer film off",
    "step_outer_films": "Outer film off both sides",
    "step_develop": "Develop",
    "step_rinse": "Rinse",
    "step_touch_up": "Look and touch up",
    "step_seal_edges": "Seal the edges",
    "step_mask_back": "Mask the back",
    "step_etch": "Etch",
    "step_look": "Look",
    "step_strip": "Strip",
    "step_part": "Part from the frame",
}
"""What a step is called."""

NOW = {
    "do_cut": "Cut the panel larger than the artwork and break its edges: a burr tears the film.",
    "do_degrease": "Scrub it with detergent and a fine abrasive, then touch only the edges.",
    "do_water_break": "Rinse and tilt it: water runs off as one sheet. Where it breaks, degrease again.",
    "do_dry_bare": "Dry it through, best {low:g} to {high:g} min at {warm:g} °C: damp lets the film go.",
    "do_laminate": (
        "Inner film off; resist onto side {side}, dry or on a film of water; {passes:g} slow passes at {low:g} to "
        "{high:g} °C; trim, look for bubbles."
    ),
    "do_settle": "Let it cool in the dark for {minutes:.3g} min.",
    "do_expose": (
        "Side {side} to the lamps under its film, printed side to the resist: {recipe}, {dose_mj_cm2:g} {unit}."
    ),
    "do_expose_both": (
        "Panel between both films, printed sides to the resist: {recipe}, {dose_mj_cm2:g} {unit} on each side."
    ),
    "do_expose_draft": "Side {side} to the lamps under its film, printed side to the resist: {recipe}.",
    "do_expose_both_draft": "Panel between both films, printed sides to the resist: {recipe}.",
    "do_hold": "Let it rest in the dark for {minutes:.3g} min.",
    "do_hold_within": "Let it rest in the dark for {minutes:.3g} min, {hours:.3g} h at most.",
    "do_outer_film": "Take the clear outer film off the resist, just before developing.",
    "do_outer_films": "Take the clear outer film off both sides, just before developing: under it nothing develops.",
    "do_develop": "Rock it until the last open place clears, about {clear_s:.0f} s. {dwell}",
    "do_develop_unknown": (
        "Rock it until the last open place clears, and time that: divided by {share:g} it is the whole stay."
    ),
    "do_rinse": "Rinse both sides with plenty of water.",
    "do_dry": "Blot or blow it dry; do not wipe.",
    "do_touch_up": "Look for scum, holes and lifted edges; touch holes up with lacquer, scrape nothing.",
    "do_seal_edges": "Cover edges and frame with tape or lacquer, wherever metal is bare and is to stay.",
    "do_mask_back": "Cover the whole back and the edges with tape or lacquer.",
    "do_in_bath": "Take {bath}. {told}",
    "do_etch": "Into the bath, rock it: first look after {first_min:.1f} min, then every {every_min:.1f} min.",
    "do_etch_unknown": "Into the bath, rock it, look every few minutes and note when the first place is through.",
    "do_look_through": "Rinse, hold it against the light: every opening clear? If not, back into the bath.",
    "do_look_board": "Rinse and look: is metal left between the lines? If so, back into the bath.",
    "do_strip": "Leave it in until the resist lifts by itself; rock the tray, do not scrape.",
    "do_part": "Cut the tabs, take the part out, break its edges.",
    "board_is_seen": "Done is when no metal is left in the openings: that is seen, not timed.",
}
"""One sentence what to do now, with the panel's own numbers."""

RINGS = {
    "ring_half": "half of the time: turn the panel, rock the tray",
    "ring_look_clear": "look: is the last place clear?",
    "ring_look_etch": "look: the places that go last",
    "ring_end": "the time is over",
    "timer_by_hand": "Timer",
}
"""What a timer says when it rings."""

REFUSED = {
    "plan_needs_two": "{plan} is lit from two sides; the recipe '{recipe}' lights one",
    "plan_needs_one": "{plan} is lit from one side; the recipe '{recipe}' lights two",
    "take_another_recipe": "Take another recipe or another plan.",
    "no_such_job": "there is no open job {job_id}",
    "no_such_panel": "there is no panel {panel_id} in an open job",
    "no_such_step": "the plan has no step {step_id}",
    "no_such_timer": "no timer {timer_id} runs",
    "too_many_panels": "{panels} panels are on their way already; at most {most} at a time",
    "end_a_job_first": "End a job that is over.",
    "too_many_timers": "{most} timers run already",
    "stop_a_timer_first": "Stop one first.",
    "no_step_of_plan": "Step {number} is '{step}'. The plan '{plan}' has no such step, or not so often.",
    "list_of_steps": "a list of at most {most} steps, written as a shared job has them",
    "no_such_shared_job": "there is no such job in the folder; there are: {known}",
    "too_many_steps": "a plan has at most {most} steps",
    "words_needed": "'words' is empty; say in a few words what is to be done",
    "etchant_and_rate": "'etchant' and 'rate_um_min' say something together only",
}
"""What cannot be."""

WORDS = {**PLANS, **TITLES, **NOW, **RINGS, **REFUSED}
