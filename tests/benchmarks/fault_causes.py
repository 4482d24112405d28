"""How each fault of the table is brought about in the twin, how it is put right, and how soon it must be dark."""

import sqlite3
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from sumlight.box.charge_pump import needed_ticks_hz
from sumlight.control.pace import TickRate
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import as_written, later
from tests.control.bench_box import BenchBox, recipe_text

Act = Callable[[BenchBox], Any]

RELEASE_S = 0.035
"""From the relay pin at rest to no light: relay, jitter, afterglow, and the tick in which it is seen."""

K1_S = 0.215
"""From the enable line at rest to no light: pump, K1, afterglow."""

TICKS_S = 0.010


@dataclass(frozen=True)
class Cause:
    """One fault. `dark_s` is the stated time from the cause to the permit's end, `release_s` from there to no light.

    `also` are names under which the same cause shows in other states; `shows_in` the states in which it can show at
    all (None: in every one, at the latest when the panel is carried on). `stops` is false for remarks. A press that is
    refused with the words `refused_with` has shown the cause as well.
    """

    bring: Act
    remedy: Act
    dark_s: float = TICKS_S
    release_s: float = RELEASE_S
    also: tuple[str, ...] = ()
    shows_in: tuple[str, ...] | None = None
    settle_s: float = 1.5
    stops: bool = True
    dose_mj_cm2: float = 24.0
    refused_with: str = ""


def happen(*events: tuple[str, dict[str, Any]]) -> Act:
    """Let these events of the scenario's list happen."""

    def act(bench: BenchBox) -> None:
        for do, extra in events:
            bench.happen(do, **extra)

    return act


def nothing(_: BenchBox) -> None:
    """The cause was an event and is over."""


class BadCard:
    """The connection to a logbook on a card that refuses."""

    in_transaction = False

    def __init__(self, name: str, words: str) -> None:
        self._name, self._words = name, words

    def execute(self, *_: object) -> None:
        """Refuse, with SQLite's own name for why."""
        error = sqlite3.OperationalError(self._words)
        error.sqlite_errorname = self._name
        raise error


def card_refuses(name: str, words: str) -> tuple[Act, Act]:
    """The card refuses every write from now on; and is sound again."""
    kept: dict[int, Any] = {}

    def bring(bench: BenchBox) -> None:
        book = bench.daemon.writer._logbook
        assert book is not None
        kept[id(bench)] = book._session.link
        book._session.link = BadCard(name, words)  # type: ignore[assignment]

    def remedy(bench: BenchBox) -> None:
        book = bench.daemon.writer._logbook
        assert book is not None
        book._session.link = kept.pop(id(bench))
        assert bench.daemon.writer.drain(0)

    return bring, remedy


def lid_chatters(bench: BenchBox) -> None:
    """Eight openings within two seconds."""
    for _ in range(8):
        bench.happen("lid_opens")
        bench.run(0.05)
        bench.happen("lid_closes")
        bench.run(0.2)


def pump_fails(bench: BenchBox) -> None:
    """The enable line no longer reaches the charge pump."""
    enable = bench.loop.box.enable
    assert enable is not None
    enable.beat = lambda: None  # type: ignore[method-assign]


def pump_mended(bench: BenchBox) -> None:
    """And reaches it again."""
    enable = bench.loop.box.enable
    assert enable is not None
    del enable.beat


def guard_is_short(bench: BenchBox) -> None:
    """The recipe's time guard is half a second from now."""
    for side in bench.exposure.sides:
        side.plan = replace(side.plan, guard_s=side.lit_for_s(bench.clock.now_s) + 0.5)
    bench.save("long", recipe_text(dose_mj_cm2=24, time_guard_s=1))


def guard_mended(bench: BenchBox) -> None:
    """A guard that ran out once would do so again: the panel is abandoned and the recipe mended."""
    if bench.exposure.running:
        bench.ask("abandon")
    bench.save("long", recipe_text(dose_mj_cm2=24))


def loop_stalls(bench: BenchBox) -> None:
    """0.4 s without a tick; the watch looks every 0.05 s, as its thread does."""
    watch = bench.loop.watch
    seen_s = watch._seen_s or 0.0
    for step in range(8):
        bench.clock.wait_until(bench.clock.now_s + 0.05)
        watch.check(seen_s + 0.05 * (step + 1))
        if bench.after_step is not None:
            bench.after_step()
    bench.step()


class SlowMachine(TickRate):
    """Real time as it would be on a machine that manages 118 ticks a second."""

    def __init__(self) -> None:
        super().__init__(needed_ticks_hz(), real_time=True)
        self._real_s = 0.0

    def ticked(self, _: float, *, held: bool) -> None:
        """So much later."""
        self._real_s += 1 / 118
        super().ticked(self._real_s, held=held)


def computer_slows(bench: BenchBox) -> None:
    """From now on every tick takes longer in real time."""
    bench.loop.rate = SlowMachine()


def computer_recovers(bench: BenchBox) -> None:
    """What kept it busy has ended."""
    bench.loop.rate = TickRate(needed_ticks_hz(), real_time=False)


def program_errs(bench: BenchBox) -> None:
    """One tick raises."""

    def broken(_: float) -> None:
        raise ZeroDivisionError("made for the campaign")

    bench.exposure.tick = broken  # type: ignore[method-assign, assignment]
    bench.step()
    del bench.exposure.tick


def other_lamps(bench: BenchBox) -> None:
    """The judge of colours finds other lamps. That it does is proved in calibration/test_lamp_colour_and_window.py."""
    for watch in bench.loop.banks.values():
        watch.spectrum.lit = lambda *_: (FaultName.WRONG_LAMP, later("made_for_the_campaign"))  # type: ignore[method-assign]


def light_cannot_be(bench: BenchBox) -> None:
    """The judge of the light finds it unlikely. That it does is proved in calibration/test_expected_light.py."""
    for watch in bench.loop.banks.values():
        watch.spectrum.lit = lambda *_: (FaultName.LIGHT_UNLIKELY, later("made_for_the_campaign"))  # type: ignore[method-assign]


def lamps_back(bench: BenchBox) -> None:
    """The lamps of the calibration are fitted again."""
    for watch in bench.loop.banks.values():
        del watch.spectrum.lit


def page_leaves(bench: BenchBox) -> None:
    """A page watched until now."""
    bench.loop.watched = True
    bench.run(1.1)
    bench.loop.watched = False


def page_returns(bench: BenchBox) -> None:
    """Somebody looks again."""
    bench.loop.watched = True


FULL = card_refuses("SQLITE_FULL", "database or disk is full")
DAMAGED = card_refuses("SQLITE_CORRUPT", "database disk image is malformed")
READ_ONLY = card_refuses("SQLITE_READONLY", "attempt to write a readonly database")
LIT = ("strike", "light")

CAUSES: dict[str, Cause] = {
    "lid_mismatch": Cause(
        happen(("contact_sticks", {"contact": "shut"}), ("lid_opens", {})),
        happen(("contact_frees", {"contact": "shut"}), ("lid_closes", {})),
        dark_s=TICKS_S + 0.004,
    ),
    "lid_bounces": Cause(lid_chatters, nothing, settle_s=3.5),
    "emergency_stop": Cause(happen(("stop_pressed", {})), happen(("stop_released", {}))),
    "too_hot": Cause(happen(("overheats", {})), happen(("cools", {}))),
    "k1_welded": Cause(happen(("k1_welds", {})), happen(("k1_frees", {})), dark_s=float("inf")),
    "k1_silent": Cause(pump_fails, pump_mended, dark_s=0.8, also=("no_light", "light_lost")),
    "meter_lost": Cause(happen(("meter_disappears", {})), happen(("meter_returns", {})), dark_s=0.51),
    "meter_stuck": Cause(
        happen(("meter_freezes", {})), happen(("meter_returns", {})), dark_s=0.75, also=("light_while_dark",)
    ),
    "meter_saturated": Cause(
        happen(("daylight_enters", {"level_mw_cm2": 100.0})),
        happen(("daylight_ends", {})),
        dark_s=1.7,
        also=("light_while_dark", "foreign_light", "meter_lost"),
    ),
    "no_light": Cause(
        happen(("tube_fails", {"tubes": 6})), lambda bench: bench.new_lamps(), dark_s=6.1, also=("light_lost",)
    ),
    "light_lost": Cause(
        happen(("sheet_laid", {"transmission": 0.001, "blocks_uv": True})),
        happen(("sheet_lifted", {})),
        dark_s=6.1,
        also=("no_light",),
    ),
    "tube_out": Cause(
        happen(("tube_fails", {"tubes": 1})), lambda bench: bench.new_lamps(), dark_s=0.3, shows_in=("light",)
    ),
    "foreign_light": Cause(
        happen(("daylight_enters", {"level_mw_cm2": 2.0})),
        happen(("daylight_ends", {})),
        dark_s=6.1,
        also=("light_while_dark", "no_light"),
    ),
    "wrong_lamp": Cause(other_lamps, lamps_back, dark_s=0.1),
    "light_unlikely": Cause(light_cannot_be, lamps_back, dark_s=0.1),
    "light_while_dark": Cause(
        happen(("relay_welds", {})), happen(("relay_frees", {})), dark_s=float("inf"), release_s=K1_S
    ),
    "time_guard": Cause(guard_is_short, guard_mended, dark_s=0.52, refused_with="time_guard_s"),
    # The permit runs out by itself after 0.1 s; the watch switches off within 0.25 s of the stall.
    "loop_late": Cause(loop_stalls, nothing, dark_s=0.25, release_s=0.15 + 0.05 + RELEASE_S, shows_in=LIT),
    # Five seconds of real time at 118 ticks a second are 2.95 s of the bench's.
    "too_slow": Cause(
        computer_slows, computer_recovers, dark_s=2.97, dose_mj_cm2=40.0, refused_with="too slow: 118 ticks a second"
    ),
    "disk_full": Cause(*FULL, dark_s=0.26, refused_with="The logbook cannot be written"),
    "logbook_damaged": Cause(*DAMAGED, dark_s=0.26, refused_with="The logbook cannot be written"),
    "logbook_failed": Cause(*READ_ONLY, dark_s=0.26, refused_with="The logbook cannot be written"),
    "internal": Cause(program_errs, nothing),
    "logbook_unsound": Cause(
        lambda bench: bench.loop.tell(FaultName.LOGBOOK_UNSOUND, as_written("row 7 of traces (for the campaign)")),
        nothing,
        stops=False,
    ),
    "clock_stepped": Cause(lambda bench: bench.set_wall_clock(3600.0), nothing, stops=False),
    "inputs_unpowered": Cause(happen(("field_supply_fails", {})), happen(("field_supply_returns", {}))),
    "supply_low": Cause(happen(("supply_sags", {})), happen(("supply_recovers", {})), stops=False),
    "page_gone": Cause(page_leaves, page_returns, stops=False, shows_in=LIT, dose_mj_cm2=110.0),
}
"""Every fault of the table. `dark_s` infinite: seen only when the lamps go off anyway."""
