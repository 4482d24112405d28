"""Of the bench's sums: numbers and words that cannot be."""

WORDS = {
    "sum_not_between": "{field} must lie between {low:g} and {high:g}, not {value:g}",
    "sum_not_above": "{field} must be above {low:g} and at most {high:g}, not {value:g}",
    "sum_with_hint": "{told}: {hint}",
    "sum_not_a_number": "{field} must be a number, not {value}",
    "sum_not_one_of": "{field} must be one of {words}, not '{value}'",
}
