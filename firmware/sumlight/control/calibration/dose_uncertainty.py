"""What the dose of a side is worth: its uncertainty budget from calibration, colour, field, gain and gaps. Pure."""

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Protocol

from sumlight.control.calibration.answers import CalibrationFactor
from sumlight.control.calibration.expected_light import LightJudge
from sumlight.control.calibration.lamp_colour import Spectrum
from sumlight.control.exposure.side import SideRun
from sumlight.light.fingerprint import Comparison
from sumlight.light.lampheat import LampHeat, warmth_doubt
from sumlight.light.lampsigns import UNLIKE_LN_SIGMA, UNSEEN_LAMPS_SIGMA
from sumlight.light.uncertainty import Budget, Component, budget, dof_of_doubt, rectangular

SPECTRAL_SHARE = 0.1
"""A tenth of the change in colour since the calibration is left as doubt of the ratio (judgement, no source)."""
YOUNG_SHARE, YOUNG_H = 0.5, 50.0
"""Half of it under a calibration that is new, less and less over so many lamp hours (judgement, no source)."""
TEMPERATURE = 0.004
"""Relative drift of the sensor with its temperature between calibration and use (common practice, no source)."""
CUT_OFF_S = 0.001
"""Seconds of light by which the end of an exposure stays unsure."""


class Bench(Protocol):
    """What is needed of a bank: its anchor, the colour and warmth of its lamps, and what its gain leaves unsure."""

    anchor: CalibrationFactor
    spectrum: Spectrum
    heat: LampHeat

    @property
    def by_lines(self) -> bool:
        """Whether lines of tubes stand for the UV of their phosphor."""

    @property
    def gain_ln_sigma(self) -> float:
        """Standard uncertainty (ln) that the gain in use leaves."""

    @property
    def gain_code(self) -> int:
        """The gain in use."""

    @property
    def gain_ln_error(self) -> float:
        """ln of its true size over the nominal one, as far as learned."""


@dataclass(frozen=True)
class DoseUncertainty:
    """The budget of a side's dose with the anchor it rests on."""

    budget: Budget
    anchor: CalibrationFactor

    def figures(self) -> dict[str, Any]:
        """What a snapshot shows of it."""
        found = self.budget
        return {
            "expanded_repeat_mj_cm2": found.expanded_repeat_mj_cm2,
            "expanded_absolute_mj_cm2": found.expanded_absolute_mj_cm2,
            "largest_component": found.largest,
            "dof_eff": found.dof_eff if math.isfinite(found.dof_eff) else None,
            "k": found.k,
            "relative": self.anchor.relative,
        }


class UncertaintyEstimator:
    """Keeps the worth of each side; that of a finished side stays as it was when it ended."""

    def __init__(self, banks: Mapping[str, Bench]) -> None:
        self._banks = banks
        self._settled: dict[str, DoseUncertainty] = {}
        self._texts: dict[str, str] = {}
        self.field_relative: float | None = None

    def begin(self) -> None:
        """A new panel."""
        self._settled.clear()
        self._texts.clear()

    def of(self, side: SideRun) -> DoseUncertainty:
        """What the dose of a side is worth now."""
        return self._settled.get(side.plan.side) or self._appraise(side)

    def settle(self, side: SideRun) -> str:
        """The side has ended: keep its worth, and give it with ratio and colour as JSON for the record.

        Whatever is asked later, while the other side is lit, gets the same text: the lamps' light is judged anew then.
        """
        text = self._texts.get(side.plan.side)
        if text is None:
            text = self._texts[side.plan.side] = self._settle(side)
        return text

    def _settle(self, side: SideRun) -> str:
        worth = self._settled[side.plan.side] = self._appraise(side)
        seen = self._banks[side.plan.bank].spectrum
        print_, comparison = seen.print_, seen.comparison
        light = worth.anchor.seen(seen.settled)
        stands = None if light is None else seen.judge.stands(light)
        return json.dumps(
            {
                **worth.figures(),
                "components": [asdict(share) for share in worth.budget.shares],
                "anchor": worth.anchor.kept(),
                "gain_code": self._banks[side.plan.bank].gain_code,
                "gain_ln_error": self._banks[side.plan.bank].gain_ln_error,
                "fingerprint": None if print_ is None else {"shares": print_.shares, "sigmas": print_.sigmas},
                "spectrum": comparison.verdict if comparison else None,
                "settled_basic_counts": seen.settled,
                "heat": self._heat(side),
                "standing": None if stands is None else stands.kept(),
                "signs": None if seen.signs is None else asdict(seen.signs),
            }
        )

    def _appraise(self, side: SideRun) -> DoseUncertainty:
        bank = self._banks[side.plan.bank]
        dose = side.dose_mj_cm2
        if dose <= 0:
            gaps = 2 * rectangular(side.sum.doubt_mj_cm2)
            empty = budget(0.0, [])
            return DoseUncertainty(
                Budget(**{**vars(empty), "expanded_repeat_mj_cm2": gaps, "expanded_absolute_mj_cm2": gaps}), bank.anchor
            )
        judge = bank.spectrum.judge
        light = max(side.cut_off.latest_mw_cm2, side.cut_mw_cm2)
        warmth = warmth_doubt(self._heat(side), bank.anchor.heat) if bank.by_lines else 0.0
        parts = [
            Component("calibration", 1.0, bank.anchor.whole_ln_sigma),
            Component("spectral match", 1.0, spectral_doubt(bank.spectrum.comparison, bank.anchor.age_h)),
            Component("jumps", 1.0, jump_doubt(bank.spectrum.judge.jumps_ln), kind="repeat"),
            Component("window", 1.0, window_doubt(judge.weaker, *judge.window_doubts_ln), kind="repeat"),
            Component("other lamps", 1.0, lamps_doubt(judge, bank.anchor)),
            Component("warmth of the lamps", 1.0, warmth, kind="repeat"),
            Component("gain steps", 1.0, bank.gain_ln_sigma),
            Component("sensor temperature", 1.0, TEMPERATURE, dof_of_doubt(0.25), "repeat"),
            Component("gaps", dose, rectangular(side.sum.doubt_mj_cm2), kind="repeat"),
            Component("cut-off", dose, CUT_OFF_S * light, kind="repeat"),
        ]
        if self.field_relative is not None:
            parts.append(Component("field", 1.0, self.field_relative))
        return DoseUncertainty(budget(dose, parts), bank.anchor)

    def _heat(self, side: SideRun) -> float:
        """Mean warmth of the lamps in the light of a side; of its last part where it was interrupted."""
        return self._banks[side.plan.bank].heat.mean(side.last_usable_s)


def spectral_doubt(comparison: Comparison | None, age_h: float | None = None) -> float:
    """Relative standard uncertainty left by a change of colour since the calibration, `age_h` lamp hours ago.

    Age explains a change only after hours of it; before that it is lamps that are colder or warmer than they were then,
    and their UV against the violet lines changes with it.
    """
    if comparison is None or comparison.verdict == "same":
        return 0.0
    if comparison.verdict == "foreign_light":
        return rectangular(comparison.level)
    young = 0.0 if age_h is None else YOUNG_SHARE * math.exp(-age_h / YOUNG_H)
    return max(SPECTRAL_SHARE, young) * comparison.level


def jump_doubt(jumps_ln: Sequence[float]) -> float:
    """Relative standard uncertainty left by sudden changes of the light: how much of each the panel got is unknown.

    Rectangular (JCGM 100, 4.3.7) over the farthest that the light lay from where it began.
    """
    at = 0.0
    farthest = 0.0
    for jump in jumps_ln:
        at += jump
        farthest = max(farthest, abs(at))
    return rectangular(farthest)


def lamps_doubt(judge: LightJudge, anchor: CalibrationFactor) -> float:
    """Relative standard uncertainty by lamps that may be others: they act so, or nothing sees what they are.

    LEDs that no sensor sees the colour of may be others at any time: they start alike, do not ripple, and may give as
    much UV-A. Where box.yaml says that they are built in, only light unlike the calibration's is in doubt.
    """
    unseen = judge.blind and anchor.origin == "box.yaml"
    if judge.leds_unseen and judge.expected is not None:
        unseen = unseen or bool(judge.leds_ln) or not judge.expected.leds_built_in
    return max(UNSEEN_LAMPS_SIGMA if unseen else 0.0, UNLIKE_LN_SIGMA if judge.odd_signs else 0.0)


def window_doubt(weaker: float | None, *doubts_ln: float) -> float:
    """Relative standard uncertainty while nobody knows whether weaker light is the lamps' or a dirty window's doing.

    All of the fall: lamps that are warmer than last time may hide as much again (judgement, no source). A self-check
    takes it away. `weaker` is the share of 1 that is left of the light. The largest of the other `doubts_ln` (ln) is
    open, too, all of it: two sensors that contradict each other (nobody knows which window is dirty), light that jumped
    within an earlier panel, and dirt that a self-check found and nobody has applied.
    """
    return max(0.0 if weaker is None else -math.log(weaker), *map(abs, doubts_ln), 0.0)
