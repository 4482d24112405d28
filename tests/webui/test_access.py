"""Who may operate: set-up, log-in and log-out, what stays free, and what guessing meets."""

import json
import re
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight_web.access import backoff, operators
from sumlight_web.access.backoff import Backoff
from sumlight_web.access.gate import FREE_FOR_ALL, access_of
from sumlight_web.access.operators import OperatorDesk, OperatorsError
from sumlight_web.app import create_app
from sumlight_web.desk import Desk, PageConfig
from tests.store.making import no_room
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.given import ORIGIN

PASSWORD = "amber light 38"
PHONE = {"REMOTE_ADDR": "192.168.1.77"}
START = {"recipe": "blue-38", "panel": "P12", "note": ""}


@pytest.fixture(autouse=True)
def _quick_hashes(monkeypatch: pytest.MonkeyPatch) -> None:
    """The real hash takes 32 MB and a tenth of a second; one test below keeps to it."""
    monkeypatch.setattr(operators, "HASH_METHOD", "scrypt:1024:8:1")


@pytest.fixture
def phone(app: Flask) -> FlaskClient:
    """A browser on another machine."""
    client = app.test_client()
    client.environ_base |= PHONE
    return client


def set_up(app: Flask, name: str = "Ada") -> None:
    """Make an operator."""
    access_of(app).operators.put(name, PASSWORD)


def log_in(client: FlaskClient, name: str = "Ada", password: str = PASSWORD) -> int:
    """Try to log in; returns the status."""
    return client.post("/access/login", data={"name": name, "password": password}, headers=ORIGIN).status_code


def test_without_an_operator_this_machine_alone_may_operate(
    client: FlaskClient, phone: FlaskClient, control: FakeControl
) -> None:
    """A new box works at its own screen; everybody else is led to the first-run page."""
    assert client.post("/bench/start", data=START, headers=ORIGIN).location == "/"
    for path in ("/", "/recipes/", "/panels/", "/state.json", "/box/first", "/panels/export.csv"):
        answer = phone.get(path)
        assert (answer.status_code, answer.location) == (303, "/access/"), path
    assert phone.post("/bench/start", data=START, headers=ORIGIN).status_code == 401
    assert control.names() == ["start"]
    assert "Set-up code" in phone.get("/access/").text


@pytest.mark.parametrize("name", ["X-Forwarded-For", "Forwarded", "Via", "X-Real-Ip", "X-Forwarded-Proto"])
def test_a_proxy_on_this_machine_is_not_this_machine(client: FlaskClient, control: FakeControl, name: str) -> None:
    """Otherwise a reverse proxy would make everybody an operator."""
    assert client.post("/bench/start", data=START, headers=ORIGIN | {name: "203.0.113.9"}).status_code == 401
    assert control.names() == []


def test_dark_needs_nothing_from_anybody(app: Flask, phone: FlaskClient, control: FakeControl) -> None:
    """Before set-up and after, without log-in, even while log-ins are held back."""
    assert phone.post("/bench/dark", headers=ORIGIN).status_code == 303
    set_up(app)
    for _ in range(6):
        log_in(phone, password="wrong guess")
    assert phone.post("/bench/dark", headers=ORIGIN).status_code == 303
    assert control.names() == ["dark", "dark"]


def test_the_set_up_code_makes_the_first_operator_from_a_phone(
    app: Flask, phone: FlaskClient, data: Path, control: FakeControl
) -> None:
    """A wrong code does not; the right one, however it is written, does and is used up."""
    code = access_of(app).operators.set_up_code()
    fields = {"name": "Ada", "password": PASSWORD}
    refused = phone.post("/access/set-up", data=fields | {"code": "AAAA-AAAA"}, headers=ORIGIN)
    assert refused.status_code == 422
    assert "That is not the code" in refused.text
    given = fields | {"code": code.lower().replace("-", " ")}
    assert phone.post("/access/set-up", data=given, headers=ORIGIN).status_code == 303
    assert not (data / operators.CODE_FILE).exists()
    assert phone.post("/bench/start", data=START, headers=ORIGIN).location == "/"
    assert phone.post("/access/set-up", data=given, headers=ORIGIN).status_code == 409
    assert control.names() == ["start"]


def test_secrets_are_kept_from_other_users_and_passwords_are_not_kept_at_all(app: Flask, data: Path) -> None:
    """Files of mode 0600, and a hash."""
    access_of(app).operators.set_up_code()
    assert stat.S_IMODE((data / operators.CODE_FILE).stat().st_mode) == 0o600
    set_up(app)
    for name in (operators.FILE, operators.KEY_FILE):
        assert stat.S_IMODE((data / name).stat().st_mode) == 0o600, name
    assert PASSWORD not in (data / operators.FILE).read_text()


def test_the_real_hash_is_scrypt_as_the_library_has_it(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Werkzeug's default cost: N = 2**15, r = 8, p = 1 (outside check: RFC 7914 names these parameters so)."""
    monkeypatch.undo()
    desk = OperatorDesk(data)
    desk.put("Ada", PASSWORD)
    kept = json.loads((data / operators.FILE).read_text())["operators"][0]["password_hash"]
    assert kept.startswith("scrypt:32768:8:1$")
    assert desk.is_password("ada", PASSWORD)
    assert not desk.is_password("Ada", PASSWORD + " ")
    assert not desk.is_password("Nobody", PASSWORD)


def test_after_set_up_everybody_logs_in_to_operate_and_nobody_to_look(
    app: Flask, client: FlaskClient, phone: FlaskClient, control: FakeControl
) -> None:
    """Also at the box's own screen."""
    set_up(app)
    for browser in (client, phone):
        assert browser.get("/").status_code == 200
        assert "Log in to operate" in browser.get("/").text
        assert browser.get("/panels/").status_code == 200
        assert browser.post("/bench/start", data=START, headers=ORIGIN).status_code == 401
    assert log_in(phone) == 303
    assert phone.post("/bench/start", data=START, headers=ORIGIN).location == "/"
    assert control.names() == ["start"]


def test_every_route_that_changes_something_is_shut_to_watchers(
    app: Flask, phone: FlaskClient, control: FakeControl, data: Path
) -> None:
    """Walks the map of routes, so that a new one cannot be forgotten."""
    set_up(app)
    before = sorted(path.name for path in (data / "recipes").iterdir())
    checked = 0
    for rule in app.url_map.iter_rules():
        if "POST" not in (rule.methods or ()) or rule.endpoint in FREE_FOR_ALL:
            continue
        path = rule.rule.replace("<name>", "blue-38")
        path = path.replace("<any(go, dark, abandon, acknowledge):command>", "go")
        path = re.sub(r"<int\([^)]*\):\w+>", "1", path)
        assert "<" not in path, path
        assert phone.post(path, data={"name": "x", "text": "y"}, headers=ORIGIN).status_code == 401, path
        checked += 1
    assert checked >= 8
    assert control.names() == []
    assert sorted(path.name for path in (data / "recipes").iterdir()) == before


def test_scripts_are_told_where_to_log_in(app: Flask, phone: FlaskClient) -> None:
    """The Bench leads the person there."""
    set_up(app)
    answer = phone.post("/bench/go", headers=ORIGIN | {"Accept": "application/json"})
    assert answer.status_code == 401
    assert answer.json is not None
    assert (answer.json["error"]["code"], answer.json["error"]["href"]) == ("log_in", "/access/")


def test_the_session_cookie_is_out_of_reach(app: Flask, phone: FlaskClient) -> None:
    """HttpOnly and SameSite=Strict; Secure too when the browser came by HTTPS."""
    set_up(app)
    data = {"name": "Ada", "password": PASSWORD}
    cookie = phone.post("/access/login", data=data, headers=ORIGIN).headers["Set-Cookie"]
    assert "HttpOnly" in cookie
    assert "SameSite=Strict" in cookie
    assert "Secure" not in cookie
    https = {"X-Forwarded-Proto": "https", "Origin": "https://localhost"}
    assert "Secure" in phone.post("/access/login", data=data, headers=https).headers["Set-Cookie"]


def test_logging_out_ends_one_session_and_logging_everybody_out_ends_all(app: Flask, control: FakeControl) -> None:
    """The epoch does it: no list of sessions is kept."""
    set_up(app)
    browsers = [app.test_client() for _ in range(3)]
    for browser in browsers:
        assert log_in(browser) == 303
    browsers[0].post("/access/logout", headers=ORIGIN)
    assert [b.post("/bench/go", headers=ORIGIN).status_code for b in browsers] == [401, 303, 303]
    browsers[1].post("/access/logout-everywhere", headers=ORIGIN)
    assert [b.post("/bench/go", headers=ORIGIN).status_code for b in browsers] == [401, 401, 401]


def test_a_new_password_ends_the_old_sessions_but_not_the_own(app: Flask) -> None:
    """Whoever knew the old one is out."""
    set_up(app)
    mine, other = app.test_client(), app.test_client()
    assert (log_in(mine), log_in(other)) == (303, 303)
    mine.post("/access/operators", data={"name": "Ada", "password": "another 38 one"}, headers=ORIGIN)
    assert mine.post("/bench/go", headers=ORIGIN).status_code == 303
    assert other.post("/bench/go", headers=ORIGIN).status_code == 401
    assert log_in(other) == 401


def test_operators_are_added_and_taken_out_but_not_by_themselves(app: Flask, client: FlaskClient) -> None:
    """One always stays."""
    set_up(app)
    log_in(client)
    client.post("/access/operators", data={"name": "Grace", "password": PASSWORD}, headers=ORIGIN)
    assert "Grace" in client.get("/access/").text
    assert client.post("/access/operators/remove", data={"name": "Ada"}, headers=ORIGIN).status_code == 422
    client.post("/access/operators/remove", data={"name": "Grace"}, headers=ORIGIN)
    assert access_of(app).operators.known().names() == ["Ada"]


def test_a_forged_session_is_nobody(app: Flask, phone: FlaskClient) -> None:
    """Signed with another key."""
    set_up(app)
    phone.set_cookie("sumlight_session", "eyJvcGVyYXRvciI6IkFkYSIsImVwb2NoIjowfQ.aaaaaa.bbbbbbbbbbbbbbbbbbbbbbbbbbb")
    assert phone.post("/bench/go", headers=ORIGIN).status_code == 401


def test_guessing_is_held_back_for_longer_and_longer(app: Flask, phone: FlaskClient) -> None:
    """The fourth try has to wait, right or wrong; another address does not."""
    set_up(app)
    assert [log_in(phone, password=f"guess number {n}") for n in range(3)] == [401, 401, 401]
    answer = phone.post("/access/login", data={"name": "Ada", "password": PASSWORD}, headers=ORIGIN)
    assert answer.status_code == 429
    assert 0 < int(answer.headers["Retry-After"]) <= backoff.FIRST_WAIT_S
    assert "Too many tries" in answer.text
    other = app.test_client()
    other.environ_base |= {"REMOTE_ADDR": "192.168.1.78"}
    assert log_in(other) == 303


def test_waits_double_and_end() -> None:
    """With a clock of its own."""
    now = [100.0]
    guard = Backoff(lambda: now[0])
    waits = []
    for _ in range(backoff.FREE_MISSES + 4):
        assert guard.begin("a") == 0
        waits.append(guard.wait_s("a"))
        now[0] += waits[-1]
    assert waits == [0, 0, 5, 10, 20, 40, 80]
    guard.hit("a")
    assert guard.wait_s("a") == 0


def test_many_addresses_together_are_bounded_without_locking_known_ones_out() -> None:
    """A net full of guessers gets 30 tries a minute; an address that logged in before is not held up by it."""
    now = [100.0]
    guard = Backoff(lambda: now[0])
    guard.begin("known")
    guard.hit("known")
    tries = sum(guard.begin(f"stranger {n}") == 0 for n in range(500))
    assert tries == backoff.EVERYBODY_MISSES
    assert guard.begin("known") == 0
    now[0] += backoff.EVERYBODY_WINDOW_S + 1
    assert guard.begin("stranger 499") == 0


def test_records_of_addresses_never_grow_without_end() -> None:
    """A flood takes no memory."""
    now = [0.0]
    guard = Backoff(lambda: now[0])
    for n in range(3000):
        now[0] += 10
        guard.begin(f"address {n}")
    assert len(guard._records) <= backoff.MOST_ADDRESSES


@pytest.mark.parametrize("text", ["", "{", "[]", '{"epoch": "x"}', '{"epoch": 1, "operators": []}', "\x00\xff"])
def test_a_damaged_file_lets_nobody_operate(client: FlaskClient, data: Path, control: FakeControl, text: str) -> None:
    """Not even this machine: a damaged lock is not an open door. Dark still works."""
    (data / operators.FILE).write_text(text)
    assert client.post("/bench/start", data=START, headers=ORIGIN).status_code == 401
    assert "Nobody may operate" in client.get("/access/").text
    assert client.post("/access/login", data={"name": "a", "password": "b"}, headers=ORIGIN).status_code == 503
    assert client.post("/access/set-up", data={"name": "a", "password": PASSWORD}, headers=ORIGIN).status_code == 409
    assert client.post("/bench/dark", headers=ORIGIN).status_code == 303
    assert control.names() == ["dark"]


def test_removing_the_file_overcomes_a_lost_password_without_a_restart(app: Flask, client: FlaskClient) -> None:
    """Whoever can do that owns the box."""
    set_up(app)
    assert client.post("/bench/go", headers=ORIGIN).status_code == 401
    access_of(app).operators._path.unlink()
    assert client.post("/bench/go", headers=ORIGIN).status_code == 303


def test_a_folder_that_cannot_be_written_is_said_so(tmp_path: Path) -> None:
    """And nothing half-written stays."""
    desk = OperatorDesk(tmp_path / "missing")
    with pytest.raises(OperatorsError, match=r"operators\.json cannot be written"):
        desk.put("Ada", PASSWORD)


@pytest.mark.parametrize(
    ("name", "password", "field"),
    [("", PASSWORD, "name"), ("x" * 41, PASSWORD, "name"), ("<b>", PASSWORD, "name"), ("Ada", "short", "password")],
)
def test_names_and_passwords_have_rules(client: FlaskClient, app: Flask, name: str, password: str, field: str) -> None:
    """Said beside the field."""
    answer = client.post("/access/set-up", data={"name": name, "password": password}, headers=ORIGIN)
    assert answer.status_code == 422
    assert f'id="f-{field}-error"' in answer.text
    assert access_of(app).operators.known().names() == []


@pytest.fixture
def restarted(control: FakeControl, data: Path) -> Iterator[tuple[Flask, Flask]]:
    """The page before and after a restart, over the same data."""
    apps = [create_app(PageConfig(control.path, data)) for _ in range(2)]
    desks: list[Desk] = [app.extensions["sumlight"] for app in apps]
    for desk in desks:
        wait_until(lambda desk=desk: desk.watch.latest().live)  # type: ignore[misc]
    yield apps[0], apps[1]
    for desk in desks:
        desk.close()


def test_a_restart_of_the_page_logs_nobody_out(restarted: tuple[Flask, Flask]) -> None:
    """The key is kept."""
    before, after = restarted
    set_up(before)
    client = before.test_client()
    log_in(client)
    cookie = client.get_cookie("sumlight_session")
    assert cookie is not None
    again = after.test_client()
    again.set_cookie("sumlight_session", cookie.value)
    assert again.post("/bench/go", headers=ORIGIN).status_code == 303


def test_who_cleared_a_fault_is_on_record(app: Flask, client: FlaskClient, control: FakeControl) -> None:
    """The operator's name goes to the logbook."""
    set_up(app)
    log_in(client)
    client.post("/bench/acknowledge", headers=ORIGIN)
    assert control.commands[-1]["who"] == "Ada"


def test_a_full_disk_keeps_the_operators_and_says_why_a_new_one_is_not_there(
    app: Flask, client: FlaskClient, data: Path
) -> None:
    """The file stands whole, nothing half is left beside it, and a session goes on."""
    set_up(app)
    assert log_in(client) == 303
    before = (data / "operators.json").read_bytes()
    with no_room(len(before)):
        answer = client.post("/access/operators", data={"name": "Ben", "password": PASSWORD}, headers=ORIGIN)
    assert answer.status_code == 503
    assert "operators.json cannot be written" in answer.text
    assert (data / "operators.json").read_bytes() == before
    assert [file.name for file in data.iterdir() if "operators" in file.name] == ["operators.json"]
    assert access_of(app).operators.known().names() == ["Ada"]
    assert client.get("/access/").status_code == 200
