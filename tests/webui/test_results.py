"""Results of a recipe: what its panels say, and one press that makes a new version."""

import re
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import Taken
from sumlight.store.logbook.baths import BathPanel, BathRecord
from sumlight.store.logbook.jobs import PanelRecord
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.recipes import RecipeStore
from tests.store.logbook.test_jobs import JOB
from tests.store.logbook.test_results import lit
from tests.store.making import later
from tests.webui.fake_control import FakeControl
from tests.webui.given import ORIGIN
from tests.webui.scale_told import always, scale
from tests.webui.test_jobs import page

RESULTS = "/recipes/blue-38/results"
RATE = "etch_rates_um_min.brass.iron"


@pytest.fixture
def thin(control: FakeControl, data: Path) -> None:
    """Four panels that held two steps too few, and were in the developer too short; control takes what it is told."""
    with Logbook(data / "logbook.sqlite", durable=False) as book:
        for number in range(4):
            exposure = lit(book, f"P{number}", recipe="blue-38")
            known = {"held_step": 9.0, "wanted_step": 11.0, "clear_s": 32.0, "developed_s": 64.0}
            book.findings.put_findings(exposure, [], known, "Ada", later(3))
            book.put_verdict(exposure, "good", "Ada")
            etched(book, number, f"P{number}")
    control.answers["recipe_scales"] = always({"recipes": [scale(data, moved=False)]})
    control.answers["keep_dose"] = always(scale(data, moved=False))


def etched(book: Logbook, number: int, label: str, metal: str = "brass") -> None:
    """A panel of a job that took ten minutes for 50 µm in a fresh bath of ferric chloride."""
    book.jobs.put_job(JOB)
    book.jobs.put_panel(PanelRecord(number + 1, JOB.job_id, label))
    book.baths.put_bath(BathRecord(1, Contents("iron", 1.0, 36.0), later(0)))
    taken = Taken(metal, 50.0, 50.0, 600.0)
    book.baths.put_bath_panel(BathPanel(number + 1, 1, taken, later(5), later(6), number + 1, 17, label, 600.0, 0.0))


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
    answer = client.post(RESULTS, data=fields(text, "dose_mj_cm2"), headers=ORIGIN)
    assert (answer.status_code, answer.location) == (303, "/recipes/blue-38/history")
    now = shelf.load("blue-38")
    assert now.recipe.dose_mj_cm2 == pytest.approx(120, rel=0.15)
    (asked,) = [each for each in control.commands if each["command"] == "keep_dose"]
    assert (asked["recipe_sha256"], asked["before_mj_cm2"], asked["who"]) == (now.sha256, 60.0, "Ada")
    assert f"{now.recipe.dose_mj_cm2:g}" in page(client, answer.location)
    again = client.post(RESULTS, data=fields(text, "dose_mj_cm2"), headers=ORIGIN)
    assert again.status_code == 409
    assert shelf.load("blue-38").sha256 == now.sha256


@pytest.mark.usefixtures("thin")
def test_a_press_puts_the_break_point_in(client: FlaskClient, shelf: RecipeStore) -> None:
    """Sound panels that were clear at half of their dwell."""
    text = page(client, RESULTS)
    assert client.post(RESULTS, data=fields(text, "break_point_share"), headers=ORIGIN).status_code == 303
    assert shelf.load("blue-38").recipe.break_point_share == pytest.approx(0.517, abs=0.01)


@pytest.mark.usefixtures("thin")
def test_a_press_puts_the_etching_rate_in_and_shows_the_version(client: FlaskClient, shelf: RecipeStore) -> None:
    """50 µm in 10 min in a fresh bath are 5 µm/min (by hand); what stands there already is not offered again."""
    text = page(client, RESULTS)
    assert "Put 5 µm/min into the recipe" in text
    answer = client.post(RESULTS, data=fields(text, RATE), headers=ORIGIN)
    assert (answer.status_code, answer.location) == (303, "/recipes/blue-38/history")
    assert shelf.load("blue-38").recipe.etch_rates_um_min == {"brass": {"iron": 5.0}}
    assert "<b>Etching rate of brass in ferric chloride</b>: – → 5 µm/min" in page(client, answer.location)
    again = page(client, RESULTS)
    assert "The recipe says so already." in again
    assert RATE not in again


@pytest.mark.usefixtures("thin")
def test_what_was_not_offered_is_not_written(client: FlaskClient, shelf: RecipeStore) -> None:
    """A number of a person's own goes through the form of the recipe."""
    before, offered = shelf.load("blue-38").sha256, fields(page(client, RESULTS), "dose_mj_cm2")
    for wrong in ({"value": "300"}, {"what": "etch_rates_um_min.steel.iron"}, {"sha256": "0" * 64}):
        assert client.post(RESULTS, data=offered | wrong, headers=ORIGIN).status_code == 409
        assert shelf.load("blue-38").sha256 == before


@pytest.mark.usefixtures("thin")
def test_a_dose_of_another_scale_is_taken_over_first(
    client: FlaskClient, control: FakeControl, shelf: RecipeStore, data: Path
) -> None:
    """Two changes of one number at once nobody could follow."""
    waiting: dict[str, Any] = scale(data)
    control.answers["recipe_scales"] = always({"recipes": [waiting]})
    answer = client.post(RESULTS, data=fields(page(client, RESULTS), "dose_mj_cm2"), headers=ORIGIN)
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
