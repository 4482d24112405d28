"""One side of a panel under light: its dose, its cut-off, its interruptions. Pure; time comes in as an argument."""

import math
from collections.abc import Sequence
from typing import Literal

from sumlight.control.exposure.plan import SidePlan
from sumlight.light.cutoff import CutOff
from sumlight.light.dose import DoseSum
from sumlight.light.sample import Sample
from sumlight.store.logbook.records import SideState

SideStateName = Literal["waiting", "lit", "cut", "done", "abandoned"]

TAIL_SAMPLES = 4
"""Dark conversions that end the measurement of what the lamps gave after switching off."""

TAIL_SHARE = 0.02
TAIL_LIMIT_S = 1.5
REACTION_S = 0.01
"""Two ticks: how far the moment of going dark is unsure when something other than the dose ended the light."""

UNSEEN_S = 0.2
"""Light between the last record and the end, as it mostly is: half the time between two records, the time that the disk
takes for one, and what control had not read yet."""
UNSEEN_DOUBT_S = 0.5
"""By so much light it may have been more or less: a disk may take half a second for a record."""
SLOWER_THAN_SEEN = 1.5
"""A slow disk or a busy machine writes less often. The record under way at the end may have taken half as long again as
the longest before it."""
LOOKS_FIRST, BEGUN_SHARE = 4, 0.02
"""So many conversions come between this share of the dose and its end: those who judge the light look at it first. Only
a dose of less than a fifth of a second is ever delayed by it."""
FEWEST_LIT_S = 1.0
"""A mean over less light than that still holds the strike."""

FORESEEN_SHARE = 0.5
"""From this share of its time on, what a timed side will end with can be told from its light so far,"""
FORESEEN_LIGHT = 0.8
"""if it gives at least this share of its mean light again: not while lamps strike after a pause."""


class SideRun:
    """One side. `state`: waiting for its turn or for light, lit, cut (dark again, tail measured), done, abandoned."""

    def __init__(self, plan: SidePlan, window_s: float) -> None:
        self.plan = plan
        self.leader: SideRun | None = None
        """The side whose dose this one gets; None for one with an end of its own."""
        self.state: SideStateName = "waiting"
        self.sum = DoseSum(window_s)
        self.cut_off = CutOff(plan.lead_s)
        self.lit_s = 0.0
        self.pauses = 0
        self.longest_gap_s = 0.0
        self.gap_unknown = False
        self.dark_mw_cm2 = 0.0
        self.dark_end_s = 0.0
        self.cut_mw_cm2 = 0.0
        self.resist_mw_cm2 = 0.0
        self.first_lit_s: float | None = None
        self.ended_s: float | None = None
        self.last_usable_s = -math.inf
        self._lit_since_s = 0.0
        self._dark_since_s: float | None = None
        self._cut_s = 0.0
        self._at_command_mj_cm2 = 0.0
        self._doubt_at_cut_mj_cm2 = 0.0
        self._tail = 0
        self._looks = 0

    @property
    def open(self) -> bool:
        """Whether this side still wants light or is under it."""
        return self.state in ("waiting", "lit", "cut")

    @property
    def timed(self) -> bool:
        """Whether a set time ends its light."""
        return self.plan.target_mj_cm2 is None and self.leader is None

    @property
    def dose_mj_cm2(self) -> float:
        """Dose at the resist, measured so far."""
        return self.sum.dose_mj_cm2

    @property
    def target_mj_cm2(self) -> float | None:
        """The dose that ends this side; None while it is lit by time, or the side that it follows is not done."""
        if self.leader is None:
            return self.plan.target_mj_cm2
        return self.leader.dose_mj_cm2 if self.leader.state == "done" else None

    def lit_for_s(self, now_s: float) -> float:
        """Seconds with lamps commanded on, all parts of this side together."""
        return self.lit_s + (now_s - self._lit_since_s if self.state == "lit" else 0.0)

    def light(self, now_s: float, dark_end_s: float, dark_mw_cm2: float) -> None:
        """Lamps go on now, after a dark reading that ended at `dark_end_s`."""
        self.state = "lit"
        self._lit_since_s = now_s
        self.last_usable_s = now_s
        self.dark_mw_cm2, self.dark_end_s = dark_mw_cm2, dark_end_s
        if self.first_lit_s is None:
            self.first_lit_s = now_s
        if self._dark_since_s is not None:
            self.longest_gap_s = max(self.longest_gap_s, now_s - self._dark_since_s)
            self._dark_since_s = None
        self.sum.begin(dark_end_s)
        self.cut_off.begin()

    def reading(self, sample: Sample, glass_mw_cm2: float) -> None:
        """Take in one usable conversion, `glass_mw_cm2` at the glass with the dark reading still in it."""
        self.resist_mw_cm2 = (glass_mw_cm2 - self.dark_mw_cm2) * self.plan.transmission
        net = self.plan.effective_mw_cm2(self.resist_mw_cm2)
        self.sum.add(sample.end_s, net)
        self.last_usable_s = sample.end_s
        if self.state == "lit":
            self._looks += self.dose_mj_cm2 > BEGUN_SHARE * (self.plan.target_mj_cm2 or 0.0)
            self.cut_off.add(sample.end_s, sample.mid_s, net)
        elif self.resist_mw_cm2 < TAIL_SHARE * self.cut_mw_cm2:
            self._tail += 1

    def off_at_s(self) -> float:
        """When to switch off; infinite unless lit."""
        if self.state != "lit":
            return math.inf
        target = self.plan.target_mj_cm2
        if self.leader is not None:
            target = self.leader.foreseen_mj_cm2()
            if target is None:
                return math.inf
        elif target is None:
            return self._lit_since_s + (self.plan.lit_for_s or 0.0) - self.lit_s
        if self._looks < LOOKS_FIRST:
            return math.inf
        return self.cut_off.off_at_s(self.sum.dose_mj_cm2, target)

    def foreseen_mj_cm2(self) -> float | None:
        """The dose that this timed side ends with; None while that cannot be told, as before half of its time."""
        afterwards = max(0.0, self.cut_off.mw_cm2) * self.cut_off.lead_s
        if self.state == "done":
            return self.dose_mj_cm2
        if self.state == "cut":
            return max(self.dose_mj_cm2, self._at_command_mj_cm2 + afterwards)
        off_s, lit_s = self.off_at_s(), self.lit_for_s(self.last_usable_s)
        if self.state != "lit" or off_s - self.last_usable_s > FORESEEN_SHARE * (self.plan.lit_for_s or 0.0):
            return None
        if self.cut_off.mw_cm2 * lit_s < FORESEEN_LIGHT * self.dose_mj_cm2:
            return None
        return self.cut_off.dose_at(self.dose_mj_cm2, off_s) + afterwards

    def left_s(self, now_s: float) -> float | None:
        """Predicted time to the end of light, None while nothing can be said."""
        off_s = self.off_at_s()
        return None if math.isinf(off_s) else max(0.0, off_s - now_s)

    def cut(self, now_s: float) -> None:
        """The dose is met: lamps go off now; what still comes is measured."""
        self._stop_light(now_s)
        self.state = "cut"
        self._cut_s = now_s
        self._at_command_mj_cm2 = self.cut_off.dose_at(self.dose_mj_cm2, now_s)
        self._doubt_at_cut_mj_cm2 = self.sum.doubt_mj_cm2
        counted = self.cut_off.latest_mw_cm2
        physical = self.resist_mw_cm2 / counted if counted > 0 else 1.0
        self.cut_mw_cm2 = max(0.0, self.cut_off.mw_cm2) * physical
        self._tail = 0

    def tail_over(self, now_s: float) -> bool:
        """Whether the light after switching off has been measured, or cannot be any more."""
        return self._tail >= TAIL_SAMPLES or now_s - self._cut_s > TAIL_LIMIT_S

    def finish(self, now_s: float) -> None:
        """Close a cut side: learn the lead from its tail or, where that was not seen, work the dose out."""
        if self._tail >= TAIL_SAMPLES:
            if self.sum.doubt_mj_cm2 == self._doubt_at_cut_mj_cm2:  # a bridged tail teaches nothing
                self.cut_off.learn(self._at_command_mj_cm2, self.dose_mj_cm2)
        else:
            tail = max(0.0, self.cut_off.mw_cm2) * self.cut_off.lead_s
            self.sum.assume(self._at_command_mj_cm2 + tail, tail)
        self.state = "done"
        self.ended_s = now_s

    def interrupt(self, now_s: float) -> None:
        """Lamps went off for another reason than the dose: keep it, as far as it can be known."""
        if self.state == "lit":
            light = max(0.0, self.cut_off.mw_cm2)  # before the strike it is noise around zero
            known = self.dose_mj_cm2
            reached = self.cut_off.dose_at(known, now_s) + light * self.cut_off.lead_s
            unseen_s = max(0.0, now_s - self.last_usable_s - self.sum.window_s)
            self._stop_light(now_s)
            self.sum.assume(reached, light * (REACTION_S + self.cut_off.lead_s + 0.5 * unseen_s))
            self._paused(now_s)
        elif self.state == "cut":
            self.finish(now_s)

    def restore(
        self,
        left: SideState,
        now_s: float,
        dark_for_s: float | None,
        usual_mw_cm2: float,
        growth_mw_cm2: float,
        between_records_s: float = 0.0,
    ) -> None:
        """Take up a side as an earlier run of control left it, dark for `dark_for_s` since (None: nobody knows).

        The middle of the light that no record tells of joins the dose, by how the dose grew last; its half-width joins
        the doubt, by the strongest light there may have been: `usual_mw_cm2` is what the bank last gave at the meter,
        for lamps still rise in their first seconds. `between_records_s` is the longest light between two records: where
        they came seldom, more of it is unknown.
        """
        self.sum = DoseSum(self.sum.window_s, left.dose_mj_cm2, left.doubt_mj_cm2)
        self.lit_s, self.pauses, self.longest_gap_s = left.lit_s, left.pauses, left.longest_gap_s
        if left.lit_s > 0:
            self.first_lit_s = now_s
        if left.state in ("lit", "cut"):
            usual = self.plan.effective_mw_cm2(usual_mw_cm2 * self.plan.transmission)
            mean = left.dose_mj_cm2 / max(left.lit_s, FEWEST_LIT_S)
            most_mw_cm2 = max(usual, mean, growth_mw_cm2)
            doubt_s = max(UNSEEN_DOUBT_S, SLOWER_THAN_SEEN * between_records_s)
            self._count_unseen(left.state == "cut", max(0.0, growth_mw_cm2), most_mw_cm2, doubt_s)
        if left.state in ("cut", "done"):
            self.state, self.ended_s = "done", now_s
        elif left.state == "abandoned":
            self.state, self.ended_s = "abandoned", now_s
        elif left.lit_s > 0:
            self.gap_unknown = dark_for_s is None
            self._paused(now_s - (dark_for_s or 0.0), again=left.state == "lit")

    def _count_unseen(self, was_cut: bool, likely_mw_cm2: float, most_mw_cm2: float, doubt_s: float) -> None:
        """Light between the last record and the kill or power cut. Nothing went beyond the target but by a cut-off.

        Of a side that is lit by time the seconds count as well: it goes on with what is left of them.
        """
        dose, target = self.dose_mj_cm2, self.target_mj_cm2
        unseen_s = UNSEEN_S
        if self.timed:
            left_s = max(0.0, (self.plan.lit_for_s or 0.0) - self.lit_s)
            unseen_s = min(UNSEEN_S, self.cut_off.lead_s if was_cut else 0.5 * left_s)
            self.lit_s += 0.0 if was_cut else unseen_s
        unseen = unseen_s * (most_mw_cm2 if was_cut else likely_mw_cm2)
        if target is not None:
            left = max(0.0, target - dose)
            unseen = min(unseen, left if was_cut else 0.5 * left)  # a cut side had reached it, the rest was on its way
        self.sum.assume(dose + unseen, doubt_s * most_mw_cm2)

    def _paused(self, now_s: float, *, again: bool = True) -> None:
        self.state = "waiting"
        self.pauses += again
        self._dark_since_s = now_s

    def _stop_light(self, now_s: float) -> None:
        self.lit_s += now_s - self._lit_since_s


def side_runs(plans: Sequence[SidePlan], window_s: float) -> list[SideRun]:
    """The sides of a plan, each beside the one that it follows."""
    runs = {plan.side: SideRun(plan, window_s) for plan in plans}
    for run in runs.values():
        run.leader = runs[run.plan.follows] if run.plan.follows else None
    return list(runs.values())
