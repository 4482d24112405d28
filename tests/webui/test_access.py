"""Who may operate: set-up, log-in and log-out, what stays free, and what guessing meets."""

import json
import re
import stat
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.store import operators as files
from sumlight.store.operators import OperatorsError
from sumlight_web.access import backoff
from sumlight_web.access.backoff import Backoff
from sumlight_web.access.gate import FREE_FOR_ALL, access_of
from sumlight_web.access.operators import NotNowError, OperatorStore
from tests.store.making import no_room
from tests.webui.fake_control import SEEN_BEFORE_GO, SEEN_BEFORE_START, FakeControl
from tests.webui.given import ORIGIN
from tests.webui.operating import PASSWORD, log_in, set_up

PHONE = {"REMOTE_ADDR": "192.168.1.77"}
START = {"recipe": "blue-38", "panel": "P12", "note": ""} | SEEN_BEFORE_START
NEW = {"name": "Ada", "password": PASSWORD}


@pytest.fixture
def client(app: Flask) -> FlaskClient:
    """A browser on the box's own machine; nobody has logged in."""
    return app.test_client()


@pytest.fixture
def phone(app: Flask) -> FlaskClient:
    """A browser on another machine."""
    client = app.test_client()
    client.environ_base |= PHONE
    return client


FORGED: list[dict[str, str]] = [
    {},
    {"Host": "127.0.0.1:8765", "Origin": "http://127.0.0.1:8765"},
    {"Host": "localhost:8765", "Origin": "http://localhost:8765"},
    *({name: "127.0.0.1"} for name in ("X-Forwarded-For", "X-Real-Ip", "X-Forwarded-Host", "Forwarded", "Via")),
]
"""What a proxy, a tunnel or a stranger may make of a request."""


@pytest.mark.parametrize("headers", FORGED, ids=lambda headers: next(iter(headers), "plain"))
@pytest.mark.parametrize("address", ["127.0.0.1", "::1", "192.168.1.77"])
def test_before_there_is_an_operator_nobody_operates_wherever_they_are(
    client: FlaskClient, control: FakeControl, address: str, headers: dict[str, str]
) -> None:
    """Neither an address nor a header makes anybody an operator, or spares them the set-up code."""
    client.environ_base |= {"REMOTE_ADDR": address}
    for path in ("/bench/start", "/bench/go", "/bench/hands", "/box/backup", "/access/operators"):
        assert client.post(path, data=START, headers=ORIGIN | headers).status_code == 401, path
    assert client.post("/access/set-up", data=NEW, headers=ORIGIN | headers).status_code == 422
    assert "Set-up code" in client.get("/access/", headers=headers).text
    assert control.names() == []


def test_before_there_is_an_operator_everybody_looks_and_is_led_to_the_first_run(phone: FlaskClient) -> None:
    """The same as later: reading is free."""
    for path in ("/", "/recipes/", "/panels/", "/box/first", "/light/"):
        page = phone.get(path)
        assert page.status_code == 200, path
        assert "This box has no operator yet" in page.text, path
        assert 'href="/access/"' in page.text, path


def test_dark_needs_nothing_from_anybody(app: Flask, phone: FlaskClient, control: FakeControl) -> None:
    """Before set-up and after, without log-in, even while log-ins are held back."""
    assert phone.post("/bench/dark", headers=ORIGIN).status_code == 303
    set_up(app)
    for _ in range(6):
        log_in(phone, password="wrong guess")
    assert phone.post("/bench/dark", headers=ORIGIN).status_code == 303
    assert control.names() == ["dark", "dark"]


def test_the_set_up_code_makes_the_first_operator_from_anywhere(
    app: Flask, phone: FlaskClient, data: Path, control: FakeControl
) -> None:
    """A wrong code does not; the right one, however it is written, does and is used up."""
    code = access_of(app).operators.set_up_code()
    refused = phone.post("/access/set-up", data=NEW | {"code": "AAAA-AAAA-AAAA"}, headers=ORIGIN)
    assert refused.status_code == 422
    assert "That is not the code" in refused.text
    given = NEW | {"code": code.lower().replace("-", " ")}
    assert phone.post("/access/set-up", data=given, headers=ORIGIN).status_code == 303
    assert not (data / "page" / "set-up-code").exists()
    assert phone.post("/bench/start", data=START, headers=ORIGIN).location == "/"
    assert phone.post("/access/set-up", data=given, headers=ORIGIN).status_code == 409
    assert control.names() == ["start"]


def test_the_code_holds_sixty_bits_and_no_two_boxes_have_the_same(tmp_path: Path) -> None:
    """Twelve of 32 different letters: 12 · log2(32) = 60, so that guessing needs no limit."""
    codes = set()
    for n in range(200):
        (tmp_path / str(n)).mkdir()
        codes.add(OperatorStore(tmp_path / str(n)).set_up_code())
    assert len(codes) == 200
    assert {len(code.replace("-", "")) for code in codes} == {12}
    assert len(set("".join(codes)) - {"-"}) == 32


def test_a_code_from_before_that_was_shorter_is_not_taken(app: Flask, phone: FlaskClient, data: Path) -> None:
    """A longer one is made in its place."""
    (data / "page" / "set-up-code").write_text("ABCD-EFGH\n")
    assert phone.post("/access/set-up", data=NEW | {"code": "ABCD-EFGH"}, headers=ORIGIN).status_code == 422
    assert len(access_of(app).operators.set_up_code()) == 14


def test_two_who_have_the_code_do_not_both_become_operator(data: Path) -> None:
    """The second was looked at before the first was written, and comes too late."""
    first, second = (OperatorStore(data / "page") for _ in range(2))
    (data / "page").mkdir(exist_ok=True)
    code = first.set_up_code()
    assert second.is_set_up_code(code)
    first.found("Ada", PASSWORD, code)
    with pytest.raises(NotNowError):
        second.found("Mallory", PASSWORD, code)
    assert second.known().names() == ["Ada"]


def test_whoever_is_being_added_while_all_is_reset_does_not_become_the_first(
    app: Flask, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Working a password out takes a second on a Pi; the operators may be another's by then."""
    set_up(app)
    desk = access_of(app).operators
    really = desk._hashed
    monkeypatch.setattr(desk, "_hashed", lambda *given: (files.reset(data), really(*given))[1])
    with pytest.raises(NotNowError):
        desk.put("Mallory", PASSWORD)
    assert desk.known().names() == []


def test_secrets_are_kept_from_other_users_and_passwords_are_not_kept_at_all(
    app: Flask, client: FlaskClient, data: Path
) -> None:
    """Files of mode 0600 in a folder of mode 0700, and hashes: of passwords, and of what the browsers hold."""
    access_of(app).operators.set_up_code()
    folder = data / "page"
    assert stat.S_IMODE(folder.stat().st_mode) == 0o700
    assert stat.S_IMODE((folder / "set-up-code").stat().st_mode) == 0o600
    set_up(app)
    log_in(client)
    for name in ("operators.json", "sessions.json"):
        assert stat.S_IMODE((folder / name).stat().st_mode) == 0o600, name
    assert PASSWORD not in (folder / "operators.json").read_text()
    cookie = client.get_cookie("sumlight_session")
    assert cookie is not None
    assert cookie.value not in (folder / "sessions.json").read_text()


def test_the_real_hash_is_scrypt_as_the_library_has_it(data: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Werkzeug's default cost: N = 2**15, r = 8, p = 1 (outside check: RFC 7914 names these parameters so)."""
    monkeypatch.undo()
    (data / "page").mkdir(exist_ok=True)
    desk = OperatorStore(data / "page")
    desk.found("Ada", PASSWORD, desk.set_up_code())
    kept = json.loads((data / "page" / "operators.json").read_text())["operators"][0]["password_hash"]
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
        assert "Log in to light" in browser.get("/").text
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
        path = re.sub(r"<int(\([^)]*\))?:\w+>", "1", path)
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


def test_a_new_password_ends_the_old_sessions_but_not_the_own(app: Flask) -> None:
    """Whoever knew the old one is out."""
    set_up(app)
    mine, other = app.test_client(), app.test_client()
    assert (log_in(mine), log_in(other)) == (303, 303)
    mine.post("/access/operators", data={"name": "Ada", "password": "another 38 one"}, headers=ORIGIN)
    assert mine.post("/bench/go", data=SEEN_BEFORE_GO, headers=ORIGIN).status_code == 303
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


@pytest.mark.parametrize("value", ["x", "A" * 43, "A" * 4000, "eyJvcGVyYXRvciI6IkFkYSIsImVwb2NoIjowfQ.aaaaaa.bbb"])
def test_a_forged_session_is_nobody(app: Flask, phone: FlaskClient, value: str) -> None:
    """It was never begun."""
    set_up(app)
    phone.set_cookie("sumlight_session", value)
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


def test_many_thousand_misses_are_waits_and_not_an_error() -> None:
    """The wait is a power of the misses; past some thousand that is no number any more."""
    now = [100.0]
    guard = Backoff(lambda: now[0])
    for _ in range(5000):
        assert guard.begin("a") == 0
        now[0] += guard.wait_s("a")
    assert guard.begin("a") == 0
    assert guard.wait_s("a") == backoff.LONGEST_WAIT_S


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


GOOD_HASH = "scrypt:32768:8:1$" + "s" * 16 + "$" + "0" * 128
BAD_HASHES = (
    "",
    "scrypt",
    "scrypt:x:8:1$a$00",
    "scrypt:32767:8:1$aaaa$" + "0" * 128,
    "scrypt:1073741824:8:1$aaaa$" + "0" * 128,
    "scrypt:32768:0:1$aaaa$" + "0" * 128,
    "md5$a$00",
    "plain$$amber light 38",
    GOOD_HASH[:-2],
    5,
)
DAMAGED = {
    "empty": "",
    "cut off": "{",
    "a list": "[]",
    "no names": '{"epoch": 1, "operators": []}',
    "an operator without a hash": '{"epoch": 1, "operators": [{"name": "Ada"}]}',
    "no text": "\x00\xff",
    "deep": "[" * 100_000,
} | {
    f"hash {bad!r:.30}": json.dumps({"epoch": "e", "operators": [{"name": "Ada", "password_hash": bad}]})
    for bad in BAD_HASHES
}


@pytest.mark.parametrize("text", DAMAGED.values(), ids=DAMAGED.keys())
def test_a_damaged_file_lets_nobody_operate_and_says_why(
    client: FlaskClient, data: Path, control: FakeControl, text: str
) -> None:
    """A damaged lock is not an open door, and no answer is a 500. Dark still works."""
    (data / "page" / "operators.json").write_text(text)
    assert client.post("/bench/start", data=START, headers=ORIGIN).status_code == 401
    page = client.get("/access/").text
    assert "Nobody may operate" in page
    assert "sumlight setup operators reset" in page
    login = client.post("/access/login", data={"name": "Ada", "password": PASSWORD}, headers=ORIGIN)
    assert login.status_code == 503
    assert client.post("/access/set-up", data=NEW, headers=ORIGIN).status_code == 409
    assert client.get("/").status_code == 200
    assert client.post("/bench/dark", headers=ORIGIN).status_code == 303
    assert control.names() == ["dark"]


def test_operators_of_an_older_version_are_taken_over(data: Path) -> None:
    """Their file lay in the data folder itself."""
    old = {"epoch": 3, "operators": [{"name": "Ada", "password_hash": GOOD_HASH}]}
    (data / "operators.json").write_text(json.dumps(old))
    folder = files.access_folder(data)
    assert files.read_operators(folder).names() == ["Ada"]
    assert not (data / "operators.json").exists()


def test_a_folder_that_cannot_be_written_is_said_so(tmp_path: Path) -> None:
    """And nothing half-written stays."""
    desk = OperatorStore(tmp_path / "missing")
    with pytest.raises(OperatorsError, match="missing cannot be used: No such file"):
        desk.found("Ada", PASSWORD, "")


@pytest.mark.parametrize(
    ("name", "password", "field"),
    [
        ("", PASSWORD, "name"),
        ("x" * 41, PASSWORD, "name"),
        ("<b>", PASSWORD, "name"),
        ("Terminal", PASSWORD, "name"),  # what records call the command line
        ("Ada", "short", "password"),
    ],
)
def test_names_and_passwords_have_rules(client: FlaskClient, app: Flask, name: str, password: str, field: str) -> None:
    """Said beside the field."""
    answer = client.post("/access/set-up", data={"name": name, "password": password}, headers=ORIGIN)
    assert answer.status_code == 422
    assert f'id="f-{field}-error"' in answer.text
    assert access_of(app).operators.known().names() == []


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
    before = (data / "page" / "operators.json").read_bytes()
    with no_room(len(before)):
        answer = client.post("/access/operators", data={"name": "Ben", "password": PASSWORD}, headers=ORIGIN)
    assert answer.status_code == 503
    assert "operators.json cannot be written" in answer.text
    assert (data / "page" / "operators.json").read_bytes() == before
    assert [file.name for file in (data / "page").iterdir() if "operators" in file.name] == ["operators.json"]
    assert access_of(app).operators.known().names() == ["Ada"]
    assert client.get("/access/").status_code == 200
