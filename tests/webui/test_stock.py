"""The page Stock: what is on the shelf, what a stencil still needs; control keeps it."""

import re

import pytest
from flask.testing import FlaskClient

from sumlight.store.recipes import RecipeStore
from tests.control.bench_box import recipe_text
from tests.webui import fake_jobs
from tests.webui.fake_control import FakeControl, RefusalError
from tests.webui.given import ORIGIN
from tests.webui.test_jobs import asked, page


def test_the_shelf_says_of_each_thing_what_is_wrong_first(client: FlaskClient) -> None:
    """A roll without a tablet, a stencil that is not ready; what is used up lies folded."""
    text = page(client, "/stock/")
    assert "Roll 4 (Invented film)" in text
    assert "No step tablet was lit" in text
    assert "Still to do: let it lie, register and fix, check against light." in text
    assert text.index("Used up") < text.index("Metal 3 (brass, 150 µm)")
    assert 'href="/stock/"' in page(client, "/jobs/")


def test_a_new_roll_asks_little(client: FlaskClient, control: FakeControl) -> None:
    """The resist is picked from the recipes, which know its thickness; it is open from today."""
    text = page(client, "/stock/roll")
    today = re.search(r'name="opened_on"[^>]* value="(\d{4}-\d\d-\d\d)"', text)
    resist = re.search(r'name="resist" value="([^"]+)" checked', text)
    assert today is not None
    assert resist is not None
    sent = {"resist": resist[1], "opened_on": today[1], "expires_on": "", "storage": "cool"}
    answer = client.post("/stock/roll", data=sent, headers=ORIGIN)
    assert answer.headers["Location"] == "/stock/4"
    assert asked(control, "roll_new") == sent | {"film_um": 38.0, "who": "Ada"}


def test_metal_and_a_stencil_are_put_on_the_shelf(client: FlaskClient, control: FakeControl) -> None:
    """Numbers as people write them."""
    sent = {"metal": "brass", "thickness_um": "0.15 mm", "pieces": "10", "remark": ""}
    assert client.post("/stock/metal", data=sent, headers=ORIGIN).status_code == 303
    told = {"metal": "brass", "thickness_um": 150.0, "pieces": 10, "remark": "", "who": "Ada"}
    assert asked(control, "metal_new") == told
    sent = {"artwork": "gear", "sides": "2", "spacer_um": "150", "held": "pins"}
    assert client.post("/stock/stencil", data=sent, headers=ORIGIN).status_code == 303
    assert asked(control, "stencil_new") == {
        "artwork": "gear",
        "sides": 2,
        "spacer_um": 150.0,
        "held": "pins",
        "who": "Ada",
    }


@pytest.mark.parametrize(("path", "field"), [("metal", "thickness_um"), ("stencil", "spacer_um")])
def test_what_cannot_be_stands_beside_its_field(
    client: FlaskClient, control: FakeControl, path: str, field: str
) -> None:
    """Nothing is asked of control."""
    sent = {"metal": "brass", "artwork": "gear", "sides": "2", "held": "pins", field: "-150"}
    answer = client.post(f"/stock/{path}", data=sent, headers=ORIGIN)
    assert answer.status_code == 422
    assert f'id="f-{field.replace("_", "-")}-error"' in answer.text
    assert f"{path}_new" not in control.names()


def test_days_are_taken_as_people_write_them(client: FlaskClient, control: FakeControl) -> None:
    """What can be two days stands there as it was typed, with both; control hears ISO 8601 only."""
    data = {"resist": "Film", "opened_on": "1. März 2026", "expires_on": "03/04/2027"}
    answer = client.post("/stock/roll", data=data, headers=ORIGIN)
    assert answer.status_code == 422
    assert 'id="f-expires-on-error"' in answer.text
    assert "3 April 2027 or 4 March 2027" in answer.text
    assert 'value="03/04/2027"' in answer.text
    assert "roll_new" not in control.names()
    client.post("/stock/roll", data=data | {"expires_on": "4 Mar 2027"}, headers=ORIGIN)
    told = asked(control, "roll_new")
    assert (told["opened_on"], told["expires_on"]) == ("2026-03-01", "2027-03-04")


def test_a_day_that_control_refuses_is_told_beside_its_field(client: FlaskClient, control: FakeControl) -> None:
    """Control's no, where it was typed."""

    def refuse(_request: object) -> dict[str, object]:
        raise RefusalError("bad_value", "opened_on is still to come: 2999-01-01", "opened_on")

    control.answers["roll_new"] = refuse
    answer = client.post("/stock/roll", data={"resist": "Film", "opened_on": "1.1.2999"}, headers=ORIGIN)
    assert answer.status_code == 422
    assert 'id="f-opened-on-error"' in answer.text
    assert 'value="1.1.2999"' in answer.text


def test_a_stencil_shows_its_steps_and_what_was_measured(
    client: FlaskClient, control: FakeControl, shelf: RecipeStore
) -> None:
    """A step is noted by one press; a measurement takes what was measured and nothing else.

    Recipes that light as many sides as it has films may count their panels for it.
    """
    shelf.save("two", recipe_text(sides="turned"))
    text = page(client, "/stock/5")
    for words in ("40 µm apart", "one the mirror of the other", "150 µm", "polycarbonate", "A reads right"):
        assert words in text
    client.post("/stock/5/step", data={"step": "register", "done": "yes"}, headers=ORIGIN)
    assert asked(control, "stencil_done") == {"stock_id": 5, "step": "register", "done": True, "who": "Ada"}
    client.post("/stock/5/measured", data={"apart_um": "30", "readable_b": "no", "density": ""}, headers=ORIGIN)
    told = {"stock_id": 5, "apart_um": 30.0, "readable_b": False, "who": "Ada"}
    assert asked(control, "stencil_measured") == told
    assert 'name="recipe" value="two"' in text
    assert 'name="recipe" value="blue-38"' not in text
    client.post("/stock/5/recipe", data={"recipe": "two"}, headers=ORIGIN)
    assert asked(control, "stencil_recipe") == {"stock_id": 5, "recipe": "two"}
    client.post("/stock/5/end", data={"ended": "yes"}, headers=ORIGIN)
    assert asked(control, "stock_end") == {"stock_id": 5, "ended": True}


def test_a_roll_without_a_tablet_leads_to_one(client: FlaskClient, control: FakeControl) -> None:
    """One tap from the page Light."""
    control.answers["stock_thing"] = lambda _request: fake_jobs.thing(fake_jobs.ROLL)
    assert 'href="/light/tablet"' in page(client, "/stock/4")


def test_a_watcher_changes_nothing(app, control: FakeControl) -> None:  # type: ignore[no-untyped-def]
    """And is offered nothing."""
    watcher = app.test_client()
    assert watcher.post("/stock/5/end", data={"ended": "yes"}, headers=ORIGIN).status_code == 401
    assert "<form" not in re.sub(r".*<main|</main>.*", "", watcher.get("/stock/5").text, flags=re.DOTALL)
    assert 'action="/stock/roll"' not in watcher.get("/stock/roll").text


def test_a_job_chooses_where_several_things_fit(client: FlaskClient, control: FakeControl) -> None:
    """The chosen one is marked for eyes and for readers of the screen."""
    choices = [fake_jobs.choice(fake_jobs.ROLL, True), fake_jobs.choice(fake_jobs.STENCIL, False)]
    job = fake_jobs.JOB_ANSWERS["job"] | {"stock": choices}
    control.answers["job"] = lambda _request: job
    text = page(client, "/jobs/3")
    assert re.search(r'name="stock_id" value="4"[^>]*aria-pressed="true">Roll 4 \(Invented film\) ✓', text)
    assert "Which stencil is it for this job?" in text
    client.post("/jobs/3/stock", data={"stock_id": "5"}, headers=ORIGIN)
    assert asked(control, "job_stock") == {"job_id": 3, "stock_id": 5}
