"""Odd, wrong and hostile requests to every route: each is answered, none breaks the page."""

import random
from collections.abc import Callable
from urllib.parse import quote

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.exceptions import HTTPException, MethodNotAllowed

from sumlight_web.services import AppServices
from tests.webui.fake_control import FakeControl
from tests.webui.given import ORIGIN
from tests.webui.operating import operator_of, set_up

METHODS = ("GET", "HEAD", "POST", "PUT", "PATCH", "DELETE", "OPTIONS", "TRACE", "PROPFIND")

BODIES: tuple[tuple[str, bytes], ...] = (
    ("", b""),
    ("application/x-www-form-urlencoded", b"panel=%ff%fe&recipe=%00&note=%ed%a0%80&name=%00&sides=%ff"),
    ("application/x-www-form-urlencoded", b"&".join(b"a%d=1" % n for n in range(3000))),
    ("application/x-www-form-urlencoded", b"panel=" + b"x" * 60_000 + b"&recipe=blue-38"),
    ("application/x-www-form-urlencoded", b"dose_mj_cm2=" + b"9" * 5_000 + b"&name=a&resist=%E2%80%AE"),
    ("application/x-www-form-urlencoded; charset=utf-7", b"panel=+ADw-&recipe=blue-38"),
    ("application/json", b'{"recipe": "blue-38"}'),
    ("application/json", b"[" * 20_000),
    (
        "multipart/form-data; boundary=b",
        b'--b\r\nContent-Disposition: form-data; name="panel"; filename="../x"\r\n\r\nx\r\n',
    ),
    ("multipart/form-data", b"no boundary at all"),
    ("multipart/form-data; boundary=b", b"--b\r\nContent-Disposition: form-data\r\n\r\n\r\n--b--\r\n"),
    ("text/plain", b"\xff" * 200),
    ("a/b; c=\xff", b"x"),
    ("application/x-www-form-urlencoded", b"x" * 200_000),
)

VALUES = (
    "blue-38",
    "%00",
    "..%2f..%2fetc%2fpasswd",
    "a" * 300,
    "%ff%fe",
    "9" * 40,
    "-1",
    "%f0%9f%92%a1",
    "%0d%0aX:y",
    " ",
)


def paths(app: Flask, values: tuple[str, ...] = VALUES) -> list[str]:
    """Every route with every odd value in its variable parts."""
    found = set()
    for rule in app.url_map.iter_rules():
        text = rule.rule
        if not rule.arguments:
            found.add(text)
            continue
        for value in values:
            head, rest = text.split("<", 1)
            found.add(head + value + rest.split(">", 1)[1])
    return sorted(found | {"/bench/dark", "/panels/?before=" + quote("\x00"), "/state.json?after=" + "%ff" * 400})


WHO = ("a stranger before set-up", "a watcher", "an operator")


def visit_as(app: Flask, who: str) -> FlaskClient:
    """A browser of that kind of visitor."""
    if who == "a watcher":
        set_up(app)
    return operator_of(app) if who == "an operator" else app.test_client()


Asked = tuple[str, tuple[str, bytes]]


def all_requests(app: Flask, method: str, who: str) -> list[Asked]:
    """Every path with all bodies for a POST by those who get furthest; with a few where nobody looks at the body."""
    bodies = BODIES[:2] if method in ("GET", "HEAD") else BODIES[1:12:5]
    if method == "POST" and who == "an operator":
        bodies = BODIES
    return [(path, body) for path in paths(app) for body in bodies]


def requests_that_differ(app: Flask, method: str, who: str) -> list[Asked]:
    """As many as meet different code.

    Each odd value is parsed by its route in the same way whatever body comes along: one body with all values, all
    bodies with the usual value. Who may not change anything is turned away by the gate before a body is looked at, and
    a method that a route does not have by the routes themselves: there one body and two values do. HEAD is answered by
    what answers GET.
    """
    some = paths(app, VALUES[:2])
    if method not in ("GET", "POST") or (method == "POST" and who != "an operator"):
        return [(path, BODIES[1]) for path in some]
    bodies, read = BODIES[:2], some
    if method == "POST":
        bodies, read = BODIES, [path for path in some if takes_posts(app, path)]
    return [(path, BODIES[1]) for path in paths(app)] + [(path, body) for path in read for body in bodies]


def takes_posts(app: Flask, path: str) -> bool:
    """Whether a route of the application looks at what is posted there."""
    try:
        app.url_map.bind("localhost").match(path, method="POST")
    except MethodNotAllowed:
        return False
    except HTTPException:
        return True  # whoever answers that it is nowhere
    return True


@pytest.mark.parametrize("which", [requests_that_differ, pytest.param(all_requests, marks=pytest.mark.campaign)])
@pytest.mark.parametrize("who", WHO)
@pytest.mark.parametrize("method", METHODS)
def test_no_request_of_any_method_breaks_a_route(
    app: Flask, method: str, who: str, which: Callable[[Flask, str, str], list[Asked]]
) -> None:
    """Never a 5xx answer, whatever the method, type, size, encoding and visitor."""
    client = visit_as(app, who)
    for path, (kind, body) in which(app, method, who):
        if path == "/stream" and method == "GET":
            continue  # it would stay open; it takes no body
        if path.startswith("/access/logout") and who == "an operator":
            continue  # what follows would no longer be an operator's
        response = client.open(path, method=method, data=body, headers=ORIGIN | {"Content-Type": kind})
        assert response.status_code < 500, (method, path, kind, body[:60], response.text[:300])
        response.close()


def test_random_headers_break_nothing(client: FlaskClient, control: FakeControl, services: AppServices) -> None:
    """Seeded noise in the headers that the page looks at."""
    dice = random.Random(7)
    names = (
        "Origin",
        "Accept",
        "Cookie",
        "Last-Event-ID",
        "Content-Type",
        "Host",
        "Content-Length",
        "Range",
        "If-None-Match",
    )
    for _ in range(400):
        headers = {name: _noise(dice) for name in dice.sample(names, 3)}
        path = dice.choice(["/", "/state.json", "/recipes/", "/bench/go", "/choice", "/static/bench.js"])
        response = client.open(path, method=dice.choice(["GET", "POST"]), headers=headers)
        assert response.status_code < 500, (path, headers)
        response.close()
    assert services.watch.latest().live


def _noise(dice: random.Random) -> str:
    if dice.random() < 0.3:
        return dice.choice(
            ["*/*", "application/json;q=x", "a" * 3000, "bytes=5-1", 'sumlight_theme="', "-5", "5:1e999", "http://[::1"]
        )
    return "".join(chr(dice.randrange(32, 255)) for _ in range(dice.randrange(40)))


def test_nothing_that_was_sent_in_hostility_reached_the_lamps(
    client: FlaskClient, app: Flask, control: FakeControl
) -> None:
    """Without this page's own origin no command passes, in whatever shape."""
    for command in ("start", "go", "abandon", "acknowledge"):
        for kind, body in BODIES:
            client.post(f"/bench/{command}", data=body, headers={"Content-Type": kind, "Origin": "http://evil.example"})
    assert control.names() == []
