"""The box tells what has changed, from the changelog that came with the program."""

import tomllib
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from markupsafe import escape

from sumlight_web.box.changes import read, versions
from sumlight_web.language import LANGUAGES

ROOT = Path(__file__).parents[2]


def test_the_box_shows_its_changelog(client: FlaskClient) -> None:
    """Every point of it, reached from the page Box."""
    assert 'href="/box/changes"' in client.get("/box/").text
    page = client.get("/box/changes").text
    assert "<code>sumlight recipes new</code>" in page
    page = page.replace("<code>", "`").replace("</code>", "`")
    told = [point for version in versions("en") for group in version.groups for point in group.points]
    assert told
    assert all(str(escape(point)) in page for point in told)


def test_the_newest_version_is_the_one_that_is_built() -> None:
    """Or the box would tell of another program."""
    version = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]["version"]
    assert versions("en")[0].title.split()[0] == version


@pytest.mark.parametrize("language", [code for code in LANGUAGES if code != "en"])
def test_every_language_tells_all_of_it(language: str) -> None:
    """Version by version, group by group, point by point."""

    def shape(code: str) -> list[list[int]]:
        return [[len(group.points) for group in version.groups] for version in versions(code)]

    assert versions(language) != versions("en")
    assert shape(language) == shape("en")


def test_a_point_may_go_on_over_lines() -> None:
    """As the file is wrapped."""
    (version,) = read("# Head\n\nWords.\n\n## 1.0\n\n### Light\n- One point\n  goes on.\n- Another.\n")
    assert version.groups[0].points == ["One point goes on.", "Another."]


@pytest.mark.parametrize("text", ["## 1.0\n- a point without a group\n", "## 1.0\nloose words\n", "## 1\n  indented\n"])
def test_a_line_that_belongs_nowhere_is_named(text: str) -> None:
    """Instead of being dropped from the page."""
    with pytest.raises(ValueError, match="line 2"):
        read(text)
