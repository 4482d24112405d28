"""Of files that people edit: what is wrong with them, each beside its line and field."""

READ = {
    "file_not_a_file": "cannot be read: it is not a file",
    "file_unreadable": "cannot be read: {why}",
    "file_too_large": "is larger than {limit_kib} KiB, more than such a file needs",
    "recipe_too_large": "is larger than {limit_kib} KiB, more than a recipe needs",
    "file_not_utf8": "is not UTF-8 text (byte {place}); save it as UTF-8",
    "file_no_text": "holds a character that is not text (place {place}); remove it",
    "file_no_keys": "must hold `key: value` lines",
    "file_too_deep": "is nested more than {most} deep",
    "file_has_alias": "aliases (*name) are not used here; write it out",
    "file_has_tag": "tags (!name) are not used here; write it out",
    "file_no_yaml": "is not valid YAML: {why}",
    "file_odd_character": "holds a character that YAML does not allow (#x{code:04x}); remove it",
    "problem_of_field": "{field}: {told}",
    "problem_at_line": "{file}, line {line}: {told}",
    "problem_in_file": "{file}: {told}",
    "problems_in_turn": "{problems:; }",
    "more_mistakes": "and {count} more mistakes from here on; mend the others first",
}
"""What keeps a file from being read."""

FIELDS = {
    "file_no_value": "cannot be read: {why} (given: {given})",
    "file_needs_quotes": "cannot be read; put it in quotes (given: {given})",
    "file_number_not_plain": "is not written as a plain decimal (given: {given}). {rule}; quote a text",
    "file_number_taken": "is not written as a plain decimal (given: {given}; YAML would take it for {taken}). {rule}; "
    "quote a text",
    "file_plain_rule": "Write a number like 60, 0.84 or -3, without leading zeros, exponents, colons or underscores",
    "file_no_key": "'{key}' is not a word that can be a key; quote it or remove it",
    "file_list_as_key": "a list or a mapping is not a word that can be a key; quote it or remove it",
    "file_key_twice": "stands twice, first on line {line}",
    "file_unknown_key": "unknown key; known here: {known}",
    "file_key_missing": "is missing and has no default",
    "file_needs_keys": "needs keys of its own: {known}",
    "file_tag_invalid": "should be one of {known} (given: '{given}')",
    "file_given": "{told} (given: {given})",
    "file_odd_number": "{told}. {rule}",
    "file_above": "input should be greater than {low:.10g}",
    "file_from": "input should be greater than or equal to {low:.10g}",
    "file_below": "input should be less than {high:.10g}",
    "file_to": "input should be less than or equal to {high:.10g}",
    "file_not_whole": "input should be a valid integer",
    "file_not_number": "input should be a valid number",
    "file_not_finite": "input should be a finite number",
    "file_not_text": "input should be a valid string",
    "file_not_flag": "input should be a valid boolean",
    "file_not_keys": "input should be keys with values of their own",
    "file_not_one_of": "input should be one of {choices}",
    "file_text_too_long": "should have at most {most} characters",
    "file_text_empty": "should not be empty",
}
"""What is wrong with a line or a field."""

RECIPES = {
    "recipe_name": "{name} cannot be a recipe's name: {rule}",
    "recipe_name_rule": "use 1 to 48 small letters a-z, digits and hyphens, beginning with a letter or digit",
    "recipe_dose_missing": (
        "is missing; a recipe of a known time has draft_lit_s instead, one of neither dose_unknown: true"
    ),
    "recipe_two_endings": "only one of dose_mj_cm2, draft_lit_s and dose_unknown may be given",
    "recipe_guard_too_short": "must be longer than the time of the draft ({draft_lit_s:g} s)",
    "recipe_b_missing": "is missing: two sides are exposed, so B needs its value",
    "recipe_hold_limit": "must be longer than hold_s ({hold_s:g} s) or be left out",
    "recipe_found_at_missing": "is missing: reciprocity_p other than 1 needs the irradiance that the dose was found at",
}
"""Rules that only recipes have."""

SHARED = {
    "standing_same": "the same",
    "standing_new": "new there",
    "standing_newer_there": "changed there",
    "standing_newer_here": "changed here",
    "standing_apart": "different; nobody knows which is newer",
    "standing_only_here": "only here",
    "standing_unusable": "cannot be used",
    "shared_strip_first": "Light a test strip before the first panel.",
    "shared_by_time": "It is lit by time, which holds for the box that it was found on. {strip}",
    "shared_without_origin": "Nothing says under which lamps this dose was found. {strip}",
    "shared_other_lamps": "Other lamps, or lamps that are not recorded: there {there}, here {here}.",
    "shared_not_calibrated": "Not calibrated {where}: a mJ/cm² need not be the same light. {strip}",
    "shared_here": "here",
    "shared_there": "there",
    "shared_there_or_here": "there or here",
    "shared_other_wavelength": "Light of another wavelength: a resist may want another dose of it. {strip}",
}
"""How a recipe of a shared folder stands to this box's, and why it need not give the same here."""

WORDS = {**READ, **FIELDS, **RECIPES, **SHARED}
