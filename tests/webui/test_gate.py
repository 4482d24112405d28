"""Whose wrong guesses count together at the log-in, and what the gate says to whom it turns away."""

from dataclasses import FrozenInstanceError, fields
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight_web.access.backoff import FREE_MISSES
from sumlight_web.access.gate import Access, Visitor, access_of
from tests.webui.given import ORIGIN
from tests.webui.operating import PASSWORD, log_in, set_up

PROXY = "127.0.0.1"
Way = tuple[str | None, str | None]
"""The address that a connection comes from, and what the proxy there says of whom it asks for."""


def browser(app: Flask, way: Way) -> FlaskClient:
    """A browser that comes that way."""
    client = app.test_client()
    remote, named = way
    client.environ_base |= {"REMOTE_ADDR": remote} if remote else {}
    if remote is None:
        del client.environ_base["REMOTE_ADDR"]
    client.environ_base |= {"HTTP_X_FORWARDED_FOR": named} if named is not None else {}
    return client


def held_back(app: Flask, by: Way, whom: Way) -> bool:
    """Whether the misses of the one make the other wait, who knows the password."""
    set_up(app)
    guessing = browser(app, by)
    for number in range(FREE_MISSES):
        assert log_in(guessing, password=f"guess number {number}") == 401
    status = log_in(browser(app, whom), password=PASSWORD)
    assert status in (303, 429)
    return status == 429


ONE = "192.0.2.1"
OTHER = "198.51.100.7"
ALIKE: dict[str, tuple[Way, Way]] = {
    # RFC 6177 (from memory): even a home gets a /64 at the least, so that one guesser has all its addresses.
    "two addresses of one IPv6 network": (("2001:db8:1:2::1", None), ("2001:db8:1:2:ffff:ffff:ffff:ffff", None)),
    "the last that the proxy names": ((PROXY, f"{OTHER}, {ONE}"), (PROXY, f"203.0.113.5,{ONE}")),
    "one named alone and behind others": ((PROXY, ONE), (PROXY, f"{OTHER}, {ONE}")),
    "a proxy that speaks IPv6": (("::1", f"{OTHER}, {ONE}"), (PROXY, ONE)),
    "one network named by a proxy": ((PROXY, "2001:db8::1"), (PROXY, f"{ONE}, 2001:db8::2")),
    "someone elsewhere who claims to be a proxy": (("192.168.1.77", ONE), ("192.168.1.77", OTHER)),
    "a name that is no address": ((PROXY, "unknown"), (PROXY, f"{ONE}, unknown")),
    "names too long to be remembered": ((PROXY, "x" * 60 + "a"), (PROXY, "x" * 60 + "b")),
    "nobody named": ((PROXY, ""), (PROXY, f"{ONE}, ")),
    "no address at all": ((None, None), (None, None)),
}
APART: dict[str, tuple[Way, Way]] = {
    "two IPv6 networks": (("2001:db8:1:2::1", None), ("2001:db8:1:3::1", None)),
    "neighbours with IPv4": (("192.168.1.77", None), ("192.168.1.78", None)),
    "two that the proxy names": ((PROXY, f"{ONE}, {OTHER}"), (PROXY, f"{OTHER}, {ONE}")),
    "what the browser claims and the proxy passes on": ((PROXY, f"{ONE}, {OTHER}"), (PROXY, ONE)),
    "somebody behind the proxy and somebody at the machine": ((PROXY, ONE), (PROXY, None)),
    "two names that are no address": ((PROXY, "unknown"), (PROXY, "_hidden")),
    "long names that differ": ((PROXY, "x" * 59 + "a"), (PROXY, "x" * 59 + "b")),
}


@pytest.mark.parametrize(("by", "whom"), ALIKE.values(), ids=ALIKE.keys())
def test_who_can_change_addresses_at_will_gains_no_guesses(app: Flask, by: Way, whom: Way) -> None:
    """A whole network, or whatever one may write into a header, is one guesser."""
    assert held_back(app, by, whom)


@pytest.mark.parametrize(("by", "whom"), APART.values(), ids=APART.keys())
def test_who_guesses_holds_up_nobody_else(app: Flask, by: Way, whom: Way) -> None:
    """Neither a neighbour nor another visitor behind the same proxy."""
    assert not held_back(app, by, whom)


def test_a_box_whose_operators_cannot_be_read_does_not_pass_for_a_new_one(client: FlaskClient, data: Path) -> None:
    """Or a person would look for a set-up code, which makes nobody an operator there."""
    (data / "page" / "operators.json").write_text("{")
    for path in ("/", "/panels/", "/access/"):
        page = client.get(path).text
        assert "This box has no operator yet" not in page, path
        assert "Set-up code" not in page, path
    answer = client.post("/bench/go", headers=ORIGIN)
    assert answer.status_code == 401
    assert "Log in to do that. Nothing was done." in answer.text


@pytest.mark.parametrize("first_run", [True, False])
def test_scripts_are_refused_with_what_failed_why_and_where_to_go(app: Flask, first_run: bool) -> None:
    """All that the Bench needs to tell it; nothing was done."""
    if not first_run:
        set_up(app)
    answer = app.test_client().post("/bench/go", headers=ORIGIN | {"Accept": "application/json"})
    assert answer.status_code == 401
    why = "This box has no operator yet." if first_run else "Log in to do that."
    error = {
        "code": "log_in",
        "field": None,
        "message": f"{why} Nothing was done.",
        "remedy": "Open the page Access.",
        "href": "/access/",
    }
    assert answer.json == {"ok": False, "error": error, "errors": [error]}


def test_logging_out_takes_the_cookie_out_of_the_browser(app: Flask) -> None:
    """By its name and path, which is how a browser knows it (RFC 6265, 5.3); and there it begins for the whole page."""
    set_up(app)
    client = browser(app, (PROXY, None))
    assert log_in(client) == 303
    assert client.get_cookie("sumlight_session") is not None
    client.post("/access/logout", headers=ORIGIN)
    assert client.get_cookie("sumlight_session") is None


def test_the_cookie_lasts_as_long_as_a_session_may(app: Flask) -> None:
    """90 days; over HTTPS, whatever the letters a proxy says it in, it goes nowhere else."""
    set_up(app)
    data = {"name": "Ada", "password": PASSWORD}
    for named, secure in (("https", True), ("HTTPS", True), ("http", False)):
        headers = {"X-Forwarded-Proto": named, "Origin": f"{named.lower()}://localhost"}
        cookie = app.test_client().post("/access/login", data=data, headers=headers).headers["Set-Cookie"]
        assert f"Max-Age={90 * 86400}" in cookie
        assert ("Secure" in cookie) is secure


@pytest.mark.parametrize("epoch", ["", "0", "~"])
def test_a_session_of_other_operators_counts_for_nothing_whichever_came_first(app: Flask, epoch: str) -> None:
    """Epochs are drawn at random and have no order: one before and one after in the alphabet are both another's."""
    set_up(app)
    access = access_of(app)
    known = access.operators.known().epoch
    for given, may in ((epoch, False), (known, True)):
        client = app.test_client()
        client.set_cookie("sumlight_session", access.sessions.begin("Ada", given))
        assert (client.post("/bench/go", headers=ORIGIN).status_code != 401) is may


def test_who_asks_is_not_changed_after_the_gate_has_said_it() -> None:
    """Neither a visitor nor what the gate knows them by."""
    visitor = Visitor(None, True)
    with pytest.raises(FrozenInstanceError):
        visitor.operator = "A"  # type: ignore[misc]
    with pytest.raises(FrozenInstanceError):
        del Access(*[None] * len(fields(Access))).operators  # type: ignore[arg-type]
