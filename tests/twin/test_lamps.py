"""Simulated lamps, one effect a test; the integral against scipy's quadrature of the closed form."""

import math
from random import Random
from typing import Any

import pytest
from scipy.integrate import quad

from sumlight.twin.events import TUBES_PER_BANK
from sumlight.twin.lamps import Lamp, temperature_factor
from sumlight.twin.sources import ALIKE
from tests.twin.rig import scenario

START_S = 1000.0


def burning(**keys: Any) -> tuple[Lamp, float]:
    """A lamp that has just struck, and when."""
    lamp = Lamp(scenario(**keys), Random(4), START_S)
    strike_s = lamp.power_on(START_S)
    lamp.strike(strike_s)
    return lamp, strike_s


def settled_output(**keys: Any) -> float:
    """Mean output after an hour of burning."""
    lamp, strike_s = burning(**keys)
    lamp.integrate_to(strike_s + 3600)
    before = lamp.lines_s
    lamp.integrate_to(strike_s + 3601)
    return lamp.lines_s - before


@pytest.mark.parametrize("ripple_hz", [100, 120])
@pytest.mark.parametrize("step_s", [600.0, 0.0137])
def test_light_adds_up_as_quadrature_of_the_closed_form(ripple_hz: int, step_s: float) -> None:
    """Warm-up, ageing and ripple over 20 s, in one go or in odd little steps: equal to 1e-9 (scipy.integrate.quad)."""
    lamp, strike_s = burning(room_c=14.0, lamp_hours=30.0, mains_factor=0.96, ripple_hz=ripple_hz, ageing="alike")

    def wanted(t_s: float) -> float:
        since_s = t_s - strike_s
        wall_c = 31.0 - 17.0 * math.exp(-since_s / 150.0)
        hours = 30.0 + since_s / 3600.0
        age = (1 - 0.08 * (1 - math.exp(-hours / 43))) * math.exp(-1.5e-4 * hours)
        new = (1 - 0.08 * (1 - math.exp(-100 / 43))) * math.exp(-1.5e-4 * 100)
        ripple = 1 + 0.35 * math.cos(2 * math.pi * ripple_hz * t_s + lamp._phase)
        return math.pow(0.96, 1.3) * age / new * math.exp(-(((wall_c - 42) / 28) ** 2)) * ripple

    total = sum(quad(wanted, strike_s + n * 0.5, strike_s + (n + 1) * 0.5, limit=500)[0] for n in range(40))
    t_s = strike_s
    while t_s < strike_s + 20.0:
        t_s = min(strike_s + 20.0, t_s + step_s)
        lamp.integrate_to(t_s)
    assert lamp.phosphor_s == pytest.approx(total, rel=1e-9)
    assert lamp.lines_s == pytest.approx(total, rel=1e-9)


def test_temperature_costs_light_as_in_the_trade() -> None:
    """10 K off −12 %, 15 K off −25 % (a maker's temperature table, source L2 of the project's trade notes)."""
    assert temperature_factor(42.0) == 1.0
    for off_k, loss in ((10.0, 0.12), (15.0, 0.25)):
        assert 1 - temperature_factor(42.0 + off_k) == pytest.approx(loss, abs=0.005)
        assert 1 - temperature_factor(42.0 - off_k) == pytest.approx(loss, abs=0.005)


def test_a_nominal_lamp_settles_at_one() -> None:
    """100 h, 25 °C, nominal mains, after an hour of burning."""
    assert settled_output(lamp_hours=99.0) == pytest.approx(1.0, abs=1e-4)


def test_a_cold_room_dims_the_settled_lamp() -> None:
    """25 °C is best; 10 °C costs a quarter."""
    assert settled_output(room_c=10.0) / settled_output(room_c=25.0) == pytest.approx(0.75, abs=0.01)


def test_mains_voltage_moves_light_by_its_power() -> None:
    """7 % more voltage, 9 % more light (common practice, no source)."""
    assert settled_output(mains_factor=1.07) / settled_output() == pytest.approx(1.07**1.3, rel=1e-6)


def test_lamps_age_fast_at_first_and_slowly_later() -> None:
    """About 8 % in the first hundred hours, 30 % after 1900 (common practice, no source)."""
    assert ALIKE.left(0.0) == 1.0
    assert 1 - ALIKE.left(100.0) == pytest.approx(0.087, abs=0.003)
    assert 1 - ALIKE.left(1900.0) == pytest.approx(0.308, abs=0.003)
    assert settled_output(lamp_hours=1500.0) < settled_output(lamp_hours=500.0) < settled_output(lamp_hours=50.0)


def test_a_cold_start_warms_up_over_minutes() -> None:
    """Light rises to its settled value; most of the way within three minutes."""
    lamp, strike_s = burning()
    seen = []
    for second in (0, 60, 180, 600):
        lamp.integrate_to(strike_s + second)
        before = lamp.lines_s
        lamp.integrate_to(strike_s + second + 1)
        seen.append(lamp.lines_s - before)
    assert seen == sorted(seen)
    assert seen[0] == pytest.approx(0.69, abs=0.01)
    assert seen[2] > 0.96


def test_the_lamp_cools_while_dark() -> None:
    """A warm restart begins brighter than a cold one, and after a long pause no longer."""
    lamp, strike_s = burning()
    lamp.power_off(strike_s + 600)
    assert lamp.wall_c(strike_s + 600) == pytest.approx(41.7, abs=0.05)
    assert lamp.wall_c(strike_s + 750) == pytest.approx(25 + 16.7 * math.exp(-1), abs=0.05)
    assert lamp.wall_c(strike_s + 3600) == pytest.approx(25.0, abs=0.01)


def test_ripple_averages_out_over_fifty_milliseconds_but_not_over_seven() -> None:
    """50 ms holds whole half-periods of both 50 and 60 Hz mains; 7 ms of neither."""
    for ripple_hz in (100, 120):
        lamp, strike_s = burning(ripple_hz=ripple_hz)
        shares: dict[float, list[float]] = {0.05: [], 0.007: []}
        t_s = strike_s + 1800  # settled
        lamp.integrate_to(t_s)
        for span_s, found in shares.items():
            for _ in range(20):
                before = lamp.lines_s
                lamp.integrate_to(t_s + span_s)
                t_s += span_s
                found.append((lamp.lines_s - before) / span_s)
        assert max(shares[0.05]) / min(shares[0.05]) < 1.00001
        assert max(shares[0.007]) / min(shares[0.007]) > 1.05


def test_afterglow_leaves_two_milliseconds_of_the_last_light() -> None:
    """The integral of an exponential is its time constant times the start value."""
    lamp, strike_s = burning()
    lamp.integrate_to(strike_s + 5)
    last = lamp.output(strike_s + 5)
    before = lamp.lines_s
    lamp.power_off(strike_s + 5)
    assert lamp.output(strike_s + 5.002) == pytest.approx(last / math.e, rel=1e-6)
    lamp.integrate_to(strike_s + 6)
    assert lamp.lines_s - before == pytest.approx(0.002 * last, rel=1e-6)
    assert not lamp.is_lit(strike_s + 6)


def test_strikes_take_between_six_and_thirteen_tenths_of_a_second() -> None:
    """Longer when cold and old, within bounds, and different each time."""

    def delays(**keys: float) -> list[float]:
        lamp = Lamp(scenario(**keys), Random(2), START_S)
        return [lamp.power_on(START_S) - START_S for _ in range(200)]

    warm, cold, old = delays(lamp_hours=0.0), delays(room_c=5.0), delays(lamp_hours=2000.0)
    assert min(warm + cold + old) >= 0.6
    assert max(warm + cold + old) <= 1.3
    assert max(warm) < min(cold)
    assert sum(old) > sum(warm)
    assert len(set(warm)) > 100


def test_no_light_before_the_strike() -> None:
    """Power alone is not light."""
    lamp = Lamp(scenario(), Random(1), START_S)
    strike_s = lamp.power_on(START_S)
    lamp.integrate_to(strike_s)
    assert lamp.phosphor_s == 0.0
    assert not lamp.is_lit(strike_s)
    assert lamp.striking


@pytest.mark.parametrize("failed", [1, 3, TUBES_PER_BANK])
def test_each_failed_tube_takes_its_share(failed: int) -> None:
    """Output falls at once by that many of six; with all gone it is dark."""
    lamp, strike_s = burning()
    lamp.integrate_to(strike_s + 1)
    before = lamp.output(strike_s + 1)
    lamp.fail_tubes(strike_s + 1, failed)
    assert lamp.output(strike_s + 1) / before == pytest.approx(1 - failed / TUBES_PER_BANK)
    assert lamp.is_lit(strike_s + 1) is (failed < TUBES_PER_BANK)


def test_hours_and_strikes_count_burning_only() -> None:
    """Half an hour of light is half an hour; darkness adds nothing."""
    lamp, strike_s = burning(strikes=9)
    lamp.power_off(strike_s + 1800)
    lamp.integrate_to(strike_s + 7200)
    assert lamp.hours == pytest.approx(100.5)
    assert lamp.strikes == 10


def test_phosphor_and_lines_fade_each_by_its_own_law() -> None:
    """From 0 to 1500 h: 60 % and 85 % (the project's figures)."""

    def light(hours: float) -> tuple[float, float]:
        lamp, strike_s = burning(lamp_hours=hours, ageing="apart")
        lamp.integrate_to(strike_s + 3600)
        before = lamp.phosphor_s, lamp.lines_s
        lamp.integrate_to(strike_s + 3601)
        return lamp.phosphor_s - before[0], lamp.lines_s - before[1]

    new, old = light(0.0), light(1500.0)
    assert old[0] / new[0] == pytest.approx(0.60, abs=0.003)
    assert old[1] / new[1] == pytest.approx(0.85, abs=0.003)


def test_an_led_bank_starts_at_once_without_ripple_and_droops_as_it_warms() -> None:
    """50 ms to start; −9.5 % for 25 K at 0.4 % each (from memory); mains voltage changes nothing; no afterglow."""
    lamp, strike_s = burning(lamp_type="led_385", mains_factor=0.9)
    assert strike_s - START_S == pytest.approx(0.05)
    first = lamp.output(strike_s)
    assert lamp.output(strike_s + 0.005) == pytest.approx(first, rel=1e-4)
    lamp.integrate_to(strike_s + 600)
    assert lamp.output(strike_s + 600) == pytest.approx(1.0, abs=1e-3)
    assert first == pytest.approx(math.exp(0.1), rel=1e-3)
    lamp.power_off(strike_s + 600)
    assert lamp.output(strike_s + 600.0001) == 0.0


@pytest.mark.parametrize("lit", [True, False])
def test_a_change_of_the_room_is_followed_slowly(lit: bool) -> None:
    """The walls go to the new room's temperature, or 17 K above it, with their own time constant; hours go on."""
    lamp, strike_s = burning(room_c=25.0)
    if not lit:
        lamp.power_off(strike_s)
    at_s = strike_s + 3000
    rest_c = 25.0 + 17.0 * lit
    lamp.set_room(at_s, 10.0)
    assert lamp.wall_c(at_s) == pytest.approx(rest_c, abs=0.01)
    assert lamp.wall_c(at_s + 150) == pytest.approx(rest_c - 15 * (1 - math.exp(-1)), abs=0.01)
    lamp.integrate_to(at_s + 600)
    assert lamp.hours == pytest.approx(100.0 + lit * 3600 / 3600, abs=1e-6)


def test_one_tubes_flicker_swings_the_banks_light_and_keeps_its_mean() -> None:
    """A quarter of a second at 4 Hz is a whole swing; half a swing differs by the sine's mean of 2/π (definition)."""
    lamp, strike_s = burning(ripple_depth=0.0)
    lamp.integrate_to(strike_s + 3600.0)
    steady, seen = lamp.lines_s, []
    begin_s = 0.25 * math.ceil((strike_s + 3600.0) / 0.25) + 0.0625 * 3  # a rising zero of the cosine
    lamp.integrate_to(begin_s)
    lamp.flicker(begin_s, 0.6, 4.0)
    for _ in range(3):
        before = lamp.lines_s
        begin_s += 0.125
        lamp.integrate_to(begin_s)
        seen.append(lamp.lines_s - before)
    mean = (seen[0] + seen[1]) / 2
    assert steady > 0
    assert seen[0] / mean - 1 == pytest.approx(0.6 / TUBES_PER_BANK * 2 / math.pi, rel=1e-3)
    assert seen[1] / mean - 1 == pytest.approx(-0.6 / TUBES_PER_BANK * 2 / math.pi, rel=1e-3)
    lamp.flicker(begin_s, 0.0, 4.0)
    before = lamp.lines_s
    lamp.integrate_to(begin_s + 0.125)
    assert lamp.lines_s - before == pytest.approx(mean, rel=1e-4)
