"""What the legs of a finished series saw, worked out from their traces. Pure, but for the logbook it is handed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from statistics import fmean, median
from typing import Any

from sumlight.control.calibration.lamp_colour import COUNT_NOISE, RELATIVE_NOISE, six_basic_counts
from sumlight.light.counts import GAINS
from sumlight.light.gains import GainTable
from sumlight.light.sample import Sample
from sumlight.light.sensors import AS7341, SensorKind
from sumlight.light.transmission import Reading
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.reading import LogbookReader
from sumlight.text.message import as_written, say

SETTLED_PART = 0.5
"""The last half of a leg counts: the lamps have struck and warmed up as far as they will."""
OFF_S = 0.12
FEWEST = 5


@dataclass(frozen=True)
class SteadyLeg:
    """Mean light of one leg's settled part in basic counts, darkness taken off, by channel; `at_s` is its middle."""

    leg: str
    channels: tuple[Reading, ...]
    at_s: float


def finished(book: LogbookReader, exposure_id: int, kind: str | None = None) -> dict[str, Any]:
    """An exposure that has ended, with its sides. Raises BadRequestError if there is none, or of another kind."""
    found = book.exposure(exposure_id)
    if found is None:
        raise BadRequestError("not_found", say("no_such_exposure", number=exposure_id), field="exposure_id")
    if found["outcome"] is None:
        raise BadRequestError(
            "refused",
            say("exposure_not_ended", number=exposure_id),
            field="exposure_id",
            remedy=say("let_it_end_first"),
        )
    if kind is not None and found["kind"] != kind:
        raise BadRequestError(
            "bad_value",
            say("exposure_of_other_kind", number=exposure_id, kind=found["kind"], wanted=kind),
            field="exposure_id",
            remedy=say("run_series_of_kind", wanted=kind),
        )
    return found


def steady_legs(book: LogbookReader, exposure: dict[str, Any], gains: GainTable, kind: SensorKind) -> list[SteadyLeg]:
    """Every finished leg, read by such a sensor. Raises BadRequestError if one is too short to tell anything."""
    legs = []
    for side in exposure["sides"]:
        if side["state"] != "done":
            continue
        try:
            legs.append(steady(side["side"], book.trace(side["side_id"]), side["lit_s"], gains, kind))
        except ValueError as error:
            raise BadRequestError("bad_value", as_written(error.args[0]), field="exposure_id") from error
    return legs


def steady(leg: str, samples: Sequence[Sample], lit_s: float, gains: GainTable, kind: SensorKind = AS7341) -> SteadyLeg:
    """One leg from its trace. Raises ValueError if it is too short."""
    if not samples:
        raise ValueError(say("leg_without_trace", leg=leg))
    began_s = samples[0].end_s
    cut_s = began_s + lit_s
    lit = [s for s in samples if s.usable and began_s + SETTLED_PART * lit_s < s.end_s < cut_s - OFF_S]
    dark = [s for s in samples if s.usable and s.end_s > cut_s + OFF_S]
    if len(lit) < FEWEST or not dark:
        raise ValueError(say("leg_too_short", leg=leg, seconds=lit_s))
    light = [_true_counts(sample, gains, kind) for sample in lit]
    darkness = [_true_counts(sample, gains, kind) for sample in dark]
    channels = []
    for channel in range(6):
        values = [counts[channel] for counts in light]
        level = median(counts[channel] for counts in darkness)
        noise = math.hypot(
            _noise(lit, channel, kind) / math.sqrt(len(lit)), _noise(dark, channel, kind) / math.sqrt(len(dark))
        )
        channels.append(Reading(fmean(values) - level, noise))
    return SteadyLeg(leg, tuple(channels), fmean(s.mid_s for s in lit))


def _true_counts(sample: Sample, gains: GainTable, kind: SensorKind) -> tuple[float, ...]:
    factor, _ = gains.corrected(1.0, sample.gain_code)
    return tuple(factor * counts for counts in six_basic_counts(sample, kind))


def _noise(samples: Sequence[Sample], channel: int, kind: SensorKind) -> float:
    """Noise of one conversion in basic counts: what the sensor is known for, or what neighbours differ by."""
    last = samples[-1]
    counts = last.counts[channel]
    known = math.hypot(COUNT_NOISE, RELATIVE_NOISE * counts)
    steps = [b.counts[channel] - a.counts[channel] for a, b in pairwise(samples)]
    seen = math.sqrt(fmean(step * step for step in steps) / 2) if steps else 0.0
    return max(known, seen) / (GAINS[last.gain_code] * kind.integration_ms)
