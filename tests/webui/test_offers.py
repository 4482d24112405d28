"""What is offered next: the recipe used last, a label that is free, the time that it took."""

from pathlib import Path
from typing import cast

import pytest

from sumlight.craft.jobs.plans import steps_of
from sumlight.protocol.snapshot import Snapshot
from sumlight.store.logbook.jobs import JobRecord, PanelRecord
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.recipes import RecipeStore
from sumlight_web.bar.act import start_about
from sumlight_web.bar.offers import OfferKeeper, Offers
from tests.webui import fake_control as fake
from tests.webui.fake_answers import calibration
from tests.webui.fake_jobs import MADE, NUMBERS
from tests.webui.given import BLUE
from tests.webui.test_panels import record


def offers(data: Path) -> Offers:
    """What is offered over that data folder."""
    return OfferKeeper(RecipeStore(data / "recipes"), data / "logbook.sqlite").now(1)


def write(data: Path, name: str, text: str = BLUE) -> None:
    """Put a recipe on the shelf."""
    (data / "recipes" / f"{name}.yaml").write_text(text, encoding="utf-8")


def test_the_only_recipe_is_offered_and_of_several_unused_ones_none(data: Path) -> None:
    """What nobody chose and nobody used is not lit by one tap."""
    only = offers(data).next()
    assert only is not None
    assert (only.name, only.panel) == ("blue-38", "blue-38 · 1")
    write(data, "another")
    assert offers(data).next() is None


def test_the_one_used_last_comes_first(data: Path) -> None:
    """Whatever its name."""
    for name in ("aaa", "bbb", "zzz"):
        write(data, name)
    record(data / "logbook.sqlite")
    found = offers(data)
    assert [offer.name for offer in found.known] == ["blue-38", "aaa", "bbb", "zzz"]
    assert found.next() is found.known[0]
    chosen = found.choose("zzz").next()
    assert chosen is not None
    assert chosen.name == "zzz"
    assert found.choose("nowhere").next() is found.known[0]


@pytest.mark.parametrize(
    ("labels", "expected"),
    [
        (["P1"], "blue-38 · 2"),
        (["blue-38 · 7", "P1"], "blue-38 · 8"),
        (["blue-38 · x", "other · 9", "blue-38 · 1"], "blue-38 · 4"),
    ],
)
def test_the_label_counts_on_and_is_free(data: Path, labels: list[str], expected: str) -> None:
    """One more than there are panels, or than the highest number in use."""
    for label in labels:
        record(data / "logbook.sqlite", label=label)
    (offer,) = offers(data).known
    assert offer.panel == expected


def test_the_next_card_gives_its_label(data: Path) -> None:
    """The panel that is lit is the one whose card waits first; a card that was lit or has ended gives none."""
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        book.jobs.put_job(JobRecord(1, "", 2, NUMBERS, steps_of("board_one"), MADE))
        for number in (4, 5):
            book.jobs.put_panel(PanelRecord(number, 1, f"blue-38 · {number}"))
    (offer,) = offers(data).known
    assert offer.panel == "blue-38 · 4"
    record(data / "logbook.sqlite", label="blue-38 · 4")
    (offer,) = offers(data).known
    assert offer.panel == "blue-38 · 5"
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        book.jobs.put_panel(PanelRecord(5, 1, "blue-38 · 5", MADE, "given_up"))
    (offer,) = offers(data).known
    assert offer.panel == "blue-38 · 6"


def test_the_usual_time_goes_as_the_dose_before_the_stack(data: Path) -> None:
    """The record took 14.8 s for 60 mJ/cm² behind 0.82 (outside check: plain proportion)."""
    record(data / "logbook.sqlite")
    (offer,) = offers(data).known
    assert offer.about_s["A"] == pytest.approx(14.8)
    write(data, "blue-38", BLUE.replace("60.0", "120.0").replace("0.82", "0.41"))
    (offer,) = offers(data).known
    assert offer.about_s["A"] == pytest.approx(4 * 14.8)
    assert start_about(offer, None) == "about 59 s"


@pytest.mark.parametrize(("unlike", "unit"), [({"lower": True}, "box units"), ({"upper": True}, "mJ/cm²")])
def test_the_dose_of_a_box_that_nothing_has_checked_counts_in_box_units(
    data: Path, unlike: dict[str, bool], unit: str
) -> None:
    """That of the lamps which light it; how long it takes needs no unit."""
    banks = [fake.bank("lower", "A"), fake.bank("upper", "B")]
    said = fake.snapshot(banks=banks, calibration={name: calibration(relative=own) for name, own in unlike.items()})
    (offer,) = offers(data).known
    assert start_about(offer, cast(Snapshot, said)) == f"60 {unit}"
    record(data / "logbook.sqlite")
    (offer,) = offers(data).known
    assert start_about(offer, cast(Snapshot, said)) == "about 15 s"


def test_a_shelf_that_cannot_be_read_and_a_torn_logbook_stop_nothing(data: Path) -> None:
    """The Bench must come up all the same."""
    (data / "logbook.sqlite").write_bytes(b"torn" * 1000)
    assert [offer.name for offer in offers(data).known] == ["blue-38"]
    for file in (data / "recipes").iterdir():
        file.unlink()
    (data / "recipes").rmdir()
    assert offers(data).known == ()
    (data / "recipes").write_text("a file", encoding="utf-8")
    assert "cannot be read" in offers(data).trouble


def test_a_recipe_changed_by_hand_is_seen_with_the_next_page(data: Path) -> None:
    """The desk looks again when it is asked to, not only when the box has changed."""
    desk = OfferKeeper(RecipeStore(data / "recipes"), data / "logbook.sqlite")
    before = desk.now(1)
    write(data, "new")
    assert desk.now(1) is before
    assert len(desk.now(1, anew=True).known) == 2
    write(data, "newer")
    assert len(desk.now(2).known) == 3
