"""A new recipe from what a person knows of it: its name, its sides, and a time, a dose or neither. Pure."""

import math
import re
import unicodedata
from collections.abc import Mapping
from typing import Any

REST_S, FORGIVEN, LONGEST_GAP_S = 900, 2, 60
"""Rest before developing and pauses where nothing was told (common practice, no source)."""
GUARD_TIMES, LEAST_GUARD_S, USUAL_GUARD_S = 2.0, 60.0, 1800.0
"""The guard of a known time, and that of a dose of which nobody has said how long it takes (judgement, no source)."""


def slug(name: str) -> str:
    """Make a file's name of what people write: "Brass 8 min" becomes brass-8-min; empty if nothing is left."""
    spelled = name.casefold().replace("ä", "ae").replace("ö", "oe").replace("ü", "ue")
    plain = unicodedata.normalize("NFKD", spelled).encode("ascii", "ignore").decode()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")


def guard_s_for(lit_s: float | None) -> float:
    """The guard beside a known time in seconds; beside a dose, of which no time is known, half an hour."""
    return USUAL_GUARD_S if lit_s is None else max(LEAST_GUARD_S, math.ceil(GUARD_TIMES * lit_s))


def with_defaults(told: Mapping[str, Any], label: str) -> dict[str, Any]:
    """Values of a recipe by their dotted places, None where nothing was told, with what a recipe needs put in.

    `label` is the name as the person wrote it, and stands for the resist.
    """
    through = 1.0 if told.get("transmission.a") is None else told["transmission.a"]
    usual = {
        "resist": label[:80] or None,
        "transmission.a": through,
        "transmission.b": through if told["sides"] != "one" else None,
        "time_guard_s": guard_s_for(told.get("draft_lit_s")),
        "hold_s": REST_S,
        "interruptions.forgiven": FORGIVEN,
        "interruptions.longest_gap_s": LONGEST_GAP_S,
    }
    return {**told, **{key: value for key, value in usual.items() if told.get(key) is None}}
