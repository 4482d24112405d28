"""The guided path from power-on to the first panel: which step is due, on which box."""

from typing import Any

import pytest

from sumlight_web.box.firstrun import Known, Step, steps
from sumlight_web.link import Latest
from tests.webui import fake_control as fake


def path(said: dict[str, Any] | None = None, *, live: bool = True, **known: bool) -> list[Step]:
    """The steps on a box that says so."""
    latest = Latest(said or fake.snapshot(), 0.0 if live else 9.0, True, 1)  # type: ignore[arg-type]
    return steps(Known(latest, **({"operator": False, "recipe": False, "panel": False} | known)))


def due(found: list[Step]) -> str:
    """The title of the step to do now."""
    return next(step.title for step in found if step.state == "now")


def test_one_step_is_due_after_the_other() -> None:
    """In the order of the work."""
    assert due(path()) == "Say who operates"
    assert due(path(operator=True)) == "Write the first recipe"
    assert due(path(operator=True, recipe=True)) == "Expose the first panel"
    assert due(path(operator=True, recipe=True, panel=True)) == "Find out what the dose is worth"
    calibrated = fake.snapshot(calibration={"lower": {"relative": False}})
    assert all(step.state == "done" for step in path(calibrated, operator=True, recipe=True, panel=True))


def test_the_first_run_says_who_only_watches_before_there_is_an_operator() -> None:
    """On the box's own screen, too; that anybody darkens is said beside it."""
    told = next(step.text for step in path() if step.title == "Say who operates")
    assert "only watches, also on the box's own screen" in told
    assert "Everybody can press Lamps off." in told


@pytest.mark.parametrize(
    ("said", "live", "text"),
    [
        (fake.snapshot(), False, "does not answer"),
        (fake.snapshot(faults=[fake.fault()]), True, "There is a fault"),
        (fake.snapshot(banks=[fake.bank(meter_ok=False)]), True, "does not read"),
        (fake.snapshot(lid="disagree"), True, "contradict each other"),
    ],
)
def test_a_box_that_is_not_sound_comes_first(said: dict[str, Any], live: bool, text: str) -> None:
    """With what is wrong."""
    first = path(said, live=live, operator=True, recipe=True)[0]
    assert first.state == "now"
    assert text in first.text


def test_commissioning_is_a_step_on_a_box_that_needs_it_only() -> None:
    """The twin has nothing to commission."""
    needed = {"needed": True, "passed_utc": None}
    found = path(fake.snapshot(commissioning=needed), operator=True)
    assert due(found) == "Commission the box"
    assert next(step.href for step in found if step.state == "now") == "/box/commissioning"
    passed = {"needed": False, "passed_utc": "2026-11-25T08:00:00+00:00"}
    assert due(path(fake.snapshot(commissioning=passed))) == "Say who operates"
    twin = {"needed": False, "passed_utc": None}
    assert "Commission the box" not in [step.title for step in path(fake.snapshot(commissioning=twin))]
