"""What is said of signs, facts and causes."""

from sumlight.craft import tablet
from sumlight.craft.causes.facts import Facts
from sumlight.craft.causes.network import Item
from sumlight.text.message import Message, say, say_named

DOSE_TIMES = (0.25, 4.0)
"""A held step tells by how much to change the dose; beyond that it is a step in the dark."""


def verdict(verdict: str, any_sign: bool) -> Message:
    """The sentence above the causes."""
    if verdict == "told":
        return say("why_told")
    if verdict == "sound":
        return say("why_sound")
    return say("why_not_enough") if any_sign else say("why_no_sign")


def reason(item: Item) -> Message:
    """One thing that was seen or is known."""
    if item.kind == "sign":
        sign = say_named(f"sign_{item.name}")
        return say("reason_seen", sign=sign) if item.there else say("reason_not_seen", sign=sign)
    return _of_measure(item) if item.kind == "measure" else _of_trait(item)


def change(name: str, facts: Facts) -> Message:
    """What to change next; where the held step is known, by how much."""
    held = facts.held_off
    if held is not None and ((name == "underexposed" and held < 0) or (name == "overexposed" and held > 0)):
        times = tablet.textbook_factor(0, held)
        if DOSE_TIMES[0] <= times <= DOSE_TIMES[1]:
            return say("change_dose_by", times=times, steps=held)
    return say_named(f"change_{name}")


def _of_measure(item: Item) -> Message:
    value = item.value
    match item.name:
        case "dose_share":
            return say("reason_dose_share", share=value)
        case "held_off":
            return say("reason_held_off", steps=value) if value else say("reason_held_right")
        case "roll_months":
            return say("reason_roll_months", months=value)
        case "faces_off_um":
            return say("reason_faces_off", um=value)
        case "clear_share":
            return say("reason_clear_share", times=value)
        case "dwell_share":
            return say("reason_dwell_share", times=value)
        case "developer_used":
            return say("reason_developer_used", share=value)
        case "developer_off_c":
            return say("reason_developer_off", degrees=value)
        case "etch_share":
            return say("reason_etch_share", times=value)
        case "etchant_used":
            return say("reason_etchant_used", share=value)
    return say("reason_etchant_off", degrees=value)


def _of_trait(item: Item) -> Message:
    if item.name == "place":
        return say("reason_place", place=say_named(f"place_{item.word}"))
    return say_named(f"reason_{item.name}_{item.word}")
