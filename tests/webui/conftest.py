"""What the tests of the page share: a fake control on a real socket, a data folder, the application."""

from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight_web.app import create_app
from sumlight_web.desk import Desk, PageConfig
from tests.webui.fake_control import FakeControl, wait_until

ORIGIN = {"Origin": "http://localhost"}
"""What a browser sends along with a form of this page."""

BLUE = """\
resist: Invented film 38
thickness_um: 38.0
sides: one
dose_mj_cm2: 60.0
transmission:
  a: 0.82
time_guard_s: 300.0
hold_s: 900.0
interruptions:
  forgiven: 2
  longest_gap_s: 120.0
"""


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
    """A browser without script."""
    return app.test_client()


@pytest.fixture
def desk(app: Flask) -> Desk:
    """The desk of the application."""
    found: Desk = app.extensions["sumlight"]
    return found
