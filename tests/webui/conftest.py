"""What the tests of the page share: a fake control on a real socket, a data folder, the application."""

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient
from jinja2 import Undefined, UndefinedError
from jinja2.utils import missing

from sumlight.store.recipes import RecipeStore
from sumlight_web.access import operators
from sumlight_web.app import create_app
from sumlight_web.artwork.worktable import ArtworkDesk
from sumlight_web.services import AppServices, PageConfig
from tests.webui.compiled import compile_once
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.given import BLUE
from tests.webui.light_runs import KINDS, keep
from tests.webui.operating import QUICK_HASH, operator_of
from tests.webui.page_process import COMMON
from tests.webui.reading import Reader

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
def common(data: Path) -> Path:
    """The folder that several boxes share, with a recipe that this box does not have."""
    (data / COMMON).mkdir()
    (data / COMMON / "film-25.yaml").write_text(BLUE, encoding="utf-8")
    return data / COMMON


@pytest.fixture
def control(tmp_path: Path) -> Iterator[FakeControl]:
    """A fake control that listens."""
    with FakeControl(tmp_path / "control.sock", every_s=0.03) as fake:
        yield fake


class Misspelt(Undefined):
    """Asking an object for what it does not have is a mistake of the template, not an empty place on the page.

    A page may leave out a name, and a table of errors most of its keys.
    """

    def __init__(self, hint: str | None = None, obj: object = missing, name: str | None = None, *exc: Any) -> None:
        super().__init__(hint, obj, name, *exc)
        if obj is not missing and not isinstance(obj, Mapping):
            raise UndefinedError(f"{type(obj).__name__} has no '{name}'")


@pytest.fixture
def app(control: FakeControl, data: Path, common: Path) -> Iterator[Flask]:
    """The application, its watch already in touch with the fake control."""
    app = create_app(PageConfig(control.path, data, shared=common))
    app.testing = False
    app.jinja_env.undefined = Misspelt
    app.test_client_class = Reader
    services: AppServices = app.extensions["sumlight"]
    wait_until(lambda: services.watch.latest().live)
    yield app
    services.close()


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A browser without script, whose owner is the operator and has logged in."""
    return operator_of(app)


@pytest.fixture
def services(app: Flask) -> AppServices:
    """The desk of the application."""
    found: AppServices = app.extensions["sumlight"]
    return found


@pytest.fixture
def desk(services: AppServices) -> ArtworkDesk:
    """The desk of the application."""
    return services.artwork


@pytest.fixture
def runs(data: Path) -> dict[str, int]:
    """A logbook with one finished run of each kind."""
    found = {kind: keep(data / "logbook.sqlite", kind) for kind in KINDS}
    assert found == KINDS
    return found


@pytest.fixture
def shelf(data: Path) -> RecipeStore:
    """The shelf the page works on."""
    return RecipeStore(data / "recipes")
