"""The shelf in the logbook: read back as it was, and nothing lost of what another version wrote."""

import json
from dataclasses import replace
from pathlib import Path

from sumlight.craft.stock.metal import Metal
from sumlight.craft.stock.rolls import Roll
from sumlight.craft.stock.stencils import MOST_LIT, Done, Measured, Stencil, lit_through
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.export import rows
from sumlight.store.logbook.jobs import PanelRecord
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.stock import ENDED_KEPT, StockRecord
from tests.store.logbook.test_baths import BATH, PANEL
from tests.store.logbook.test_jobs import JOB
from tests.store.making import later

MEASURED = Measured("2026-03-02T00:00:00Z", 2.4, 40.0, True, False, "Ada")
STENCIL = Stencil("gear", 2, 150.0, "pins", {"print": Done("2026-03-01T00:00:00Z", "Ada")}, (MEASURED,))
RECORDS = (
    StockRecord(1, Roll("film", 38.0, "2026-03-01", None, "cool", "2026-03-02T00:00:00Z"), later(0), "Ada"),
    StockRecord(2, Metal("brass", 150.0, 10, "from the invented shop"), later(1), "Ada"),
    StockRecord(3, STENCIL, later(2), "Ada"),
)


def test_the_shelf_is_read_back_as_it_was(path: Path) -> None:
    """With the panels that took something, each once."""
    with Logbook(path, durable=False) as book:
        book.jobs.put_job(JOB)
        book.jobs.put_panel(PanelRecord(1, 1, "P1"))
        for record in RECORDS:
            book.stock.put_stock(record)
        for _twice in range(2):
            book.stock.put_use(3, 1, later(5))
        kept = book.stock.kept()
        assert kept.things == RECORDS
        assert (dict(kept.uses), kept.last_stock_id, kept.unreadable) == ({3: {1: utc_text(later(5))}}, 3, 0)
        assert book.stock.stencils() == [(3, STENCIL, (utc_text(later(5)),))]
        assert book.jobs.open_cards() == [("P1", JOB.artwork, JOB.numbers)]
        assert book.stock.taken_by("P1") == [(STENCIL, later(5))]
        assert book.stock.taken_by("P2") == []


def test_a_panel_without_a_card_knows_its_stencil(path: Path) -> None:
    """The one that it was lit through last; the export counts it, and only the last names are kept."""
    lit = STENCIL
    for number in range(MOST_LIT + 1):
        lit = lit_through(lit, f"P{number}", utc_text(later(number)))
    with Logbook(path, durable=False) as book:
        book.stock.put_stock(replace(RECORDS[2], thing=lit))
        assert book.stock.kept().things[0].thing == lit
        assert book.stock.taken_by("P3") == [(lit, later(3))]
        assert book.stock.taken_by("P0") == []
    with Logbook.open_reader(path) as reader:
        (row,) = rows(reader, "stock")
    assert row["panels"] == MOST_LIT + 1


def test_what_left_the_shelf_last_is_known_still(path: Path) -> None:
    """Of the rest only the number."""
    with Logbook(path, durable=False) as book:
        for number in range(1, ENDED_KEPT + 4):
            book.stock.put_stock(replace(RECORDS[1], stock_id=number, ended_utc=later(number)))
        kept = book.stock.kept()
    assert [record.stock_id for record in kept.things] == list(range(4, ENDED_KEPT + 4))
    assert kept.last_stock_id == ENDED_KEPT + 3


def test_a_row_of_another_version_is_counted_and_left(path: Path) -> None:
    """A box must start with it."""
    with Logbook(path, durable=False) as book:
        book.stock.put_stock(RECORDS[0])
        book.stock.put_stock(RECORDS[1])
        book._session.link.execute("UPDATE stock SET kind = 'glue' WHERE stock_id = 1")
        kept = book.stock.kept()
    assert [record.stock_id for record in kept.things] == [2]
    assert kept.unreadable == 1


def test_the_shelf_and_baths_can_be_exported(path: Path) -> None:
    """With how many panels took each."""
    with Logbook(path, durable=False) as book:
        book.jobs.put_job(JOB)
        book.jobs.put_panel(PanelRecord(1, 1, "P1"))
        book.stock.put_stock(RECORDS[2])
        book.stock.put_use(3, 1, later(5))
        book.baths.put_bath(BATH)
        book.baths.put_bath_panel(PANEL)
        (thing,), (bath,) = list(rows(book, "stock")), list(rows(book, "baths"))
    assert (thing["kind"], thing["panels"], json.loads(thing["content"])["artwork"]) == ("stencil", 1, "gear")
    assert (bath["panels"], json.loads(bath["contents"])["kind"]) == (1, BATH.contents.kind)
