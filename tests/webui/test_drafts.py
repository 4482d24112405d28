"""Recipes that begin with what a person knows, and "Was it good?" of the panels that were lit by time."""

import hashlib
import math
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import NewExposure, NewSide, SideState
from sumlight.store.recipes import RecipeStore
from sumlight_web.bar.act import is_draft, start_about, start_trouble
from sumlight_web.bar.offers import OfferKeeper
from tests.webui.fake_control import FakeControl, RefusalError, bank, exposure, hear, lit, side, snapshot
from tests.webui.given import ORIGIN
from tests.webui.test_panels import record

DRAFT = """\
resist: Brass 8 min
sides: one
draft_lit_s: 480.0
transmission:
  a: 0.9
time_guard_s: 960.0
hold_s: 900.0
interruptions:
  forgiven: 2
  longest_gap_s: 60.0
"""
SHA256 = hashlib.sha256(DRAFT.encode()).hexdigest()
DOSE = 62.34


@pytest.fixture
def shelf(data: Path) -> RecipeStore:
    """The shelf, with one draft on it."""
    shelf = RecipeStore(data / "recipes")
    shelf.save("brass", DRAFT)
    return shelf


def panel(data: Path, label: str = "brass · 1", *, outcome: str = "completed", sides: int = 1) -> int:
    """Write a panel of the draft; returns its number."""
    began = datetime(2026, 11, 29, 8, 0, tzinfo=UTC)
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        begun = book.begin(
            NewExposure(
                panel=label,
                note="",
                recipe_name="brass",
                recipe_text=DRAFT,
                recipe_sha256=SHA256,
                sides=tuple(NewSide(name, "lower", None, 0.9) for name in "AB"[:sides]),
                started_utc=began,
                box_name="Demo box",
                simulated=True,
            )
        )
        states = [SideState(number, "done", DOSE, 0.1, 480.0, 0, 0.0) for number in begun.side_ids.values()]
        book.put_sides(states, began)
        book.finish(begun.exposure_id, outcome, False, began + timedelta(minutes=9))
    return begun.exposure_id


def answered(data: Path, number: int, verdict: str) -> None:
    """What control would write."""
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        book.put_verdict(number, verdict, "Ada")


def say(client: FlaskClient, number: int, verdict: str) -> str:
    """Press an answer; returns the page that follows."""
    return client.post(
        f"/panels/{number}/verdict", data={"verdict": verdict}, headers=ORIGIN, follow_redirects=True
    ).text


# -- what a person knows ----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("typed", ["8 min", "8:00", "480 s", "480", "8,0 min", " 8min "])
def test_a_time_makes_a_draft_with_nothing_else_typed(client: FlaskClient, data: Path, typed: str) -> None:
    """Name, sides and time; the rest has a default, and the recipe waits on the Bench."""
    answer = client.post(
        "/recipes/new",
        data={"name": "Brass 8 min", "sides": "one", "known": "time", "draft_lit_s": typed},
        headers=ORIGIN,
    )
    assert (answer.status_code, answer.location) == (303, "/?recipe=brass-8-min")
    recipe = RecipeStore(data / "recipes").load("brass-8-min").recipe
    assert (recipe.draft_lit_s, recipe.dose_mj_cm2, recipe.resist) == (480.0, None, "Brass 8 min")
    assert recipe.time_guard_s > 480
    assert "Light brass-8-min" in client.get("/?recipe=brass-8-min").text


def test_what_lies_under_more_is_read_as_people_write_it(client: FlaskClient, data: Path) -> None:
    """Per cent, a comma, inches; side B is as side A unless it is told."""
    typed = {"name": "Messing groß", "sides": "turned", "known": "dose", "dose_mj_cm2": "0,06 J/cm²"}
    more = {"transmission.a": "90 %", "transmission.b": "0,8", "thickness_um": "1.5 mil", "hold_s": "0:30:00"}
    assert client.post("/recipes/new", data=typed | more, headers=ORIGIN).status_code == 303
    recipe = RecipeStore(data / "recipes").load("messing-gross").recipe
    assert (recipe.dose_mj_cm2, recipe.draft_lit_s) == (60, None)
    assert (recipe.transmission.a, recipe.transmission.b) == (0.9, 0.8)
    assert recipe.thickness_um == pytest.approx(38.1)
    assert recipe.hold_s == 1800
    assert client.post("/recipes/new", data=typed | {"name": "b"}, headers=ORIGIN).status_code == 303
    assert RecipeStore(data / "recipes").load("b").recipe.transmission.b == 1


def test_neither_leads_to_the_test_strip_with_doses_to_try(client: FlaskClient, data: Path) -> None:
    """The recipe cannot light a panel before."""
    typed = {"name": "new film", "sides": "one", "known": "neither"}
    answer = client.post("/recipes/new", data=typed, headers=ORIGIN)
    assert answer.location == "/light/strip?recipe=new-film"
    page = client.get(answer.location).text
    assert re.search(r'value="new-film"\s+checked', page)
    assert 'value="10"' in page
    assert RecipeStore(data / "recipes").load("new-film").recipe.dose_unknown
    bench = client.get("/?recipe=new-film").text
    assert "No dose yet: a test strip finds it." in bench
    assert 'href="/light/strip?recipe=new-film"' in bench


def test_a_dose_that_a_strip_found_ends_the_search(client: FlaskClient, shelf: RecipeStore) -> None:
    """One press on *Light*; the recipe can then light panels."""
    stored = shelf.save("film", DRAFT.replace("draft_lit_s: 480.0", "dose_unknown: true"))
    typed = {"recipe": "film", "sha256": stored.sha256, "key": "dose_mj_cm2", "value": "42.5"}
    assert client.post("/light/recipe", data=typed, headers=ORIGIN).status_code == 303
    recipe = shelf.load("film").recipe
    assert (recipe.dose_mj_cm2, recipe.dose_unknown) == (42.5, None)


@pytest.mark.parametrize(
    ("typed", "field", "says"),
    [
        ({"known": "time"}, "draft-lit-s", "Give the time, such as 8 min, 8:00 or 480 s."),
        ({"known": "time", "draft_lit_s": "soon"}, "draft-lit-s", "Write one such as 8:00, 8 min or 480 s."),
        ({"known": "time", "draft_lit_s": "2 h"}, "draft-lit-s", "from 1 to 3600 s"),
        ({"known": "dose"}, "dose-mj-cm2", "Give the dose, such as 60 mJ/cm²."),
        ({"known": "dose", "dose_mj_cm2": "8 min"}, "dose-mj-cm2", "mJ/cm², J/cm²"),
        ({"known": "time", "draft_lit_s": "8:00", "name": "!"}, "name", "such as Brass 8 min."),
        ({"known": "time", "draft_lit_s": "8:00", "time_guard_s": "8:00"}, "time-guard-s", "longer than the time"),
    ],
)
def test_a_refused_field_says_what_would_be_taken(
    client: FlaskClient, data: Path, typed: dict[str, str], field: str, says: str
) -> None:
    """Beside the field; nothing is saved."""
    answer = client.post("/recipes/new", data={"name": "x", "sides": "one"} | typed, headers=ORIGIN)
    assert answer.status_code == 422
    assert says in answer.text.split(f'id="f-{field}-error">')[1].split("</p>")[0]
    assert [file.name for file in (data / "recipes").iterdir()] == ["blue-38.yaml"]


def test_what_this_box_cannot_light_is_said_before_it_is_chosen(
    client: FlaskClient, control: FakeControl, app: Flask
) -> None:
    """Two sides at once need two banks."""
    assert "Needs two lamp banks, this box has one." in client.get("/recipes/new").text
    hear(app.extensions["sumlight"].watch, control, snapshot(banks=[bank("lower", "A"), bank("upper", "B")]))
    assert "Needs two lamp banks" not in client.get("/recipes/new").text


def test_a_draft_is_edited_as_one_and_may_be_given_a_dose(client: FlaskClient, shelf: RecipeStore) -> None:
    """What the field of the other answer held goes."""
    page = client.get("/recipes/brass").text
    assert 'value="480"' in page
    typed = {"sides": "one", "known": "dose", "dose_mj_cm2": "70", "draft_lit_s": "480", "transmission.a": "0.9"}
    sha256 = shelf.load("brass").sha256
    assert client.post("/recipes/brass", data=typed | {"sha256": sha256}, headers=ORIGIN).status_code == 303
    recipe = shelf.load("brass").recipe
    assert (recipe.dose_mj_cm2, recipe.draft_lit_s) == (70, None)


# -- it always says that it is one ------------------------------------------------------------------------------------


def test_a_draft_is_called_one_wherever_it_can_be_lit(client: FlaskClient, shelf: RecipeStore, data: Path) -> None:
    """Bar, Bench, list."""
    offer = OfferKeeper(shelf, data / "logbook.sqlite").now(1).of("brass")
    assert offer is not None
    assert start_about(offer, None) == "draft, 8 min"
    assert start_trouble(offer, None) == ""
    assert client.get("/?recipe=brass").text.count("draft, 8 min") >= 2
    assert "draft, 8 min" in client.get("/recipes/").text


def test_a_draft_under_light_is_called_one(client: FlaskClient, control: FakeControl, app: Flask) -> None:
    """In the bar's line and above the sides; side B says that it gets as much as A."""
    a = side("A", state="lit", target_mj_cm2=None, lit_for_s=480.0, lit_s=120.0, left_s=360.0)
    b = side("B", state="waiting", target_mj_cm2=None, lit_for_s=480.0, dose_mj_cm2=0.0)
    under_light = lit(exposure=exposure(a, b, sides_mode="turned"))
    hear(app.extensions["sumlight"].watch, control, under_light)
    page = client.get("/").text
    assert "Draft, side A: 25 %" in page
    assert "lit by time" in page
    assert "gets what side A got" in page


def test_a_timed_series_is_no_draft() -> None:
    """A test strip or a walk through the field has its own words."""
    leg = side("1", target_mj_cm2=None, lit_for_s=10.0)
    assert not is_draft(exposure(leg, kind="field", sides_mode="series"))  # type: ignore[arg-type]
    assert not is_draft(exposure(side("A")))  # type: ignore[arg-type]


def test_its_record_says_that_it_was_lit_by_time_and_what_was_measured(
    client: FlaskClient, shelf: RecipeStore, data: Path
) -> None:
    """In the list, on the record, on the traveller."""
    number = panel(data, sides=2)
    assert "<b>draft</b>" in client.get("/panels/").text
    for path in (f"/panels/{number}", f"/panels/{number}/traveller"):
        page = client.get(path).text
        assert "draft: lit by time" in page
        assert "draft: as much as side A" in page
        assert "62.3" in page


# -- was it good? -----------------------------------------------------------------------------------------------------


def test_the_question_waits_on_bench_and_record_until_it_is_answered(
    client: FlaskClient, shelf: RecipeStore, data: Path
) -> None:
    """Beside later work, and of this panel only."""
    first, later = panel(data), panel(data, "brass · 2")
    given_up = panel(data, "brass · 3", outcome="abandoned")
    bench = client.get("/").text
    assert f'href="/panels/{first}#good"' in bench
    assert f'href="/panels/{later}#good"' in bench
    assert f'href="/panels/{given_up}#good"' not in bench
    assert 'value="too_little"' in client.get(f"/panels/{first}").text
    assert 'id="good"' not in client.get(f"/panels/{given_up}").text
    answered(data, first, "unknown")
    bench = client.get("/").text
    assert f'href="/panels/{first}#good"' not in bench
    assert f'href="/panels/{later}#good"' in bench


def test_good_makes_it_a_recipe_with_the_dose_that_was_measured(
    client: FlaskClient, control: FakeControl, shelf: RecipeStore, data: Path
) -> None:
    """One press; the answer goes to control, which writes it."""
    number = panel(data)
    page = say(client, number, "good")
    recipe = shelf.load("brass").recipe
    assert (recipe.dose_mj_cm2, recipe.draft_lit_s) == (62.3, None)
    assert "Recipe brass is lit to 62.3 mJ/cm² from now on." in page
    sent = [request for request in control.commands if request["command"] == "judge"]
    assert [(one["exposure_id"], one["verdict"], one["who"]) for one in sent] == [(number, "good", "Ada")]


def test_good_leaves_a_recipe_alone_that_was_changed_meanwhile(
    client: FlaskClient, shelf: RecipeStore, data: Path
) -> None:
    """The panel was lit with another text: its dose says nothing of this one."""
    number = panel(data)
    changed = DRAFT.replace("480.0", "600.0")
    shelf.save("brass", changed)
    page = say(client, number, "good")
    assert "has been changed since this panel" in page
    assert shelf.load("brass").text == changed


@pytest.mark.parametrize(("verdict", "lit_s"), [("too_little", 480 * math.sqrt(2)), ("too_much", 480 / math.sqrt(2))])
def test_too_little_or_too_much_offers_one_tablet_step_that_a_press_takes(
    client: FlaskClient, control: FakeControl, shelf: RecipeStore, data: Path, verdict: str, lit_s: float
) -> None:
    """√2 from step to step (common practice); nothing is lit, and the draft stays one."""
    number = panel(data)
    page = say(client, number, verdict)
    assert shelf.load("brass").text == DRAFT
    assert "1.41 times" in page
    assert "/light/strip?recipe=brass" in page
    answered(data, number, verdict)
    assert "One step:" in client.get(f"/panels/{number}").text
    moved = client.post(f"/panels/{number}/step", data={"verdict": verdict}, headers=ORIGIN)
    assert (moved.status_code, moved.location) == (303, "/?recipe=brass")
    recipe = shelf.load("brass").recipe
    assert recipe.draft_lit_s == pytest.approx(lit_s, rel=0.005)
    assert recipe.time_guard_s > lit_s
    assert not {"start", "go", "series"} & set(control.names())
    again = client.post(f"/panels/{number}/step", data={"verdict": verdict}, headers=ORIGIN)
    assert again.status_code == 409
    assert shelf.load("brass").recipe == recipe


def test_i_do_not_know_keeps_the_draft_and_the_way_to_an_answer(
    client: FlaskClient, shelf: RecipeStore, data: Path
) -> None:
    """It may be lit again, and still says that it is one."""
    number = panel(data)
    page = say(client, number, "unknown")
    assert shelf.load("brass").text == DRAFT
    assert 'value="good"' in page
    assert "stays a draft" in page


def test_without_control_nothing_is_called_answered(
    client: FlaskClient, control: FakeControl, shelf: RecipeStore, data: Path
) -> None:
    """Pressed again later, the answer goes through."""
    number = panel(data)

    def busy(_request: dict[str, object]) -> dict[str, object]:
        raise RefusalError("refused", "Not now.")

    control.answers["judge"] = busy
    answer = client.post(f"/panels/{number}/verdict", data={"verdict": "too_much"}, headers=ORIGIN)
    assert answer.status_code == 409
    assert "Not now." in answer.text
    assert 'value="too_much"' in answer.text


def test_who_only_watches_sees_the_question_and_no_press(
    app: Flask, client: FlaskClient, shelf: RecipeStore, data: Path
) -> None:
    """Nor is a press of theirs taken."""
    number = panel(data)
    watcher = app.test_client()
    page = watcher.get(f"/panels/{number}").text
    assert "Was it good?" in page
    assert 'name="verdict"' not in page
    answer = watcher.post(f"/panels/{number}/verdict", data={"verdict": "good"}, headers=ORIGIN)
    assert answer.status_code in (302, 303, 401, 403)
    assert shelf.load("brass").text == DRAFT


def test_a_panel_with_a_dose_is_not_asked_about(client: FlaskClient, data: Path) -> None:
    """Nor can an answer be sent for it."""
    number = record(data / "logbook.sqlite")
    assert "Was it good?" not in client.get(f"/panels/{number}").text
    answer = client.post(f"/panels/{number}/verdict", data={"verdict": "good"}, headers=ORIGIN)
    assert answer.status_code == 404
