"""Of what people and programs ask: numbers as they are typed, and the fields of a request."""

BOUNDS = {
    "from_to": "from {low:plain} to {high:plain}",
    "above_to": "more than {low:plain}, at most {high:plain}",
    "from": "{low:plain} or more",
    "above": "more than {low:plain}",
    "at_most": "at most {high:plain}",
    "in_unit": "{allowed} {unit}",
}
"""What a number may be, in plain decimals, however many of them there are."""

TYPED = {
    "not_a_number": "'{typed}' is not a number. Write one such as {example}.",
    "not_a_time": "'{typed}' is not a time. Write one such as 8:00, 8 min or 480 s.",
    "not_whole": "'{typed}' is not a whole number. Write one such as {example}.",
    "unknown_unit": "'{unit}' is not a unit for this. Write the number with one of these: {units}.",
    "needs_no_unit": "'{unit}' is not needed here. Write the number alone, such as {example}.",
    "two_readings": "'{typed}' can mean {first} or {second}. Write {write_first} or {write_second}.",
    "not_so_many": "'{typed}' does not hold {count} numbers. Write them with ; between.",
    "out_of_bounds": "{typed} is not possible here: {allowed}.",
    "out_of_share": "{typed} is not possible here: {allowed}. Per cent are written with their sign, such as 90 %.",
}
"""What is wrong with a number that somebody typed."""

FIELDS = {
    "field_must_be": "'{field}' must be {what}",
    "field_missing": "'{field}' is missing",
    "field_missing_between": "'{field}' is missing; it must lie between {low:g} and {high:g}",
    "field_out_of_bounds": "'{field}' is {given}; it must lie between {low:g} and {high:g}",
    "field_no_identity": "'{field}' must be a whole number from 1",
    "field_not_a_number": "'{field}' must be a number",
    "field_not_whole": "'{field}' must be a whole number, not {given}",
    "field_not_a_flag": "'{field}' must be true or false",
    "field_half_character": "'{field}' holds half of a character",
    "field_too_long": "'{field}' has {length} characters; at most {most}",
    "field_not_text": "'{field}' must be text",
    "field_not_one_of": "'{field}' must be one of {choices}, not {given}",
    "field_not_an_object": "'{field}' must be an object of names and values",
    "field_does_not_fit": "'{field}': {why}",
    "list_of_numbers": "a list of at most {most} numbers",
    "list_of_places": "a list of 1 to {most} places [x, y] in mm",
    "list_of_places_within": "a list of 1 to {most} places [x, y] in mm, none beyond {farthest_mm:g}",
    "list_of_readings": "a list of 1 to {most} objects with zone, step and half; a step is a whole number, "
    "all_held or all_gone",
    "places_and_legs_differ": "'places' holds {places} places, but the series has {legs} rounds",
    "no_parameter": "'{field}' is not a parameter of a {kind} series; it takes {known}",
    "takes_no_parameter": "'{field}' is not a parameter of a {kind} series; it takes none",
}
"""What is wrong with a field of a request."""

REQUESTS = {
    "line_not_json": "the line is not JSON",
    "send_json_lines": "send one JSON object a line",
    "line_not_an_object": "the line is not a JSON object",
    "id_not_whole": "'id' must be a whole number from 0",
    "no_such_command": "no such command; there is {commands}",
    "command_takes": "'{command}' takes {fields}",
    "command_takes_nothing": "'{command}' takes no fields",
    "press_unseen": "This press does not say what was seen.",
    "load_again_then_press": "Load the page again, then press.",
}
"""What is wrong with a request as a whole."""

WORDS = {**BOUNDS, **TYPED, **FIELDS, **REQUESTS}
