"""Hands at the simulated box."""

from typing import Any

import pytest

from sumlight.twin.attendant import BY_HAND, hands
from tests.twin.rig import Rig


@pytest.mark.parametrize("what", BY_HAND)
def test_hands_do_everything_by_name_alone(what: str) -> None:
    """Fields that are not given have an ordinary value."""
    rig = Rig()
    assert hands(rig.world)(what, None, None) == what
    assert rig.world.log[-1][1].startswith(what)


def test_hands_take_further_fields() -> None:
    """A sheet of a given transmission; the name itself cannot be changed that way."""
    rig = Rig()
    hands(rig.world)("sheet_laid", None, "below", {"transmission": 0.5, "blocks_uv": True, "do": "lid_opens"})
    assert rig.world.log[-1][1] == "sheet_laid, below, 0.5, True"


@pytest.mark.parametrize(
    ("given", "told"),
    [
        (("mains_factor", None, None), "'mains_factor' is not something hands can do"),
        (("lamps_swapped", "upper", None), "'upper' is not a bank of Demo box"),
        (("sheet_laid", None, None, {"transmission": 1.5}), "less than or equal to 1"),
        (("lamps_swapped", None, None, {"lamp_type": "candle"}), "'fluorescent', 'other_fluorescent', 'led_365'"),
    ],
)
def test_hands_refuse_what_cannot_be(given: tuple[Any, ...], told: str) -> None:
    """With what is known or allowed."""
    with pytest.raises(ValueError, match=told):
        hands(Rig().world)(*given)
