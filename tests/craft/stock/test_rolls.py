"""Rolls of resist: their age, their date, and the tablet that each wants."""

from datetime import UTC, datetime

import pytest

from sumlight.craft.stock import rolls
from sumlight.craft.stock.rolls import Roll

NOW = datetime(2026, 9, 1, 12, tzinfo=UTC)


def codes(roll: Roll) -> list[str]:
    """Which sentences stand there."""
    return [told.code for told in rolls.sentences(roll, NOW)]


def test_an_open_roll_is_so_many_months_old() -> None:
    """A year of the Gregorian calendar has 365.2425 days (from memory), a month a twelfth of that."""
    assert rolls.months_open(Roll("film", opened_on="2025-09-01"), NOW) == pytest.approx(12, abs=0.05)
    assert rolls.months_open(Roll("film"), NOW) is None
    assert rolls.months_open(Roll("film", opened_on="2026-09-02"), NOW) is None


def test_what_is_wrong_with_a_roll_comes_first() -> None:
    """Without a tablet (trade notes E1: every roll), past its date, then old (common practice, no source)."""
    old = Roll("film", opened_on="2026-01-01", expires_on="2026-08-31", storage="warm")
    assert codes(old) == ["roll_wants_tablet", "roll_expired", "roll_old", "kept_warm"]
    good = Roll("film", opened_on="2026-08-01", expires_on="2026-09-01", tablet_utc="2026-08-02T10:00:00.000000Z")
    assert codes(good) == ["roll_open"]
    assert codes(Roll("film", tablet_utc="2026-08-02T10:00:00.000000Z")) == ["roll_closed"]


@pytest.mark.parametrize(
    "given", [{"resist": " "}, {"film_um": 0.0}, {"opened_on": "yesterday"}, {"storage": "attic"}, {"film_um": "thick"}]
)
def test_a_roll_that_cannot_be_is_refused(given: dict[str, object]) -> None:
    """Each by the name of its field."""
    with pytest.raises(ValueError, match=next(iter(given))):
        Roll(**{"resist": "film"} | given)  # type: ignore[arg-type]
