"""The faults: what each is called, what was seen, and what helps; and of each time, what was found."""

TOLD = {
    "lid_mismatch": (
        "The lid contacts disagree",
        "Both contacts said shut, or both said open, for longer than lid.disagreement_limit_s.",
        "Open and shut the lid firmly. If it comes again, have both contacts and their wires checked.",
    ),
    "lid_bounces": (
        "The lid will not come to rest",
        "The lid contacts changed again and again within a few seconds.",
        "Look for a loose contact or a lid that does not lie flat. Do not use the box until it shuts cleanly.",
    ),
    "inputs_unpowered": (
        "The supply of the inputs is missing",
        "Both lid contacts and every other input read open at the same moment.",
        "Check the 24 V supply of the inputs, its fuse and the plug of the input board. Then acknowledge.",
    ),
    "emergency_stop": (
        "Emergency stop",
        "The emergency stop is pressed, or its signal wire is broken.",
        "When the danger is over, release it, then acknowledge. The panel may be continued.",
    ),
    "too_hot": (
        "The box is too hot",
        "The over-temperature contact has opened.",
        "Let the box cool with the lid open; check fan and air paths. Acknowledge once it is cool.",
    ),
    "k1_welded": (
        "Contactor K1 does not drop",
        "The mirror contact shows K1 closed although its pump has stopped.",
        "Pull the plug. K1 may be welded and must be replaced by an electrician before the box is used again.",
    ),
    "k1_silent": (
        "Contactor K1 does not close",
        "The mirror contact shows K1 dropped although its pump is fed.",
        "Check emergency stop, lid switch and fuse. The mains side is for an electrician.",
    ),
    "meter_lost": (
        "The light meter went silent",
        "No reading of the light for longer than limits.bridge_limit_s.",
        "Check the sensor's cable and plug. Acknowledge when readings are back; the dose so far is kept.",
    ),
    "meter_stuck": (
        "The light meter repeats itself",
        "The same six counts came again and again while lamps were on; live light is never that steady.",
        "Switch the sensor's supply off and on (unplug the box). If it comes again, replace the sensor.",
    ),
    "meter_saturated": (
        "The light is too strong for the meter",
        "Readings stayed at full scale even at the smallest gain.",
        "Put a denser diffuser or a smaller aperture before the sensor, then calibrate again.",
    ),
    "no_light": (
        "The lamps do not light",
        "Lamps were switched on, but no light came within limits.strike_limit_s.",
        "Check lid switch, fuse and tubes, and that nothing covers the sensor. Mains: only an electrician.",
    ),
    "light_lost": (
        "The light went out",
        "Nearly all light disappeared while lamps were on.",
        "Check mains and tubes, and that nothing covers the sensor. Acknowledge to continue; the dose is kept.",
    ),
    "tube_out": (
        "A tube may have gone out",
        "The light fell suddenly by more than limits.drop_limit.",
        "Look for a dark tube once the box is unplugged and cool; replace tubes as a set. The field was uneven: judge"
        " this panel with care.",
    ),
    "foreign_light": (
        "Stray light reaches the sensor",
        "The light rose suddenly, or its colour moved towards daylight.",
        "Shut out daylight and work lights: lid seal, cable holes. The dose since then is doubtful.",
    ),
    "wrong_lamp": (
        "These are not the lamps of the calibration",
        "The colour of the light differs from that at the calibration by more than age can explain.",
        "Were lamps changed? Record new lamps and expose a step tablet. If not, look at the sensor's filter glass. "
        "The panel got next to nothing so far.",
    ),
    "light_unlikely": (
        "This light cannot be right",
        "What the sensor reads fits neither these lamps nor what this box gave before; it gives no dose.",
        "Read the detail and see to it. Then give up this panel, and check the next one with a step tablet.",
    ),
    "light_while_dark": (
        "There is light although lamps are off",
        "More light than limits.dark_limit_mw_cm2 while no lamp was switched on.",
        "If lamps burn, pull the plug: a relay may be welded. Otherwise look for daylight getting in.",
    ),
    "time_guard": (
        "It took too long",
        "One side was lit for longer than the recipe's time_guard_s or the box's limits.lit_limit_s.",
        "Lamps may be old or cold, the sensor dirty, or the recipe's guard too short. Check before you continue.",
    ),
    "loop_late": (
        "The controller was held up",
        "The control loop missed its time while lamps were on; the lamps were switched off by the watch.",
        "Acknowledge to continue. If it comes again, something else on this computer takes too much of it.",
    ),
    "too_slow": (
        "This computer is too slow",
        "The control loop ticked less often, over some seconds, than the charge pump of K1 needs.",
        "End what else runs on this computer, restart it and acknowledge. If it comes again, use a faster one.",
    ),
    "disk_full": (
        "The card is full",
        "There is no room left to write the logbook; without it a power cut would lose the dose.",
        "Free space on the card: what waits is then written by itself. Acknowledge to continue the panel.",
    ),
    "logbook_damaged": (
        "The logbook is damaged",
        "The logbook's file can no longer be read as one; the card may be failing.",
        "Stop Sumlight, keep a copy of the file, put back a backup or let a new one be made, and renew the card.",
    ),
    "logbook_failed": (
        "The logbook cannot be written",
        "Writing to the logbook failed for a reason that the detail names.",
        "Do what the detail says: permissions, another program's lock, the card. What was recorded before is kept.",
    ),
    "internal": (
        "The controller found a mistake of its own",
        "An error in the program was caught; the lamps were switched off.",
        "Acknowledge to continue, and please report the text in the log.",
    ),
    "logbook_unsound": (
        "Part of the logbook was damaged",
        "Damage was found in the logbook when the controller started, or at night; the detail says what was saved.",
        "Work may go on. Take a backup, restart the box so that what is readable is saved, and renew the card.",
    ),
    "clock_stepped": (
        "The clock jumped",
        "The wall clock was set while the controller ran.",
        "Nothing to do: doses do not depend on it. Times in records before the jump may be wrong.",
    ),
    "supply_low": (
        "The computer's supply is weak",
        "The Raspberry Pi reports a supply voltage below its limit.",
        "Use a stronger 5 V supply or a shorter cable before the computer fails in the middle of a panel.",
    ),
    "page_gone": (
        "Nobody is watching",
        "No page was connected for a while, although lamps burn.",
        "Nothing to do: the exposure ends by its dose. Open the page again to see it.",
    ),
}
"""By the fault's name: its title, what the box noticed, what the person does."""

DETAILS = {
    "stop_pressed": "the emergency stop is pressed, or its wire is broken",
    "heat_contact_open": "the over-temperature contact has opened",
    "every_input_open": "both lid contacts and every signal read open at the same time",
    "k1_reads_dropped": "K1 reads dropped although it is enabled, for {waited_s:.1f} s (limit {limit_s:g} s)",
    "k1_reads_closed": "K1 reads closed although its pump is not fed, for {waited_s:.1f} s (limit {limit_s:g} s)",
    "lid_opened_often": "the lid opened {count} times within {span_s:g} s",
    "contacts_contradict": "the two lid contacts contradict each other",
    "supply_below_limit": "the Raspberry Pi's 5 V supply is below its limit",
    "clock_jumped": "the wall clock jumped by {seconds:+.0f} s",
    "nobody_watches": "no page has been watching for {seconds:.0f} s of light",
    "no_light_after_on": "bank {bank}: no light {waited_s:.1f} s after switching on (limit {limit_s:g} s)",
    "bright_with_lamps_off": "bank {bank}: {mw_cm2:.2f} mW/cm² with lamps off (limit {limit_mw_cm2:g} mW/cm²)",
    "bright_before_lighting": "bank {bank}: {mw_cm2:.2f} mW/cm² before the lamps were switched on "
    "(limit {limit_mw_cm2:g} mW/cm²)",
    "same_counts_again": "bank {bank}: the same counts came {count} times",
    "at_full_scale": "bank {bank}: {count} readings in a row at full scale",
    "light_fell_away": "bank {bank}: from {before_mw_cm2:.2f} to {now_mw_cm2:.2f} mW/cm²",
    "less_light": "bank {bank}: {share:.0%} less light within half a second (limit {limit:.0%})",
    "more_light": "bank {bank}: {share:.0%} more light within half a second (limit {limit:.0%})",
    "out_after_strike": "bank {bank}: no light any more soon after the strike (limit {limit_mw_cm2:g} mW/cm²)",
    "near_infrared_rose": "bank {bank}: near infrared rose to {share:.0%} of the 415 nm reading "
    "(it was {before:.0%} when the lamps had struck)",
    "other_colours_only": "bank {bank}: the lamps give light, but next to none at 415 nm, which the dose is counted "
    "by. LEDs at 365 nm cannot be measured by this sensor",
    "glows_only": "bank {bank}: {waited_s:.1f} s after switching on there is light, but none of it violet. "
    "Electrodes that glow in tubes that do not strike, or other lamps",
    "more_light_same_colour": "bank {bank}: {share:.0%} more light of the same colour within half a second (limit "
    "{limit:.0%}): the mains, another bank, or something that moved before the sensor",
    "stronger_than_lamps_can": "bank {bank}: {mw_cm2:.0f} mW/cm² is more than such lamps can give. Are they LEDs? "
    "Then say so in box.yaml (lamps) and calibrate",
    "no_blue_of_mercury": "bank {bank}: blue is only {share:.1%} of violet, so these are not fluorescent tubes. "
    "If they are LEDs, say so in box.yaml (lamps) and calibrate",
    "too_blue_for_tubes": "bank {bank}: blue is {share:.1f} times violet, more than tubes give. "
    "Daylight, a missing violet filter, or a sensor that reads wrong",
    "blue_of_mercury": "bank {bank}: blue is {share:.0%} of violet, so these are not LEDs. "
    "If they are tubes, say so in box.yaml (lamps)",
    "blue_changed_in_light": "bank {bank}: blue against violet changed by {share:.0%} within this light. "
    "No lamp does that: the sensor reads wrong, or its filter slipped",
    "blue_changed_since": "bank {bank}: blue against violet changed by {share:.0%} since the last panel. "
    "Other lamps? Then record them. Else the sensor reads wrong, or its filter slipped",
    "uv_b_unlike": "bank {bank}: {share:.1%} UV-B beside UV-A, {before:.1%} at the calibration. "
    "Other lamps? Then record them. Less glass before them? UV-B burns skin and eyes",
    "start_and_ripple_unlike": "bank {bank}: the lamps start and ripple unlike those of the calibration. "
    "Other lamps? Then record them and calibrate",
    "sensors_contradict": "bank {bank}: {factor:.2g} times the violet beside UV of before. "
    "Other lamps? Then record them and calibrate. Else one of the two sensors is dirty or reads wrong",
    "level_changed_since": "bank {bank}: {factor:.2g} times the light of the last panel. "
    "Other lamps, a moved sensor, or one that reads wrong",
    "no_reading_before_light": "no usable reading for {silent_s:g} s before lighting",
    "no_reading_under_light": "side {side}: no usable reading for {silent_s:.2f} s (limit {limit_s:g} s)",
    "full_scale_under_light": "side {side}: nothing but full scale for {silent_s:.2f} s (limit {limit_s:g} s)",
    "guard_ran_out": "side {side}: a dose of {dose_mj_cm2:.1f} after {lit_s:.0f} s of light (limit {limit_s:g} s)",
    "no_tick": "no tick for {stalled_s:.2f} s",
    "told_of_bank": "bank {bank}: {told}",
}

WORDS = {
    **{
        f"fault_{name}_{part}": words
        for name, told in TOLD.items()
        for part, words in zip(("title", "seen", "remedy"), told, strict=True)
    },
    **DETAILS,
}
