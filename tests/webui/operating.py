"""An operator for tests of the page, made and logged in as a person would, only with a quick hash."""

from pathlib import Path

from flask import Flask
from flask.testing import FlaskClient
from playwright.sync_api import Page
from werkzeug.security import generate_password_hash

from sumlight.store.operators import Operators, access_folder, read_operators, write_operators
from sumlight_web.access.gate import access_of
from tests.webui.given import ORIGIN

NAME = "Ada"
PASSWORD = "amber light 38"
QUICK_HASH = "scrypt:1024:1:1"
"""The least of work that the page takes; the real hash takes 32 MB and a tenth of a second."""


def set_up(app: Flask, name: str = NAME) -> None:
    """Make the first operator, or a further one."""
    desk = access_of(app).operators
    if desk.known().hashes:
        desk.put(name, PASSWORD)
    else:
        desk.found(name, PASSWORD, desk.set_up_code())


def log_in(client: FlaskClient, name: str = NAME, password: str = PASSWORD) -> int:
    """Try to log in; returns the status."""
    return client.post("/access/login", data={"name": name, "password": password}, headers=ORIGIN).status_code


def operator_of(app: Flask) -> FlaskClient:
    """A browser whose owner has logged in."""
    if not access_of(app).operators.known().hashes:
        set_up(app)
    client = app.test_client()
    assert log_in(client) == 303
    return client


def give_operator(data: Path, method: str = QUICK_HASH) -> None:
    """Put an operator into a data folder, unless there is one."""
    folder = access_folder(data)
    if not read_operators(folder).hashes:
        write_operators(folder, Operators(hashes=((NAME, generate_password_hash(PASSWORD, method)),)))


def become_operator(page: Page, url: str, data: Path) -> None:
    """Log a real browser in at the page that serves `data` at `url`."""
    give_operator(data)
    home = url.rstrip("/")
    form = {"name": NAME, "password": PASSWORD}
    answer = page.request.post(f"{home}/access/login", form=form, headers={"Origin": home}, max_redirects=0)  # type: ignore[arg-type]
    assert answer.status == 303, answer.text()
