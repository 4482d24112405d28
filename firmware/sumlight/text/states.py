"""What page, command line and display call what snapshots, recipes and records name: said by `language.named`."""

STATES = {
    "state_idle": "Ready",
    "state_vacuum": "Pulling vacuum",
    "state_dark_check": "Checking darkness",
    "state_light": "Exposing",
    "state_paused": "Paused, lamps off",
    "state_turn": "Turn the panel",
    "state_faulted": "Fault, lamps off",
    "state_done": "Done, lamps off",
}
"""Of the box."""

SIDES = {
    "sides_are_one": "one side",
    "sides_are_turned": "two sides, panel turned by hand",
    "sides_are_together": "two sides together",
}
"""How a recipe lights a panel."""

OUTCOMES = {
    "outcome_completed": "completed",
    "outcome_abandoned": "given up",
    "outcome_faulted": "ended by a fault",
    "outcome_stopped": "stopped",
    "outcome_unfinished": "not finished",
}
"""How an exposure ended."""

UPKEEP = {
    "upkeep_checked": "looked through",
    "upkeep_saved": "saved from a damaged one",
    "upkeep_tidied": "old samples removed",
    "upkeep_compacted": "made shorter",
    "upkeep_clock_set": "the clock was set",
    "upkeep_closed": "an interrupted panel could not be taken up",
}
"""What was done to the logbook."""

WORDS = {**STATES, **SIDES, **OUTCOMES, **UPKEEP}
