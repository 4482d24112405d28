"""Whole lives of lamps on the twin, under the real control: what keeps the true dose right, and what does not.

Each life: new tubes burn 1500 h (phosphor to about 60 %, lines to about 85 %; no set is like another) in a room that
goes through the seasons, the diffuser fouls around 700 h, then somebody fits tubes of another type without telling the
box; these burn 500 h. A person does only what the box asks for: a self-check, a step tablet of four zones on one panel,
new lamps recorded. Panels scatter by 3 %, zones by 1 %. The dose that holds the target step of this resist is taken as
known. Exposures are short, so that many lives fit in; hours between them are burned without being simulated.

Beside it, on the same exposures: fixed minutes, found right on the first panel of each set of lamps; and the sensor
with the first calibration of each set and no self-checks.

This is the home law: twin and estimator know of each other. The foreign laws of benchmark `worlds` do not.
"""

import logging
import math
import tempfile
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from statistics import fmean
from typing import Any

from sumlight.box.description import BoxDescription
from sumlight.cli.simulated import SimulatedBox
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.twin.events import EVENTS
from sumlight.twin.panel import Panel, Resist
from sumlight.twin.scenario import Scenario
from sumlight.twin.sources import LIFE_HOURS, Fade
from tests.benchmarks.dose import bench_recipe, demo_box
from tests.benchmarks.figure import Figure

LIVES, QUICK_LIVES = 40, 8
EVERY_H, QUICK_EVERY_H = 25.0, 50.0
FIRST_LIFE_H, SECOND_LIFE_H = 1500.0, 500.0
FOULED = 0.88
MOST_CHECKS = 0.7
TARGET_MJ_CM2 = 16.0
SWAP_TARGET_MJ_CM2 = 60.0
TARGET_STEP = 4
RESIST = Resist(threshold_mj_cm2=5.0)
REFERENCE_MJ_CM2 = RESIST.threshold_mj_cm2 * 10 ** (0.05 + 0.15 * (TARGET_STEP - 1))
TOLERANCE = 0.05
REST_S = 900.0
SEASON_H = 330.0
BANK = "lower"
SEED = 31


@dataclass
class Tally:
    """Relative errors (ln of true over wanted) of the three ways, whether the stated interval held, and counts.

    `missed` is by how much (ln) each tablet missed the truth of its own light; `bound` what is left at each panel by
    the mean of all tablets under the same lamps, for somebody who knows how lamps, dirt and warmth change the light.
    `evenly` is one over the number of tablets that there would be by then, if as many as the goal allows lay evenly.
    """

    checked: list[float] = field(default_factory=list)
    fixed: list[float] = field(default_factory=list)
    unanchored: list[float] = field(default_factory=list)
    inside: list[bool] = field(default_factory=list)
    checks: int = 0
    hours: float = 0.0
    foulings_named: list[bool] = field(default_factory=list)
    swaps_named: list[bool] = field(default_factory=list)
    swap_shares: list[float] = field(default_factory=list)
    missed: list[float] = field(default_factory=list)
    bound: list[float] = field(default_factory=list)
    evenly: list[float] = field(default_factory=list)

    def add(self, other: "Tally") -> None:
        """Take in another life."""
        for name, value in vars(other).items():
            setattr(self, name, getattr(self, name) + value)


def measure(quick: bool) -> list[Figure]:
    """The figures of the project's whole-life goal.

    The quick form has few lives and twice the hours between panels, so its goals are wider: they only hold what was
    reached.
    """
    tally = Tally()
    lives = QUICK_LIVES if quick else LIVES
    seeds = range(SEED, SEED + lives)
    with ProcessPoolExecutor(initializer=logging.disable, initargs=(logging.CRITICAL,)) as pool:
        for one in pool.map(one_life, seeds, [QUICK_EVERY_H if quick else EVERY_H] * lives):
            tally.add(one)
    count = f"{len(tally.checked)} exposures in {lives} lives"
    low, high = (88, 100) if quick else (93, 98)
    why = "; goal widened for so few lives, 93-98 in full" if quick else ""
    largest, near, most = (3.0, 8.0, 1.0) if quick else (2.0, 6.0, MOST_CHECKS)
    inside = 100 * sum(tally.inside) / len(tally.inside)
    return [
        Figure(f"life: rms error with checks, {count}", rms(tally.checked), "%", "at most", largest),
        Figure(
            f"life: within {near:g} % with checks",
            within(tally.checked, near),
            "%",
            "at least",
            99,
        ),
        Figure("life: tablet checks per 100 lamp hours", 100 * tally.checks / tally.hours, "", "at most", most),
        Figure(f"life: true dose inside stated k = 2{why}", inside, "%", "at least", low),
        Figure("life: the same, not wider than needed", inside, "%", "at most", high),
        Figure("life: foulings named before a panel", share(tally.foulings_named), "", "at least", 1),
        Figure("life: swaps named before a panel was spoilt", share(tally.swaps_named), "", "at least", 1),
        Figure(
            f"life: most given under other tubes, of {SWAP_TARGET_MJ_CM2:g} mJ/cm²",
            100 * max(tally.swap_shares),
            "%",
            "at most",
            2,
        ),
        Figure("life: rms bound, the same tablets for who knows the law", rms(tally.bound), "%", "for comparison"),
        Figure(
            f"life: rms bound, {MOST_CHECKS:g} tablets per 100 h for who knows the law",
            rms(tally.missed) * math.sqrt(fmean(tally.evenly)),
            "%",
            "for comparison",
        ),
        Figure("life: rms of what one tablet misses", rms(tally.missed), "%", "for comparison"),
        Figure("life: rms error of fixed minutes", rms(tally.fixed), "%", "for comparison"),
        Figure("life: rms error of the sensor without checks", rms(tally.unanchored), "%", "for comparison"),
        Figure(f"life: within {near:g} % with fixed minutes", within(tally.fixed, near), "%", "for comparison"),
        Figure(f"life: within {near:g} % without checks", within(tally.unanchored, near), "%", "for comparison"),
    ]


def rms(errors: list[float]) -> float:
    """Root mean square of relative errors, in percent."""
    return 100 * math.sqrt(sum((math.exp(e) - 1) ** 2 for e in errors) / len(errors))


def within(errors: list[float], most: float) -> float:
    """Share with an error of at most so many percent, in percent."""
    return 100 * sum(100 * abs(math.exp(e) - 1) <= most for e in errors) / len(errors)


def share(truths: list[bool]) -> float:
    """Share that is true."""
    return sum(truths) / len(truths)


def one_life(seed: int, every_h: float) -> Tally:
    """One life on its own, for a process of its own."""
    tally = Tally()
    Life(seed, tally, every_h).live()
    return tally


def tubes(chance: Random) -> tuple[Fade, Fade]:
    """How phosphor and lines of one set fade: 50 to 70 % and 80 to 90 % are left, more or less of it early."""
    early = chance.uniform(0.04, 0.12)
    band = Fade(early, math.log((1 - early) / chance.uniform(0.5, 0.7)) / LIFE_HOURS)
    lines = Fade(0.03, math.log(0.97 / chance.uniform(0.8, 0.9)) / LIFE_HOURS)
    return band, lines


class Life:
    """One box, one room, two sets of lamps, and a person who does what the box asks for."""

    def __init__(self, seed: int, tally: Tally, every_h: float) -> None:
        self._chance = Random(seed)
        self._tally = tally
        self._every_h = every_h
        self._folder = tempfile.TemporaryDirectory(prefix="sumlight-life-")
        scenario = Scenario(
            seed=seed,
            ageing="apart",
            lamp_hours=0.0,
            gain_errors=True,
            sensor_drift_per_k=self._chance.uniform(-3e-4, 3e-4),
            attendant_go_after_s=None,
        )
        self._box = SimulatedBox(
            guessed_box(math.exp(self._chance.gauss(0, 0.2))),
            scenario,
            Path(self._folder.name),
            speed=None,
            attended=False,
            threaded=False,
        )
        for name, target in (("panel", TARGET_MJ_CM2), ("large", SWAP_TARGET_MJ_CM2)):
            self._box.daemon.shelf.save(name, recipe(target))
        self._hours = 0.0
        self._season = self._chance.uniform(0, 2 * math.pi)
        self._first_k: float | None = None
        self._fixed_s: float | None = None
        self._missed: list[float] = []

    def live(self) -> None:
        """From new tubes to the end of the second set."""
        try:
            fouled_at_h = self._chance.uniform(650, 750)
            self._box.world.lamp(BANK).wear(*tubes(self._chance))
            self._burn_until(FIRST_LIFE_H, fouled_at_h)
            self._swap()
            self._burn_until(FIRST_LIFE_H + SECOND_LIFE_H, None)
            self._tally.hours += FIRST_LIFE_H + SECOND_LIFE_H
        finally:
            self._box.daemon.close()
            self._folder.cleanup()

    def _burn_until(self, end_h: float, fouled_at_h: float | None) -> None:
        self._first_k = self._fixed_s = None
        self._missed, fitted_h = [], self._hours
        while self._hours < end_h:
            self._rest()
            fouls_now = fouled_at_h is not None and self._hours >= fouled_at_h
            if fouls_now:
                fouled_at_h = None
                self._happen("diffuser_fouls", transmission=FOULED)
            if self._block()["self_check_due"]:
                self._self_check(fouled=fouls_now)
            if self._block()["check_due"]:
                self._tablet_check()
            self._panel()
            self._bound(self._hours - fitted_h)
            self._burn(self._every_h)

    # -- what the person does ------------------------------------------------------------------------------------

    def _self_check(self, *, fouled: bool) -> None:
        self._ready()
        self._ask("self_check", bank=BANK)
        self._until(lambda: self._seen()["phase"] != "running")
        found = self._seen()["result"]
        if fouled:
            self._tally.foulings_named.append(found["verdict"] == "diffuser_dirty")
        if found["may_apply"]:
            self._ask("self_check", bank=BANK, apply=True)

    def _tablet_check(self) -> None:
        self._tally.checks += 1
        asked: dict[str, Any] = {"target_step": TARGET_STEP, "reference_mj_cm2": REFERENCE_MJ_CM2}
        doses = self._ask("tablet_plan", recipe="panel", zones=4, **asked)["doses_mj_cm2"]
        reply = self._tablet(doses, asked)
        if reply["retry_factor"] is not None:
            self._tally.checks += 1
            reply = self._tablet([reply["retry_factor"] * dose for dose in doses], asked)
        if not reply["applied"]:
            raise RuntimeError(f"at {self._hours:g} h: {reply['sentence']}")

    def _tablet(self, doses: list[float], asked: dict[str, Any]) -> dict[str, Any]:
        """Expose the zones of one panel, develop it, enter the readings."""
        self._ready()
        self._ask("series", kind="tablet", recipe="panel", panel="tablet", doses_mj_cm2=doses)
        self._until(lambda: self._state in ("turn", "done", "faulted"))
        while self._state == "turn":
            self._happen("lid_opens")
            self._run(0.5)
            self._happen("lid_closes")
            self._until(lambda: "go" in self._box.daemon.loop.exposure.may())
            self._ask("go")
            self._until(lambda: self._state in ("turn", "done", "faulted"))
        piece = Panel(RESIST, self._chance.getrandbits(40))
        readings, given = [], self._box.truth.dose_mj_cm2()
        for zone, true in given.items():
            read = piece.develop_tablet(true, zone=zone)
            readings.append({"zone": zone, "step": read.step, "half": read.half})
        number = self._box.daemon.loop.recorder.exposure_id
        asked = {**asked, "exposure_id": number, "convention": "last_held", "readings": readings}
        asked["reference_uncertainty"] = 0.001  # in the twin it is exact
        reply = self._ask("tablet_readings", apply="calibration", **asked)
        if reply["retry_factor"] is not None:
            return reply
        counted = [side["dose_mj_cm2"] for side in self._box.daemon.commander.snapshot()["exposure"]["sides"]]
        light = fmean(math.log(true / dose) for true, dose in zip(given.values(), counted, strict=True))
        self._missed.append(math.log(reply["factor"]) - light)
        self._tally.missed.append(self._missed[-1])
        if reply["applied"]:
            return reply
        return self._ask("tablet_readings", apply="calibration", sure=True, **asked)

    def _panel(self) -> None:
        side = self._expose("panel")
        if side is None:
            raise RuntimeError(f"at {self._hours:g} h: {[f.detail for f in self._box.daemon.loop.desk.standing()]}")
        true = self._box.truth.dose_mj_cm2()["A"]
        error = math.log(true / side["target_mj_cm2"])
        k = self._block()["mw_cm2_per_basic_count"]
        if self._first_k is None or self._fixed_s is None:
            self._first_k, self._fixed_s = k, side["lit_s"] / math.exp(error)
        self._tally.checked.append(error)
        self._tally.inside.append(abs(true - side["dose_mj_cm2"]) <= side["expanded_absolute_mj_cm2"])
        self._tally.fixed.append(error + math.log(self._fixed_s / side["lit_s"]))
        self._tally.unanchored.append(error + math.log(k / self._first_k))

    def _bound(self, hours: float) -> None:
        """What the tablets so far leave to somebody who knows the law, and what as many as the goal allows would."""
        self._tally.bound.append(-fmean(self._missed))
        self._tally.evenly.append(1 / (1 + math.floor(hours * MOST_CHECKS / 100)))

    def _swap(self) -> None:
        """Somebody else fits other tubes; the next panel tells."""
        self._rest()
        self._happen("lamps_swapped", lamp_type="other_fluorescent")
        self._box.world.lamp(BANK).wear(*tubes(self._chance))
        side = self._expose("large")
        named = side is None and "wrong_lamp" in self._box.daemon.loop.desk
        given = self._box.truth.dose_mj_cm2()["A"] / SWAP_TARGET_MJ_CM2
        self._tally.swaps_named.append(named and given < 0.02)
        self._tally.swap_shares.append(given)
        self._run(1.0)
        if side is None:
            self._ask("acknowledge", who="somebody")
            self._ask("abandon")
            self._run(0.1)
        self._ask("new_lamps", bank=BANK, lamp_type="other tubes (invented)")

    # -- the box -------------------------------------------------------------------------------------------------

    def _expose(self, name: str) -> dict[str, Any] | None:
        """One panel; its side as the snapshot tells it, None if it was not completed."""
        self._ready()
        try:
            self._ask("start", recipe=name, panel="life")
        except BadRequestError as error:
            if "found before the calibration" not in str(error.message):
                raise
            # The scale moved by more than was told of it: the person keeps the dose, which is in mJ/cm² from outside.
            self._ask("keep_dose", recipe=name, recipe_sha256=self._box.daemon.shelf.load(name).sha256)
            self._ask("start", recipe=name, panel="life")
        self._until(lambda: self._state in ("done", "faulted"))
        if self._state == "faulted":
            return None
        found: dict[str, Any] = self._box.daemon.commander.snapshot()["exposure"]["sides"][0]
        return found

    def _burn(self, hours: float) -> None:
        self._hours += hours
        self._box.world.burn_in(BANK, hours)
        self._box.daemon.loop.recorder.add_use(BANK, 3600 * hours, round(60 * hours / 5))

    def _rest(self) -> None:
        """Some time passes with cold lamps, in a room of the season: 10 to 32 °C."""
        season = math.sin(2 * math.pi * self._hours / SEASON_H + self._season)
        room_c = min(32.0, max(10.0, 21 + 9 * season + self._chance.gauss(0, 2)))
        self._happen("room_c", value=room_c)
        self._box.clock.wait_until(self._box.clock.mono_s() + REST_S)

    def _ready(self) -> None:
        loop = self._box.daemon.loop
        if loop.exposure.left_inside is not None:
            self._happen("lid_opens")
            self._run(0.5)
            self._happen("lid_closes")
        self._until(lambda: "start" in loop.exposure.may() and loop.banks[BANK].fresh(self._box.clock.mono_s()))
        self._run(0.4)

    @property
    def _state(self) -> str:
        return self._box.daemon.loop.exposure.state

    def _block(self) -> dict[str, Any]:
        found: dict[str, Any] = self._ask("calibration", tolerance=TOLERANCE)["banks"][BANK]
        return found

    def _seen(self) -> dict[str, Any]:
        found: dict[str, Any] = self._box.daemon.commander.metrology.bank_snapshot(BANK)["self_check"]
        return found

    def _ask(self, command: str, **values: Any) -> dict[str, Any]:
        if command in ("start", "series", "go"):
            return self._box.press(command, **values)
        return self._box.daemon.commander.handle(Request(1, command, values))

    def _happen(self, do: str, **extra: Any) -> None:
        self._box.world.happen(EVENTS[do].model_validate({"at_s": 0.0, "do": do, **extra}))

    def _run(self, seconds: float) -> None:
        end_s = self._box.clock.mono_s() + seconds
        while self._box.clock.mono_s() < end_s:
            self._box.step()

    def _until(self, condition: Any, limit_s: float = 300.0) -> None:
        end_s = self._box.clock.mono_s() + limit_s
        while not condition():
            if self._box.clock.mono_s() > end_s:
                faults = [fault.detail for fault in self._box.daemon.loop.desk.standing()]
                raise TimeoutError(f"still {self._state} after {limit_s:g} s; faults: {faults}")
            self._box.step()


def guessed_box(factor: float) -> BoxDescription:
    """The demo box with a number in box.yaml that was only guessed, and says so."""
    box = demo_box()
    guessed = {
        "mw_cm2_per_basic_count": factor * box.meters[0].mw_cm2_per_basic_count,
        "calibration_uncertainty": 0.2,
    }
    return box.model_copy(update={"meters": [box.meters[0].model_copy(update=guessed)]})


def recipe(target_mj_cm2: float) -> str:
    """A recipe without a stack that allows its dose 5 %."""
    return bench_recipe(target_mj_cm2, time_guard_s=600, hold_s=0, tolerance=TOLERANCE)
