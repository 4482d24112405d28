"""Sessions are kept by the page, so that ending one ends every copy of its cookie; they end by themselves too."""

import json
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.store import operators as files
from sumlight_web.access.sessions import MOST_SESSIONS, SessionKeeper
from sumlight_web.app import create_app
from sumlight_web.services import AppServices, PageConfig
from tests.store.making import no_room
from tests.webui.fake_control import SEEN_BEFORE_GO, FakeControl, wait_until
from tests.webui.given import ORIGIN
from tests.webui.operating import NAME, PASSWORD, log_in, operator_of, set_up

COOKIE = "sumlight_session"
DAY_S = 86_400.0


def copy_of(client: FlaskClient, app: Flask) -> FlaskClient:
    """Another browser with the same cookie, as somebody has it who could read along."""
    cookie = client.get_cookie(COOKIE)
    assert cookie is not None
    copied = app.test_client()
    copied.set_cookie(COOKIE, cookie.value)
    return copied


def may(client: FlaskClient) -> bool:
    """Whether it may operate."""
    return client.post("/bench/go", data=SEEN_BEFORE_GO, headers=ORIGIN).status_code == 303


def test_a_log_out_ends_a_copied_cookie_too_and_no_other_session(app: Flask) -> None:
    """The token is forgotten here, not only in the browser."""
    browser, other = operator_of(app), operator_of(app)
    copied = copy_of(browser, app)
    assert may(copied)
    browser.post("/access/logout", headers=ORIGIN)
    assert [may(browser), may(copied), may(other)] == [False, False, True]


def test_logging_everybody_out_ends_all(app: Flask) -> None:
    """Copies too."""
    browsers = [operator_of(app) for _ in range(3)]
    browsers.append(copy_of(browsers[0], app))
    browsers[1].post("/access/logout-everywhere", headers=ORIGIN)
    assert [may(browser) for browser in browsers] == [False] * 4


def test_logging_in_anew_ends_the_session_before(app: Flask) -> None:
    """One browser has one session."""
    browser = operator_of(app)
    copied = copy_of(browser, app)
    assert log_in(browser) == 303
    assert [may(browser), may(copied)] == [True, False]


@pytest.mark.parametrize("how", ["everybody out, then removed", "removed", "reset"])
def test_old_cookies_never_come_back_with_the_same_name(app: Flask, data: Path, how: str) -> None:
    """Neither when the file is removed by hand nor by the command; the password may even be the same."""
    browser = operator_of(app)
    copied = copy_of(browser, app)
    if how == "reset":
        files.reset(data)
    else:
        if how != "removed":
            browser.post("/access/logout-everywhere", headers=ORIGIN)
        (data / "page" / "operators.json").unlink()
    assert not may(copied)
    set_up(app)
    assert not may(copied)
    assert may(operator_of(app))


def test_old_sessions_do_not_come_back_even_if_their_file_does(app: Flask, data: Path) -> None:
    """A late write of the page may cross the reset; sessions count for the operators they were begun under only."""
    browser = operator_of(app)
    kept = (data / "page" / "sessions.json").read_bytes()
    files.reset(data)
    (data / "page" / "sessions.json").write_bytes(kept)
    set_up(app)
    assert not may(browser)


@pytest.fixture
def pages(control: FakeControl, data: Path) -> Iterator[tuple[Flask, Flask]]:
    """The page before and after a restart, over the same data."""
    apps = [create_app(PageConfig(control.path, data)) for _ in range(2)]
    desks: list[AppServices] = [app.extensions["sumlight"] for app in apps]
    for services in desks:
        wait_until(lambda services=services: services.watch.latest().live)  # type: ignore[misc]
    yield apps[0], apps[1]
    for services in desks:
        services.close()


def test_a_restart_of_the_page_logs_nobody_out_and_nobody_in(pages: tuple[Flask, Flask]) -> None:
    """What was ended before stays ended."""
    before, after = pages
    stays, goes = operator_of(before), operator_of(before)
    assert may(copy_of(stays, after))
    copied = copy_of(goes, after)
    goes.post("/access/logout", headers=ORIGIN)
    assert not may(copied)
    assert may(copy_of(stays, after))


class Kept:
    """A keeper with a clock of its own and one session."""

    def __init__(self, folder: Path) -> None:
        self.now_s = 1_800_000_000.0
        self.folder = folder
        self.keeper = self.again()
        self.token = self.keeper.begin(NAME, "epoch")

    def again(self) -> SessionKeeper:
        """As after a restart."""
        return SessionKeeper(self.folder, lambda: self.now_s)

    def after(self, days: float) -> bool:
        """Whether it goes on when so many more days have passed, here and after a restart."""
        self.now_s += days * DAY_S
        found = [keeper.find(self.token) is not None for keeper in (self.keeper, self.again())]
        assert found[0] == found[1]
        return found[0]


def test_a_session_that_is_not_used_ends_after_14_days(tmp_path: Path) -> None:
    """Use keeps it."""
    kept = Kept(tmp_path)
    assert [kept.after(days) for days in (13.9, 13.9, 14.1)] == [True, True, False]


def test_a_session_ends_after_90_days_however_much_it_is_used(tmp_path: Path) -> None:
    """Every day."""
    kept = Kept(tmp_path)
    assert [kept.after(1.0) for _ in range(95)] == [True] * 90 + [False] * 5


def test_a_session_begun_under_a_wrong_clock_does_not_last_for_ever(tmp_path: Path) -> None:
    """The clock was years ahead and is put right; one that is behind by minutes matters to nobody."""
    kept = Kept(tmp_path)
    assert kept.after(-0.01)
    assert not kept.after(-400.0)


def test_use_is_written_down_seldom(tmp_path: Path) -> None:
    """To spare the card: not at each of a thousand requests."""
    kept = Kept(tmp_path)
    before = (tmp_path / "sessions.json").stat().st_ino
    for _ in range(100):
        assert kept.after(1 / 86_400)
    assert (tmp_path / "sessions.json").stat().st_ino == before


def test_the_file_never_grows_without_end(tmp_path: Path) -> None:
    """The longest unused give way."""
    kept = Kept(tmp_path)
    tokens = []
    for _ in range(MOST_SESSIONS + 20):
        kept.now_s += 1
        tokens.append(kept.keeper.begin(NAME, "epoch"))
    assert len(json.loads((tmp_path / "sessions.json").read_text())["sessions"]) == MOST_SESSIONS
    assert kept.keeper.find(kept.token) is None
    assert kept.keeper.find(tokens[-1]) is not None


@pytest.mark.parametrize("text", ["", "{", "[]", '{"sessions": [5]}', '{"sessions": [{}]}', "\xff", "[" * 100_000])
def test_a_damaged_file_logs_everybody_out_and_the_next_log_in_mends_it(app: Flask, data: Path, text: str) -> None:
    """No 500, and nobody is let in."""
    browser = operator_of(app)
    (data / "page" / "sessions.json").write_text(text, encoding="latin-1")
    assert not may(browser)
    assert browser.get("/").status_code == 200
    assert log_in(browser) == 303
    assert may(browser)


def test_on_a_full_disk_one_can_log_in_and_a_log_out_that_may_not_last_is_said_so(app: Flask, data: Path) -> None:
    """The lamps are dark then, and somebody has to clear the fault."""
    set_up(app)
    browser = app.test_client()
    with no_room(len((data / "page" / "operators.json").read_bytes())):
        assert log_in(browser, password=PASSWORD) == 303
        assert may(browser)
    assert may(browser)
    copied = copy_of(operator_of(app), app)
    with no_room(10):
        answer = copied.post("/access/logout", headers=ORIGIN)
    assert answer.status_code == 503
    assert "sessions.json cannot be written" in answer.text
    assert not may(copied)
