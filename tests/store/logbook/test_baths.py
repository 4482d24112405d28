"""Baths in the logbook: what is written is read back, waste is remembered for a while, a broken line stops nothing."""

from dataclasses import replace
from pathlib import Path

from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken
from sumlight.store.logbook.baths import WASTED_KEPT, BathPanel, BathRecord
from sumlight.store.logbook.logbook import Logbook
from tests.store.making import later

BATH = BathRecord(1, Contents("iron", 1.5, 36.0, bottle_percent=40.0), later(0), "Ada")
PANEL = BathPanel(
    1, 1, Taken("brass", 25.0, 75.0, 540.0, 54.0, 22.0, 3.5), later(1), None, None, None, "P7", 500.0, 0.1
)


def test_a_bath_is_read_back_as_it_was(path: Path) -> None:
    """To the last number, and as it stands now."""
    with Logbook(path) as book:
        book.baths.put_bath(BATH)
        book.baths.put_bath_panel(PANEL)
        assert (book.baths.kept().baths, book.baths.kept().panels) == ((BATH,), (PANEL,))
        out = replace(PANEL, ended_utc=later(9))
        book.baths.put_bath_panel(out)
        kept = book.baths.kept()
        assert (kept.panels, kept.last_bath_id, kept.last_bath_panel_id) == ((out,), 1, 1)
        book.baths.drop_bath_panel(1)
        assert book.baths.kept().panels == ()


def test_the_last_baths_that_are_waste_are_known_still(path: Path) -> None:
    """Older ones stay in the file, and their numbers are not given again."""
    with Logbook(path) as book:
        for number in range(1, WASTED_KEPT + 4):
            waste = {"waste_utc": later(number), "waste_into": "iron", "waste_by": "Ada"}
            book.baths.put_bath(replace(BATH, bath_id=number, **waste))  # type: ignore[arg-type]
        kept = book.baths.kept()
    assert [bath.bath_id for bath in kept.baths] == list(range(4, WASTED_KEPT + 4))
    assert kept.last_bath_id == WASTED_KEPT + 3


def test_a_line_that_nobody_can_read_keeps_nothing_from_starting(path: Path) -> None:
    """It is counted, with the panels of its bath, and stays as it is."""
    with Logbook(path) as book:
        book.baths.put_bath(BATH)
        book.baths.put_bath_panel(PANEL)
        book.baths.put_bath(replace(BATH, bath_id=2))
        book._session.link.execute("UPDATE baths SET contents = '{\"gold\": 1}' WHERE bath_id = 1")
        kept = book.baths.kept()
    assert [bath.bath_id for bath in kept.baths] == [2]
    assert (kept.panels, kept.unreadable) == ((), 1)
