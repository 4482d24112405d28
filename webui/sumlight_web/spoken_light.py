"""What control says about light, calibrations and measurements, for `spoken.said`: texts for the catalogue.

What the braces of a pattern mean is said at `spoken.PATTERNS`.
"""

from sumlight_web.language import N_

WORDS = (
    N_("tablet"),
    N_("radiometer"),
    N_("teach"),
    N_("relative"),
    N_("air gap"),
    N_("film base"),
    N_("cover sheet"),
    N_("resist"),
    N_("draw the vacuum longer or look for dust and waves"),
    N_("turn the artwork so that its image side lies on the resist"),
    N_("nothing to do, the cover sheet has to stay on"),
    N_("only a thinner resist or straighter light helps"),
    N_("its channels changed differently, so a filter or the sensor itself changed"),
    N_("the LED reads differently while the lamps read as before"),
    N_("print two layers, or look for thin toner or a dye ink that lets UV through"),
)

CALIBRATION = (
    N_("New lamps: expose a step tablet before the first panel."),
    N_("The sensor sits elsewhere than at its calibrations: they no longer hold here, expose a step tablet."),
    N_(
        "The calibration is the number in box.yaml, worth {why_words}; the recipe allows {allowed}: "
        "a step tablet makes it better."
    ),
    N_(
        "The calibration is the number in box.yaml, worth {why_words}; the recipe allows {allowed}: "
        "good enough for this recipe."
    ),
    N_("The calibration has grown to {why_words}, the recipe allows {allowed}: expose a step tablet."),
    N_("The calibration ({what_words}) is worth {why_words}."),
    N_("The last {number} checks disagreed more than expected; ± is now {share}."),
    N_("{share} absolute (k = 2)"),
    N_("{share} repeat (k = 2)"),
    N_("Doses are relative: they repeat, but are not mJ/cm²."),
    N_("Bank {bank}: {what_words}"),
    N_("Side {side}: {what_words}"),
    N_("The box counts in the radiometer's unit now: {factor} of what it counted before."),
    N_("{seconds} s of light gave {dose} ({what_words})."),
    N_("Put this dose into the recipe."),
    N_("Lamp set {number} of bank {bank} is recorded."),
    N_(
        "Hours and strikes begin anew; the old calibration no longer holds: "
        "expose a step tablet before the first panel."
    ),
    N_(
        "Hours and strikes begin at {hours} h and {strikes} strikes; the old calibration no longer holds: "
        "expose a step tablet before the first panel."
    ),
    N_(
        "The light is {factor} times stronger than where this recipe was found ({light} mW/cm²): "
        "the same dose may not do the same, check with a step tablet."
    ),
    N_(
        "The light is {factor} times weaker than where this recipe was found ({light} mW/cm²): "
        "the same dose may not do the same, check with a step tablet."
    ),
)

SELF_CHECK = (
    N_("First reading of the sensor's LED: later ones are compared with it."),
    N_("The diffuser passes only {share} of what it did: clean it."),
    N_("The dose is corrected meanwhile."),
    N_("The diffuser passes {share} of what it did: it was cleaned."),
    N_("The dose is corrected."),
    N_("Apply the correction until then."),
    N_("A calibration was made since the last self-check and may hold this already: nothing is corrected."),
    N_("Expose a step tablet if in doubt."),
    N_("The diffuser was cleaned since the last self-check; apply the correction."),
    N_("The diffuser passes {share}, as at the last self-check; the dose is corrected for it."),
    N_("Diffuser, sensor and lamps read as before."),
    N_("The lamps give {share} of what they did while the sensor's LED reads as before: the lamps changed."),
    N_("The sensor changed: {why_words}."),
    N_("an LED reading of {ratio} of the reference cannot come from dirt alone"),
    N_("Look at it, then calibrate with a step tablet."),
    N_("The correction was applied."),
)

COLOUR = (
    N_("Other light than the lamps' reaches the sensor ({share} of its reading): look for daylight."),
    N_("The sensor sees more red and infrared than before: its violet filter is missing or has slipped."),
    N_("The colour of the light is not that of the lamps this box was calibrated with: other lamps are fitted."),
    N_("UV against the violet lines changed more than by ageing: the tubes were changed."),
    N_("Calibrate again."),
    N_("The lamps' colour drifts as it does with age; step-tablet checks keep the dose right."),
    N_("The light has the colour it had at the calibration."),
    N_("There is light, but next to none of the violet that this box was calibrated with: other lamps are fitted."),
)

TABLET = (
    N_("Expose {zones} zones of one panel, the tablet on each in turn and the rest masked: {doses} mJ/cm²."),
    N_("Read together they settle the dose to about {share} (k = 2)."),
    N_("Every step was held: that gives no number."),
    N_("No step was held: that gives no number."),
    N_("Try again with {factor} times the dose."),
    N_("Step {step} is just held at {dose} mJ/cm² as counted now; {reference} is known to do it."),
    N_("So the true dose is {factor} of what was counted ({share} by these readings, k = 2)."),
    N_("On one panel the readings can hardly all be right: read the tablets again."),
    N_("Two reading conventions are mixed; make sure that each reading names the right one."),
    N_("One reading resolves no better than a step; more zones at doses a fraction of a step apart do."),
    N_(
        "That lies {n} standard deviations from what was expected: read the tablet again, mind which convention "
        "it was read in, and run the self-check."
    ),
    N_("If it stands, send it again as sure."),
    N_("The calibration was set by it."),
)

MEASUREMENTS = (
    N_("Leave the whole strip open."),
    N_("Slide the mask over zone {zone}."),
    N_("It gets {dose} mJ/cm² more."),
    N_("No zone held: this resist needs more than {dose} mJ/cm²."),
    N_("The resist begins to hold between {low} and {high} mJ/cm²."),
    N_("No light to speak of passes: this sheet is opaque."),
    N_("This sheet blocks UV: it looks clear but the resist stays dark under it."),
    N_("This sheet takes more UV than violet light; expose a step tablet under it before using it."),
    N_("This sheet passes only {share} of the light, UV and violet alike."),
    N_("This sheet passes UV: {share} of the light comes through."),
    N_("Together {share} (k = 2) passes: put it into the recipe."),
    N_("Do not put this into a recipe: the sensor cannot tell how much UV passes."),
    N_("Expose a tablet under it."),
    N_("{n} steps are left before black areas leave resist."),
    N_("Only {n} steps are left before black areas leave resist, {m} are safe: {what_words}."),
    N_("Black areas leave resist before the image holds ({n} steps short): {what_words}."),
    N_("The weakest place gets {share} of the strongest, {n} tablet steps less."),
    N_("The panel's mean is {factor} of the sensor's place."),
    N_("Light creeps at most {creep} µm under each edge: contact is good."),
    N_("Light can creep up to {creep} µm under each edge, {part} µm of it through the {what_words}: {why_words}."),
    N_("The artwork lies with its image away from the resist: turn it."),
    N_("The dose holds as far as these readings tell: p = {p} (k = 2)."),
    N_("Weak light does less than its dose says: p = {p} (k = 2)."),
    N_("Weak light does more than its dose says: p = {p} (k = 2)."),
    N_("At half the light the resist needs {low} to {high} times the dose."),
    N_("Write p = {p} into the recipe, with the light at which its dose was found."),
)

REFUSALS = (
    N_("A radiometer is read while a steady series holds the lamps."),
    N_("Start one, wait three seconds, read."),
    N_("The lamps were changed since this tablet was exposed."),
    N_("The sensor was moved since this tablet was exposed."),
    N_("Expose another one."),
    N_("The taught exposure was not completed."),
    N_("Expose it again without interruption."),
    N_("An exposure is under way."),
    N_("The self-check needs dark lamps: finish it first."),
    N_("The self-check needs a shut lid, a sensor that reads and no fault."),
    N_("See to that first."),
    N_("There is no correction to apply."),
    N_("Run the self-check first."),
    N_("The sensor's self-check is running."),
    N_("It takes two seconds; then try again."),
    N_("Finish or abandon it first."),
    N_("Gains are learned while a steady series holds the lamps."),
    N_("Start one of 60 s and wait three seconds."),
    N_("There is no bank '{bank}'; there is {known}."),
    N_("Mend the recipe first."),
    N_("Mend the recipe, then start again."),
    N_("There is no exposure {n}."),
    N_("Exposure {n} has not ended."),
    N_("Let it end first; if it has, its end is being written: try again in a moment."),
    N_("Exposure {n} is a {kind}, not a {wanted} series."),
    N_("Run a series of kind {kind} first."),
    N_("Leg {leg} has no trace."),
    N_("Leg {leg} is too short to measure ({seconds} s); give each leg three seconds or more."),
    N_("The light meter of bank {bank} gives no reading."),
    N_("Check the sensor's cable; it is tried again every second."),
    N_("The logbook cannot be written: {why_words}."),
    N_("Make room on the card or replace it."),
    N_("A fault is standing."),
    N_("Read its remedy, then acknowledge it."),
    N_("The lid is not shut."),
    N_("Shut it, then try again."),
    N_("Nothing is waiting to go on."),
    N_("Start a panel instead."),
    N_("Commissioning is under way."),
    N_("Finish or abort it first."),
    N_("This box has not been commissioned for its present wiring."),
    N_("Run `sumlight setup commission`; whoever must light before that can override it, which is recorded."),
    N_("'{kind}' is no series."),
    N_("There is {kinds}."),
    N_("A series has either doses or seconds."),
    N_("Give one of the two."),
    N_("{n} legs are not possible."),
    N_("Give 1 to {n}."),
    N_("{seconds} s is not possible."),
    N_("Give more than 0 and at most {seconds} s."),
    N_("{dose} mJ/cm² is not possible."),
    N_("Give 0 to {dose} mJ/cm²."),
    N_("'together' lights both sides at once and needs two lamp banks; this box has one."),
    N_("Use 'turned', or add a bank to box.yaml."),
)

BAD_VALUES = (
    N_("There is no finished zone '{zone}'; there is {known}."),
    N_("This exposure has no record of its calibration."),
    N_("These readings give no number; read again."),
    N_("'covered' must name some of the legs {legs}, not all."),
    N_("A leg without any sheet is needed beside the covered ones."),
    N_("'places' holds {n} places, but {m} legs were finished."),
    N_("'sensor' is [x, y], 'panel' [x0, x1, y0, y1]."),
    N_("No part of this strip was completed."),
    N_("'{field}' must be text."),
    N_("'{field}' holds half of a character."),
    N_("'{field}' has {n} characters; at most {m}."),
    N_("'{field}' must be a list of at most {n} numbers."),
    N_("'{field}' must be a number."),
    N_("'{field}' must be a whole number from 1."),
    N_("'{field}' must be {one} or {other}, not {value}."),
    N_("'{field}' is missing."),
    N_("'{field}' is missing; it must lie between {low} and {high}."),
    N_("'{field}' is {value}; it must lie between {low} and {high}."),
    N_("'{field}' must be a whole number, not {value}."),
    N_("'{field}' must be true or false."),
    N_("'{field}' must be an object of names and values."),
    N_("'{field}' is no parameter of a {kind} series; it takes {known}."),
    N_("'places' must be a list of 1 to {n} places [x, y] in mm, none beyond {high}."),
    N_("'places' holds {n} places, but the series has {m} legs."),
    N_(
        "'{field}' must be a list of 1 to {n} objects with zone, step and half; a step is a whole number, all_held or "
        "all_gone."
    ),
    N_("'{field}' must be a list of 1 to {n} places [x, y] in mm."),
    N_("Without the sheet the reading does not stand out from darkness; light the lamps first."),
    N_("Transmission must not be above 1, not {value}; repeat the reading without the sheet."),
    N_("Transmission needs a finite value and a standard uncertainty of at least 0."),
    N_("Held_step must lie below clean_step, both within 1 to 21, not {held} and {clean}."),
    N_("The grid has a hole: no reading at x {x} mm, y {y} mm."),
    N_("Every reading must be above 0; light the lamps and subtract darkness first."),
    N_("The middle must be read at least twice, at the beginning and at the end of the walk."),
    N_("The grid needs at least two columns and two rows."),
    N_("Irradiances must be above 0."),
    N_("The panel's edges must rise: x {x0} to {x1}, y {y0} to {y1}."),
    N_("{field} must lie between {low} and {high}, not {value}."),
    N_(
        "Step must lie between {low} and {high} for the convention {convention}, not {value}; "
        "use all_held or all_gone if the edge of the image lies beyond the tablet."
    ),
    N_("Half cannot be true with step {step}; a half-held step has a number."),
    N_("{field} must be above 0, not {value}; enter the dose the tablet got."),
    N_("{field} must be above 0, not {value}."),
    N_("{field} must lie between {low} and {high}, not {value}; 1.19 is half a tablet step."),
    N_("At least two irradiances with doses and uncertainties above 0 are needed."),
    N_("Irradiances must differ by a factor of {factor} at least; change the light more."),
    N_("The doses rise almost with the irradiance itself; no exponent describes that, read them again."),
)

PATTERNS = CALIBRATION + SELF_CHECK + COLOUR + TABLET + MEASUREMENTS + REFUSALS + BAD_VALUES
