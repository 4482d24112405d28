"""Of the light: its colour, the sensor's self-check, and what a calibration is worth."""

COLOUR = {
    "other_light_reaches_sensor": (
        "Other light than the lamps' reaches the sensor ({share:.1%} of its reading): look for daylight."
    ),
    "violet_filter_gone": (
        "The sensor sees more red and infrared than before: its violet filter is missing or has slipped."
    ),
    "colour_of_other_lamps": (
        "The colour of the light is not that of the lamps this box was calibrated with: other lamps are fitted."
    ),
    "tubes_were_changed": (
        "UV against the violet lines changed more than by ageing: the tubes were changed. Calibrate again."
    ),
    "colour_drifts": "The lamps' colour drifts as it does with age; step-tablet checks keep the dose right.",
    "colour_as_calibrated": "The light has the colour it had at the calibration.",
    "next_to_no_violet": (
        "There is light, but next to none of the violet that this box was calibrated with: other lamps are fitted."
    ),
}

SELF_CHECK = {
    "first_led_reading": "First reading of the sensor's LED: later ones are compared with it.",
    "reads_as_before": "Diffuser, sensor and lamps read as before.",
    "lamps_changed": (
        "The lamps give {share:.0%} of what they did while the sensor's LED reads as before: the lamps changed."
    ),
    "diffuser_dirty": "The diffuser passes only {share:.0%} of what it did: clean it.",
    "dose_corrected_meanwhile": "The dose is corrected meanwhile.",
    "diffuser_cleaned": "The diffuser passes {share:.0%} of what it did: it was cleaned.",
    "dose_corrected": "The dose is corrected.",
    "diffuser_as_before": "The diffuser passes {share:.0%}, as at the last self-check; the dose is corrected for it.",
    "cleaned_since_check": "The diffuser was cleaned since the last self-check; apply the correction.",
    "apply_until_then": "Apply the correction until then.",
    "calibrated_since_check": (
        "A calibration was made since the last self-check and may hold this already: nothing is corrected. Expose a "
        "step tablet if in doubt."
    ),
    "correction_applied": "The correction was applied.",
    "sensor_changed": "The sensor changed: {why}. Look at it, then calibrate with a step tablet.",
    "channels_changed_differently": "its channels changed differently, so a filter or the sensor itself changed",
    "led_differs_lamps_do_not": "the LED reads differently while the lamps read as before",
    "led_not_from_dirt": "an LED reading of {ratio:.2f} of the reference cannot come from dirt alone",
    "no_self_check_led": "This sensor has no LED of its own: a self-check is not possible with it.",
    "wipe_window_instead": "Wipe its window now and then, and let step tablets tell.",
    "self_check_runs": "The sensor's self-check is running.",
    "takes_two_seconds": "It takes two seconds; then try again.",
    "self_check_needs_dark": "The self-check needs dark lamps: finish it first.",
    "self_check_needs": "The self-check needs a shut lid, a sensor that reads and no fault.",
    "see_to_that_first": "See to that first.",
    "no_correction_to_apply": "There is no correction to apply.",
    "run_self_check_first": "Run the self-check first.",
}

CALIBRATION = {
    "of_bank": "Bank {bank}: {told}",
    "of_side": "Side {side}: {told}",
    "worth_absolute": "±{share:.0%}",
    "worth_repeat": "±{share:.0%} between doses of this box",
    "sensor_sits_elsewhere": (
        "The sensor sits elsewhere than at its calibrations: they no longer hold here, expose a step tablet."
    ),
    "other_kind_wants_tablet": (
        "The calibrations were made with another kind of light sensor: they say nothing of this one, expose a step "
        "tablet."
    ),
    "uv_meter_blind_to_leds": (
        "It does not tell these LEDs from others, so ± covers other ones. If yours are built in, say so in box.yaml."
    ),
    "uv_meter_trusts_leds": "It does not tell these LEDs from others: record new ones.",
    "uv_meter_losses": "The sensor measures UV itself. It sees no colour and has no self-check LED.",
    "new_lamps_want_tablet": "New lamps: expose a step tablet before the first panel.",
    "file_number_wants_tablet": (
        "Nobody has calibrated this box: the number that it was built with is worth {worth}. The recipe allows "
        "±{tolerance:.0%}: a step tablet makes it better."
    ),
    "file_number_will_do": (
        "Nobody has calibrated this box: the number that it was built with is worth {worth}. The recipe allows "
        "±{tolerance:.0%}: good enough for it."
    ),
    "calibration_wants_tablet": (
        "The uncertainty of the calibration has grown to {worth}, the recipe allows ±{tolerance:.0%}: expose a step "
        "tablet."
    ),
    "calibration_worth": "The calibration ({origin}) is worth {worth}.",
    "from_tablet": "tablet",
    "from_radiometer": "radiometer",
    "from_teach": "teach",
    "checks_disagreed": "The last {checks} checks disagreed more than expected; ± is now {share:.0%}.",
    "references_agree": (
        "Tablet and radiometer lie {apart:.0%} apart; by what both state, up to {share:.0%} is no contradiction."
    ),
    "references_disagree": (
        "Tablet and radiometer lie {apart:.0%} apart, though both together state {share:.0%}. One of them is wrong: "
        "check both. Until then ± is wider by it."
    ),
    "doses_are_relative": "Doses are relative: they repeat, but are not mJ/cm².",
    "light_jumped": (
        "Bank {bank}: the light jumped by {share:+.0%} within this exposure. If something moved before the sensor, the "
        "panel did not get that. ± is wider by it."
    ),
    "window_not_applied": (
        "Bank {bank}: the self-check found that the sensor's window changed the light by {share:+.0%}, and nobody has "
        "applied it. ± is wider by it: clean the window, or apply it."
    ),
    "light_jumped_before": (
        "Bank {bank}: the light jumped by {share:+.0%} within an earlier panel. If something moved before the sensor, "
        "doses are wrong by it. ± is wider by it: run the self-check."
    ),
    "light_jumped_before_without_led": (
        "Bank {bank}: the light jumped by {share:+.0%} within an earlier panel. If something moved before the sensor, "
        "doses are wrong by it. ± is wider by it: look at the sensor, then calibrate."
    ),
    "sensors_apart": (
        "Bank {bank}: violet beside UV changed by {share:.0%}. Is one of the two sensors dirty? ± is wider by it: "
        "clean both. If it stays, calibrate."
    ),
    "colour_sensor_silent": (
        "The colour sensor beside the UV sensor says nothing ({why}). Other lamps, daylight and a dirty window go "
        "unseen."
    ),
    "leds_unlike_last": (
        "Bank {bank}: {share:+.0%} light since the calibration. Other LEDs? Then record them and calibrate. ± is wider "
        "by it."
    ),
    "light_weaker_than_last": (
        "Bank {bank}: {share:.0%} less light than panels had before. Cold lamps do that. So does a dirty window, which "
        "makes doses too high. ± is wider by it: run the self-check."
    ),
    "light_weaker_without_led": (
        "Bank {bank}: {share:.0%} less light than panels had before. Cold lamps do that. So does a dirty window, which "
        "makes doses too high. ± is wider by it: clean the window. If it stays, calibrate."
    ),
    "lamps_start_unlike": (
        "Bank {bank}: the lamps start unlike those of the calibration. Other lamps? Then record them. ± is wider by it."
    ),
    "lamps_ripple_unlike": (
        "Bank {bank}: the lamps ripple unlike those of the calibration. Other lamps? Then record them. ± is wider by "
        "it."
    ),
    "guard_is_close": (
        "Side {side}: this takes about {needs_s:.0f} s of light; its guard ends it after {guard_s:.0f} s, which is "
        "close."
    ),
    "longer_than_calibrated": (
        "Side {side}: this takes about {needs_s:.0f} s, the calibration was made with {lit_s:.0f} s of light. Warm "
        "lamps give another share of UV: check with a step tablet exposed as long."
    ),
    "light_stronger": (
        "The light is {factor:.1f} times stronger than where this recipe was found ({light_mw_cm2:.3g} mW/cm²): the "
        "same dose may not do the same, check with a step tablet."
    ),
    "light_weaker": (
        "The light is {factor:.1f} times weaker than where this recipe was found ({light_mw_cm2:.3g} mW/cm²): the same "
        "dose may not do the same, check with a step tablet."
    ),
    "counts_in_radiometers_unit": (
        "The box counts in the radiometer's unit now: {factor:.3f} of what it counted before."
    ),
    "reference_counts_as": (
        "No uncertainty is stated for the reference: it counts as ±{share:.0%}. State that of its certificate if it "
        "has one."
    ),
    "tablet_counts_as": (
        "No uncertainty is stated for the tablet's densities: they count as ±{share:.0%}. State that of its "
        "certificate."
    ),
    "radiometer_wants_steady": "A radiometer is read while a steady series holds the lamps.",
    "start_wait_read": "Start one, wait three seconds, read.",
    "light_gave_dose": "{seconds:.1f} s of light gave {dose:.1f} ({unit}).",
    "unit_relative": "box units",
    "put_dose_into_recipe": "Put this dose into the recipe.",
    "taught_not_completed": "The taught exposure was not completed.",
    "expose_without_break": "Expose it again without interruption.",
    "kind_changed_since_teaching": "This was exposed with another kind of light sensor.",
    "expose_again_to_teach": "Teach it again.",
    "gains_want_steady": "Gains are learned while a steady series holds the lamps.",
    "start_sixty_seconds": "Start one of 60 s and wait three seconds.",
    "mend_recipe_first": "Mend the recipe first.",
}

EYES = {
    "whole_working_day": "a whole working day",
    "hours_a_day": "{hours:g} hours a day",
    "minutes_a_day": "{minutes} minutes a day",
    "seconds_a_day": "{seconds} seconds a day",
}

WORDS = {**COLOUR, **SELF_CHECK, **CALIBRATION, **EYES}
