"""Sentences of `light.lampanswer` and `light.lampuse` for the catalogue; `spoken.said` finds a translation by them."""

from sumlight_web.language import N_

PATTERNS = (
    N_("What these lamps gave when they were seasoned is not on record, so percent of new is not known."),
    N_("Bank {bank}: {hours} lamp hours, {light} mW/cm² at the meter."),
    N_("That is {share} of new ({low} to {high})."),
    N_("The replacement level of {level} is reached: change these lamps."),
    N_(
        "The replacement level of {level} lies more than {hours} lamp hours ahead; nothing is foretold beyond six "
        "times the observed time."
    ),
    N_(
        "The replacement level of {level} is at least {low} lamp hours ahead; an upper bound would lie beyond six "
        "times the observed time ({cap} h from now) and is not foretold."
    ),
    N_("Replacement level of {level} in {hours} lamp hours ({low} to {high})."),
    N_("Recipe {recipe} takes {now} s now, at {level} of new it takes {then} s."),
    N_(
        "Bank {bank}: {hours} lamp hours; still running in. New lamps fade fastest in the first {seasoned} h, so "
        "nothing is foretold before."
    ),
    N_(
        "Bank {bank}: {hours} lamp hours; {seen} of {days} days with readings after the first {seasoned} h. At least "
        "{fewest} are needed before a trend is told."
    ),
    N_("Bank {bank}: no curve can be laid through its readings: {why_words}."),
    N_(
        "{share} less light all at once at {hours} h: it looks as if a tube has gone out. Look at the lit bank with UV "
        "goggles on."
    ),
    N_(
        "{share} less light all at once at {hours} h: it looks as if {n} tubes have gone out. Look at the lit bank "
        "with UV goggles on."
    ),
    N_("{share} less light all at once at {hours} h, not by whole tubes. Look for a failing tube or ballast."),
    N_("{share} less light at {hours} h, and the sensor's own light fell too: clean diffuser and sensor."),
    N_("{share} more light at {hours} h, and the sensor's own light rose too: the diffuser was cleaned."),
    N_("{share} more light at {hours} h: were tubes changed? Record the swap, then calibrate."),
    N_("Tube swapped at {hours} h: {share} light."),
    N_("{share} at {hours} h: the box was calibrated then; earlier light is put into the new unit."),
    N_("The sensor's own light has fallen by {share}: clean the diffuser; the lamps are judged without it."),
    N_("Tubes strike slowly: {now} s, it was {usual} s. Cathodes or starters are wearing out."),
    N_("Warm-up takes longer: {now} s, it was {usual} s."),
    N_("The light flickers by {now}, it was {usual}. A tube or its starter is probably near its end."),
    N_("Bank {weak} is the weak one: {share} of new, bank {best} has {other}."),
    N_("Bank {weak} gives {share} less than bank {best}: its side takes longer for a dose."),
    N_("No date is told before the use of {days} days is known."),
    N_("The lamps were not used in the last {days} days, so no date is told."),
    N_(
        "At the present use of {use} h a week no date is told: it lies after {day}, beyond six times the observed time."
    ),
    N_("At the present use of {use} h a week the replacement level is more than ten years ahead."),
    N_(
        "At the present use of {use} h a week the replacement level is not reached before {day}; a later bound is not "
        "told."
    ),
    N_("At the present use of {use} h a week the replacement level is reached about {day} ({low} to {high})."),
)
