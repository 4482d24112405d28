"""A shelf that is broken in every way that files can be: every page still comes, in words and without waiting."""

import os
import time
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.store import recipes
from sumlight_web.services import AppServices
from tests.webui.given import BLUE, ORIGIN

NAMES = ("pipe", "folder", "loop", "wide", "broken", "%EF%BF%BD", "%FF", "blue-38")
LIMIT_S = 2.0
"""Of work, which others on the machine do not add to; a wait for ever is ended by pytest's own limit."""


@pytest.fixture
def odd(data: Path) -> Path:
    """What malice or a bad day leaves among the recipes."""
    folder = data / "recipes"
    os.mkfifo(folder / "pipe.yaml")
    (folder / "folder.yaml").mkdir()
    (folder / "loop.yaml").symlink_to("loop.yaml")
    (folder / "wide.yaml").write_text(BLUE + "#" * 60_000, encoding="utf-8")
    (folder / "broken.yaml").write_text("a: 1\n" * 1600, encoding="utf-8")
    Path(os.fsdecode(os.fsencode(folder) + b"/\xff.yaml")).write_text(BLUE, encoding="utf-8")
    return folder


def gets(app: Flask) -> list[str]:
    """Every page without a variable part, and every page of a recipe with each odd name."""
    rules = [rule for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ()) and rule.endpoint != "static"]
    plain = [rule.rule for rule in rules if not rule.arguments and rule.rule != "/stream"]
    named = [rule.rule.replace("<name>", name) for rule in rules if rule.arguments == {"name"} for name in NAMES]
    asked = [f"/light/dose?recipe={name}" for name in NAMES] + [
        f"/recipes/compare?a={name}&b=blue-38" for name in NAMES
    ]
    return plain + named + asked


@pytest.mark.long
def test_every_page_comes_with_an_odd_shelf(app: Flask, client: FlaskClient, odd: Path) -> None:
    """No 500, nobody waits for a pipe; and the good recipe can be chosen all the same."""
    assert len(gets(app)) > 40
    for path in gets(app):
        began_s = time.thread_time()
        with client.get(path) as answer:  # the worker comes as a file, which stays open until then
            assert answer.status_code < 500, path
        assert time.thread_time() - began_s < LIMIT_S, path
    assert "blue-38" in client.get("/").text
    listed = client.get("/recipes/").text
    assert "is larger than 8 KiB" in listed
    assert "cannot be read: it is not a file" in listed
    assert listed.count("stands twice") == 19  # and a twentieth line that counts the rest
    assert "more mistakes from here on" in listed


@pytest.mark.parametrize("name", ["pipe", "folder", "loop", "broken"])
def test_nothing_is_saved_over_what_cannot_be_read(client: FlaskClient, odd: Path, name: str) -> None:
    """And nobody waits for it."""
    answer = client.post("/recipes/import", data={"name": name, "text": BLUE}, headers=ORIGIN)
    assert answer.status_code == 422
    assert os.path.lexists(odd / f"{name}.yaml")


def test_a_folder_that_cannot_be_read_is_said_and_the_bench_comes(
    app: Flask, client: FlaskClient, data: Path, services: AppServices
) -> None:
    """A file where the folder should be."""
    (data / "recipes").rename(data / "elsewhere")
    (data / "recipes").write_text("")
    for path in gets(app):
        with client.get(path) as answer:
            assert answer.status_code in (200, 302, 303, 404, 503), path
    assert client.get("/").status_code == 200
    assert "cannot be read" in client.get("/recipes/").text


def test_a_view_of_the_bench_works_out_no_recipe_again(
    client: FlaskClient, odd: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It parsed the whole shelf each time (review A3)."""
    client.get("/")
    parsed: list[str] = []
    real = recipes.recipe_from_text
    monkeypatch.setattr(recipes, "recipe_from_text", lambda text, name: (parsed.append(name), real(text, name))[1])
    client.get("/")
    assert parsed == []


def test_a_form_larger_than_a_recipe_is_refused_before_anything_is_made_of_it(client: FlaskClient) -> None:
    """Twenty kilobytes of note."""
    fields = {"name": "big", "resist": "x", "note": "x" * 20_000}
    answer = client.post("/recipes/new", data=fields, headers=ORIGIN)
    assert answer.status_code == 422
    assert "That is more than a recipe may hold: 8 KiB." in answer.text
