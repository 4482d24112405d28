"""Of measurements: step tablets, test strips, sheets, the field, contact, and how a process holds."""

TABLET = {
    "tablet_plan": (
        "Expose {zones} zones of one panel, the tablet on each in turn and the rest masked: {doses_mj_cm2} {unit}. "
        "Read together they settle the dose to about ±{share:.0%}."
    ),
    "every_step_held": "Every step was held: that gives no number.",
    "no_step_held": "No step was held: that gives no number.",
    "try_with_factor": "Try again with {factor:g} times the dose.",
    "step_just_held": (
        "Step {step} is just held at {dose_mj_cm2:.1f} {unit} as counted now; {reference_mj_cm2:g} is known to do it."
    ),
    "true_dose_is": ("So the true dose is {factor:.3f} of what was counted (±{share:.0%} by these readings)."),
    "panel_contradicts": "On one panel the readings can hardly all be right: read the tablets again.",
    "panels_contradict": "On {panels} panels the readings can hardly all be right: read the tablets again.",
    "conventions_mixed": "Two reading conventions are mixed; make sure that each reading names the right one.",
    "one_reading": ("One reading resolves no better than a step; more zones at doses a fraction of a step apart do."),
    "far_from_expected": (
        "That lies {sigmas:.1f} standard deviations from what was expected: read the tablet again, mind which "
        "convention it was read in, and run the self-check. If it stands, send it again as sure."
    ),
    "calibration_was_set": "The calibration was set by it.",
    "lamps_changed_since_tablet": "The lamps were changed since this tablet was exposed.",
    "sensor_moved_since_tablet": "The sensor was moved since this tablet was exposed.",
    "dose_found_before": (
        "Side {side}: this dose was found before the calibration. The same light is now called {dose_mj_cm2:.4g} "
        "mJ/cm², not {before:.4g}."
    ),
    "reference_found_here": (
        "{dose_mj_cm2:.4g} was found on this box, in its own units. It cannot tell what mJ/cm² are."
    ),
    "reference_from_outside": "Give the dose of the resist's data sheet, or calibrate with a radiometer.",
    "number_changed_since": (
        "Side {side}: the number in box.yaml was changed since this dose was found. The same light is now called "
        "{dose_mj_cm2:.4g}, not {before:.4g}."
    ),
    "take_dose_over": "Take the new dose over under Recipes. Keep the old one there if a data sheet gives it.",
    "doses_wait_for_you": "Doses found before have other numbers now: take them over under Recipes.",
    "dose_never_lit": "This box has not lit this dose yet. It counts as mJ/cm².",
    "dose_never_lit_box_units": "This box has not lit this dose yet. It counts in box units.",
    "dose_in_box_units": "In box units: nothing outside the box had checked them when this dose was found.",
    "dose_by_calibration": "In mJ/cm², found under a calibration ({origin}).",
    "sides_have_numbers_of_their_own": (
        "No single dose gives both sides the light of then: make a recipe for each side."
    ),
    "recipe_has_no_dose": "recipe '{name}' has no dose yet, so there is none to keep",
    "dose_of_other_light": (
        "Side {side}: {dose_mj_cm2:.4g} was found before the calibration, with other lamps or another sensor. What it "
        "is in mJ/cm², nobody knows."
    ),
    "find_dose_anew": ("Find it again with a test strip. If a data sheet gives it, keep it under Recipes."),
    "kind_changed_since_tablet": "This tablet was exposed with another kind of light sensor.",
    "expose_another": "Expose another one.",
    "no_such_zone": "there is no finished zone '{zone}'; there is {known}",
    "no_zone_at_all": "there is no finished zone '{zone}'; there is none",
    "no_record_of_calibration": "this exposure has no record of its calibration",
    "readings_give_nothing": "these readings give no number; read again",
    "tablet_dose_above_zero": "dose_mj_cm2 must be above 0, not {value:g}; enter the dose the tablet got",
    "densities_not_so_many": (
        "a certificate lists {steps} densities, not {found}; give those of steps 1 to {steps}, or none"
    ),
    "densities_out_of_bounds": (
        "densities lie between 0 and {high:g} and rise, not from {first:g} to {last:g}; give those of step 1 first"
    ),
    "densities_must_rise": (
        "step {step} has density {after:g} and the one before {before:g}; each must be denser by at least 0.02"
    ),
    "half_without_number": "half cannot be true with step {step}; a half-held step has a number",
    "step_not_readable": (
        "step must lie between {first} and {last} for the convention {convention}, not {step}; use all_held or "
        "all_gone if the edge of the image lies beyond the tablet"
    ),
    "must_be_above_zero": "{field} must be above 0, not {value:g}",
}

STRIP = {
    "whole_strip_open": "Leave the whole strip open.",
    "slide_mask_over": "Slide the mask over zone {zone}.",
    "gets_more": "It gets {dose_mj_cm2:.4g} {unit} more.",
    "shortest_part": (
        "The shortest part takes only {seconds:.1f} s: begin with a larger dose, choose a larger factor or weaken the "
        "light."
    ),
    "no_zone_held": "No zone held: this resist needs more than {dose_mj_cm2:.1f} mJ/cm².",
    "begins_to_hold": "The resist begins to hold between {low_mj_cm2:.1f} and {high_mj_cm2:.1f} mJ/cm².",
    "no_zone_held_box_units": "No zone held: this resist needs more than {dose_mj_cm2:.1f} box units.",
    "begins_to_hold_box_units": ("The resist begins to hold between {low_mj_cm2:.1f} and {high_mj_cm2:.1f} box units."),
    "strip_factor": "factor must lie between {low:g} and {high:g}, not {value:g}; 1.19 is half a tablet step",
    "no_part_completed": "no part of this strip was completed",
}

SHEETS = {
    "sheet_opaque": "No light to speak of passes: this sheet is opaque.",
    "sheet_blocks_uv": "This sheet blocks UV: it looks clear but the resist stays dark under it.",
    "sheet_takes_more_uv": (
        "This sheet takes more UV than violet light; expose a step tablet under it before using it."
    ),
    "sheet_dim": "This sheet passes only {share:.0%} of the light, UV and violet alike.",
    "sheet_passes": "This sheet passes UV: {share:.0%} of the light comes through.",
    "stack_passes": "Together {share:.1%} ± {doubt:.1%} passes: put it into the recipe.",
    "stack_unsure": (
        "Together {share:.1%} ± {doubt:.1%} passes: too unsure for a recipe. The lamps gave unequal light in the"
        " rounds. Let them burn for some minutes, then measure again without a wait between the rounds."
    ),
    "stack_not_for_recipe": (
        "Do not put this into a recipe: the sensor cannot tell how much UV passes. Expose a tablet under it."
    ),
    "steps_are_left": "{steps:.1f} steps are left before black areas leave resist.",
    "few_steps_left": (
        "Only {steps:.1f} steps are left before black areas leave resist, {safe:.0f} are safe: {advice}."
    ),
    "black_leaves_resist": "Black areas leave resist before the image holds ({steps:.1f} steps short): {advice}.",
    "print_denser": "print two layers, or look for thin toner or a dye ink that lets UV through",
    "no_such_exposure": "there is no exposure {number}",
    "exposure_not_ended": "exposure {number} has not ended",
    "let_it_end_first": "Let it end first; if it has, its end is being written: try again in a moment.",
    "exposure_of_other_kind": "exposure {number} is a {kind}, not a {wanted} series",
    "run_series_of_kind": "Run a series of kind {wanted} first.",
    "leg_without_trace": "round {leg} has no trace",
    "leg_too_short": ("round {leg} is too short to measure ({seconds:.1f} s); give each round three seconds or more"),
    "covered_names_legs": "'covered' must name some of the rounds {legs}, not all",
    "open_leg_needed": "a round without any sheet is needed beside the covered ones",
    "open_reading_too_weak": ("without the sheet the reading does not stand out from darkness; light the lamps first"),
    "transmission_above_one": (
        "transmission must not be above 1, not {value:.3f}; repeat the reading without the sheet"
    ),
    "transmission_not_finite": ("transmission needs a finite value and a standard uncertainty of at least 0"),
    "held_below_clean": ("held_step must lie below clean_step, both within 1 to 21, not {held:g} and {clean:g}"),
}

FIELD = {
    "weakest_place": "The weakest place gets {share:.0%} of the strongest, {steps:.1f} tablet steps less.",
    "panels_mean": "The panel's mean is {factor:.3f} of the sensor's place.",
    "places_and_finished_legs": "'places' holds {places} places, but {legs} rounds were finished",
    "sensor_and_panel": "'sensor' is [x, y], 'panel' [x0, x1, y0, y1]",
    "field_readings_above_zero": "every reading must be above 0; light the lamps and subtract darkness first",
    "middle_read_twice": "the middle must be read at least twice, at the beginning and at the end of the walk",
    "grid_too_small": "the grid needs at least two columns and two rows",
    "irradiances_above_zero": "irradiances must be above 0",
    "panels_edges_rise": "the panel's edges must rise: x {x0:g} to {x1:g}, y {y0:g} to {y1:g}",
    "grid_has_hole": "the grid has a hole: no reading at x {x_mm:g} mm, y {y_mm:g} mm",
}

CONTACT = {
    "contact_is_good": "Light creeps at most {total_um:.0f} µm under each edge: contact is good.",
    "light_creeps": (
        "Light can creep up to {total_um:.0f} µm under each edge, {largest_um:.0f} µm of it through the {layer}: "
        "{remedy}."
    ),
    "turn_the_artwork": "The artwork lies with its image away from the resist: turn it.",
    "layer_air_gap": "air gap",
    "layer_film_base": "film base",
    "layer_cover_sheet": "cover sheet",
    "layer_resist": "resist",
    "remedy_air_gap": "draw the vacuum longer or look for dust and waves",
    "remedy_film_base": "turn the artwork so that its image side lies on the resist",
    "remedy_cover_sheet": "nothing to do, the cover sheet has to stay on",
    "remedy_resist": "only a thinner resist or straighter light helps",
}

WEAK_LIGHT = {
    "dose_holds": "The dose holds as far as these readings tell: its exponent is {p:.2f} ± {doubt:.2f}.",
    "weak_light_does_less": "Weak light does less than its dose says: its exponent is {p:.2f} ± {doubt:.2f}.",
    "weak_light_does_more": "Weak light does more than its dose says: its exponent is {p:.2f} ± {doubt:.2f}.",
    "at_half_the_light": "At half the light the resist needs {low:.2f} to {high:.2f} times the dose.",
    "write_p_into_recipe": "Write the exponent {p:.2f} into the recipe, with the light at which its dose was found.",
    "two_irradiances": "at least two irradiances with doses and uncertainties above 0 are needed",
    "irradiances_differ": "irradiances must differ by a factor of {factor:g} at least; change the light more",
    "no_exponent": ("the doses rise almost with the irradiance itself; no exponent describes that, read them again"),
}

CHART = {
    "rule_beyond": "one point beyond three standard deviations",
    "rule_two_of_three": "two of three points in a row beyond two standard deviations on the same side",
    "rule_four_of_five": "four of five points in a row beyond one standard deviation on the same side",
    "rule_eight": "eight points in a row on the same side of the mean",
    "rule_above": "{rule}, above the mean",
    "rule_below": "{rule}, below the mean",
    "process_shifted": (
        "The process has shifted: {rules:; }. Look for the cause before panels fail. A steady process, too, raises "
        "such an alarm about once in {all:.0f} points, with limits from the same points about once in {own:.0f}; work "
        "may go on."
    ),
    "limits_need_values": "{values} of the {fewest} values that limits need; go on recording.",
    "steady_value": "Steady: the newest value breaks no rule.",
}

WORDS = {**TABLET, **STRIP, **SHEETS, **FIELD, **CONTACT, **WEAK_LIGHT, **CHART}
