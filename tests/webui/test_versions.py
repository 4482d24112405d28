"""Recipes as whole texts: search, compare, versions that panels were run with, export and import."""

import re
import threading
from io import BytesIO
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.checkedfile import FileProblemsError
from sumlight.store.recipes import RecipeStore, recipe_from_text
from sumlight_web.recipes import versions
from sumlight_web.recipes.compare import by_field, by_line
from tests.webui.given import BLUE, ORIGIN
from tests.webui.operating import operator_of
from tests.webui.test_panels import record

OTHER = BLUE.replace("60.0", "75.0").replace("Invented film 38", "Invented film 50")


@pytest.fixture
def shelf(data: Path) -> RecipeStore:
    """A shelf of two."""
    (data / "recipes" / "green-50.yaml").write_text(OTHER, encoding="utf-8")
    return RecipeStore(data / "recipes")


@pytest.mark.usefixtures("shelf")
def test_search_finds_by_name_resist_and_note(client: FlaskClient) -> None:
    """Every word has to be there, somewhere."""
    assert "blue-38" not in client.get("/recipes/?q=FILM+50").text
    assert "green-50" in client.get("/recipes/?q=FILM+50").text
    assert "No recipe has that in it." in client.get("/recipes/?q=purple").text


@pytest.mark.usefixtures("shelf")
def test_two_recipes_stand_side_by_side_and_differences_are_marked(client: FlaskClient) -> None:
    """By a sign, not by colour alone."""
    page = client.get("/recipes/compare?a=blue-38&b=green-50").text
    assert page.count("≠") == 2
    assert page.count('class="differs"') == 2
    assert client.get("/recipes/compare?a=blue-38&b=nothing").status_code == 404


def test_a_text_that_is_no_recipe_any_more_is_compared_by_line() -> None:
    """Old records stay readable when rules change."""
    assert by_field(BLUE, "no recipe") is None
    lines = by_line(BLUE, OTHER)
    assert "-dose_mj_cm2: 60.0" in lines
    assert "+dose_mj_cm2: 75.0" in lines


def test_versions_tell_what_changed_and_which_panels_used_which_text(client: FlaskClient, data: Path) -> None:
    """From the logbook, beside the text on the shelf."""
    record(data / "logbook.sqlite", "P1")
    (data / "recipes" / "blue-38.yaml").write_text(OTHER, encoding="utf-8")
    page = client.get("/recipes/blue-38/history").text
    assert "Not used yet." in page
    assert "60 → 75" in page
    assert ">P1<" in page.replace("\n", "").replace(" ", "")
    assert client.get("/recipes/no-such/history").status_code == 404


def test_versions_of_a_recipe_that_is_gone_are_still_told(client: FlaskClient, data: Path) -> None:
    """Records outlive files."""
    record(data / "logbook.sqlite")
    (data / "recipes" / "blue-38.yaml").unlink()
    assert client.get("/recipes/blue-38/history").status_code == 200


def test_export_is_the_file_to_the_byte(client: FlaskClient) -> None:
    """Comments and all."""
    answer = client.get("/recipes/blue-38/export.yaml")
    assert answer.text == BLUE
    assert 'filename="blue-38.yaml"' in answer.headers["Content-Disposition"]


def test_an_imported_file_takes_its_own_name_and_keeps_its_text(client: FlaskClient, data: Path) -> None:
    """As it was, not written anew."""
    text = "# by hand\n" + OTHER
    fields = {"file": (BytesIO(text.encode()), "green-50.yaml"), "name": ""}
    assert client.post("/recipes/import", data=fields, headers=ORIGIN).status_code == 303
    assert (data / "recipes" / "green-50.yaml").read_text(encoding="utf-8") == text


def test_a_pasted_text_is_imported_too(client: FlaskClient, data: Path) -> None:
    """A phone may have no file."""
    answer = client.post("/recipes/import", data={"name": "green", "text": OTHER.replace("\n", "\r\n")}, headers=ORIGIN)
    assert answer.status_code == 303
    assert RecipeStore(data / "recipes").load("green").recipe.dose_mj_cm2 == 75.0


def test_mistakes_of_a_file_are_told_in_the_readers_language(
    client: FlaskClient, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Imported, lying in the folder, or found when a form is saved: with their line, and marked as German."""
    client.set_cookie("sumlight_language", "de")
    broken = BLUE.replace("60.0", "0")
    line = broken[: broken.index("dose_mj_cm2")].count("\n") + 1
    answer = client.post("/recipes/import", data={"name": "x", "text": broken}, headers=ORIGIN)
    assert f"<li>x.yaml, Zeile {line}: dose_mj_cm2: muss " in answer.text
    (data / "recipes" / "torn.yaml").write_text(broken, encoding="utf-8")
    page = client.get("/recipes/").text
    assert f'Zeile {line}, <b>dose_mj_cm2</b>: <span lang="de">muss ' in page
    with pytest.raises(FileProblemsError) as caught:
        recipe_from_text(broken, "x")

    def refuse(*_asked: object, **_more: object) -> None:
        raise caught.value

    monkeypatch.setattr(RecipeStore, "save", refuse)
    typed = {"name": "new", "sides": "one", "known": "dose", "dose_mj_cm2": "60"}
    saved = client.post("/recipes/new", data=typed, headers=ORIGIN).text
    assert f"X.yaml, Zeile {line}: dose_mj_cm2: muss " in saved


TWO_MISTAKES = BLUE.replace("60.0", "0").replace("sides: one", "sides: both")


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"name": "x", "text": "dose_mj_cm2: -5"}, "line 1"),
        ({"name": "x"}, "Choose a file"),
        ({"name": "../x", "text": BLUE}, "Not a usable name"),
        ({"name": "blue-38", "text": BLUE}, "There is a recipe"),
        ({"name": "x", "text": TWO_MISTAKES}, ("dose_mj_cm2", "sides")),
        ({"name": "x", "file": (BytesIO(b"\xff\xfe\x00"), "x.yaml")}, "not a text file"),
    ],
)
def test_what_cannot_be_imported_is_said_and_saves_nothing(
    client: FlaskClient, data: Path, fields: dict[str, object], said: str | tuple[str, ...]
) -> None:
    """Never over an existing recipe. Several mistakes are told at once, each in a line of its own."""
    answer = client.post("/recipes/import", data=fields, headers=ORIGIN)
    assert answer.status_code == 422
    told = re.findall(r"<li>.*?</li>|<p>.*?</p>", answer.text)
    for words in (said,) if isinstance(said, str) else said:
        assert [line for line in told if words in line] != [], words
    assert [path.name for path in (data / "recipes").iterdir() if path.suffix == ".yaml"] == ["blue-38.yaml"]


def test_two_imports_are_worked_on_at_a_time_and_the_next_one_is_told_to_try_again(
    app: Flask, monkeypatch: pytest.MonkeyPatch, data: Path
) -> None:
    """A big one with nothing right in it takes seconds: more of them at once would hold every thread of the page."""
    inside, go_on = threading.Semaphore(0), threading.Event()

    def slow(text: str, name: str) -> None:
        inside.release()
        assert go_on.wait(60)

    monkeypatch.setattr(versions, "recipe_from_text", slow)
    statuses: list[int] = []

    def bring(name: str) -> None:
        answer = operators[name].post("/recipes/import", data={"name": name, "text": OTHER}, headers=ORIGIN)
        statuses.append(answer.status_code)

    operators = {name: operator_of(app) for name in ("one", "two", "three")}
    threads = [threading.Thread(target=bring, args=(name,)) for name in ("one", "two")]
    for thread in threads:
        thread.start()
        assert inside.acquire(timeout=60)
    third = threading.Thread(target=bring, args=("three",))
    third.start()
    third.join(20)
    refused = list(statuses)
    go_on.set()
    for thread in (*threads, third):
        thread.join(60)
    assert refused == [429]
    assert statuses == [429, 303, 303]
    assert sorted(path.stem for path in (data / "recipes").glob("t*.yaml")) == ["two"]
    assert (data / "recipes" / "one.yaml").read_text() == OTHER
