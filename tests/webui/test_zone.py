"""Whose times the page shows: the time zone of the box, by name and by what its clock shows over the year."""

import time
from collections.abc import Iterator

import pytest

from sumlight_web import words


@pytest.fixture(autouse=True)
def own_clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """The process's own zone comes back after the test."""
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    ("posix", "name", "winter_min", "summer_min"),
    [
        ("UTC0", "UTC", 0, 0),
        ("CET-1CEST,M3.5.0,M10.5.0/3", {"CET (UTC+1)", "CEST (UTC+2)"}, 60, 120),
        ("IST-5:30", "IST (UTC+5:30)", 330, 330),
        ("<-03>3", "UTC-3", -180, -180),
    ],
)
def test_the_zone_is_named_with_its_distance_from_utc(
    monkeypatch: pytest.MonkeyPatch, posix: str, name: str | set[str], winter_min: int, summer_min: int
) -> None:
    """Zones written as POSIX.1 has them in TZ; which of two names holds is a matter of the season."""
    monkeypatch.setenv("TZ", posix)
    time.tzset()
    found = words.zone()
    assert found.name in ({name} if isinstance(name, str) else name)
    assert [minutes for _at_ms, minutes in found.offsets[1:]] == [summer_min, winter_min]
    assert found.offsets[0][1] in (winter_min, summer_min)
