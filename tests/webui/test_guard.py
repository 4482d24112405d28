"""Who may ask for what, and what every answer carries."""

import base64
import hashlib
import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

import sumlight_web
from sumlight_web import guard
from tests.webui.fake_control import FakeControl
from tests.webui.given import ORIGIN

STATIC = Path(str(sumlight_web.__file__)).parent / "static"


@pytest.mark.parametrize(
    "origin",
    [
        None,
        "null",
        "http://localhost:81",
        "http://evil.example",
        "ftp://localhost",
        "http://[",
        "http://localhost.evil.example",
    ],
)
@pytest.mark.parametrize("path", ["/bench/start", "/bench/dark", "/recipes/new", "/recipes/blue-38", "/choice"])
def test_a_change_asked_for_by_another_site_is_refused(
    client: FlaskClient, control: FakeControl, path: str, origin: str | None
) -> None:
    """Missing, null, another port, another site: all alike."""
    headers = {} if origin is None else {"Origin": origin}
    assert client.post(path, headers=headers).status_code == 403
    assert control.names() == []


@pytest.mark.parametrize("host", ["evil.example", "", "127.0.0.1.evil.example", "localhost evil"])
@pytest.mark.parametrize("path", ["/", "/state.json", "/no-such-page", "/static/sumlight.css"])
def test_a_foreign_host_name_is_refused(client: FlaskClient, path: str, host: str) -> None:
    """A name that another site made point to this machine gets nothing."""
    response = client.get(path, headers={"Host": host})
    assert response.status_code == 400
    assert "Content-Security-Policy" in response.headers


def test_the_own_names_are_served_on_any_port(client: FlaskClient) -> None:
    """127.0.0.1 and localhost, whichever port was chosen."""
    for host in ("localhost", "localhost:8765", "127.0.0.1:8765"):
        assert client.get("/", headers={"Host": host}).status_code == 200


@pytest.mark.parametrize("path", ["/", "/recipes/", "/panels/", "/state.json", "/nowhere", "/static/bench.js"])
def test_every_answer_carries_the_strict_headers(client: FlaskClient, path: str) -> None:
    """Errors and files too."""
    response = client.get(path)
    response.close()
    headers = response.headers
    assert headers["Content-Security-Policy"] == guard.CONTENT_SECURITY_POLICY
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"
    expected = "no-cache" if path.startswith("/static/") else "no-store"
    assert headers["Cache-Control"] == expected


@pytest.mark.parametrize("path", ["/", "/recipes/", "/recipes/new", "/recipes/blue-38", "/panels/", "/nowhere"])
def test_of_style_and_script_in_a_page_only_ours_is_allowed_and_no_outside_address(
    client: FlaskClient, path: str
) -> None:
    """The sheet and the guard of presses, before the body; the policy names each by what it holds (CSP level 3)."""
    page = client.get(path)
    policy = dict(part.split(" ", 1) for part in page.headers["Content-Security-Policy"].split("; "))
    rest = page.get_data(as_text=True)
    head = rest.split("<body>")[0]
    for element, file in (("style", "sumlight.css"), ("script", "hold.js")):
        (written,) = re.findall(rf"<{element}>(.*?)</{element}>", head, re.DOTALL)
        assert written == (STATIC / file).read_text(encoding="utf-8")
        name = base64.b64encode(hashlib.sha256(written.encode()).digest()).decode()
        assert policy[f"{element}-src"] == f"'self' 'sha256-{name}'"
        rest = rest.replace(f"<{element}>{written}</{element}>", "")
    assert not re.search(r"<script(?![^>]* src=)", rest)
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=", rest)
    assert not re.search(r"(?:src|href|action)=\"(?:https?:)?//", rest)


def test_a_body_that_is_too_large_is_refused(client: FlaskClient, control: FakeControl) -> None:
    """64 KiB is far more than any form here."""
    response = client.post("/bench/start", data={"panel": "x" * 100_000}, headers=ORIGIN)
    assert response.status_code == 413
    assert control.names() == []


def test_errors_answer_scripts_in_json_and_people_in_a_page(client: FlaskClient) -> None:
    """One shape for all errors."""
    answer = client.get("/nowhere", headers={"Accept": "application/json"})
    assert answer.status_code == 404
    assert answer.json is not None
    assert answer.json["error"]["message"]
    page = client.get("/nowhere", headers={"Accept": "text/html,*/*;q=0.8"})
    assert "Back to the Bench" in page.text


def test_an_unforeseen_failure_is_answered_without_its_insides(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The browser gets a page, the log gets the reason."""
    monkeypatch.setattr("sumlight_web.recipes.views.empty_form", lambda: 1 / 0)
    response = client.get("/recipes/new")
    assert response.status_code == 500
    assert "ZeroDivision" not in response.text
    assert "Traceback" not in response.text


def test_safelight_is_the_default_and_daylight_is_remembered(client: FlaskClient) -> None:
    """A cookie for scripts' eyes never: HttpOnly and SameSite=Strict."""
    assert 'data-theme="safelight"' in client.get("/").text
    response = client.post("/choice", data={"theme": "daylight", "back": "/panels/"}, headers=ORIGIN)
    assert (response.status_code, response.location) == (303, "/panels/")
    assert "HttpOnly" in response.headers["Set-Cookie"]
    assert "SameSite=Strict" in response.headers["Set-Cookie"]
    assert 'data-theme="daylight"' in client.get("/").text
    client.post("/choice", data={"theme": "nonsense"}, headers=ORIGIN)
    assert 'data-theme="safelight"' in client.get("/").text


@pytest.mark.parametrize("back", ["//evil.example", "https://evil.example", "/\\evil.example", "/a?b", "", "/x\ny"])
def test_choosing_colours_never_leads_elsewhere(client: FlaskClient, back: str) -> None:
    """Only a path of this page is gone back to."""
    response = client.post("/choice", data={"theme": "daylight", "back": back}, headers=ORIGIN)
    assert response.location == "/"
