"""An etch planned: refusals first, then time, looks and load."""

import pytest

from sumlight.craft.checks import RefusedError
from sumlight.craft.etching.plan import Charge, plan
from sumlight.craft.etching.times import NeverFinishesError


def codes(**more: object) -> list[str]:
    """What a plan of brass in ferric chloride says."""
    return [told.code for told in plan("brass", "iron", 200, 10, **more).sentences]  # type: ignore[arg-type]


def test_a_fresh_bath_takes_depth_over_rate() -> None:
    """100 µm from each side at 10 µm/min are 10 min; looks from 8 min on, each a tenth of that later."""
    found = plan("brass", "iron", 200, 10)
    assert found.time_s == pytest.approx(600)
    assert [look / 60 for look in found.looks_s] == pytest.approx([8.0, 8.8, 9.6, 10.4, 11.2])
    assert "Look first after 8.0 min, then after 8.8, 9.6, 10.4, 11.2 min" in " ".join(found.sentences)


def test_a_bath_loads_itself_and_warmth_halves_the_time() -> None:
    """12.22 min of craft reference A9; half of it 10 °C warmer."""
    charge = Charge(200, 1, 50)
    assert plan("brass", "iron", 200, 10, charge=charge).time_s == pytest.approx(12.22 * 60, abs=0.5)
    assert plan("brass", "iron", 200, 10, charge=charge, warmth_c=(25, 35)).time_s == pytest.approx(366.6, abs=0.5)
    with pytest.raises(NeverFinishesError, match="it never finishes"):
        plan("brass", "iron", 200, 10, charge=charge, load=0.7)


def test_only_what_goes_through_is_seen_and_only_a_loaded_bath_is_told_of() -> None:
    """A half etch is timed."""
    assert codes() == ["etch_about", "look_after", "through_is_seen", "look_where_last"]
    assert codes(depth_um=50.0) == ["etch_about", "look_after"]
    assert codes(charge=Charge(100, 1, 50))[-1] == "bath_then_used"
    with pytest.raises(ValueError, match=r"depth_um must not be deeper than through, which is 100 µm .*, not 101"):
        plan("brass", "iron", 200, 10, depth_um=101)


def test_what_runs_away_is_refused() -> None:
    """By its metal in any bath, by its heat in the peroxide bath."""
    with pytest.raises(RefusedError, match="aluminium does not go into ferric chloride"):
        plan("aluminium", "iron", 200, 10)
    with pytest.raises(RefusedError, match="could warm it by"):
        plan("copper", "peroxide", 200, 10, charge=Charge(600, 0.5))
    warm = plan("copper", "peroxide", 200, 10, charge=Charge(50, 1)).warmth
    assert warm is not None
    assert "may warm by" in warm
    assert plan("copper", "iron", 200, 10, charge=Charge(600, 0.5)).warmth is None


def test_a_developer_is_no_etchant() -> None:
    """Named with what is allowed."""
    with pytest.raises(ValueError, match="bath must be one of iron, persulfate"):
        plan("copper", "developer", 200, 10)
