"""Signs, what is known beside them, and confirmed causes in the logbook."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken
from sumlight.craft.causes.known import Known
from sumlight.craft.jobs.card import Mark
from sumlight.craft.jobs.instructions import PanelNumbers
from sumlight.craft.jobs.plans import steps_of
from sumlight.craft.stock.rolls import Roll
from sumlight.craft.stock.stencils import Measured, Stencil
from sumlight.store.logbook.baths import BathPanel, BathRecord
from sumlight.store.logbook.database import utc_from, utc_text
from sumlight.store.logbook.export import rows
from sumlight.store.logbook.findings import Findings
from sumlight.store.logbook.jobs import JobRecord, PanelRecord
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.stock import StockRecord
from tests.store.making import later
from tests.webui.test_panels import record


def test_findings_are_replaced_as_a_whole(tmp_path: Path) -> None:
    """What was put on by mistake goes; who did it last is kept."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        assert book.findings.of(number) == Findings()
        book.findings.put_findings(number, ["scum", "pitted"], {"held_step": 7.0}, "Ada", later(1))
        book.findings.put_findings(number, ["scum"], {"same_place": True}, "Ben", later(2))
        found = book.findings.of(number)
    assert (found.signs, found.known, found.found_by) == (("scum",), Known(same_place=True), "Ben")


def test_signs_on_nothing_change_nothing(tmp_path: Path) -> None:
    """A slip of somebody's script must not look like a broken card."""
    record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        book.findings.put_findings(99, ["scum"], {}, "Ada", later(1))
        book.findings.confirm_cause(99, "fogged", True, "Ada", later(1))
        assert book.findings.of(99) == Findings()
        assert book.findings.confirmed(simulated=True) == {}


def test_only_what_was_confirmed_counts_once_a_panel_and_can_be_taken_back(tmp_path: Path) -> None:
    """A guess that is shown changes nothing, however often it is looked at; the twin's panels stay with the twin."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        book.findings.put_findings(number, ["floats_off"], {}, "Ada", later(1))
        exposure = book.exposure(number)
        assert exposure is not None
        before = book.findings.why(exposure)
        assert book.findings.why(exposure) == before
        assert book.findings.confirmed(simulated=True) == {}
        for _ in range(2):
            book.findings.confirm_cause(number, "underexposed", True, "Ada", later(2))
        assert book.findings.confirmed(simulated=True) == {"underexposed": 1}
        assert book.findings.confirmed(simulated=False) == {}
        assert book.findings.of(number).confirmed == ("underexposed",)
        after = {cause.name: cause.probability for cause in book.findings.why(exposure).causes}
        assert after["underexposed"] > {c.name: c.probability for c in before.causes}["underexposed"]
        book.findings.confirm_cause(number, "underexposed", False, "Ada", later(3))
        assert book.findings.why(exposure) == before


def test_the_record_itself_is_weighed(tmp_path: Path) -> None:
    """The dose that was reached stands there, nobody has to type it."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        book._session.link.execute("UPDATE sides SET dose_mj_cm2 = 30")
        book.findings.put_findings(number, ["floats_off"], {}, "Ada", later(1))
        exposure = book.exposure(number)
        assert exposure is not None
        first = book.findings.why(exposure).causes[0]
    assert first.name == "underexposed"
    assert "the dose came to 50% of what was wanted" in first.speaks_for


def test_what_an_odd_hand_or_a_newer_version_wrote_is_left_out(tmp_path: Path) -> None:
    """The page still opens."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        odd = {"place": "moon", "aura": 3, "held_step": "seven", "wanted_step": 8}
        book.findings.put_findings(number, ["glows", "scum"], odd, "Ada", later(1))
        book.findings.confirm_cause(number, "moonlight", True, "Ada", later(1))
        found, exposure = book.findings.of(number), book.exposure(number)
        assert exposure is not None
        assert (found.signs, found.confirmed) == (("scum",), ())
        assert len(book.findings.why(exposure).causes) == 3


def test_what_rarely_changes_is_known_from_the_last_panel_of_the_recipe(tmp_path: Path) -> None:
    """The step that should be held, say."""
    one, other = (record(tmp_path / "logbook.sqlite", label) for label in ("P1", "P2"))
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        assert book.findings.last_known("blue-38") == Known()
        book.findings.put_findings(other, [], {"wanted_step": 9.0}, "Ada", later(1) + timedelta(days=1))
        book.findings.put_findings(one, [], {"wanted_step": 8.0}, "Ada", later(1))
        assert book.findings.last_known("blue-38").wanted_step == 9
        assert book.findings.last_known("other") == Known()


def test_findings_can_be_taken_elsewhere(tmp_path: Path) -> None:
    """With what was confirmed; lists and objects as JSON."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        book.findings.put_findings(number, ["scum"], {"clear_s": 60.0}, "Ada", later(1))
        book.findings.confirm_cause(number, "fogged", True, "Ada", later(1))
        (row,) = rows(book, "findings")
    assert (row["panel"], row["signs"], row["known"], row["confirmed"]) == (
        "P12",
        '["scum"]',
        '{"clear_s": 60.0}',
        '["fogged"]',
    )


def test_the_baths_of_the_panel_are_weighed(tmp_path: Path) -> None:
    """What its baths noted counts before what the job says: 20 min where 10 were expected, in a bath nearly used up."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        on_a_card(book, number, ("etch", 1000, 1300))
        book.baths.put_bath(BathRecord(1, Contents("iron", 1.0, 36.0), later(0)))
        taken = Taken("brass", 50.0, 75.0, 1200.0)
        book.baths.put_bath_panel(BathPanel(1, 1, taken, later(1), later(2), 1, 17, "P12", 600.0, 0.93))
        book.findings.put_findings(number, ["part_thin"], {}, "Ada", later(1))
        exposure = book.exposure(number)
        assert exposure is not None
        weighed = [
            line for cause in book.findings.why(exposure).causes for line in (*cause.speaks_for, *cause.speaks_against)
        ]
    assert "it was etched for 2.0 times the time expected" in weighed


def test_the_shelf_is_weighed(tmp_path: Path) -> None:
    """A roll that was open for two years, and a stencil whose films lay 400 µm apart, speak for themselves."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        on_a_card(book, number, ("etch", 1000, 1300))
        apart = Stencil("gear", measured=(Measured("2026-03-02T00:00:00Z", apart_um=400.0),))
        for stock_id, thing in ((1, Roll("film", opened_on="2024-01-05")), (2, apart)):
            book.stock.put_stock(StockRecord(stock_id, thing, later(0)))
            book.stock.put_use(stock_id, 1, datetime(2026, 1, 5, tzinfo=UTC))
        book.findings.put_findings(number, ["faces_apart", "clears_late"], {}, "Ada", later(1))
        exposure = book.exposure(number)
        assert exposure is not None
        told = str(book.findings.why(exposure))
        book.findings.put_findings(number, ["faces_apart"], {"faces_off_um": 20.0}, "Ada", later(1))
        overruled = str(book.findings.why(exposure))
    assert "front and back lie 400 µm apart" in told
    assert "24 months" in told
    assert "400" not in overruled


def on_a_card(book: Logbook, exposure_id: int, *marks: tuple[str, float, float]) -> None:
    """A job whose panel carries the label of the exposure, with steps begun and ended so many seconds after it."""
    exposure = book.exposure(exposure_id)
    assert exposure is not None
    ended = utc_from(exposure["ended_utc"])
    numbers = PanelNumbers(
        "sheet_two", "brass", 150.0, "blue-38", 60.0, 900.0, clear_s=40.0, etchant="iron", rate_um_min=15.0
    )
    steps = steps_of("sheet_two")
    book.jobs.put_job(JobRecord(1, "ship", 1, numbers, steps, ended))
    book.jobs.put_panel(PanelRecord(1, 1, exposure["panel"]))
    for kind, began_s, ended_s in marks:
        step = next(step for step in steps if step.kind == kind)
        began, done = (utc_text(ended + timedelta(seconds=after_s)) for after_s in (began_s, ended_s))
        book.jobs.put_mark(1, step.step_id, Mark("done", began, done))


def test_the_card_of_the_panel_is_weighed(tmp_path: Path) -> None:
    """Rest, dwell and etch time stand on it: 75 um a side at 15 um a minute are 5 minutes, and it took 10."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        on_a_card(book, number, ("develop", 60, 160), ("etch", 1000, 1600))
        book.findings.put_findings(number, ["part_thin"], {}, "Ada", later(1))
        exposure = book.exposure(number)
        assert exposure is not None
        first = book.findings.why(exposure).causes[0]
        assert first.name == "over_etched"
        assert "it was etched for 2.0 times the time expected" in first.speaks_for
        book.findings.put_findings(number, ["lifts_in_etchant"], {}, "Ada", later(2))
        reasons = [each for cause in book.findings.why(exposure).causes for each in cause.speaks_for]
        assert "it did not rest as long as the recipe says before developing" in reasons
        assert "it stayed in the developer for 2.5 times the time to clear" in reasons


def test_what_a_person_told_counts_before_the_card(tmp_path: Path) -> None:
    """Who pressed 'done' late corrects it."""
    number = record(tmp_path / "logbook.sqlite")
    with Logbook(tmp_path / "logbook.sqlite", durable=False) as book:
        on_a_card(book, number, ("etch", 1000, 1600))
        book.findings.put_findings(number, ["part_thin"], {"etched_s": 300.0}, "Ada", later(1))
        exposure = book.exposure(number)
        assert exposure is not None
        (over,) = [cause for cause in book.findings.why(exposure).causes if cause.name == "over_etched"]
    assert "it was etched for 2.0 times the time expected" not in over.speaks_for
