"""A calibration holds for lamps as warm as its own were: panels under colder or warmer ones say ± more.

What lamps make of their warmth is judged by the foreign laws of benchmark `worlds`; here, that the box keeps account.
"""

import json
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from sumlight.box.description import load_box
from sumlight.light.lampheat import SPREAD_LN
from sumlight.twin import demo
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench
from tests.control.tablet_person import tablet_run
from tests.control.test_led_swaps import calibrated

PART = "warmth of the lamps"
LONG_MJ_CM2 = 400.0
COLD_S = 3000.0


def doubt(bench: BenchBox, dose_mj_cm2: float = 20.0) -> float:
    """Relative doubt by warmth of a panel exposed now."""
    bench.start_new(dose_mj_cm2=dose_mj_cm2, time_guard_s=400).until_state("done", limit_s=400.0)
    bench.run(1.0)
    with bench.logbook() as book:
        budget = book.recent(1)[0]["sides"][0]["budget"]
    (part,) = [share for share in budget["components"] if share["name"] == PART]
    return float(part["u_mj_cm2"]) / dose_mj_cm2


def cool(bench: BenchBox) -> None:
    """Nobody lights anything for the better part of an hour."""
    bench.clock.wait_until(bench.clock.mono_s() + COLD_S)
    bench.run(1.0)


def warm_up(bench: BenchBox) -> None:
    """Minutes of light."""
    for _ in range(2):
        doubt(bench, LONG_MJ_CM2)


def test_a_cold_calibration_says_less_of_warm_lamps(make_bench: MakeBench) -> None:
    """The record keeps how warm its lamps were, so the next run of control knows."""
    bench = make_bench()
    tablet_run(bench, panel=3)
    bench.close()
    bench = make_bench()
    assert doubt(bench) < 0.3 * SPREAD_LN
    warm_up(bench)
    assert 0.45 * SPREAD_LN < doubt(bench) < SPREAD_LN


def test_a_warm_calibration_says_less_of_cold_lamps(make_bench: MakeBench) -> None:
    """And as much as any other of lamps as warm as its own."""
    bench = make_bench()
    warm_up(bench)
    tablet_run(bench, panel=3)
    assert doubt(bench) < 0.2 * SPREAD_LN
    cool(bench)
    assert 0.45 * SPREAD_LN < doubt(bench) < SPREAD_LN


def test_a_calibration_of_an_older_version_may_have_been_warm_or_cold(make_bench: MakeBench) -> None:
    """Its record does not say."""
    bench = make_bench()
    tablet_run(bench, panel=3)
    with bench.logbook() as book:
        (kept,) = book.calibrations.kept().calibrations
    assert kept.heat is not None
    assert 0.0 < kept.heat < 0.3
    bench.close()
    with closing(sqlite3.connect(bench.data / "logbook.sqlite")) as link, link:
        seen = json.loads(link.execute("SELECT fingerprint FROM calibrations").fetchone()[0])
        del seen["heat"]
        link.execute("UPDATE calibrations SET fingerprint = ?", (json.dumps(seen),))
    older = make_bench()
    cool(older)
    assert doubt(older) == pytest.approx(0.56 * SPREAD_LN, rel=0.05)


@pytest.mark.parametrize("box", [demo.UV_SENSOR_BOX, demo.BOTH_SENSORS_BOX])
def test_a_sensor_of_uv_sees_what_warmth_does(make_bench: MakeBench, box: Path) -> None:
    """It measures what the resist uses; nothing stands for it."""
    bench = make_bench(box=load_box(box))
    assert doubt(bench, LONG_MJ_CM2) == 0.0


def test_leds_have_no_lines(make_bench: MakeBench) -> None:
    """What the sensor sees of them is what the resist uses."""
    bench = calibrated(make_bench, "led_395", uv=False).change_panel()
    assert doubt(bench, 100.0) == 0.0
