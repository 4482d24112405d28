"""The stencil that is to lie in the frame stands where a panel is begun; whoever has none sees no word of it."""

import re
from dataclasses import replace
from datetime import timedelta
from html import unescape
from pathlib import Path
from typing import Any, cast

import pytest
from flask.testing import FlaskClient

from sumlight.craft.stock.stencils import Measured, Stencil
from sumlight.protocol.snapshot import Snapshot
from sumlight.store.logbook.database import utc_text
from sumlight.store.logbook.jobs import PanelRecord
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.stock import StockRecord
from sumlight_web.bar.films import Films, films_of, told_at_turn
from tests.webui import fake_control as fake
from tests.webui.fake_jobs import JOB, MADE, NUMBERS, STENCIL

LABEL = "blue-38 · 4"
FRONT = f"{LABEL}: In the frame: stencil 5 (gear), front film (A) towards the lamps, printed side to the resist"
ONE = StockRecord(6, Stencil("dial", 1), MADE)


def put(data: Path, *things: StockRecord, artwork: str | None = "gear", taken: int = 0) -> Films:
    """A shelf and, with an artwork, a job whose panel comes next; `taken`: so many others were lit through each."""
    path = data / "logbook.sqlite"
    with Logbook(path, durable=False) as book:
        if artwork is not None:
            book.jobs.put_job(replace(JOB, artwork=artwork, numbers=NUMBERS))
            book.jobs.put_panel(PanelRecord(7, JOB.job_id, LABEL))
        for thing in things:
            book.stock.put_stock(thing)
            for number in range(taken):
                book.jobs.put_panel(PanelRecord(100 + number, JOB.job_id, f"lit {number}", MADE, "finished"))
                book.stock.put_use(thing.stock_id, 100 + number, MADE + timedelta(hours=1))
    with Logbook.open_reader(path) as book:
        return films_of(book)


def told(films: Films, panel: str = LABEL, side: str = "A", **said: Any) -> str:
    """What is said of a panel of the recipe before a side is lit."""
    return films.told(panel, "blue-38", side, cast(Snapshot, fake.snapshot(**said)))


def bench(client: FlaskClient) -> str:
    """The text of the Bench."""
    return re.sub(r"\s+", " ", unescape(client.get("/").text))


def test_the_bench_names_the_stencil_of_the_panel_that_it_would_light(client: FlaskClient, data: Path) -> None:
    """Which film, which side of it, how its text reads; with the label of the panel that it is said of."""
    put(data, STENCIL)
    text = bench(client)
    assert FRONT in text
    assert "from there its text can be read, as on the front of the part." in text
    assert text.index("data-recipe=") < text.index(FRONT) < text.index('id="panel"')


@pytest.mark.parametrize(("things", "artwork"), [((), "gear"), ((STENCIL,), "dial"), ((STENCIL,), None), ((), None)])
def test_whoever_has_none_sees_no_word_of_it(
    client: FlaskClient, data: Path, things: tuple[StockRecord, ...], artwork: str | None
) -> None:
    """A job without a stencil, and a bench without jobs."""
    put(data, *things, artwork=artwork)
    assert "In the frame" not in bench(client)


def test_a_panel_without_a_card_is_told_of_the_stencil_of_its_recipe(data: Path) -> None:
    """A job without one is not: its panels do not count for that stencil either."""
    of_recipe = replace(STENCIL, thing=replace(cast(Stencil, STENCIL.thing), recipe="blue-38"))
    films = put(data, of_recipe, artwork="dial")
    assert told(films, "found in a drawer").startswith("found in a drawer: In the frame: stencil 5 (gear)")
    assert told(films) == ""


@pytest.mark.parametrize(
    ("side", "words"),
    [
        ("A", "front film (A) towards the lamps"),
        ("B", "back film (B) towards the lamps"),
        ("A+B", "the panel between its films, printed sides to the resist"),
    ],
)
def test_each_side_has_its_film(data: Path, side: str, words: str) -> None:
    """And both their own, at once."""
    assert words in told(put(data, STENCIL), side=side)


def test_one_film_is_neither_front_nor_back(data: Path) -> None:
    """It is all there is."""
    films = put(data, replace(ONE, thing=replace(cast(Stencil, ONE.thing), recipe="blue-38")), artwork=None)
    assert "printed side to the resist; from the lamps' side its text can be read" in told(films, "P1")
    assert "film (" not in told(films, "P1")


def test_the_back_film_is_told_when_the_panel_is_to_be_turned(data: Path) -> None:
    """At no other moment: while lamps burn nobody can turn it."""
    films = put(data, STENCIL)
    sides = fake.side("A", state="done"), fake.side("B", state="waiting", dose_mj_cm2=0.0)
    lit = fake.exposure(*sides, panel=LABEL, sides_mode="turned")
    said = {state: cast(Snapshot, fake.snapshot(state=state, exposure=lit)) for state in ("turn", "light", "done")}
    assert "back film (B) towards the lamps" in told_at_turn(films, said["turn"])
    assert [told_at_turn(films, said[state]) for state in ("light", "done")] == ["", ""]
    measured = cast(Snapshot, fake.snapshot(state="turn", exposure=lit | {"kind": "compare"}))
    assert told_at_turn(films, measured) == ""


@pytest.mark.parametrize(("days", "taken", "again"), [(29, 49, False), (30, 0, True), (0, 50, True)])
def test_a_worn_registration_is_said_beside_it(data: Path, days: int, taken: int, again: bool) -> None:
    """After thirty days or fifty panels: common practice, no source."""
    films = put(data, STENCIL, taken=taken)
    words = told(films, utc=utc_text(MADE + timedelta(days=days, hours=2)))
    assert (f"measured on 2026-11-25, {days} days and {taken} panels ago: measure it again" in words) is again
    assert ("measure it again" in words) is again


def test_a_registration_that_nobody_measured_and_a_wrong_strip_are_said_beside_it(data: Path) -> None:
    """So is a film that reads the wrong way round."""
    bare = replace(STENCIL, thing=replace(cast(Stencil, STENCIL.thing), measured=(), spacer_um=400.0))
    assert "Nobody has measured yet how far front and back lie apart." in told(put(data, bare))
    assert "Its strip is 400 µm and the metal 150 µm: the films will shift." in told(put(data, bare))
    wrong = (Measured(utc_text(MADE), apart_um=20.0, readable_b=False),)
    mirrored = replace(STENCIL, thing=replace(cast(Stencil, STENCIL.thing), measured=wrong))
    assert "Side B reads the wrong way round" in told(put(data, mirrored))
