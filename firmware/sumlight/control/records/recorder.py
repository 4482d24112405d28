"""Turns what happens in an exposure into records for the writer thread. Never waits for the disk."""

from collections.abc import Callable
from datetime import datetime

from sumlight.clock import Clock
from sumlight.control.calibration.dose_uncertainty import UncertaintyEstimator
from sumlight.control.exposure.plan import Plan
from sumlight.control.exposure.side import SideRun
from sumlight.control.exposure.state_machine import Event, Exposure
from sumlight.control.records.air import AirWatch
from sumlight.control.records.flicker_meter import FlickerMeter
from sumlight.light.ageing import in_best_air
from sumlight.light.sample import Sample
from sumlight.light.sensors import AS7341, SensorKind
from sumlight.protocol.snapshot import FaultName
from sumlight.store.logbook.light_intervals import LightInterval, LightIntervalEnd
from sumlight.store.logbook.records import (
    BankState,
    BegunExposure,
    FaultRecord,
    LampReading,
    NewExposure,
    NewSide,
    Pause,
    SideState,
    TraceChunk,
)
from sumlight.store.logbook.writer import LogWriter, Ticket
from sumlight.text.message import Message

JOURNAL_S = 0.25
"""Time between dose journal rows while there is light; a kill then costs less than a second of light."""

CHUNK_SAMPLES = 100
USE_S = 5.0
SETTLED_SHARE = 0.95
FIRST_LIGHT_MW_CM2 = 0.2
"""Net light at the resist from which lamps count as struck."""


class Recorder:
    """Keeps the logbook in step with one Exposure.

    `scale_of` tells what a bank's counts are worth; `window_of` by what they were corrected for the meter's window
    since the last calibration, and what a fresh self-check found of it.
    """

    def __init__(self, writer: LogWriter, clock: Clock, box_name: str, *, simulated: bool) -> None:
        self._writer = writer
        self._clock = clock
        self._box_name = box_name
        self._simulated = simulated
        self._ticket: Ticket | None = None
        self._ids: BegunExposure | None = None
        self._end_word: str | None = None
        self._journal_at_s = 0.0
        self._pause: tuple[str, datetime, float | None] | None = None
        self._chunks: dict[str, list[Sample]] = {}
        self._lit: dict[str, float] = {}
        self._gain_code: dict[str, int] = {}
        self._warm_up: dict[str, list[tuple[float, float]]] = {}
        self._used: dict[str, tuple[float, int]] = {}
        self._struck: dict[str, tuple[float, float]] = {}
        self._off: dict[str, float] = {}
        self._flicker: dict[str, FlickerMeter] = {}
        self.scale_of: Callable[[str], tuple[float, ...]] | None = None
        self.window_of: Callable[[str], tuple[float, float | None]] = lambda _bank: (1.0, None)
        self.sensor: SensorKind = AS7341
        self.air = AirWatch(None)
        self._air_c: dict[str, float | None] = {}
        self.is_led: Callable[[str], bool] = lambda _bank: False
        self.appraiser: UncertaintyEstimator | None = None

    @property
    def exposure_id(self) -> int | None:
        """Row number of the exposure under way or last ended; None before its beginning is on disk."""
        return self._ids.exposure_id if self._ids else None

    @property
    def waiting(self) -> bool:
        """Whether the beginning of an exposure is still on its way to the disk."""
        return self._ticket is not None

    def use_of(self, bank: str, before: BankState) -> tuple[float, int]:
        """Seconds of light and strikes of a bank: those `before` this run of control and those since."""
        lit_s, strikes = self._used.get(bank, (0.0, 0))
        if bank in self._lit:
            lit_s += self._clock.mono_s() - self._lit[bank]
        return before.lit_s + lit_s, before.strikes + strikes

    def begin(self, plan: Plan) -> None:
        """Ask for the beginning of an exposure to be written; `poll` tells when it is."""
        sides = tuple(NewSide(s.side, s.bank, s.target_mj_cm2, s.transmission) for s in plan.sides)
        self._forget()
        if self.appraiser is not None:
            self.appraiser.begin()
        self._ticket = self._writer.begin(
            NewExposure(
                panel=plan.panel,
                note=plan.note,
                recipe_name=plan.recipe_name,
                recipe_text=plan.recipe_text,
                recipe_sha256=plan.recipe_sha256,
                sides=sides,
                started_utc=self._clock.utc(),
                box_name=self._box_name,
                simulated=self._simulated,
                kind=plan.kind,
                started_by=plan.who,
                parameters=plan.parameters,
            )
        )

    def resume(self, ids: BegunExposure, last_known_utc: datetime, dark_since_s: float | None) -> None:
        """Go on recording an exposure that the last run of control left; None: nobody knows how long it is dark."""
        self._forget()
        self._ids = ids
        if self.appraiser is not None:
            self.appraiser.begin()
        self._pause = ("restart", last_known_utc, dark_since_s)

    def poll(self, exposure: Exposure) -> Message | None:
        """Take in the writer's answer to `begin`; returns why it failed, if it did."""
        ticket = self._ticket
        if ticket is None or not ticket.done:
            return None
        self._ticket = None
        if ticket.error:
            return ticket.error
        self._ids = ticket.value
        exposure.record_ready = True
        if self._end_word is not None:  # abandoned before its beginning was on disk
            self._finish(self._end_word, exposure)
        return None

    def happened(self, exposure: Exposure, event: Event) -> None:
        """Record one event of the exposure."""
        match event.what:
            case "side" if self._ids:
                self._put_sides([side for side in exposure.sides if side.plan.side == event.side])
                side = next(side for side in exposure.sides if side.plan.side == event.side)
                if side.state == "done":
                    self._side_done(side)
                    self._end_light_interval(side, "cut", event.at_s)
            case "lit":
                self._lit[event.bank] = event.at_s
                self._air_c[event.bank] = self.air.air_c(event.at_s)
                self._warm_up[event.side] = []
                self._struck.pop(event.side, None)
                if self.sensor.ripple_free:
                    self._flicker.setdefault(event.side, FlickerMeter()).lit(event.at_s)
                self._begin_light_interval(next(s for s in exposure.sides if s.plan.side == event.side), event.at_s)
                self.add_use(event.bank, 0.0, 1)
                self._end_pause(event.at_s)
            case "dark":
                self._lamp_use(event.bank, event.at_s)
                self._lit.pop(event.bank, None)
                side = next(side for side in exposure.sides if side.plan.side == event.side)
                self._off[event.side] = event.at_s
                if side.state not in ("cut", "done"):
                    self._end_light_interval(side, "interrupted", event.at_s)
            case "pause":
                self._pause = (event.word, self._clock.utc(), event.at_s)
                self._put_pause(None)
            case "ended":
                self._finish(event.word, exposure)
            case "taken_out":
                now = self._clock.utc()
                self._writer.add("the panel was taken out", lambda book: book.note_taken_out(now))

    def sample(self, side: SideRun, sample: Sample, net_mw_cm2: float) -> None:
        """Keep a reading for the trace and, coarsely, for the lamps' warm-up."""
        name = side.plan.side
        if side.state == "lit":
            self._gain_code[name] = sample.gain_code
            if self.sensor.ripple_free:  # others would take the mains for a flickering tube
                if name not in self._flicker:
                    self._flicker[name] = FlickerMeter()
                self._flicker[name].take(sample, net_mw_cm2)
        chunk = self._chunks.setdefault(name, [])
        chunk.append(sample)
        if len(chunk) >= CHUNK_SAMPLES:
            self._flush_trace(name)
        if name not in self._struck and sample.usable and net_mw_cm2 > FIRST_LIGHT_MW_CM2:
            self._struck[name] = (sample.end_s, sample.end_s - self._lit.get(side.plan.bank, sample.end_s))
        points = self._warm_up.get(name)
        if points is not None and side.state == "lit" and (not points or sample.end_s - points[-1][0] >= 1.0):
            points.append((sample.end_s, net_mw_cm2))

    def journal(self, exposure: Exposure, now_s: float) -> None:
        """Write the dose of every side under light, several times a second, and now and then the lamps' use."""
        if self._ids is None or now_s < self._journal_at_s:
            return
        self._journal_at_s = now_s + JOURNAL_S
        lit = [side for side in exposure.sides if side.state in ("lit", "cut")]
        if lit:
            self._put_sides(lit)
        for bank, since_s in self._lit.items():
            if now_s - since_s >= USE_S:
                self._lamp_use(bank, now_s)

    def fault(self, name: FaultName, detail: Message) -> None:
        """Record a fault that was just latched."""
        self._writer.add_fault(FaultRecord(name, detail, self.exposure_id, self._clock.utc()))
        if name is FaultName.CLOCK_STEPPED:
            now = self._clock.utc()
            self._writer.add(f"the clock was set: {detail}", lambda book: book.note_clock_set(detail, now))

    def cleared(self, name: FaultName, who: str) -> None:
        """Record that a person acknowledged a fault."""
        self._writer.clear_fault(name, self._clock.utc(), who)

    def at_usual_air(self, bank: str, light: float) -> float:
        """What the last light of a bank would have been in the air that suits tubes best, as far as that is known."""
        air_c = self._air_c.get(bank)
        return light if air_c is None or self.is_led(bank) else in_best_air(light, air_c)

    def _forget(self) -> None:
        self._ids, self._end_word, self._pause, self._ticket = None, None, None, None
        self._chunks, self._lit, self._warm_up, self._gain_code = {}, {}, {}, {}
        self._struck, self._off, self._flicker = {}, {}, {}

    def _begin_light_interval(self, side: SideRun, now_s: float) -> None:
        if self._ids is None or self.scale_of is None:
            return
        stretch = LightInterval(
            side_id=self._ids.side_ids[side.plan.side],
            began_utc=self._clock.utc(),
            lit_s=now_s,
            dark_end_s=side.dark_end_s,
            dark_mw_cm2=side.dark_mw_cm2,
            mw_cm2_per_basic_count=self.scale_of(side.plan.bank),
            integration_ms=self.sensor.integration_ms,
            transmission=side.plan.transmission,
            lead_s=side.cut_off.lead_s,
            from_mj_cm2=side.dose_mj_cm2,
            from_doubt_mj_cm2=side.sum.doubt_mj_cm2,
            found_at_mw_cm2=side.plan.found_at_mw_cm2,
            reciprocity_p=side.plan.reciprocity_p,
        )
        self._writer.add(str(stretch), lambda book: book.intervals.begin_light_interval(stretch))

    def _end_light_interval(self, side: SideRun, ended: str, now_s: float) -> None:
        """Close the stretch that `off` belongs to; a side that is done without one (after a restart) has none."""
        off_s = self._off.pop(side.plan.side, None)
        if self._ids is None or off_s is None:
            return
        self._flush_trace(side.plan.side)
        dose_mj_cm2, doubt_mj_cm2 = side.dose_mj_cm2, side.sum.doubt_mj_cm2
        side_id = self._ids.side_ids[side.plan.side]
        end = LightIntervalEnd(side_id, ended, off_s, now_s, dose_mj_cm2, doubt_mj_cm2)
        self._writer.add(str(end), lambda book: book.intervals.end_light_interval(end))

    def _put_sides(self, sides: list[SideRun]) -> None:
        if self._ids is None:
            return
        now_s = self._clock.mono_s()
        states = [
            SideState(
                side_id=self._ids.side_ids[side.plan.side],
                state=side.state,
                dose_mj_cm2=side.dose_mj_cm2,
                doubt_mj_cm2=side.sum.doubt_mj_cm2,
                lit_s=side.lit_for_s(now_s),
                pauses=side.pauses,
                longest_gap_s=side.longest_gap_s,
                budget=self._budget(side),
            )
            for side in sides
        ]
        self._writer.put_sides(states, self._clock.utc())

    def _budget(self, side: SideRun) -> str | None:
        if self.appraiser is None or side.state not in ("done", "abandoned"):
            return None
        return self.appraiser.settle(side)

    def _side_done(self, side: SideRun) -> None:
        if self._ids is None:
            return
        self._flush_trace(side.plan.side)
        gain_code = self._gain_code.get(side.plan.side)
        self._writer.put_bank_state(side.plan.bank, side.cut_off.lead_s, gain_code)
        if side.cut_mw_cm2 <= 0:
            return
        corrected_by, window = self.window_of(side.plan.bank)
        # Without corrections for dirt, so that applying one is no jump of the lamps; `window` goes beside it.
        settled = side.cut_mw_cm2 / side.plan.transmission / corrected_by
        points = self._warm_up.get(side.plan.side, [])
        reached = [at_s for at_s, value in points if value >= SETTLED_SHARE * side.cut_mw_cm2]
        warm_up_s = reached[0] - points[0][0] if reached else None
        side_id = self._ids.side_ids[side.plan.side]
        first_s, strike_s = self._struck.get(side.plan.side, (None, None))
        off_s = self._off.get(side.plan.side)
        burned_s = off_s - first_s if off_s is not None and first_s is not None else None
        self._writer.add_lamp_reading(
            LampReading(
                side.plan.bank,
                side_id,
                self._clock.utc(),
                settled,
                warm_up_s,
                strike_s,
                burned_s,
                self._air_c.get(side.plan.bank),
                self_check=window,
                flicker=look.swing if (look := self._flicker.get(side.plan.side)) else None,
                led=self.is_led(side.plan.bank),
            )
        )

    def _flush_trace(self, name: str) -> None:
        samples = self._chunks.pop(name, [])
        if samples and self._ids is not None:
            self._writer.add_trace(TraceChunk(self._ids.side_ids[name], tuple(samples)))

    def _lamp_use(self, bank: str, now_s: float) -> None:
        since_s = self._lit.get(bank)
        if since_s is not None:
            self.add_use(bank, now_s - since_s, 0)
            self._lit[bank] = now_s

    def new_lamps(self, bank: str) -> None:
        """The lamps of a bank were changed: nothing of this run counts for the new ones."""
        self._used[bank] = (0.0, 0)

    def add_use(self, bank: str, lit_s: float, strikes: int) -> None:
        """Count light and strikes of a bank; also those that this run of control did not see."""
        before_s, before = self._used.get(bank, (0.0, 0))
        self._used[bank] = (before_s + lit_s, before + strikes)
        self._writer.add_lamp_use(bank, lit_s, strikes)

    def _end_pause(self, now_s: float) -> None:
        if self._pause is not None:
            since_s = self._pause[2]
            self._put_pause(None if since_s is None else now_s - since_s)
            self._pause = None

    def _put_pause(self, gap_s: float | None) -> None:
        if self._ids is not None and self._pause is not None:
            self._writer.add_pause(Pause(self._ids.exposure_id, self._pause[0], self._pause[1], gap_s))

    def _finish(self, outcome: str, exposure: Exposure) -> None:
        self._end_word = outcome
        if self._ids is None:
            return
        for name in list(self._chunks):
            self._flush_trace(name)
        doubtful = exposure.why_doubtful() is not None
        self._writer.finish(self._ids.exposure_id, outcome, doubtful, self._clock.utc())
