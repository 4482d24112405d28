"""What the tests of the page share: a fake control on a real socket, a data folder, the application."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.store.recipes import RecipeShelf
from sumlight_web.access import operators
from sumlight_web.app import create_app
from sumlight_web.desk import Desk, PageConfig
from tests.webui.compiled import compile_once
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.given import BLUE
from tests.webui.light_runs import KINDS, keep
from tests.webui.operating import QUICK_HASH, operator_of

compile_once()


@pytest.fixture(autouse=True)
def _quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(operators, "HASH_METHOD", QUICK_HASH)


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """A data folder with one invented recipe and no logbook yet."""
    (tmp_path / "recipes").mkdir()
    (tmp_path / "recipes" / "blue-38.yaml").write_text(BLUE, encoding="utf-8")
    return tmp_path


@pytest.fixture
def control(tmp_path: Path) -> Iterator[FakeControl]:
    """A fake control that listens."""
    with FakeControl(tmp_path / "control.sock", every_s=0.03) as fake:
        yield fake


@pytest.fixture
def app(control: FakeControl, data: Path) -> Iterator[Flask]:
    """The application, its watch already in touch with the fake control."""
    app = create_app(PageConfig(control.path, data))
    app.testing = False
    desk: Desk = app.extensions["sumlight"]
    wait_until(lambda: desk.watch.latest().live)
    yield app
    desk.close()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A browser without script, whose owner is the operator and has logged in."""
    return operator_of(app)


@pytest.fixture
def desk(app: Flask) -> Desk:
    """The desk of the application."""
    found: Desk = app.extensions["sumlight"]
    return found


@pytest.fixture
def runs(data: Path) -> dict[str, int]:
    """A logbook with one finished run of each kind."""
    found = {kind: keep(data / "logbook.sqlite", kind) for kind in KINDS}
    assert found == KINDS
    return found


@pytest.fixture
def shelf(data: Path) -> RecipeShelf:
    """The shelf the page works on."""
    return RecipeShelf(data / "recipes")
