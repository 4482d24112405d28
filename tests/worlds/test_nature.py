"""The worlds do what they say: decay, dirt, swaps, readers; and the figures made of their lives."""

import math
from dataclasses import replace

import pytest

from tests.benchmarks import foreign
from tests.benchmarks.foreign_life import ForeignLife, Panels
from tests.worlds.decay import FORMS, Decay, Form
from tests.worlds.development import LATE_FALL, LAWS, QUIET_SWAP
from tests.worlds.drawn import SHAPES, drawn
from tests.worlds.law import Law, Reader
from tests.worlds.nature import Conditions, Life

PERFECT = Reader(panel=0.0, zone=0.0, edge=0.0, half_wrong=0.0, step_wrong=0.0, density=0.0)
STEADY = Conditions(21.0, 1.0, 1.0)


@pytest.mark.parametrize("form", FORMS)
def test_each_form_leaves_at_the_end_of_life_what_it_says(form: Form) -> None:
    """And only falls on the way there."""
    decay = Decay(form, 0.6, 1500.0, SHAPES[form][0], 0.05, 30.0)
    assert decay.at(0.0) == 1.0
    assert decay.at(1500.0) == pytest.approx(0.6 * 0.95, rel=1e-9)
    found = [decay.at(hours) for hours in range(0, 3000, 50)]
    assert found == sorted(found, reverse=True)


def test_the_same_law_and_seed_give_the_same_life() -> None:
    """Another seed gives another one."""
    first, again, other = (ForeignLife(LATE_FALL, seed).live(200.0).errors for seed in (1, 1, 2))
    assert first == again
    assert first != other


def test_laws_drawn_from_one_start_number_are_the_same_and_from_another_are_not() -> None:
    """More of them begin with the same ones."""
    assert drawn(5, 2) == drawn(5, 3)[:2]
    assert drawn(5, 1) != drawn(6, 1)


@pytest.mark.parametrize("law", [*LAWS, *drawn(11, 8)], ids=lambda law: law.name)
def test_the_light_falls_and_dirt_dims_the_sensor_alone(law: Law) -> None:
    """Over a life, whatever its law."""
    life = Life(replace(law, swapped_h=None), 3)
    new = life.expose(STEADY, 10.0)
    life.burn(0.95 * law.life_h)
    old, cleaned = life.expose(STEADY, 10.0), life.dirt
    assert 0.4 < old.actinic_mw_cm2 / new.actinic_mw_cm2 < 0.85
    assert old.six[0] / new.six[0] < 1.02 * cleaned
    assert len(law.window.fouled_h) == 0 or cleaned < 0.97


def test_a_quiet_swap_brings_the_light_of_new_tubes_back() -> None:
    """Nobody says so."""
    life = Life(QUIET_SWAP, 1)
    new = life.expose(STEADY, 10.0).actinic_mw_cm2
    at_h = life.swaps_at_h
    assert at_h is not None
    life.burn(at_h - 1)
    worn = life.expose(STEADY, 10.0).actinic_mw_cm2
    assert life.burn(1.0)
    assert worn < 0.9 * new < life.expose(STEADY, 10.0).actinic_mw_cm2
    assert life.tubes_h == 0


def test_a_perfect_reader_reads_what_the_dose_holds() -> None:
    """By hand: a dose that is 1.001 x 10^D(8) thresholds holds step 8; half a step more holds half of the next."""
    panel = Life(replace(LATE_FALL, reader=PERFECT), 1).panel()
    just = Life(replace(LATE_FALL, reader=PERFECT), 1).threshold_mj_cm2 * math.pow(10, 0.05 + 0.15 * 7)
    assert (panel.read(1, 1.001 * just).step, panel.read(1, 0.999 * just).step) == (8, 7)
    assert panel.read(1, 1.001 * math.pow(10, 0.075) * just).half
    assert not panel.read(1, 1.001 * just).half
    assert panel.read(1, 1e-3 * just).step == "all_gone"


def _lives(coverage: float, rms: float, stated: float) -> list[Panels]:
    """Ten lives of a hundred panels with one error each way."""
    inside = [number < coverage for number in range(100)]
    errors = [math.log1p(rms if number % 2 else -rms) for number in range(100)]
    return [
        Panels(errors, [stated] * 100, inside, [True] * 100, bound=[0.03] * 100, checks=5, hours=500.0)
        for _ in range(10)
    ]


def test_rows_say_what_the_lives_were_and_miss_their_goals_where_they_do() -> None:
    """One sound law passes everything; a blind one misses coverage, one too sure of nothing misses the width."""
    sound = foreign.judged("sound", _lives(95, 0.02, 0.04))
    assert (sound.rms, sound.coverage, sound.stated, sound.checks) == pytest.approx((2.0, 95.0, 4.0, 1.0))
    assert sound.bound == pytest.approx(100 * math.expm1(0.03))
    assert all(figure.passed for figure in foreign.figures([sound], 7, 10))
    blind = foreign.judged("blind", _lives(55, 0.05, 0.04))
    failed = [figure.name for figure in foreign.figures([sound, blind], 7, 10) if not figure.passed]
    assert [name.split(" (")[0].split(", ")[0] for name in failed] == [
        "worlds: law 'blind'",
        "worlds: foreign lives with less than 80 % inside ±",
        "worlds: inside ± in the worst foreign life",
    ]
    timid = foreign.judged("timid", _lives(100, 0.03, 0.13))
    assert sum(not figure.passed for figure in foreign.figures([timid], 7, 10)) == 2
