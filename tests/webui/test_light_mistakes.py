"""The pages of Light: mistakes beside their fields, a silent control, and hostile input."""

from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.quantity import shown
from tests.webui.fake_control import FakeControl, RefusalError
from tests.webui.given import ORIGIN
from tests.webui.light_runs import PLAN, beside, post, refuse
from tests.webui.test_hostile import BODIES

FORMS: tuple[tuple[str, dict[str, str], str, str, str], ...] = (
    ("/light/tablet/plan", PLAN, "target_step", "tablet_plan", "target_step"),
    ("/light/tablet/plan", PLAN, "zones", "tablet_plan", "zones"),
    ("/light/tablet/plan", PLAN, "recipe", "tablet_plan", "recipe"),
    ("/light/teach", {"recipe": "blue-38", "seconds": "8"}, "seconds", "series", "seconds"),
    ("/light/radiometer/steady", {"recipe": "blue-38", "seconds": "60"}, "seconds", "series", "seconds"),
    ("/light/radiometer/reading", {"mw_cm2": "5", "percent": "4"}, "mw_cm2", "radiometer", "mw_cm2"),
    ("/light/radiometer/reading", {"mw_cm2": "5", "percent": "4"}, "percent", "radiometer", "relative_uncertainty"),
    (
        "/light/strip/plan",
        {"recipe": "blue-38", "first_mj_cm2": "10", "factor": "1.2", "zones": "8"},
        "factor",
        "strip_plan",
        "factor",
    ),
    ("/light/sheets", {"recipe": "blue-38", "sheets": "1", "seconds": "5"}, "seconds", "series", "seconds"),
    (
        "/light/window",
        {"clear": "80", "opaque": "0.1", "dose_mj_cm2": "60", "held_step": "8", "clean_step": "12"},
        "clean_step",
        "dose_window",
        "clean_step",
    ),
)


@pytest.mark.parametrize(("path", "good", "field", "command", "names"), FORMS)
def test_a_no_of_control_stands_beside_the_field_it_is_about(
    client: FlaskClient, control: FakeControl, path: str, good: dict[str, str], field: str, command: str, names: str
) -> None:
    """What was typed is kept."""
    refuse(control, command, names)
    response = post(client, path, **good)
    assert response.status_code == 422
    if field != "recipe":
        assert f'value="{good[field]}"' in response.text
    assert "No such thing." in beside(response.text, "f-" + field.replace("_", "-"))


@pytest.mark.parametrize(("path", "good", "field", "command", "names"), FORMS)
@pytest.mark.parametrize("typed", ["", "much", "-1", "1e9", "٣", "9" * 40, "nan", "<b>", "\x00", "0x10", "1,5,5"])
def test_a_mistake_is_found_before_control_is_asked(
    client: FlaskClient,
    control: FakeControl,
    path: str,
    good: dict[str, str],
    field: str,
    command: str,
    names: str,
    typed: str,
) -> None:
    """Whatever is typed into a number; free text goes to control, which knows."""
    response = post(client, path, **good | {field: typed})
    assert response.status_code in (200, 303) if field in ("recipe", "lamp_type") and typed else 422
    if field not in ("recipe", "lamp_type"):
        assert beside(response.text, "f-" + field.replace("_", "-"))
        assert control.names() == []
        assert "<b>" not in beside(response.text, "f-" + field.replace("_", "-"))


def test_a_refusal_that_belongs_to_no_field_stands_on_top(client: FlaskClient, control: FakeControl) -> None:
    """Such as a box that is at work."""

    def no(_request: dict[str, Any]) -> dict[str, Any]:
        raise RefusalError("refused", "An exposure is under way.", None, "Finish it first.")

    control.answers["series"] = no
    response = post(client, "/light/teach", recipe="blue-38", seconds="8")
    assert response.status_code == 409
    assert "An exposure is under way. Finish it first." in response.text


def test_a_control_that_does_not_answer_is_told_and_nothing_is_lost(client: FlaskClient, control: FakeControl) -> None:
    """Never called lost when it may have arrived."""
    control.mute.set()
    response = post(client, "/light/teach", recipe="blue-38", seconds="8")
    control.mute.clear()
    assert response.status_code == 503
    assert "It may have arrived all the same." in response.text
    assert 'value="8"' in response.text


def test_the_bench_finds_the_way_from_a_run_to_its_page(client: FlaskClient, runs: dict[str, int]) -> None:
    """By its number alone."""
    for kind, number in runs.items():
        response = client.get(f"/light/series/{number}")
        assert response.status_code == 303, kind
        assert client.get(response.location).status_code == 200, kind
    assert client.get("/light/series/99").status_code == 404


@pytest.mark.long
def test_hostile_bodies_break_no_form(client: FlaskClient, app: Flask, runs: dict[str, int], data: Path) -> None:
    """Every route that takes a form, for runs that exist."""
    before = (data / "recipes" / "blue-38.yaml").read_bytes()
    odd = b"&".join(
        f"{key}={value}".encode()
        for key in (
            "recipe",
            "dose",
            "places",
            "covered",
            "held",
            "panel",
            "sensor",
            "step_1",
            "what_1",
            "zones",
            "key",
        )
        for value in ("%00", "%ff%fe", "9" * 30, "-0", "%F0%9F%92%A1", "<script>", "x" * 3000)
    )
    bodies = (*BODIES, ("application/x-www-form-urlencoded", odd))
    for rule in app.url_map.iter_rules():
        if not rule.endpoint.startswith("light.") or "POST" not in (rule.methods or set()):
            continue
        for number in runs.values():
            path = rule.rule.split("<")[0] + (f"{number}{rule.rule.split('>')[1]}" if "<" in rule.rule else "")
            for kind, body in bodies:
                response = client.post(path, data=body, headers=ORIGIN | {"Content-Type": kind})
                assert response.status_code < 500, (path, kind, body[:50], response.text[:300])
                response.close()
            if "<" not in rule.rule:
                break
    assert (data / "recipes" / "blue-38.yaml").read_bytes() == before


@pytest.mark.parametrize(("value", "text"), [(41.0, "41"), (0.8123, "0.8123"), (1e-5, "0"), (123456.5, "123456.5")])
def test_a_number_is_shown_as_a_form_takes_it(value: float, text: str) -> None:
    """Never with an exponent."""
    assert shown(value, 4) == text
