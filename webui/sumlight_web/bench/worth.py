"""What a dose on the Bench is worth, and what the light and its calibration are like, in sentences. Pure."""

from collections.abc import Mapping
from typing import Any, cast

from sumlight_web import words
from sumlight_web.link import Side, Snapshot


def worth_words(side: Side) -> str:
    """How far off the true dose may be, and apart from it how well this box repeats it."""
    wide, repeat = side["expanded_uncertainty_mj_cm2"], side.get("expanded_repeat_mj_cm2")
    if wide is None:
        return "uncertainty not known"
    if repeat is None:
        return f"± {words.dose(wide)} mJ/cm² (k = 2)"
    if side.get("relative"):
        return f"relative, not mJ/cm²: ± {words.number(repeat, 2)} repeat (k = 2), absolute not known"
    return f"± {words.dose(wide)} absolute, ± {words.number(repeat, 2)} repeat (k = 2)"


def standing_remarks(snapshot: Snapshot) -> list[str]:
    """Per bank: the colour of the light, where it was compared, and what stands about the calibration."""
    known = cast(Mapping[str, Any], snapshot)
    found = []
    for bank in known["banks"]:
        spectrum = bank.get("spectrum")
        if spectrum:
            found.append(f"Light of {bank['name']}: {spectrum['sentence']}")
    for name, block in (known.get("calibration") or {}).items():
        if not any(block["sentence"] in warning for warning in known["warnings"]):
            found.append(f"Calibration of {name}: {block['sentence']}")
    return found
