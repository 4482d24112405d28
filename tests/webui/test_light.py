"""The pages of Light: the state of calibration, tablet runs, and what goes into a recipe."""

from pathlib import Path
from typing import Any

import pytest
from flask.testing import FlaskClient

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import NewExposure, NewSide, SideState
from sumlight.store.recipes import RecipeStore
from sumlight_web.services import AppServices
from tests.webui import fake_answers as answers
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.given import BLUE
from tests.webui.light_runs import BEGAN, PLAN, READ, asked, beside, keep, post, refuse
from tests.webui.operating import NAME

# -- state of calibration ---------------------------------------------------------------------------------------------


def test_an_uncalibrated_box_says_so_and_what_to_do(client: FlaskClient) -> None:
    """Origin, age, both uncertainties, why a check is due, and the way to a tablet run."""
    page = client.get("/light/dose").text
    for words in (
        "check due",
        "a number that its builder wrote in",
        "never calibrated",
        "60.0 %",
        "What to do now",
        "/light/tablet",
    ):
        assert words in page
    assert "How far off a dose may be" in page
    assert "How far doses of this box lie apart" in page
    assert "known after the next exposure" in page


def test_a_relative_calibration_is_called_relative_in_plain_words(
    client: FlaskClient, control: FakeControl, services: AppServices
) -> None:
    """Somebody who never heard of it learns what cannot be done with such a dose."""
    block = answers.calibration(origin="teach", relative=True, check_due=False, age_hours=3.2)
    control.say(fake.snapshot(state="done", calibration={"lower": block}))
    wait_until(lambda: fake.state_of(services.watch) == "done")
    assert "in units of this box" in client.get("/light/").text
    page = client.get("/light/dose").text
    assert "they are not mJ/cm²" in page
    assert "3.2 lamp hours" in page
    assert "What to do now" not in page


def test_repeat_is_what_the_last_dose_told(client: FlaskClient, data: Path) -> None:
    """0.4 of 20 mJ/cm² are 2 % (outside check: division)."""
    budget = '{"expanded_repeat_mj_cm2": 0.4, "expanded_absolute_mj_cm2": 5.0}'
    logbook = Logbook(data / "logbook.sqlite", durable=False)
    side = NewSide("A", "lower", 20.0, 0.82)
    begun = logbook.begin(NewExposure("P", "", "blue-38", BLUE, "0" * 64, (side,), BEGAN, "Demo box", True))
    logbook.put_sides([SideState(begun.side_ids["A"], "done", 20.0, 0.1, 2.4, 0, 0.0, budget)], BEGAN)
    logbook.finish(begun.exposure_id, "completed", False, BEGAN)
    logbook.close()
    assert "2.0 %" in client.get("/light/dose").text


def test_it_is_judged_for_a_recipe(client: FlaskClient, control: FakeControl) -> None:
    """Each recipe tolerates something else."""
    assert client.get("/light/dose?recipe=blue-38").status_code == 200
    assert asked(control, "calibration") == {"tolerance": 0.1}


def test_without_word_from_the_box_nothing_is_shown_as_live(
    client: FlaskClient, control: FakeControl, services: AppServices
) -> None:
    """No calibration of yesterday."""
    control.mute.set()
    wait_until(lambda: not services.watch.latest().live)
    for path in ("/light/", "/light/dose"):
        page = client.get(path).text
        assert "No word from the box" in page.split("<main")[1].split("</main>")[0]
        assert "box.yaml" not in page
        assert "60 %" not in page
    control.mute.clear()


# -- tablet -----------------------------------------------------------------------------------------------------------


def test_doses_are_proposed_and_started_as_proposed(client: FlaskClient, control: FakeControl) -> None:
    """What the button says is what control gets; the Bench comes next."""
    page = post(client, "/light/tablet/plan", **PLAN).text
    assert asked(control, "tablet_plan") == {
        "recipe": "blue-38",
        "target_step": 9,
        "zones": 4,
        "reference_mj_cm2": 55.0,
    }
    assert "Start with zone 1: 31.6 mJ/cm²" in page
    assert 'name="dose" value="34.50"' in page
    response = post(client, "/light/tablet/start", **PLAN, dose=["31.60", "34.50"])
    assert (response.status_code, response.location) == (303, "/")
    series = asked(control, "series")
    assert (series["kind"], series["doses_mj_cm2"]) == ("tablet", [31.6, 34.5])
    assert (series["recipe_sha256"], series["side"]) == (fake.RECIPE_SHA256, "1")
    assert series["parameters"] == {"target_step": 9, "reference_mj_cm2": 55.0}
    assert "note" not in series
    assert series["who"] == NAME


@pytest.mark.parametrize("dose", [[], ["many"], ["1", "1e9"], ["1", ""]])
def test_doses_that_arrive_broken_start_nothing(client: FlaskClient, control: FakeControl, dose: list[str]) -> None:
    """Nothing half-way."""
    response = post(client, "/light/tablet/start", **PLAN, dose=dose)
    assert response.status_code == 422
    assert "Propose them again" in response.text
    assert control.names() == []


def test_the_form_for_readings_remembers_step_and_reference_and_asks_how_it_is_read(
    client: FlaskClient, runs: dict[str, int]
) -> None:
    """Neither convention is chosen beforehand."""
    page = client.get(f"/light/tablet/{runs['tablet']}").text
    assert (
        'name="target_step" type="text" maxlength="60" spellcheck="false" autocapitalize="none" '
        'inputmode="numeric" class="numeric" value="9"' in page
    )
    assert 'value="55"' in page
    assert "Last step held" in page
    assert "First step cleared" in page
    assert 'value="last_held" checked' not in page
    assert 'value="first_cleared" checked' not in page


def test_another_note_changes_neither_step_nor_reference(
    client: FlaskClient, runs: dict[str, int], services: AppServices
) -> None:
    """They are parameters of the run: a note is for people."""
    with Logbook(services.logbook_path) as book:
        book.put_note(runs["tablet"], "target step 3, reference 12 mJ/cm², or so I thought", "", NAME)
    page = client.get(f"/light/tablet/{runs['tablet']}").text
    assert 'class="numeric" value="9"' in page
    assert 'value="55"' in page
    assert 'value="3"' not in page
    with Logbook(services.logbook_path) as book:
        book.put_note(runs["tablet"], "", "", NAME)
    assert 'class="numeric" value="9"' in client.get(f"/light/tablet/{runs['tablet']}").text


@pytest.mark.parametrize("record", ["{}", '{"target_step": 40}', '{"target_step": "9"}', "[]"])
def test_a_run_whose_record_does_not_tell_proposes_no_step(
    client: FlaskClient, services: AppServices, record: str
) -> None:
    """A step that nobody chose would pass for the right one; √2 in the calibration is what a wrong one costs."""
    number = keep(services.logbook_path, "tablet", parameters=record)
    page = client.get(f"/light/tablet/{number}").text
    assert 'inputmode="numeric" class="numeric" value=""' in page.split('name="target_step"')[1][:200]
    assert "Fill this in." in post(client, f"/light/tablet/{number}", **READ | {"target_step": ""}).text


def test_a_parameter_that_control_refuses_stands_beside_its_field(client: FlaskClient, control: FakeControl) -> None:
    """Its name there is parameters.target_step."""
    refuse(control, "series", "parameters.target_step", "'target_step' is 21; it must lie between 2 and 20")
    page = post(client, "/light/tablet/start", **PLAN, dose=["31.60"]).text
    assert "it must lie between 2 and 20" in beside(page, "f-target-step")


def test_readings_go_to_control_as_read_and_come_back_with_an_interval(
    client: FlaskClient, control: FakeControl, runs: dict[str, int], shelf: RecipeStore
) -> None:
    """Steps, halves and convention; then the two ways to use the result."""
    page = post(
        client, f"/light/tablet/{runs['tablet']}", **READ, what_3="all_held", lot="L1", reference_percent="3"
    ).text
    told = asked(control, "tablet_readings")
    assert told["readings"] == [
        {"zone": "1", "step": 6, "half": True},
        {"zone": "2", "step": 7, "half": False},
        {"zone": "3", "step": "all_held"},
    ]
    assert (told["convention"], told["target_step"], told["lot"]) == ("last_held", 9, "L1")
    assert told["reference_uncertainty"] == pytest.approx(0.03)
    assert "apply" not in told
    assert "3.80 to 4.40 mJ/cm²" in page
    assert "Set the calibration by it" in page
    assert "Put 48.6 mJ/cm² into recipe blue-38" in page
    assert "8.0 %" in page  # 2 × 0.04 by the readings
    assert "10.0 %" in page  # with 3 % of the data sheet: 2 √(0.04² + 0.03²) (JCGM 100, 5.1.2)


def test_the_calibration_is_set_by_one_press(client: FlaskClient, control: FakeControl, runs: dict[str, int]) -> None:
    """The readings stay in the form, so nothing is typed twice."""
    control.answers["tablet_readings"] = lambda _r: answers.tablet(applied=True, calibration=answers.calibration())
    page = post(client, f"/light/tablet/{runs['tablet']}", **READ, apply="calibration").text
    assert asked(control, "tablet_readings")["apply"] == "calibration"
    assert "The calibration is set" in page


def test_a_surprise_has_to_be_confirmed(client: FlaskClient, control: FakeControl, runs: dict[str, int]) -> None:
    """A reading by the wrong convention is a whole step off."""
    control.answers["tablet_readings"] = lambda _r: answers.tablet(surprise=-4.2)
    page = post(client, f"/light/tablet/{runs['tablet']}", **READ, apply="calibration").text
    assert "I have read the tablet again" in page
    post(client, f"/light/tablet/{runs['tablet']}", **READ, apply="calibration", sure="yes")
    assert asked(control, "tablet_readings")["sure"] is True


def test_all_gone_offers_a_new_panel_with_four_times_the_doses(
    client: FlaskClient, control: FakeControl, runs: dict[str, int]
) -> None:
    """Common practice: ×4 when nothing held, so 10, 20 and 30 become 40, 80 and 120 (outside check: multiplication)."""
    control.answers["tablet_readings"] = lambda _r: answers.all_alike(4.0)
    page = post(client, f"/light/tablet/{runs['tablet']}", **READ).text
    assert "40, 80, 120 mJ/cm²" in page
    assert "Set the calibration by it" not in page


def test_a_zone_without_reading_and_a_missing_convention_are_named_at_their_fields(
    client: FlaskClient, control: FakeControl, runs: dict[str, int]
) -> None:
    """All at once, what was typed is kept."""
    page = post(client, f"/light/tablet/{runs['tablet']}", step_1="6", step_2="", step_3="7.5", target_step="9")
    assert page.status_code == 422
    assert "Choose one." in beside(page.text, "f-convention")
    assert "Fill this in." in beside(page.text, "f-step-2")
    assert "not a whole number" in beside(page.text, "f-step-3")
    assert 'value="6"' in page.text
    assert control.names() == []


def test_a_run_of_another_kind_or_one_that_goes_on_cannot_be_read(
    client: FlaskClient, data: Path, runs: dict[str, int]
) -> None:
    """A clear page instead."""
    assert client.get(f"/light/tablet/{runs['teach']}").status_code == 404
    open_run = keep(data / "logbook.sqlite", "tablet", ended=False)
    response = client.get(f"/light/tablet/{open_run}")
    assert response.status_code == 409
    assert "has not ended" in response.text
    empty = keep(data / "logbook.sqlite", "tablet", done="abandoned")
    assert "No zone of this run was finished" in client.get(f"/light/tablet/{empty}").text


def test_the_dose_of_a_tablet_goes_into_the_recipe_by_one_press_and_the_readings_are_kept(
    client: FlaskClient, control: FakeControl, runs: dict[str, int], shelf: RecipeStore
) -> None:
    """Control works them out once more and records them; the page leads on to the recipe, which has the dose."""
    at, sha256 = f"/light/tablet/{runs['tablet']}", shelf.load("blue-38").sha256
    assert f'name="sha256" value="{sha256}"' in post(client, at, **READ).text
    response = post(client, at, **READ, apply="recipe", sha256=sha256)
    assert (response.status_code, response.location) == (303, "/light/?written=blue-38")
    assert asked(control, "tablet_readings")["apply"] == "recipe"
    page = client.get(response.location).text
    assert 'href="/recipes/blue-38"' in page
    assert 'value="48.6"' in client.get("/recipes/blue-38").text
    assert shelf.load("blue-38").recipe.dose_mj_cm2 == 48.6
    again = post(client, at, **READ, apply="recipe", sha256=sha256)
    assert again.status_code == 409
    assert "was changed meanwhile" in again.text


# -- recipe -----------------------------------------------------------------------------------------------------------


def press_recipe(client: FlaskClient, shelf: RecipeStore, **changed: str) -> Any:
    """The button that writes a dose."""
    sha256 = shelf.load("blue-38").sha256
    return post(
        client,
        "/light/recipe",
        **{"recipe": "blue-38", "sha256": sha256, "key": "dose_mj_cm2", "value": "48.6"} | changed,
    )


def test_a_dose_goes_into_the_recipe_and_comments_stay(client: FlaskClient, shelf: RecipeStore) -> None:
    """One press, one number changed."""
    shelf.save("blue-38", "# by hand\n" + BLUE.replace("dose_mj_cm2: 60.0", "dose_mj_cm2: 60.0  # from the sheet"))
    response = press_recipe(client, shelf)
    assert (response.status_code, response.location) == (303, "/light/?written=blue-38")
    text = shelf.load("blue-38").text
    assert "# by hand" in text
    assert "dose_mj_cm2: 48.6  # from the sheet" in text
    assert "Recipe blue-38 is written." in client.get(response.location).text


@pytest.mark.parametrize(
    ("changed", "status"),
    [
        ({"sha256": "0" * 64}, 409),
        ({"recipe": "nobody"}, 409),
        ({"recipe": "../blue-38"}, 409),
        ({"value": "0.2"}, 409),
        ({"value": "999999"}, 409),
        ({"value": "much"}, 422),
        ({"value": ""}, 422),
        ({"key": "transmission.a"}, 422),
        ({"key": "hold_s"}, 422),
        ({"sha256": ""}, 409),
    ],
)
def test_nothing_else_is_ever_written_into_a_recipe(
    client: FlaskClient, shelf: RecipeStore, changed: dict[str, str], status: int
) -> None:
    """A changed file, an unsound dose, another key: refused, the file untouched."""
    response = press_recipe(client, shelf, **changed)
    assert response.status_code == status
    assert 'role="alert"' in response.text
    assert shelf.load("blue-38").text == BLUE
