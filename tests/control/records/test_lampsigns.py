"""Signs of wear that control reads off the light itself: slow flicker, and what a self-check says of the window."""

import math
from typing import Any

import pytest

from sumlight.control.records.flicker_meter import BLOCK, FlickerMeter
from sumlight.light.lampanswer import answer
from sumlight.light.lampchange import SIGN_BASE, SIGN_RECENT
from sumlight.light.sample import Sample
from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench

DEPTH, HZ, TUBES = 0.5, 4.0, 6
T_S = 0.05004
SEEN = DEPTH / TUBES / math.sqrt(2) * math.sin(math.pi * HZ * T_S) / (math.pi * HZ * T_S)
"""Rms of a sine, averaged over a conversion (both by definition), for one of six tubes."""


def reading(bench: BenchBox) -> dict[str, Any]:
    """Expose a small panel; what it told of the lamps."""
    bench.start().until_state("done")
    bench.run(0.5)
    with bench.logbook() as book:
        return book.lamps.lamp_readings("lower")[-1]


def test_sound_tubes_show_no_flicker_and_a_flickering_one_as_much_as_it_must(bench: BenchBox) -> None:
    """Mains ripple of 35 % averages out of whole half-periods; a slow swing of one tube does not."""
    assert reading(bench)["flicker"] < 0.003
    bench.happen("tube_flickers", depth=DEPTH, hz=HZ)
    assert reading(bench)["flicker"] == pytest.approx(SEEN, rel=0.05)
    bench.happen("tube_flickers", depth=0.0)
    assert reading(bench)["flicker"] < 0.003


def test_a_sensor_whose_clock_is_off_leaves_less_than_what_is_told(make_bench: MakeBench) -> None:
    """Its conversions are no whole half-periods any more: at 5 % the rest of the ripple is about 1 %."""
    assert 0.002 < reading(make_bench(chip_clock_error=0.05))["flicker"] < 0.015


@pytest.mark.long
def test_a_tube_that_begins_to_flicker_is_named_by_the_answer(bench: BenchBox) -> None:
    """Through control and logbook, once enough exposures have shown it."""
    for count in range(SIGN_BASE + SIGN_RECENT):
        if count == SIGN_BASE:
            bench.happen("tube_flickers", depth=DEPTH, hz=HZ)
        reading(bench)
    with bench.logbook() as book:
        told = answer(book.lamps.lamp_history("lower"))
    assert [sign for sign in told.signs if "flickers" in sign] == [
        f"The light flickers by {told.wear['flicker'].now:.1%}, it was {told.wear['flicker'].usual:.1%}. "
        "A tube or its starter is probably near its end."
    ]
    assert told.wear["flicker"].now == pytest.approx(SEEN, rel=0.05)


def conversions(count: int, *, gain_code: int = 5, flags: int = 0, from_s: float = 10.0) -> list[Sample]:
    """So many in a row."""
    times = [from_s + 0.05 * n for n in range(count)]
    return [Sample(t, t - 0.025, (1000, 0, 0, 0, 0, 0), gain_code, flags) for t in times]


def test_the_strike_and_changes_of_gain_are_no_flicker() -> None:
    """What comes within 2.5 s of switching on is left out; a block never spans two gains."""
    look = FlickerMeter()
    look.lit(0.0)
    for sample in conversions(40, from_s=0.0):
        look.take(sample, 5.0 if sample.end_s % 0.1 < 0.05 else 1.0)
    assert look.swing is None
    for part in range(8):
        for sample in conversions(BLOCK - 5, gain_code=4 + part % 2, from_s=10.0 + part):
            look.take(sample, 5.0 + 0.1 * (part % 2))
    assert look.swing is None
    for sample in conversions(2 * BLOCK + 5, gain_code=6, from_s=20.0):
        look.take(sample, 5.2)
    assert look.swing == pytest.approx(0.0, abs=1e-12)


def test_one_shadow_does_not_count() -> None:
    """The median of the blocks is kept."""
    look = FlickerMeter()
    look.lit(0.0)
    for number, sample in enumerate(conversions(5 * BLOCK)):
        look.take(sample, 2.0 if number in (30, 31) else 5.0)
    assert look.swing == pytest.approx(0.0, abs=1e-12)


def test_a_reading_says_what_a_fresh_self_check_found_of_the_window(bench: BenchBox) -> None:
    """Nothing before the first check; then the share that passes, and applying the correction is no jump of the light.

    The twin's diffuser passes 80 %; the LED's light passes it twice in part, so the share is known to a few per cent.
    """
    assert reading(bench)["self_check"] is None
    bench.self_check()
    assert reading(bench)["self_check"] == pytest.approx(1.0)
    bench.happen("diffuser_fouls", transmission=0.8)
    assert bench.self_check()["may_apply"]
    fouled = reading(bench)
    bench.ask("self_check", bank="lower", apply=True)
    corrected = reading(bench)
    bench.happen("diffuser_cleaned")
    bench.self_check()
    cleaned = reading(bench)
    checks = [seen["self_check"] for seen in (fouled, corrected, cleaned)]
    assert checks == pytest.approx([0.8, 0.8, 1.0], rel=0.05)
    light = [seen["settled_mw_cm2"] for seen in (fouled, corrected, cleaned)]  # growing warmer by some per cent
    assert light[1] / light[0] == pytest.approx(1.0, abs=0.07)
    assert light[1] / light[2] == pytest.approx(0.8, abs=0.07)


def test_an_old_self_check_stands_beside_no_reading(bench: BenchBox) -> None:
    """More than a lamp hour later nobody knows what the window passes."""
    bench.self_check()
    book = bench.loop.book
    now_h = bench.daemon.commander.metrology.lamp_hours("lower")
    assert book.window_share("lower", now_h + 0.9) == pytest.approx(1.0)
    assert book.window_share("lower", now_h + 1.1) is None
    bench.ask("new_lamps", bank="lower", lamp_type="invented tubes")
    assert book.window_share("lower", now_h + 0.1) is None
