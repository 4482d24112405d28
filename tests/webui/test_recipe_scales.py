"""Recipes whose dose was found on another scale: shown with what the same light is called now, taken over or kept."""

from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.protocol.errors import BadRequestError
from sumlight.store.recipes import RecipeStore
from sumlight.text.message import say
from tests.webui.fake_control import FakeControl
from tests.webui.given import BLUE, ORIGIN
from tests.webui.scale_told import always, scale

PRESS = "/recipes/blue-38/take-over"


def kept(control: FakeControl) -> list[dict[str, Any]]:
    """What was asked of control about keeping a dose."""
    return [each for each in control.commands if each["command"] == "keep_dose"]


@pytest.fixture
def told(control: FakeControl, data: Path) -> dict[str, Any]:
    """A recipe that waits; control takes what it is told."""
    (data / "recipes" / "blue-38.yaml").write_text(BLUE + "found_at_mw_cm2: 4.5\n# mine\n", encoding="utf-8")
    waiting = scale(data)
    control.answers["recipe_scales"] = always({"recipes": [waiting]})
    control.answers["keep_dose"] = always(scale(data, moved=False, same_light_mj_cm2=None))
    return waiting


def test_a_dose_on_an_old_scale_is_shown_with_its_number_on_the_new_one(
    app: Flask, client: FlaskClient, told: dict[str, Any]
) -> None:
    """Whoever only watches sees it, and no button."""
    page = client.get("/recipes/").text
    assert "The same light is now called 44.44 mJ/cm², not 60." in page
    assert "The same light: 44.44" in page
    assert "keep 60" in page
    watched = app.test_client().get("/recipes/").text
    assert "44.44" in watched
    assert "keep 60" not in watched


def test_one_press_puts_in_what_the_same_light_is_called(
    client: FlaskClient, control: FakeControl, shelf: RecipeStore, told: dict[str, Any]
) -> None:
    """The irradiance that it was found at is called otherwise by the same factor; comments stay; it goes on record."""
    form = {"sha256": told["sha256"], "dose": "44.44", "act": "take"}
    answer = client.post(PRESS, data=form, headers=ORIGIN)
    assert (answer.status_code, answer.location) == (303, "/recipes/?saved=blue-38")
    now = shelf.load("blue-38")
    assert (now.recipe.dose_mj_cm2, now.recipe.found_at_mw_cm2) == (44.44, pytest.approx(4.5 * 44.4444 / 60, abs=5e-4))
    assert "# mine" in now.text
    (asked,) = kept(control)
    assert (asked["recipe_sha256"], asked["before_mj_cm2"], asked["who"]) == (now.sha256, 60.0, "Ada")


def test_a_dose_from_a_data_sheet_is_kept_as_it_is(
    client: FlaskClient, control: FakeControl, shelf: RecipeStore, told: dict[str, Any]
) -> None:
    """Nothing is written into the file."""
    answer = client.post(PRESS, data={"sha256": told["sha256"], "act": "keep"}, headers=ORIGIN)
    assert answer.status_code == 303
    assert shelf.load("blue-38").sha256 == told["sha256"]
    (asked,) = kept(control)
    assert "before_mj_cm2" not in asked


@pytest.mark.parametrize(
    ("form", "words"),
    [
        ({"sha256": "0" * 64, "dose": "44.44"}, "was changed meanwhile"),
        ({"dose": "45.44"}, "Its number has changed meanwhile"),
    ],
)
def test_a_press_for_something_else_writes_nothing(
    client: FlaskClient, control: FakeControl, shelf: RecipeStore, told: dict[str, Any], form: Any, words: str
) -> None:
    """Another file than was on the screen, or another number than was on the button."""
    answer = client.post(PRESS, data={"sha256": told["sha256"], "act": "take", **form}, headers=ORIGIN)
    assert answer.status_code == 409
    assert words in answer.text
    assert shelf.load("blue-38").sha256 == told["sha256"]
    assert kept(control) == []


def test_where_no_number_is_known_it_can_only_be_kept(
    client: FlaskClient, control: FakeControl, data: Path, told: dict[str, Any]
) -> None:
    """With other lamps, nobody knows what the light of then is called."""
    unknown = say("dose_of_other_light", side="A", dose_mj_cm2=60.0)
    control.answers["recipe_scales"] = always({"recipes": [scale(data, same_light_mj_cm2=None, sentence=unknown)]})
    page = client.get("/recipes/").text
    assert "nobody knows" in page
    assert "The same light:" not in page
    answer = client.post(PRESS, data={"sha256": told["sha256"], "act": "take", "dose": "44.44"}, headers=ORIGIN)
    assert answer.status_code == 409


def test_each_dose_names_its_scale(client: FlaskClient, control: FakeControl, data: Path) -> None:
    """In box units as long as nothing outside has checked them; else by which calibration, and of when."""
    units = scale(data, moved=False, same_light_mj_cm2=None, relative=True, sentence=say("dose_in_box_units"))
    control.answers["recipe_scales"] = always({"recipes": [units]})
    assert "60 box units" in client.get("/recipes/").text
    by = {"origin": "radiometer", "relative": False, "calibrated_utc": "2026-05-02T10:00:00+00:00"}
    found = {**units["found"], **by}
    sentence = say("dose_by_calibration", origin=say("from_radiometer"))
    by_radiometer = {**units, "found": found, "relative": False, "sentence": sentence}
    control.answers["recipe_scales"] = always({"recipes": [by_radiometer]})
    page = client.get("/recipes/").text
    assert "60 mJ/cm²" in page
    assert (
        "<p>In mJ/cm², found under a calibration (radiometer)" in page
    )  # in sight: "quiet" is for screen readers only
    assert "2026-05-02" in page or "2 May" in page


def test_the_list_is_there_while_control_has_no_time(client: FlaskClient, control: FakeControl) -> None:
    """Under light it opens no file."""

    def refuse(_fields: dict[str, Any]) -> dict[str, Any]:
        raise BadRequestError("refused", say("exposure_under_way"))

    control.answers["recipe_scales"] = refuse
    page = client.get("/recipes/")
    assert page.status_code == 200
    assert "blue-38" in page.text
