"""Results of a recipe: what its panels say, and one press that makes a new version."""

import re
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.recipes import RecipeStore
from tests.store.logbook.test_results import lit
from tests.store.making import later
from tests.webui.fake_control import FakeControl
from tests.webui.given import ORIGIN
from tests.webui.scale_told import always, scale
from tests.webui.test_jobs import page

RESULTS = "/recipes/blue-38/results"


@pytest.fixture
def thin(control: FakeControl, data: Path) -> None:
    """Four panels that held two steps too few, and were in the developer too short; control takes what it is told."""
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        for number in range(4):
            exposure = lit(book, f"P{number}", recipe="blue-38")
            known = {"held_step": 9.0, "wanted_step": 11.0, "clear_s": 32.0, "developed_s": 64.0}
            book.findings.put_findings(exposure, [], known, "Ada", later(3))
            book.put_verdict(exposure, "good", "Ada")
    control.answers["recipe_scales"] = always({"recipes": [scale(data, moved=False)]})
    control.answers["keep_dose"] = always(scale(data, moved=False))


def fields(text: str, what: str) -> dict[str, str]:
    """What the press for one number sends."""
    form = next(form for form in re.findall(r"<form.*?</form>", text) if f'value="{what}"' in form)
    return dict(re.findall(r'name="(sha256|value)" value="([^"]*)"', form)) | {"what": what}


def test_without_results_it_says_what_counts(client: FlaskClient) -> None:
    """And offers nothing."""
    text = page(client, RESULTS)
    assert "No panel says anything yet." in text
    assert 'name="what"' not in text
    assert f'href="{RESULTS}"' in page(client, "/recipes/")


@pytest.mark.usefixtures("thin")
def test_a_press_puts_the_dose_in_and_shows_the_version(
    client: FlaskClient, control: FakeControl, shelf: RecipeStore
) -> None:
    """About twice the dose, for two steps are a factor of two; control is told the scale that it is meant on."""
    before = shelf.load("blue-38")
    text = page(client, RESULTS)
    assert "The recipe lies outside." in text
    assert shelf.load("blue-38").sha256 == before.sha256
    answer = client.post(RESULTS, data=fields(text, "dose"), headers=ORIGIN)
    assert (answer.status_code, answer.location) == (303, "/recipes/blue-38/history")
    now = shelf.load("blue-38")
    assert now.recipe.dose_mj_cm2 == pytest.approx(120, rel=0.15)
    (asked,) = [each for each in control.commands if each["command"] == "keep_dose"]
    assert (asked["recipe_sha256"], asked["before_mj_cm2"], asked["who"]) == (now.sha256, 60.0, "Ada")
    assert f"{now.recipe.dose_mj_cm2:g}" in page(client, answer.location)
    again = client.post(RESULTS, data=fields(text, "dose"), headers=ORIGIN)
    assert again.status_code == 409
    assert shelf.load("blue-38").sha256 == now.sha256


@pytest.mark.usefixtures("thin")
def test_a_press_puts_the_break_point_in(client: FlaskClient, shelf: RecipeStore) -> None:
    """Sound panels that were clear at half of their dwell."""
    text = page(client, RESULTS)
    assert client.post(RESULTS, data=fields(text, "break_point"), headers=ORIGIN).status_code == 303
    assert shelf.load("blue-38").recipe.break_point_share == pytest.approx(0.517, abs=0.01)


@pytest.mark.usefixtures("thin")
def test_what_was_not_offered_is_not_written(client: FlaskClient, shelf: RecipeStore) -> None:
    """A number of a person's own goes through the form of the recipe."""
    before, offered = shelf.load("blue-38").sha256, fields(page(client, RESULTS), "dose")
    for wrong in ({"value": "300"}, {"what": "etch_rate"}, {"sha256": "0" * 64}):
        assert client.post(RESULTS, data=offered | wrong, headers=ORIGIN).status_code == 409
        assert shelf.load("blue-38").sha256 == before


@pytest.mark.usefixtures("thin")
def test_a_dose_of_another_scale_is_taken_over_first(
    client: FlaskClient, control: FakeControl, shelf: RecipeStore, data: Path
) -> None:
    """Two changes of one number at once nobody could follow."""
    waiting: dict[str, Any] = scale(data)
    control.answers["recipe_scales"] = always({"recipes": [waiting]})
    answer = client.post(RESULTS, data=fields(page(client, RESULTS), "dose"), headers=ORIGIN)
    assert answer.status_code == 409
    assert "take it over first" in answer.text
    assert shelf.load("blue-38").recipe.dose_mj_cm2 == 60


@pytest.mark.usefixtures("thin")
def test_a_watcher_sees_results_and_has_no_press(app: Flask) -> None:
    """As everywhere."""
    watcher = app.test_client()
    assert "The recipe lies outside." in page(watcher, RESULTS)
    assert 'name="what"' not in watcher.get(RESULTS).text
    assert watcher.post(RESULTS, data={"what": "dose"}, headers=ORIGIN).status_code == 401
