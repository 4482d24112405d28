"""The form that tells of tubes put into a bank: what was typed, every mistake beside its field, and what control gets.

A tube that was in the register before brings its hours and starts along when its mark is typed again. Pure.
"""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sumlight.bounds import Bounds
from sumlight.protocol.commands import TubesFitted
from sumlight.quantity import shown
from sumlight.store.logbook.lamps import MOST_TUBES
from sumlight_web.forms import MISSING, Form, Input, quantity, read
from sumlight_web.language import N_, _

LONGEST = 60
INPUTS = (
    Input("bank", N_("Bank"), "pick", optional=True),
    Input("scope", N_("What was changed?"), "pick", optional=True),
    Input("tubes", N_("If all: how many tubes"), "whole", optional=True, bounds=Bounds(1, MOST_TUBES)),
    Input(
        "places",
        N_("If single: which places"),
        help=N_("Counted from one side, such as 2, 5. Keep to one way of counting."),
        optional=True,
    ),
    Input("lamp_type", N_("Type"), help=N_("As printed on the tube; begin with LED for LEDs."), longest=LONGEST),
    Input("wavelength_class", N_("Wavelength"), help=N_("Such as UV-A 365 nm."), longest=LONGEST),
    Input(
        "label",
        N_("Mark on the tube"),
        help=N_("By it a tube keeps its history when it moves."),
        optional=True,
        longest=LONGEST,
    ),
    quantity(
        TubesFitted,
        "hours",
        N_("Hours they had before"),
        "h",
        N_("Empty: none, or what the register knows of a tube with this mark."),
        optional=True,
    ),
    quantity(
        TubesFitted,
        "expected_life_h",
        N_("Expected life"),
        "h",
        N_("From the data sheet."),
        key="life",
        optional=True,
    ),
)
WHOLE = re.compile(r"\d{1,4}", re.ASCII)

FIELD_OF = {"positions": "places", "expected_life_h": "life", "strikes": "hours"}
"""Where a mistake that control finds belongs, if its field has another name there."""


@dataclass
class SwapForm(Form):
    """`asked` are the command's fields when all is right."""

    asked: dict[str, Any] = field(default_factory=dict)

    @property
    def whole(self) -> bool:
        """Whether all tubes of the bank are meant."""
        return self.text("scope") == "all"


def empty_form(banks: Sequence[str], bank: str, tubes: Sequence[Mapping[str, Any]]) -> SwapForm:
    """A new form; the kind of tubes that the bank has now is proposed."""
    now = [tube for tube in tubes if tube["bank"] == bank and tube["removed_utc"] is None]
    values = {"bank": bank if bank in banks else "", "scope": "all"}
    if now:
        values |= {"tubes": str(len(now)), "lamp_type": now[0]["lamp_type"]}
        values["wavelength_class"] = now[0]["wavelength_class"]
        values["life"] = shown(now[0]["expected_life_h"]) if now[0]["expected_life_h"] else ""
    return SwapForm(INPUTS, values)


def read_form(given: Mapping[str, str], banks: Sequence[str], tubes: Sequence[Mapping[str, Any]]) -> SwapForm:
    """Check what was typed; `tubes` is the register, those taken out included."""
    found = read(INPUTS, given)
    form = SwapForm(INPUTS, found.values, found.errors, found.status, found.numbers)
    asked = form.asked
    if form.text("bank") not in banks:
        form.add("bank", _("Choose the bank."))
    if form.text("scope") not in ("all", "some"):
        form.add("scope", _("Choose one."))
    elif form.whole:
        if not form.text("tubes"):
            form.add("tubes", _(MISSING))
        asked["tubes"] = int(form.number("tubes") or 0)
    else:
        form.errors.pop("tubes", None)
        asked["positions"] = _places(form)
    past = known_past(form.text("label"), tubes) if not form.text("hours") else None
    asked |= {name: form.text(name) for name in ("bank", "lamp_type", "wavelength_class", "label")}
    hours = {"hours": past["hours"], "strikes": past["strikes"]} if past else {"hours": form.number("hours") or 0.0}
    asked |= hours | {"expected_life_h": form.number("life") or 0.0}
    return form


def known_past(label: str, tubes: Sequence[Mapping[str, Any]]) -> Mapping[str, Any] | None:
    """The tube of that mark that was taken out last and is not in a bank now; None when there is none."""
    same = [tube for tube in tubes if label and tube["label"] == label]
    if not same or any(tube["removed_utc"] is None for tube in same):
        return None
    return max(same, key=lambda tube: tube["removed_utc"])


def _places(form: SwapForm) -> list[int]:
    parts = [part for part in re.split(r"[,;\s]+", form.text("places")) if part]
    right = parts and all(WHOLE.fullmatch(part) and 1 <= int(part) <= MOST_TUBES for part in parts)
    if not right or len(set(map(int, parts))) < len(parts):
        form.add("places", _("Name each place once, from 1 to {n}, such as 2, 5.", n=MOST_TUBES))
        return []
    return [int(part) for part in parts]
