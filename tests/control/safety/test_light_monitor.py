"""Light as a witness: each fault alone, by readings made by hand."""

import itertools

import pytest

from sumlight.box.description import Limits
from sumlight.control.safety.light_monitor import SAME_LIMIT, SATURATED_LIMIT, LightMonitor
from sumlight.control.trouble import Trouble
from sumlight.light.sample import SATURATED, UNSETTLED, Sample
from sumlight.light.sensors import AS7341

LIMITS = Limits(strike_limit_s=6.0, lit_limit_s=600.0, bridge_limit_s=0.5, dark_limit_mw_cm2=0.1, drop_limit=0.1)
COUNTS_PER_MW_CM2 = 1580
"""As the demo box has it at gain 16."""


class Bench:
    """A witness of bank `lower`, switched on at 100 s, and readings for it every 50 ms."""

    def __init__(self) -> None:
        self.witness = LightMonitor("lower", LIMITS, AS7341.integration_ms)
        self.now_s = 100.0
        self.witness.switched(self.now_s)
        self._odd = itertools.cycle((0, 3, 1, 5, 2))

    def sample(self, mw_cm2: float, nir: int = 9, flags: int = 0, noise: bool = True) -> Sample:
        """The next conversion; its counts are never twice the same unless without noise."""
        self.now_s += 0.05
        violet = round(mw_cm2 * COUNTS_PER_MW_CM2) + (next(self._odd) if noise else 0)
        return Sample(self.now_s, self.now_s - 0.025, (violet, violet // 2, 40, 20, violet // 3, nir), 5, flags)

    def lit(self, mw_cm2: float, count: int = 1, **more: int) -> Trouble | None:
        """Give `count` readings with lamps on; the first fault, if any."""
        for _ in range(count):
            fault = self.witness.lit(self.sample(mw_cm2, **more), mw_cm2)  # type: ignore[arg-type]
            if fault:
                return fault
        return None

    def dark(self, mw_cm2: float, count: int = 1, cut_mw_cm2: float = 0.0, flags: int = 0) -> Trouble | None:
        """Give `count` readings with lamps off."""
        for _ in range(count):
            fault = self.witness.dark(self.sample(mw_cm2, flags=flags), mw_cm2, cut_mw_cm2)
            if fault:
                return fault
        return None

    def settle(self) -> "Bench":
        """Three seconds of good light."""
        assert self.lit(5.0, 60) is None
        return self


def name(fault: Trouble | None) -> str | None:
    """The fault's name."""
    return None if fault is None else fault[0]


def words(fault: Trouble | None) -> str:
    """What was found, as it is told once it is dark."""
    return "" if fault is None else fault[1].said()


def test_good_light_is_no_fault() -> None:
    """Strike, warm-up by 2 % a second, and ten minutes of steady light."""
    bench = Bench()
    assert bench.lit(0.0, 20) is None
    for step in range(200):
        assert bench.lit(4.0 + 0.004 * step) is None
    assert bench.lit(4.8, 12_000) is None


def test_no_light_within_the_strike_limit_is_no_light() -> None:
    """Neither by dark readings nor by none at all."""
    bench = Bench()
    assert bench.lit(0.01, 119) is None
    fault = bench.lit(0.01, 3)
    assert name(fault) == "no_light"
    assert "limit 6 s" in words(fault)
    blind = Bench()
    assert blind.witness.no_light_yet(106.0) is None
    assert name(blind.witness.no_light_yet(106.1)) == "no_light"


def test_flicker_while_striking_is_no_step() -> None:
    """Only light that has been there for a while can fall."""
    bench = Bench()
    for mw_cm2 in (0.0, 3.0, 0.2, 4.0, 1.0, 4.5):
        assert bench.lit(mw_cm2) is None
    assert bench.lit(4.5, 100) is None


def test_a_flash_is_no_strike() -> None:
    """Lamps that light and go out again within the strike have not struck; the strike's limit still counts."""
    for lit in (1, 4, 20):
        bench = Bench()
        assert bench.lit(4.0, lit) is None
        assert bench.witness.first_light_s is not None
        assert bench.lit(-0.001, 3) is None
        assert bench.witness.first_light_s is None
        fault = bench.lit(-0.001, 120)
        assert name(fault) == "no_light"
        assert bench.now_s == pytest.approx(106.05, abs=0.01)


def test_a_strike_of_several_flashes_ends_in_light() -> None:
    """As tubes with starters do it."""
    bench = Bench()
    for _ in range(4):
        assert bench.lit(3.0, 3) is None
        assert bench.lit(0.0, 12) is None
    assert bench.lit(4.5, 200) is None
    assert bench.witness.first_light_s is not None


@pytest.mark.parametrize("lit", range(26, 45))
def test_light_that_goes_out_soon_after_the_strike_is_light_lost(lit: int) -> None:
    """Before there are enough readings for a step to be seen, too, and at whatever moment."""
    bench = Bench()
    assert bench.lit(4.0, lit) is None
    fault = bench.lit(-0.001, 8)
    if fault is None:  # still within the strike: it was a flash
        assert bench.witness.first_light_s is None
        assert lit < 30
    else:
        assert name(fault) == "light_lost"


def test_light_that_goes_out_is_light_lost() -> None:
    """Also when the conversion in which it happened still saw half of it."""
    for mixed_mw_cm2 in (0.0, 2.5, 4.9):
        bench = Bench().settle()
        assert bench.lit(mixed_mw_cm2) is None
        assert name(bench.lit(0.0, 3)) == "light_lost"


def test_a_sudden_fall_beyond_the_limit_is_a_tube() -> None:
    """By a sixth, seen in three conversions."""
    bench = Bench().settle()
    fault = bench.lit(5.0 * 5 / 6, 3)
    assert name(fault) == "tube_out"
    assert "17%" in words(fault)
    assert "limit 10%" in words(fault)


def test_a_sudden_fall_within_the_limit_is_no_fault() -> None:
    """Nine percent with a limit of ten."""
    assert Bench().settle().lit(5.0 * 0.91, 100) is None


def test_a_slow_fall_is_no_tube() -> None:
    """Half of the light within a minute is warm-up or mains, not a step."""
    bench = Bench().settle()
    for step in range(1200):
        assert bench.lit(5.0 * (1 - 0.5 * step / 1200)) is None


def test_one_odd_reading_is_no_step() -> None:
    """Nor are two."""
    bench = Bench().settle()
    assert bench.lit(3.0, 2) is None
    assert bench.lit(5.0, 50) is None


def test_a_sudden_rise_beyond_the_limit_is_foreign_light() -> None:
    """A lamp does not do that; where the colour moves a little, it is not the lamps' own."""
    assert name(Bench().settle().lit(5.7, 3, nir=100)) == "foreign_light"


def test_a_sudden_rise_of_the_same_colour_is_not_called_foreign_light() -> None:
    """The mains from 0.94 to 1.02 of nominal lift all colours alike by 11 %: dark, but not for daylight."""
    fault = Bench().settle().lit(5.0 * (1.02 / 0.94) ** 1.3, 3)
    assert name(fault) == "light_unlikely"
    assert "same colour" in words(fault)


def other_colours(bench: Bench, clear: int, nir: int, count: int = 1) -> Trouble | None:
    """Readings of lamps that 415 nm does not see; the first fault, if any."""
    for _ in range(count):
        made = bench.sample(0.0, nir=nir)
        seen = Sample(made.end_s, made.mid_s, (made.counts[0], 5, 4, 4, clear, nir), 5, 0)
        fault = bench.witness.lit(seen, 0.001)
        if fault:
            return fault
    return None


def test_light_that_415_nm_does_not_see_is_named_before_it_has_done_much() -> None:
    """LEDs at 365 nm, seen by the clear channel alone: within half a second, and never as lamps that do not light."""
    bench = Bench()
    bench.dark(0.0, 5)
    fault = other_colours(bench, clear=400, nir=9, count=10)
    assert name(fault) == "light_unlikely"
    assert "365 nm" in words(fault)
    assert bench.now_s < 100.8


def test_electrodes_that_glow_are_waited_for_and_not_called_darkness() -> None:
    """As before every strike: red and infrared. A tube that never strikes is told as what it is."""
    bench = Bench()
    bench.dark(0.0, 5)
    bench.witness.switched(bench.now_s)
    assert other_colours(bench, clear=400, nir=300, count=118) is None
    fault = other_colours(bench, clear=400, nir=300, count=5)
    assert name(fault) == "light_unlikely"
    assert "glow" in words(fault)


def test_a_strike_after_a_glow_is_a_strike() -> None:
    """Two seconds of glow, then light."""
    bench = Bench()
    bench.dark(0.0, 5)
    assert other_colours(bench, clear=400, nir=300, count=40) is None
    assert bench.lit(5.0, 60) is None
    assert bench.witness.first_light_s is not None


def test_what_the_dark_reading_holds_is_no_light() -> None:
    """An offset of 300 counts in the clear channel, lamps on or off."""
    bench = Bench()
    for _ in range(5):
        made = bench.sample(0.0)
        bench.witness.dark(Sample(made.end_s, made.mid_s, (2, 5, 4, 4, 300, 9), 5, 0), 0.001)
    bench.witness.switched(bench.now_s)
    assert other_colours(bench, clear=310, nir=9, count=118) is None
    assert name(other_colours(bench, clear=310, nir=9, count=5)) == "no_light"


def test_near_infrared_that_rises_is_foreign_light() -> None:
    """The 415 nm reading stays, the colour moves towards daylight."""
    bench = Bench().settle()
    assert bench.lit(5.0, 5, nir=9 + round(0.04 * 5 * COUNTS_PER_MW_CM2)) is None
    fault = bench.lit(5.0, 1, nir=9 + round(0.06 * 5 * COUNTS_PER_MW_CM2))
    assert name(fault) == "foreign_light"
    assert "near infrared" in words(fault)


def test_colour_is_not_judged_in_the_noise() -> None:
    """Nine counts of near infrared beside five of violet are nothing."""
    bench = Bench().settle()
    assert name(bench.lit(0.003, 3)) == "light_lost"


def test_the_same_counts_again_and_again_are_a_stuck_meter() -> None:
    """Live light is never that steady; a few repeats happen."""
    bench = Bench()
    same = bench.sample(5.0, noise=False)
    faults = [bench.witness.lit(Sample(100 + n * 0.05, 100 + n * 0.05, same.counts, 5, 0), 5.0) for n in range(20)]
    assert faults[:SAME_LIMIT] == [None] * SAME_LIMIT
    assert name(faults[SAME_LIMIT]) == "meter_stuck"


def test_zeros_again_and_again_are_no_stuck_meter() -> None:
    """Before the lamps strike all counts may well be zero."""
    bench = Bench()
    zero = [bench.witness.lit(Sample(100 + n * 0.05, 100.0, (0,) * 6, 5, 0), 0.0) for n in range(60)]
    assert zero == [None] * 60


def test_full_scale_again_and_again_is_a_saturated_meter() -> None:
    """A second of it, when no smaller gain has helped; less is the gain on its way down."""
    bench = Bench()
    assert bench.lit(11.0, SATURATED_LIMIT - 1, flags=SATURATED) is None
    assert bench.lit(5.0) is None
    assert bench.lit(11.0, SATURATED_LIMIT - 1, flags=SATURATED) is None
    assert name(bench.lit(11.0, 1, flags=SATURATED)) == "meter_saturated"


def test_unusable_readings_are_neither_light_nor_darkness() -> None:
    """A conversion across a gain change says nothing."""
    bench = Bench()
    assert bench.lit(5.0, 5, flags=UNSETTLED) is None
    assert bench.witness.first_light_s is None
    bench.settle()
    assert bench.lit(0.0, 5, flags=UNSETTLED) is None


def test_light_with_lamps_off_is_a_fault_after_a_second() -> None:
    """A flash of less than a second is not."""
    bench = Bench()
    assert bench.dark(0.0, 20) is None
    assert bench.dark(0.5, 19) is None
    assert bench.dark(0.05) is None
    assert bench.dark(0.5, 20) is None
    fault = bench.dark(0.5, 2)
    assert name(fault) == "light_while_dark"
    assert "0.50 mW/cm²" in words(fault)
    assert "limit 0.1 mW/cm²" in words(fault)


def test_light_that_goes_on_after_a_cut_is_a_fault_at_once() -> None:
    """As soon as the afterglow must be over."""
    bench = Bench()
    bench.witness.switched(bench.now_s)
    assert bench.dark(5.0, 9, cut_mw_cm2=5.0) is None
    assert name(bench.dark(5.0, 2, cut_mw_cm2=5.0)) == "light_while_dark"


def test_the_remains_of_an_afterglow_are_no_fault() -> None:
    """Up to 5 % of what the lamps gave."""
    bench = Bench()
    assert bench.dark(0.2, 100, cut_mw_cm2=5.0) is None


def test_full_scale_with_lamps_off_is_light() -> None:
    """The number is only a lower bound then."""
    bench = Bench()
    assert bench.dark(0.0, 20) is None
    assert name(bench.dark(0.05, 22, flags=SATURATED)) == "light_while_dark"


def test_switching_forgets_what_was_before() -> None:
    """The second part of an exposure begins with dark lamps again."""
    bench = Bench().settle()
    bench.witness.switched(bench.now_s)
    assert bench.witness.first_light_s is None
    assert bench.lit(0.0, 20) is None
    assert bench.lit(4.0, 100) is None


@pytest.mark.parametrize("first", ["lit", "dark"])
def test_each_detail_names_the_bank(first: str) -> None:
    """With two banks one wants to know which."""
    bench = Bench()
    fault = bench.lit(0.0, 200) if first == "lit" else bench.dark(1.0, 200)
    assert fault is not None
    assert "bank lower" in words(fault)


def test_saturated_readings_are_counted_anew_after_switching() -> None:
    """Those from before belong to another light."""
    bench = Bench()
    assert bench.lit(5.0, SATURATED_LIMIT - 1, flags=SATURATED) is None
    bench.witness.switched(bench.now_s)
    assert bench.lit(5.0, SATURATED_LIMIT - 1, flags=SATURATED) is None
    assert name(bench.lit(5.0, flags=SATURATED)) == "meter_saturated"
