"""Works recorded doses out again with today's code: a guard over the whole logbook against a change of the dose."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Literal

from sumlight.control.exposure.plan import SidePlan
from sumlight.control.exposure.side import SideRun
from sumlight.light.counts import basic_counts
from sumlight.store.logbook.light_intervals import RecordedLightInterval

Verdict = Literal["same", "differs", "open", "no trace"]

TOLERANCE_MJ_CM2 = 1e-9
"""Doses are compared to this; the same code on the same samples gives the same bits."""


@dataclass(frozen=True)
class Replayed:
    """One stretch of light: the dose on record and the dose by today's code, both at its end.

    `open`: control was killed under that light, its last samples were not on the disk; the journal's dose stands.
    `no trace`: it was removed, or not one conversion ended under that light.
    """

    exposure_id: int
    side: str
    verdict: Verdict
    recorded_mj_cm2: float | None
    replayed_mj_cm2: float
    samples: int


def replay(stretch: RecordedLightInterval) -> Replayed:
    """Run one stretch through the same code that ran it."""
    run = _run(stretch)
    end = stretch.end
    if end is not None and not stretch.samples:
        return Replayed(stretch.exposure_id, stretch.side, "no trace", end.to_mj_cm2, 0.0, 0)
    if end is None:
        return Replayed(stretch.exposure_id, stretch.side, "open", None, run.dose_mj_cm2, len(stretch.samples))
    off = (run.dose_mj_cm2 - end.to_mj_cm2, run.sum.doubt_mj_cm2 - end.to_doubt_mj_cm2)
    same = all(abs(value) <= TOLERANCE_MJ_CM2 for value in off)
    return Replayed(
        stretch.exposure_id,
        stretch.side,
        "same" if same else "differs",
        end.to_mj_cm2,
        run.dose_mj_cm2,
        len(stretch.samples),
    )


def replay_all(stretches: Iterable[RecordedLightInterval]) -> Iterator[Replayed]:
    """One after the other."""
    return (replay(stretch) for stretch in stretches)


def _run(stretch: RecordedLightInterval) -> SideRun:
    begin, end = stretch.begin, stretch.end
    plan = SidePlan(
        side=stretch.side,
        bank=stretch.bank,
        target_mj_cm2=stretch.target_mj_cm2,
        transmission=begin.transmission,
        guard_s=0.0,
        lead_s=begin.lead_s,
        found_at_mw_cm2=begin.found_at_mw_cm2,
        reciprocity_p=begin.reciprocity_p,
    )
    run = SideRun(plan, begin.integration_ms / 1000)
    run.sum.dose_mj_cm2, run.sum.doubt_mj_cm2 = begin.from_mj_cm2, begin.from_doubt_mj_cm2
    run.light(begin.lit_s, begin.dark_end_s, begin.dark_mw_cm2)
    for sample in stretch.samples:
        if end is not None and run.state == "lit" and sample.end_s > end.off_s:
            _off(run, end.ended, end.off_s)
        if sample.usable and run.state in ("lit", "cut"):
            counts = basic_counts(sample.counts[0], sample.gain_code, begin.integration_ms)
            run.reading(sample, counts * begin.mw_cm2_per_basic_count[sample.gain_code])
    if end is not None:
        if run.state == "lit":
            _off(run, end.ended, end.off_s)
        if run.state == "cut":
            run.finish(end.closed_s)
    return run


def _off(run: SideRun, ended: str, off_s: float) -> None:
    if ended == "cut":
        run.cut(off_s)
    else:
        run.interrupt(off_s)
