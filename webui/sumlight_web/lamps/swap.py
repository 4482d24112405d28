"""The form that tells of tubes put into a bank: what was typed, every mistake beside its field, and what control gets.

A tube that was in the register before brings its hours and starts along when its mark is typed again. Pure.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sumlight.store.logbook.lamps import MOST_TUBES
from sumlight_web.language import N_, _

LABELS = {
    "bank": N_("Bank"),
    "scope": N_("What was changed?"),
    "tubes": N_("If all: how many tubes"),
    "places": N_("If single: which places"),
    "lamp_type": N_("Type"),
    "wavelength_class": N_("Wavelength"),
    "label": N_("Mark on the tube"),
    "hours": N_("Hours they had before"),
    "life": N_("Expected life"),
}
"""The fields of the form, in order."""

LONGEST = 60
MOST_HOURS = 1_000_000
NUMBER = re.compile(r"\d{1,7}(\.\d{1,4})?\Z", re.ASCII)
WHOLE = re.compile(r"\d{1,4}\Z", re.ASCII)

FIELD_OF = {"positions": "places", "expected_life_h": "life", "strikes": "hours"}
"""Where a mistake that control finds belongs, if its field has another name there."""


@dataclass
class SwapForm:
    """`typed` and `errors` by field (`""`: the form as a whole); `asked` are the command's fields when all is right."""

    typed: dict[str, str]
    errors: dict[str, str] = field(default_factory=dict)
    asked: dict[str, Any] = field(default_factory=dict)
    status: int = 200

    def add(self, name: str, message: str, status: int = 422) -> None:
        """Note a mistake; the first one of a field stays."""
        self.errors.setdefault(name if name in LABELS else "", message)
        self.status = max(self.status, status)

    def wrong(self) -> list[str]:
        """The fields that need attention, in order."""
        return [name for name in LABELS if name in self.errors]

    @property
    def whole(self) -> bool:
        """Whether all tubes of the bank are meant."""
        return self.typed.get("scope") == "all"


def empty_form(banks: Sequence[str], bank: str, tubes: Sequence[Mapping[str, Any]]) -> SwapForm:
    """A new form; the kind of tubes that the bank has now is proposed."""
    now = [tube for tube in tubes if tube["bank"] == bank and tube["removed_utc"] is None]
    typed = dict.fromkeys(LABELS, "") | {"bank": bank if bank in banks else "", "scope": "all"}
    if now:
        typed |= {"tubes": str(len(now)), "lamp_type": now[0]["lamp_type"]}
        typed["wavelength_class"] = now[0]["wavelength_class"]
        typed["life"] = f"{now[0]['expected_life_h']:g}" if now[0]["expected_life_h"] else ""
    return SwapForm(typed)


def read_form(given: Mapping[str, str], banks: Sequence[str], tubes: Sequence[Mapping[str, Any]]) -> SwapForm:
    """Check what was typed; `tubes` is the register, those taken out included."""
    form = SwapForm({name: given.get(name, "").strip() for name in LABELS})
    typed, asked = form.typed, form.asked
    if typed["bank"] not in banks:
        form.add("bank", _("Choose the bank."))
    if typed["scope"] not in ("all", "some"):
        form.add("scope", _("Choose one."))
    elif form.whole:
        asked["tubes"] = _count(form)
    else:
        asked["positions"] = _places(form)
    for name in ("lamp_type", "wavelength_class"):
        if not typed[name]:
            form.add(name, _("Fill this in."))
    for name in ("lamp_type", "wavelength_class", "label"):
        if len(typed[name]) > LONGEST:
            form.add(name, _("At most {n} characters; this has {m}.", n=LONGEST, m=len(typed[name])))
    past = known_past(typed["label"], tubes) if not typed["hours"] else None
    hours, life = _number(form, "hours"), _number(form, "life")
    asked |= {name: typed[name] for name in ("bank", "lamp_type", "wavelength_class", "label")}
    asked |= {"hours": past["hours"], "strikes": past["strikes"]} if past else {"hours": hours}
    asked["expected_life_h"] = life
    return form


def known_past(label: str, tubes: Sequence[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """The tube of that mark that was taken out last and is not in a bank now; None when there is none."""
    same = [tube for tube in tubes if label and tube["label"] == label]
    if not same or any(tube["removed_utc"] is None for tube in same):
        return None
    return max(same, key=lambda tube: tube["removed_utc"])


def _count(form: SwapForm) -> int:
    text = form.typed["tubes"]
    if not WHOLE.match(text) or not 1 <= int(text) <= MOST_TUBES:
        form.add("tubes", _("How many tubes has the bank? A whole number from 1 to {n}.", n=MOST_TUBES))
        return 0
    return int(text)


def _places(form: SwapForm) -> list[int]:
    parts = [part for part in re.split(r"[,;\s]+", form.typed["places"]) if part]
    right = parts and all(WHOLE.match(part) and 1 <= int(part) <= MOST_TUBES for part in parts)
    if not right or len(set(map(int, parts))) < len(parts):
        form.add("places", _("Name each place once, from 1 to {n}, such as 2, 5.", n=MOST_TUBES))
        return []
    return [int(part) for part in parts]


def _number(form: SwapForm, name: str) -> float:
    text = form.typed[name]
    if not text:
        return 0.0
    if not NUMBER.match(text) or float(text) > MOST_HOURS:
        form.add(name, _("Hours are a number from 0 to {n}, such as 120.5.", n=MOST_HOURS))
        return 0.0
    return float(text)
