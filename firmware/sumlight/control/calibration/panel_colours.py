"""The colour of panels since lamps were new, thinned out: what the light's own colour tells of their ageing. Pure."""

import math
from collections.abc import Sequence

from sumlight.control.calibration.expected_light import SeenLight
from sumlight.light.fingerprint import Fingerprint, compare, fingerprint

EVERY_H = 10.0
"""A colour is kept once in so many lamp hours; tubes fade slowly, and each one costs time."""
NOISE = 0.0004
"""Standard deviation of a channel as a share of the strongest, where a record states none (judgement, no source)."""
DAYLIGHT = ("foreign_light", "filter_gone")
CLEAR, VIOLET = 4, 0


class PanelColours:
    """By bank, oldest first."""

    def __init__(self, kept: Sequence[tuple[str, SeenLight]] = ()) -> None:
        self._seen: dict[str, list[SeenLight]] = {}
        for bank, light in kept:
            self.add(bank, light, None)

    def add(self, bank: str, light: SeenLight, reference: Fingerprint | None) -> bool:
        """Keep the colour of a panel. Answers whether it was kept: not one soon after another, and none to which
        daylight adds, judged against `reference`, the colour at the calibration."""
        last = next((old for old in reversed(self._seen.get(bank, [])) if same_place(old, light)), None)
        if last is not None and 0 <= light.lamp_hours - last.lamp_hours < EVERY_H:
            return False
        if ln_colour(light.basic_counts) is None or (reference is not None and _daylight(light, reference)):
            return False
        self._seen.setdefault(bank, []).append(light)
        return True

    def of(self, bank: str, lamp_set: int, meter: str, position: str) -> list[SeenLight]:
        """Those under these lamps by this meter at this place, by lamp hours."""
        place = lamp_set, meter, position
        mine = [s for s in self._seen.get(bank, []) if (s.lamp_set, s.meter, s.position) == place]
        return sorted(mine, key=lambda light: light.lamp_hours)


def same_place(one: SeenLight, other: SeenLight) -> bool:
    """Whether both are of the same lamps, meter and place."""
    return (one.lamp_set, one.meter, one.position) == (other.lamp_set, other.meter, other.position)


def ln_colour(channels: Sequence[float]) -> float | None:
    """ln of the clear channel over 415 nm; None where either saw nothing. `channels` has a value a channel, in basic
    counts or as shares."""
    clear, violet = channels[CLEAR], channels[VIOLET]
    return math.log(clear / violet) if clear > 0 and violet > 0 else None


def _daylight(light: SeenLight, reference: Fingerprint) -> bool:
    counts = light.basic_counts
    now = fingerprint(counts, [NOISE * max(counts)] * len(counts))
    return compare(now, reference).verdict in DAYLIGHT
