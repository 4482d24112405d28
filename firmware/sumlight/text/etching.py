"""Of etching: times, looks, etch factor, what to draw and what is too small."""

WORDS = {
    "opening": "opening",
    "line": "line",
    "at_surface": "surface",
    "at_waist": "waist",
    "draw_so_wide": (
        "Draw the {kind} {drawn:.0f} µm wide for {wanted:g} µm at the {at}: each edge moves by {surface:.0f} µm "
        "at the surface and {waist:.0f} µm at the waist."
    ),
    "too_small_to_print": (
        "{wanted:g} µm cannot be made: it would have to be drawn {drawn:.0f} µm wide, and {printed:g} is the "
        "least that prints; the smallest that works is {least:.0f}"
    ),
    "line_eaten_away": "{wanted:g} µm cannot be made: the surface of the line would be eaten away",
    "hint_sheet_um": "sheet of 20 to 500 µm is usual",
    "hint_break_through": "1 is a bare break-through",
    "sides_one_or_two": "sides must be 1 or 2, not {sides:g}",
    "factor_ours": "depth over undercut of one side (ours)",
    "factor_over_both": "depth over the undercut of both sides together",
    "factor_upside_down": "undercut of one side over depth, the ratio upside down",
    "factor_undercut_um": "a length: the undercut of one side in µm",
    "factor_artwork_um": "a length: what the artwork is made larger by in all, in µm",
    "factor_trapezoid": "twice the height over foot less top of the finished line: ours only if the wall is straight",
    "hint_factor_meaning": "'{meaning}' makes it that; measure a coupon",
    "hint_resist_opening": "metal under the resist goes too; measure at the surface, before the resist is stripped",
    "factor_meaning_asked": (
        "An etch factor of {value:g} lies outside {low:g} to {high:g}: do you mean undercut over depth, depth "
        "over the undercut of both sides, or a length in µm?"
    ),
    "hint_wider_slot": "measure again, on a wider slot",
    "factor_not_above_0": "etch_factor must be above 0, not {value:g}: it is depth over undercut",
    "factor_needs_depth": "depth_um must be given: a length says nothing without the depth that was etched",
    "hint_no_bath_there": "no bath of ours works there",
    "never_finishes": (
        "This panel takes {taken:.0f} % of what the bath could dissolve when fresh, and {left:.0f} % is left: it "
        "never finishes. Mix new, take more bath, or etch less at a time."
    ),
    "hint_fold_flat": "to fold it flat, give two lines side by side",
    "fold_no_length": (
        "The fold line at {x:g}, {y:g} mm ends where it begins: give both ends, {least:g} mm apart or more"
    ),
    "fold_through": (
        "A fold line would go through: with over-etch k = {k:g} the bath reaches {reach:.0f} of {thickness:g} µm. Etch "
        "shorter, with k below 2"
    ),
    "half_etch_all": "A half-etched place would lose all of its {all:g} µm. Etch shorter, or cover it.",
    "half_etch_weak": (
        "A half-etched place loses {depth:.0f} of {all:g} µm, give or take {tolerance:.0f}; the {left:.0f} µm "
        "left are weak."
    ),
    "half_etch_left": (
        "A half-etched place loses {depth:.0f} of {all:g} µm, give or take {tolerance:.0f}; {left:.0f} µm are left."
    ),
    "source_rules_60": "a maker's design rules, reference values 60",
    "source_rules_32": "a maker's guidelines, craft reference S32",
    "source_rules_33": "a maker's design page, craft reference S33",
    "source_rules_34": "a maker's notes on line width, craft reference S34",
    "source_scan": "craft reference A11",
    "source_as_entered": "as entered",
    "source_common_practice": "common practice, no source",
    "rule_smallest_print": "smallest that prints",
    "rule_tab": "thickness and the undercut of both edges",
    "rule_scan_dots": "{dots} dots of the scan",
    "rule_hole": "hole at least {times:g} T",
    "rule_hole_75_um": "hole at least 75 µm",
    "rule_slot": "slot at least {times:g} T",
    "rule_web": "web between slots at least {times:g} T",
    "rule_line": "line at least {times:g} T",
    "rule_tab_thickness": "tab at least {times:g} T",
    "rule_inside_corner": "inside corner at least {times:g} T",
    "rule_outside_corner": "outside corner at least {times:g} T",
    "etch_about": "{depth:.0f} µm from each open side at {rate:.3g} µm/min: about {minutes:.1f} min.",
    "look_after": (
        "Look first after {first:.1f} min, then after {others} min: the first at the lower end of what is likely "
        "(± {percent:.0f} % until this bath's own times are known; common practice)."
    ),
    "through_is_seen": "A sheet etched through is seen, not timed.",
    "look_where_last": (
        "Look where it goes last: the narrowest and most crowded openings, near the middle of a panel that lies flat."
    ),
    "bath_then_used": "The bath is then used to {percent:.0f} % of its capacity.",
    "deeper_than_through": (
        "depth_um must not be deeper than through, which is {through:g} µm from each open side, not {depth:g}"
    ),
    "etch_factor_guessed": (
        "Etch factor {factor:.3g}: depth over undercut of one side. It is a guess until a coupon was measured."
    ),
    "that_is_mil": "That is {mil:.3g} mil, or {mm:.4g} mm.",
}
