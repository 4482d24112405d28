"""Checks that tell causes apart, and what each takes. Minutes are common practice, no source."""

from sumlight.craft.causes.model import Look
from sumlight.craft.causes.table import CAUSES

MINUTES = {
    "clock_of_rest": 0.5,
    "clock_of_developer": 0.5,
    "thermometer": 1,
    "cover_by_nail": 0.5,
    "readable_text": 1,
    "caliper": 1,
    "slime_by_finger": 1,
    "drop_on_white": 1,
    "both_faces": 1,
    "water_break": 2,
    "bubbles_under_loupe": 2,
    "two_lengths": 3,
    "marks_against_light": 3,
    "film_under_loupe": 5,
    "black_against_light": 5,
    "tape_test": 8,
    "covered_scrap": 10,
    "fresh_developer": 10,
    "fresh_stripper": 10,
    "fresh_etchant": 15,
    "measured_coupon": 15,
    "nine_places": 20,
    "step_tablet": 30,
    "turned_film": 30,
    "turned_panel": 30,
    "coin_test": 40,
}

LOOKS = {
    name: Look(minutes, frozenset(cause.name for cause in CAUSES if name in cause.looks))
    for name, minutes in MINUTES.items()
}
"""Every check by its name, with the causes whose lines name it."""
