"""Of artwork: what cannot be read, what was found on it, what the part will be, and what to draw."""

WORDS = {
    "art_file_large": "The file has {mb:.0f} MB; {most:.0f} is the most. Save it in black and white, or a part of it.",
    "art_kind_unknown": "{name} is neither PNG, TIFF, JPEG, BMP, PDF, SVG nor Gerber. Save it as one of these.",
    "art_empty": "The picture has no pixels.",
    "art_pixels": (
        "The file says that it has {pixels:.0f} million pixels; {most:.0f} is the most (A4 at 1200 dpi has 139). "
        "Scan or draw at fewer dpi, or a part of the sheet."
    ),
    "art_pixels_in_colour": (
        "{pixels:.0f} million pixels in colour do not fit; {most:.0f} is the most. Save it as greyscale or in black "
        "and white."
    ),
    "art_bomb": "The file says that it has far more than {most:.0f} million pixels: it is not unpacked.",
    "art_liar": (
        "{name} says that it has {width} × {height} pixels, but its {size} bytes cannot hold them ({least:.0f} at "
        "least). Save it again."
    ),
    "art_broken": "{name} cannot be read: {why}. Save or scan it again.",
    "art_known_pixels": (
        "A known length of {pixels:g} pixels does not lie on a picture of {width} × {height}. Give the pixels first, "
        "then the length."
    ),
    "art_known_scale": "That would make a pixel {pitch:.4g} µm wide: between {low:.3g} and {high:.3g} is allowed.",
    "art_scale_asked": (
        "The file does not say how large it is. Measure one length on the sheet and in the picture, which is "
        "{width} × {height} pixels, and give both as pixels and length."
    ),
    "art_not_square": (
        "The file has {across:.5g} dpi across and {down:.5g} dpi down. Save it with the same in both directions."
    ),
    "art_screen_dpi": (
        "{dpi:.0f} dpi is what programs write that know no size: is the whole {wide:.1f} mm wide? If not, give one "
        "known length."
    ),
    "art_first_page": "Of {pages} pages only the first was read.",
    "art_svg_entities": "The SVG defines entities. Save it as plain SVG.",
    "art_svg_unit": (
        "The SVG gives its {name} as '{value}', which has no size. Save it with width and height in mm, or as PDF."
    ),
    "art_svg_size": "The SVG came out {got_width} × {got_height} pixels instead of {width} × {height}. Save it as PDF.",
    "art_svg_text": "Letters are drawn with the fonts of this computer. Turn text into paths to be sure.",
    "art_photo": "{share:.0%} of the pixels are grey, not at edges only: this is a photograph.",
    "art_dither": "Much of it is dots of less than {pixels} pixels: greys that a program turned into dots.",
    "art_screened": "{dots} dots of very different size: greys screened for a printer.",
    "art_not_line_art": (
        "This is not line art. Start from the drawing, save it without greys, or scan it as black and white."
    ),
    "art_fringe": "{share:.1%} of the pixels are neither black nor white; parted at {threshold:.0f} of 255.",
    "art_fringe_remedy": "Scan flat and at more dpi, or look at the difference that cleaning makes.",
    "art_specks": "{count} openings smaller than {size:g} µm: dust, or pinholes of the print. Each etches a pit.",
    "art_islands": "{count} islands of metal smaller than {size:g} µm inside openings. They fall out or leave a bump.",
    "art_clean_remedy": "Clean the artwork, and look at the difference first.",
    "art_coarse": "The smallest place is {size:.0f} µm, only {pixels:.1f} pixels wide: its size is not certain.",
    "art_coarse_remedy": "Scan or draw at {dpi:.0f} dpi or more: five pixels for the smallest place.",
    "art_line_small": "A line of {size:.0f} µm is too thin for this thickness.",
    "art_gap_small": "A gap of {size:.0f} µm is too narrow for this thickness.",
    "art_hole_small": "A hole of {size:.0f} µm is too small for this thickness.",
    "art_at_least": "{least:.0f} µm at least: {rule} ({source}).",
    "art_falls_apart": "{count} pieces fall out once the openings have grown (etch factor {factor:g}).",
    "art_add_tabs": "Add tabs that hold them, each at least the thickness and the undercut of both edges wide.",
    "art_crop": (
        "The box must lie on the sheet, left before right and top before bottom; the sheet is {wide:.2f} × {high:.2f} "
        "mm."
    ),
    "art_depth_of_masked": "A depth is given for a sheet with one side masked; what is open on both goes through.",
    "art_extra_missing": (
        "Artwork needs libraries that a plain install leaves out. Install them on a PC or a 64-bit Pi: "
        "pip install 'sumlight[artwork]' ({missing} is missing)."
    ),
    "art_is": "{kind}, {width} × {height} pixels, {wide:.2f} × {high:.2f} mm, {pitch:.2f} µm a pixel ({dpi:.0f} dpi).",
    "art_shares": "{open:.1%} open, {metal:.1%} metal. Black is {black}.",
    "art_black_open": "open: the metal there goes",
    "art_black_metal": "metal: it stays",
    "art_smallest": "Smallest line {line}, gap {gap}, hole {hole}.",
    "art_size_at": "{size:.0f} µm at {x:.2f}, {y:.2f} mm",
    "art_none": "none below 1 mm",
    "art_nothing_wrong": "Nothing was found that speaks against it.",
    "art_at": "at {places}",
    "art_xy": "{x:.2f}, {y:.2f} mm ({size:.0f} µm)",
    "art_and_more": "and {more} more",
    "art_changes": (
        "{specks} openings and {pinholes} islands smaller than {size:g} µm closed: {pixels} pixels, "
        "{share:.3%} of the sheet."
    ),
    "art_would_write": "Nothing is written yet. Add --write to write {name}.",
    "art_written": "Written: {name}.",
    "art_suffix": "{name}: give the new file a name that ends in .png, .pdf or .svg.",
    "art_never_over": "{name} is there already. Give a name that is not.",
    "art_two_sizes": (
        "Front has {front_width} × {front_height} pixels, back {back_width} × {back_height}: both must be one size."
    ),
    "art_back_size": (
        "The front is {wide:.1f} × {high:.1f} mm, the back {back_wide:.1f} × {back_high:.1f} mm: they are not of one "
        "plate. Draw the same frame around both, or crop them alike."
    ),
    "art_back_of_sheet": (
        "Only a sheet that is etched from both sides has artwork for its back. Leave the back out, or etch both sides."
    ),
    "art_fold_of_sheet": (
        "Fold lines need a sheet that is etched from both sides. Leave them out, or etch both sides."
    ),
    "art_fold_typed": (
        "'{typed}' is no fold line. Write four lengths, left and top of one end and of the other, and the angle "
        "behind them if it is no right one: 10 5 10 30 60."
    ),
    "art_fold_off": (
        "Fold line {number} leaves the part, which is {wide:.1f} × {high:.1f} mm. Measure from its top left corner, in "
        "mm, as seen from the front."
    ),
    "art_folds": (
        "{count} fold lines {towards}, bent by {angle:g}°: drawn {drawn:.0f} µm wide on that side's film alone, for "
        "grooves at least {width:.0f} µm wide and {depth:.0f} µm deep; {left:.0f} µm of metal are left."
    ),
    "art_towards_front": "towards the front",
    "art_towards_back": "towards the back",
    "art_on_back": "On the back: {told}",
    "art_shifted": (
        "With the back {right:+g} µm to the right and {down:+g} µm down, {now} cm² are through instead of {meant}; the "
        "walls get a step."
    ),
    "art_weak": "Where one side alone is open {left:.0f} of {thickness:g} µm are left, below {share:.0%}: it bends.",
    "art_weak_remedy": "Etch shorter, or cover these places.",
    "art_band": (
        "Etch factor {low:.3g} to {high:.3g} until a coupon is compared (common practice for trays): outlines are "
        "bands. Etch a coupon of this metal, thickness and bath first."
    ),
    "art_factor_known": "Etch factor {factor:.3g}, measured on a coupon.",
    "art_reach": "The bath reaches {front:.0f} µm from the front and {back:.0f} µm from the back (k = {k:.3g}).",
    "art_cusp": "Between the surface and where it is narrowest an edge stands out by {cusp} µm.",
    "art_outlines": "Open at the front {front} cm², through {through} cm², at the back {back} cm².",
    "art_between": "{low:.4g} to {high:.4g}",
    "art_just": "{value:.4g}",
    "art_metal_lost": "Metal dissolved: {grams} g of {metal}.",
    "art_first_last": "Through first after {first:.0%} of the etch, last after {last:.0%}.",
    "art_never_through": "Nothing is etched through.",
    "art_half_etched": "Where one side alone is open {left:.0f} µm of metal are left.",
    "art_holds": "Nothing falls out, also where the bath eats furthest.",
    "art_coupon_first": (
        "No etch factor was given. Etch a coupon of this metal, thickness and bath, measure it, and give the factor "
        "with --factor. To draw with a guess of {guess:.3g} all the same: --factor guess."
    ),
    "art_drawn_by": (
        "Openings are drawn {moves:.1f} µm smaller at each edge, for the outline at the {at}: k = {k:.3g}, etch "
        "factor {factor:.3g}, reach {reach:.0f} µm."
    ),
    "art_etch_time": (
        "The bath reaches that far in about {minutes:.1f} min at {rate:g} µm/min. Look well before then: the panel "
        "says when to stop."
    ),
    "art_guess_used": "The factor is a guess: an edge may lie {low:.0f} µm further in or {high:.0f} µm further out.",
    "art_cannot_open": "{count} openings are too narrow: what is wanted there cannot come out.",
    "art_open_least": "Make them {least:.0f} µm wide or more.",
    "art_corners_round": "{count} corners of openings come out round, with a radius of {radius:.0f} µm.",
    "art_round_corners": "Draw them round if that matters.",
    "art_does_not_print": "A drawn opening is {size:.0f} µm wide; {printed:g} is the least that prints.",
    "art_line_eaten": "A line of {size:.0f} µm keeps its waist, but its surface is eaten away.",
    "art_line_least": "Make it wider than {least:.0f} µm.",
    "art_too_long_to_turn": (
        "A picture with more than {most} pixels along a side cannot be straightened. Lay it straight, or scan a part."
    ),
    "art_inverted": "{share:.0%} of the sheet's edge is open, so the bath would eat the sheet from all around.",
    "art_inverted_remedy": "Invert it, say that black is metal, or crop it to its frame.",
    "art_no_border": "{count} openings run off the sheet: no metal is left there to hold it by.",
    "art_no_border_remedy": "Crop it to its frame, or draw it with a border of metal all around.",
    "art_mirrored": (
        "Front and back differ in {as_is:.1%} of the sheet as they are, but in {mirrored:.1%} if the back is mirrored."
    ),
    "art_mirrored_remedy": "Both are meant as seen from the front: mirror the back.",
    "art_little_memory": (
        "Only {free:.0f} MB of memory are free here, and {least:.0f} are needed. Do it on a PC: "
        "sumlight artwork pair FILE FOLDER --thickness T does the same there, without a box."
    ),
    "art_no_memory": (
        "The memory that it may take was not enough. Scan at fewer dpi or a part of the sheet, or do it on a PC: "
        "sumlight artwork pair FILE FOLDER --thickness T."
    ),
    "art_gave_up": "It could not be worked on: {why}. Save or scan it again.",
    "art_piece_missing": "A piece of the file is missing. Send it again.",
    "art_not_kept": "The file was not kept: {why}.",
    "art_no_room": "The card has {free:.0f} MB free, and {least:.0f} are needed. Make room, or do it on a PC.",
    "art_light_on": "Not while lamps are on or the controller is silent: an exposure has the processor to itself.",
    "art_busy": "It is being worked on. Stop that first.",
    "art_no_file": "There is no file here. Choose one.",
    "art_stopped": "Stopped. Nothing was made.",
    "art_time_up": "It took more than {minutes:.0f} minutes and was ended. Scan at fewer dpi, or do it on a PC.",
    "art_killed": (
        "The work was ended from outside (signal {signal}), most likely because memory ran out. Nothing else was "
        "touched. Scan at fewer dpi or a part of the sheet, or do it on a PC."
    ),
    "art_no_answer": "The work ended without an answer (code {code}). Try again, or do it on a PC.",
    "art_interrupted": "The page was started again before the work was done. Begin again.",
    "art_pair_straightened": "Straightened by {degrees:.2f}°; {specks} specks and {pinholes} pinholes closed.",
    "art_pair_drawn": (
        "Openings are drawn {moves:.0f} µm smaller at each edge; etch until the bath has reached {reach:.0f} µm."
    ),
    "art_pair_cut": "Cut the metal to {wide:.1f} × {high:.1f} mm; {cm2:.1f} cm² are opened over all faces.",
    "art_gerber_extra": (
        "Gerber files need a library that the rest does without: pip install 'sumlight[artwork,gerber]'. Or print the "
        "layer into a PDF."
    ),
    "art_gerber_doubt": "The file was read, with one doubt: {why}",
    "art_tabs": "{count} tabs hold what would fall out; {width:.0f} µm of each are left where it is narrowest.",
    "art_film": "T {thickness_mm:g} mm  {etched}  k {k:g}",
    "art_film_guess": "F guessed",
    "art_film_factor": "F {factor:g}",
    "art_not_alike": (
        "Scan and reference do not show the same artwork, or less than half of it. Scan the whole sheet with its frame."
    ),
    "art_few_edges": "Only {edges} edges were found on both; {least} is the least. Is it the right file?",
    "art_no_contrast": (
        "The scan's black and white are {contrast:.0f} of 255 apart; {least:.0f} is the least. Scan it brighter."
    ),
    "art_no_level": "There is too little black or white to tell one from the other. Compare more of the sheet.",
    "art_one_direction": "All edges run one way: size and place across them cannot be told. Add a frame or marks.",
    "art_opens": "{count} opens: metal is interrupted.",
    "art_shorts": "{count} shorts: metal joins what should be apart.",
    "art_nicks": "{count} nicks: metal is missing at an edge.",
    "art_spurs": "{count} spurs: metal sticks out at an edge.",
    "art_pinholes": "{count} pinholes in metal.",
    "art_extra_islands": "{count} islands of metal where none should be.",
    "art_differs_remedy": "Look there. What was on the film comes back on every panel, dust does not.",
    "art_no_differences": "Nothing differs that matters.",
    "art_lies": (
        "The scan is turned by {turn:.3f}°; the middle of the reference is {x:.2f} mm right of and {y:.2f} mm below "
        "its middle."
    ),
    "art_scan_mirrored": "It is mirrored: it shows the sheet from its other side.",
    "art_scan_inverted": "Black and white are swapped on it.",
    "art_repeats": (
        "The pattern repeats, and the scan fits elsewhere just as well: place and differences are uncertain. "
        "Scan the frame or marks with it."
    ),
    "art_sizes": "Against the reference {across:+.3%} across and {down:+.3%} down; {shear:+.2f} mrad off square.",
    "art_scale_relative": (
        "That holds for this scanner only. A steel rule in a scan tells its true scale: sumlight artwork scanner."
    ),
    "art_bias": (
        "Openings reach {mean:+.1f} µm further at each edge ({across:+.1f} across, {down:+.1f} down); single edges "
        "scatter by {spread:.1f} µm."
    ),
    "art_register": (
        "At the best fit, places are {rms:.0f} µm apart (root mean square), {most:.0f} µm at most, at "
        "{x:.1f}, {y:.1f} mm."
    ),
    "art_map": (
        "How far places lie off, in µm to the right and down, at the best fit; columns are {columns} mm from the left:"
    ),
    "art_map_mm": "{mm:.1f}",
    "art_map_row": "{y:.1f} mm from the top: {cells}",
    "art_map_part": "What {um:.0f} µm do to a part: sumlight artwork predict FILE --thickness T --shift {um:.0f}um,0um",
    "art_scanner": "The scanner draws across {ratio:.5f} times as long as down, and down leans by {skew:+.2f} mrad.",
    "art_scanner_relative": (
        "Its true scale is not known: scan a steel rule across, and give its pixels and length with --rule."
    ),
    "art_scanner_scale": "Lengths come out {scale:.5f} times as long as they are.",
    "art_scanner_use": "For sumlight artwork compare: {option}",
    "art_scanner_mirrored": "The second scan is mirrored. Turn the sheet round without turning it over.",
    "art_scanner_turn": "The second scan is turned by only {turn:.1f}°. Turn the sheet by about 90° for it.",
    "art_learned": (
        "After {count} comparisons: etch factor {factor}, over-etch k {k}, film {film} µm, light {light} µm at each "
        "edge."
    ),
    "art_belief": "{middle:.3g} ({low:.3g} to {high:.3g})",
    "art_belief_um": "{middle:+.1f} ({low:+.1f} to {high:+.1f})",
    "art_propose": (
        "Proposed for {thickness:g} µm, outline at the {at}: draw openings {middle:.1f} µm smaller at each edge; it "
        "may be {low:.1f} to {high:.1f}."
    ),
    "art_next_use": (
        "The next films would use etch factor {factor:.3g}, over-etch k {k:.3g} and {bias:+.1f} µm for film and light: "
        "the bath reaches {reach:.0f} µm and undercuts {undercut:.0f} µm."
    ),
    "art_kept_film": "Film compared: openings reach {um:+.1f} µm further than drawn, at each edge.",
    "art_kept_panel": "Developed panel compared: openings reach {um:+.1f} µm further than drawn, at each edge.",
    "art_kept_waist": "Part compared, lit through: openings reach {um:+.1f} µm further than drawn, at each edge.",
    "art_kept_surface": "Part compared at its face: openings reach {um:+.1f} µm further than drawn, at each edge.",
    "art_propose_use": "If you agree: sumlight artwork compensate … {options}",
    "art_learn_guess": "Nothing was compared yet: all of this is what trays commonly do.",
    "art_learn_file": (
        "{name} is not what sumlight artwork compare --json prints. Write the growth instead, such as film=12um."
    ),
}
