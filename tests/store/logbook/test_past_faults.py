"""Faults that were cleared: on record for good, and told of until light or clean panels show that they are over."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from sumlight.store.logbook.lamps import NewTube
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.past_faults import CLEAN_ENOUGH, is_back
from sumlight.store.logbook.records import FaultRecord, LampReading, NewExposure, NewSide
from sumlight.text.message import say
from tests.store.making import RECIPE_TEXT, later

LAMPS, TOLD = {"tube_out"}, {"clock_stepped"}
DARK_TUBE = say("less_light", bank="lower", share=0.2, limit=0.1)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    """A logbook with three whole panels of steady light."""
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        for at_h, light in ((0, 5.00), (1, 5.04), (2, 4.96)):
            panel(book, at_h, light)
        yield book


def panel(book: Logbook, at_h: float, light_mw_cm2: float, *, outcome: str = "completed") -> int:
    """One panel on the lower bank, with the light that it got."""
    utc = later(3600 * at_h)
    sides = (NewSide("A", "lower", 60.0, 0.84),)
    begun = book.begin(NewExposure("P", "", "film", RECIPE_TEXT, "0" * 64, sides, utc, "Bench box", True))
    book.lamps.add_lamp_reading(LampReading("lower", begun.side_ids["A"], utc, light_mw_cm2, 60.0))
    book.finish(begun.exposure_id, outcome, False, utc)
    return begun.exposure_id


def fault(book: Logbook, name: str = "tube_out", at_h: float = 3.5, *, cleared: bool = True) -> None:
    """A panel that a fault ended at 3 h, and its acknowledgement."""
    exposure_id = panel(book, 3, 4.0, outcome="faulted")
    book.add_fault(FaultRecord(name, DARK_TUBE, exposure_id, later(3600 * at_h)))
    if cleared:
        book.clear_fault(name, later(3600 * at_h + 60), "Ada")


def names(book: Logbook) -> list[str]:
    """What is still told of."""
    return [each["name"] for each in book.faults.not_mended(LAMPS, TOLD)]


def test_faults_are_kept_with_panel_time_and_who_cleared_them(book: Logbook) -> None:
    """Newest first, in pages; also one that came over no panel and that nobody has cleared."""
    fault(book)
    book.add_fault(FaultRecord("too_hot", DARK_TUBE, None, later(9e4)))
    newest, older = book.faults.past(5)
    assert (newest["name"], newest["panel"], newest["cleared_utc"]) == ("too_hot", None, None)
    assert (older["name"], older["panel"], older["cleared_by"]) == ("tube_out", "P", "Ada")
    assert older["detail"] == DARK_TUBE
    assert [each["name"] for each in book.faults.past(5, newest["fault_id"])] == ["tube_out"]


def test_a_cleared_fault_of_the_lamps_is_told_of_until_their_light_is_back(book: Logbook) -> None:
    """Two whole panels in the light of one tube less change nothing; one in the light of before does."""
    fault(book)
    assert names(book) == ["tube_out"]
    panel(book, 4, 4.1)
    panel(book, 5, 5.01, outcome="abandoned")
    assert names(book) == ["tube_out"]
    panel(book, 6, 4.98)
    assert names(book) == []


def _new_tubes(book: Logbook) -> None:
    book.lamps.fit_tubes("lower", [NewTube(1, "T8", "UV-A")], later(3600 * 4), whole=True)


def _three_dim_panels(book: Logbook) -> None:
    for at_h in range(4, 4 + CLEAN_ENOUGH):
        panel(book, at_h, 4.1)


@pytest.mark.parametrize("after", [_new_tubes, _three_dim_panels])
def test_new_tubes_or_three_clean_panels_end_it_too(book: Logbook, after: Callable[[Logbook], None]) -> None:
    """Lamps that age do not keep an old fault on the page for ever."""
    fault(book)
    after(book)
    assert names(book) == []


def test_other_faults_need_three_whole_panels_without_one(book: Logbook) -> None:
    """Good light says nothing about a lid; and a panel with a fault of its own does not count."""
    fault(book, "lid_bounces")
    panel(book, 4, 5.0)
    spoilt = panel(book, 5, 5.0)
    book.add_fault(FaultRecord("clock_stepped", DARK_TUBE, spoilt, later(3600 * 5)))
    panel(book, 6, 5.0)
    assert names(book) == ["lid_bounces"]
    panel(book, 7, 5.0)
    assert names(book) == []


def test_what_stands_or_was_only_told_is_not_among_them(book: Logbook) -> None:
    """A fault that nobody has cleared stands on the page by itself."""
    fault(book, cleared=False)
    fault(book, "clock_stepped")
    assert names(book) == []


@pytest.mark.parametrize(
    ("light", "before", "back"),
    [
        (4.9, [5.0, 5.0, 5.0], True),  # 2 % of scatter are allowed for even where none was seen
        (4.6, [5.0, 5.0, 5.0], False),
        (4.6, [5.3, 5.0, 4.7], True),
        (5.0, [5.0], False),  # one reading tells of no scatter
    ],
)
def test_light_is_back_within_its_own_scatter(light: float, before: list[float], back: bool) -> None:
    """Three standard deviations below the median of before (worked out by hand)."""
    assert is_back(light, before) is back
