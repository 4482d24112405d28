"""What light panels had before: that of the last one, and that of the last one which nobody has to doubt. Pure.

Light that fell, LEDs of another level or two sensors that contradict each other leave a doubt that does not pass by
itself. So later light is compared with that from before the doubt, until it is as it was, somebody has looked at the
window, or the box was calibrated anew.
"""

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from sumlight.light.fingerprint import CHANNELS

STILL_THE_SAME_H = 100.0
"""Light of so many lamp hours ago is no longer compared with, unless a doubt has stood since."""
BACK_LN = 0.02
"""Light that has come back within so much (ln) is as it was: the smallest jump that is told."""


@dataclass(frozen=True)
class SeenLight:
    """Settled light of a bank as a completed side saw it: net basic counts of six channels, and where and when."""

    basic_counts: tuple[float, ...]
    lamp_set: int
    lamp_hours: float
    meter: str
    position: str

    @property
    def place(self) -> tuple[int, str, str]:
        """Lamps, meter and place of the meter."""
        return self.lamp_set, self.meter, self.position


@dataclass(frozen=True)
class Standing:
    """The light that others are compared with, and what has been in doubt since.

    `doubted_h` are the lamp hours of the first panel in doubt, None while there is none. `weaker` is the weakest light
    since over that one, `apart_ln` by how much (ln) two sensors contradict it, `jumped_ln` what the light jumped within
    panels (ln). `calibrated` says that the box was calibrated since the light.
    """

    light: SeenLight
    doubted_h: float | None = None
    weaker: float | None = None
    apart_ln: float = 0.0
    jumped_ln: float = 0.0
    calibrated: bool = False

    def kept(self) -> dict[str, Any]:
        """As a side's record keeps it, beside the light of that side."""
        light = {"basic_counts": self.light.basic_counts, "lamp_hours": self.light.lamp_hours}
        doubts = {"weaker": self.weaker, "apart_ln": self.apart_ln, "jumped_ln": self.jumped_ln}
        return {"light": light, "doubted_h": self.doubted_h, **doubts}


@dataclass(frozen=True)
class LastLooks:
    """Lamp hours of the last calibration and of the last look at the window that hold here; -inf without one."""

    calibrated_h: float = -math.inf
    self_check_h: float = -math.inf


def seen_in(budget: str) -> SeenLight | None:
    """The settled light as it stands in a side's record; None in a record that holds none, or is no record."""
    try:
        found = json.loads(budget)
        counts, anchor = tuple(float(value) for value in found["settled_basic_counts"]), found["anchor"]
        place = int(anchor["lamp_set"]), float(anchor["lamp_hours"]), str(anchor["meter"]), str(anchor["position"])
    except (ValueError, KeyError, TypeError):
        return None
    return SeenLight(counts, *place) if len(counts) == len(CHANNELS) else None


def standing_in(budget: str) -> Standing | None:
    """What the light of a side's record was compared with, and what was in doubt by its end.

    The light itself where nothing is kept of that, as in old records; None in a record that holds no light.
    """
    last = seen_in(budget)
    if last is None:
        return None
    try:
        kept = json.loads(budget)["standing"]
        counts = tuple(float(value) for value in kept["light"]["basic_counts"])
        doubted_h, weaker = (None if kept[name] is None else float(kept[name]) for name in ("doubted_h", "weaker"))
        light = replace(last, basic_counts=counts, lamp_hours=float(kept["light"]["lamp_hours"]))
        return Standing(light, doubted_h, weaker, float(kept["apart_ln"]), float(kept["jumped_ln"]))
    except (ValueError, KeyError, TypeError):
        return Standing(last)


def after(
    before: Standing | None, now: SeenLight, *, weaker: float | None, apart_ln: float, jumped_ln: float, looked: bool
) -> Standing:
    """What stands after a panel in light `now`, which left doubts as `Standing` has them. `before` stood until then.

    `weaker` is a share of 1, `jumped_ln` what the light jumped within (ln); `looked` says that somebody has looked at
    the window. Unless one does, the strongest light counts: a window that gets dirty little by little would pass
    otherwise.
    """
    if before is None or before.light.place != now.place:
        before = Standing(now)
    moved_ln = math.log(max(now.basic_counts[0], 1e-9) / max(before.light.basic_counts[0], 1e-9))
    weaker = None if moved_ln > -BACK_LN else weaker
    jumped_ln += before.jumped_ln  # only a jump back undoes one: lamps that warm up would hide what moved
    jumped_ln = 0.0 if abs(jumped_ln) < BACK_LN else jumped_ln
    if weaker is not None or apart_ln or jumped_ln:
        since_h = now.lamp_hours if before.doubted_h is None else before.doubted_h
        return Standing(before.light, since_h, weaker, apart_ln, jumped_ln)
    old = now.lamp_hours - before.light.lamp_hours > STILL_THE_SAME_H
    return Standing(now if looked or old or moved_ln >= 0 else before.light)


class SeenLights:
    """Of every bank. `budgets` are the records of their last completed sides, as JSON text."""

    def __init__(self, budgets: Mapping[str, str]) -> None:
        self._last = {bank: seen for bank, text in budgets.items() if (seen := seen_in(text))}
        self._standing = {bank: stood for bank, text in budgets.items() if (stood := standing_in(text))}

    def last(self, bank: str, place: tuple[int, str, str], lamp_hours: float) -> SeenLight | None:
        """The light of the last panel under these lamps and this meter where it sits now; None after many hours."""
        found = self._last.get(bank)
        if found is None or found.place != place or lamp_hours - found.lamp_hours > STILL_THE_SAME_H:
            return None
        return found

    def standing(self, bank: str, place: tuple[int, str, str], lamp_hours: float, looked: LastLooks) -> Standing | None:
        """What the next light is compared with; a calibration since ends a doubt, and holds for what is seen now."""
        found, last = self._standing.get(bank), self._last.get(bank)
        if found is None or last is None or found.light.place != place:
            return None
        since_h = found.light.lamp_hours if found.doubted_h is None else found.doubted_h
        if looked.calibrated_h > since_h:
            found = Standing(last, calibrated=looked.calibrated_h > last.lamp_hours)
        elif looked.self_check_h > last.lamp_hours:
            found = replace(found, weaker=None, jumped_ln=0.0)
        if found.doubted_h is None and lamp_hours - last.lamp_hours > STILL_THE_SAME_H:
            return None
        return found

    def saw(self, bank: str, now: SeenLight, standing: Standing) -> None:
        """A panel was completed in this light; `standing` is what stands after it."""
        self._last[bank], self._standing[bank] = now, standing
