"""Of rolls of resist, metal and stencils on the shelf, and what cards say of them."""

WORDS = {
    "roll_name": "roll {number} ({what})",
    "metal_name": "metal {number} ({what}, {um:g} µm)",
    "stencil_name": "stencil {number} ({what})",
    "take_thing": "Take {thing}.",
    "used_for": "Panels made with it: {panels:.0f}.",
    "not_used_yet": "Not used yet.",
    "roll_made": "{film_um:g} µm thick.",
    "roll_expires": "Good until {day}.",
    "roll_wants_tablet": "No step tablet was lit since this roll was opened: light one before the first panel counts.",
    "roll_had_tablet": "A step tablet was lit with it on {day}.",
    "roll_expired": "It is past its date ({day}): a step tablet and a developed scrap tell whether it is good.",
    "roll_old": "Open for {months:.0f} months: film keeps for months, not years. Watch the held step.",
    "roll_open": "Open for {months:.1f} months.",
    "roll_closed": "Still closed; its first panel opens it.",
    "kept_cool": "Kept cool and dark, 5 to 21 °C.",
    "kept_room": "Kept in a room up to 25 °C: it ages faster than at 5 to 21 °C.",
    "kept_warm": "Kept above 25 °C: it ages fast and its edges flow. Look for a cooler place.",
    "pieces_left": "Pieces left: {pieces:.0f}.",
    "no_piece_left": "No piece is left.",
    "stencil_two": "Front and back film, text and lines one the mirror of the other.",
    "stencil_one": "One film.",
    "stencil_strip": "Strip between the sheets: {spacer_um:g} µm.",
    "stencil_by_hinge": "Held by a hinge.",
    "stencil_by_pins": "Held by pins.",
    "stencil_step_print": "print",
    "stencil_step_condition": "let it lie",
    "stencil_step_register": "register and fix",
    "stencil_step_check": "check against light",
    "do_stencil_print": (
        "Print both films at true size, one the mirror of the other: printed sides to the resist, each reads from the "
        "lamps' side as the part should."
    ),
    "do_stencil_print_one": (
        "Print the film at true size: printed side to the resist, it reads from the lamps' side as the part should."
    ),
    "do_stencil_condition": (
        "Let the films lie flat for 3 h, better 8 h, in the room where they are used: they grow with warmth and damp."
    ),
    "do_stencil_register_hinge": (
        "Lay the films printed side to printed side, marks over marks, on a light table; tape each to its clear sheet; "
        "put a strip as thick as the panel between the sheets and join them along it, as a hinge."
    ),
    "do_stencil_register_pins": (
        "Punch both films and their clear sheets, set them on the pins with a strip as thick as the panel between, "
        "and shift one film until marks lie over marks; tape it down."
    ),
    "do_stencil_check": (
        "Close it and hold it up to the light: can text be read on each side, are there holes in the black, and how "
        "far apart are the marks?"
    ),
    "do_stencil_check_one": "Hold it up to the light: can text be read, are there holes in the black?",
    "sheets_pass_uv": (
        "Clear sheets must let the lamps' light through: polycarbonate and UV-blocking acrylic do not. Measure them on "
        "the page Light, and put that into the recipe."
    ),
    "stencil_mirrored": "Side {side} reads the wrong way round: print that film again, mirrored.",
    "stencil_steps_left": "Still to do: {steps}.",
    "stencil_apart": "Front and back lie {apart_um:.0f} µm apart (measured {day}).",
    "stencil_worn": (
        "Its registration was measured on {day}, {days:.0f} days and {panels:.0f} panels ago: measure it again, films "
        "and hinge move."
    ),
    "frame_one": (
        "In the frame: {thing}, printed side to the resist; from the lamps' side its text can be read, as on the part."
    ),
    "frame_front": (
        "In the frame: {thing}, front film (A) towards the lamps, printed side to the resist; from there its text can "
        "be read, as on the front of the part."
    ),
    "frame_back": (
        "In the frame: {thing}, back film (B) towards the lamps, printed side to the resist; from there its text can "
        "be read, as on the back of the part."
    ),
    "frame_both": (
        "In the frame: {thing}, the panel between its films, printed sides to the resist, front film (A) to the lamps "
        "of side A; from each side's lamps its text can be read, as on the part."
    ),
    "stencil_of_recipe": "Panels of {recipe} that have no card count for it.",
    "sides_and_films_differ": "the recipe lights another number of sides than the stencil has films",
    "stencil_not_measured": "Nobody has measured yet how far front and back lie apart.",
    "black_good": "Its black is dense enough: {density:.2f} over clear (measured {day}).",
    "black_weak": (
        "Its black is weak: {density:.2f} over clear (measured {day}); a resist that holds step 11 wants {needed:.2f}."
    ),
    "black_thin": "Its black is too thin: {density:.2f} over clear (measured {day}); {needed:.2f} is the least.",
    "spacer_wrong": (
        "Its strip is {spacer_um:g} µm and the metal {panel_um:g} µm: the films will shift. Take a strip as thick as "
        "the panel."
    ),
    "resist_needed": "'resist' is empty; write the resist's name as in its recipe",
    "artwork_needed": "'artwork' is empty; write the word that its jobs carry",
    "no_day": "{field} must be a day such as 2026-03-01, not '{given}'",
    "day_to_come": "{field} is still to come: {given}",
    "no_such_thing": "stock_id must be one of those on the shelf, not {stock_id}",
    "thing_is_gone": "Number {stock_id} is off the shelf.",
    "no_stencil": "Number {stock_id} is no stencil.",
    "day_or_empty": "a day such as 2026-03-01, or nothing",
    "thing_does_not_fit": "It does not fit this job: another resist, metal, thickness or number of sides.",
    "too_much_stock": "{most} things are on the shelf",
    "end_a_thing_first": "Take one off that is used up.",
    "nothing_to_note": "say what was measured: density, distance, or which side can be read",
    "stencil_without_back": "A stencil of one film has no back: leave that out.",
}
