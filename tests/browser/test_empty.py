"""A new box: what is not there yet takes a sentence and an act, not a screen of empty tables."""

from pathlib import Path

import pytest

from tests.browser.conftest import Open

PHONE = {"width": 360, "height": 640}


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A data folder without recipes, panels or faults."""
    (tmp_path / "recipes").mkdir()
    return tmp_path


def test_nothing_takes_little_room(visit: Open) -> None:
    """All of it stands above the bar of a phone, and no table or curve comes without a row in it."""
    seen = visit(PHONE)
    for path in ("/panels/", "/recipes/", "/box/faults"):
        seen.go(path)
        main = seen.page.locator("main").bounding_box()
        bar = seen.page.locator("#bar").bounding_box()
        assert main is not None
        assert bar is not None
        assert main["y"] + main["height"] <= bar["y"], path
        assert seen.page.locator("main :is(table, canvas)").filter(visible=True).count() == 0, path
