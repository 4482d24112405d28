"""Of the manual: what it adds by itself to keys, faults and baths, whose own words stand in other tables."""

WORDS = {
    "manual_allowed": "Allowed: {allowed}.",
    "manual_one_of": "One of: {known}.",
    "manual_default": "Default: {value}.",
    "manual_required": "Has to be given.",
    "manual_left_out": "May be left out.",
    "manual_seen": "*What the box saw:* {seen}",
    "manual_happens": "*What happens:* {happens}",
    "manual_remedy": "*What to do:* {remedy}",
    "manual_clears": "*How it goes:* {clears}",
    "manual_named": "*In records:* `{name}`",
    "fault_darkens": "Lamps dark at once, K1 let go, dose kept, fault latched.",
    "fault_is_told": "It is only reported; the light goes on.",
    "fault_clears_by": "cause gone, then a person's acknowledgement, which is recorded.",
    "never_with": "{ones}: never with {others}",
    "never_meet_title": "What must never meet",
    "waste_title": "Waste",
}
