"""Of days that people type."""

MONTHS = {
    "month_1": "January",
    "month_2": "February",
    "month_3": "March",
    "month_4": "April",
    "month_5": "May",
    "month_6": "June",
    "month_7": "July",
    "month_8": "August",
    "month_9": "September",
    "month_10": "October",
    "month_11": "November",
    "month_12": "December",
}

WORDS = {
    **MONTHS,
    "day_two_ways": (
        "'{given}' can be {day:.0f} {month} {year} or {other_day:.0f} {other_month} {year}: write {iso} or {other_iso}"
    ),
    "day_short_year": "'{given}' needs its year with four digits, such as 30 Nov 2026",
    "day_is_none": "'{given}' is no day; write it as 2026-11-30, 30 Nov 2026 or 30.11.2026",
}
