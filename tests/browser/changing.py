"""What the box goes through while somebody looks at the bar: shared by the tests of the bar and of its presses."""

from pathlib import Path
from typing import Any

from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl
from tests.webui.given import BLUE
from tests.webui.test_panels import record

LIGHTING = {"start", "go", "series"}

WAITING = {"may": ["go", "abandon", "dark"]}
TURNED = fake.exposure(fake.side("A", state="done"), fake.side("B", state="waiting", dose_mj_cm2=0.0))
PAUSED = fake.exposure(pause_cause="lid")

Change = tuple[dict[str, Any], dict[str, Any], str]

CHANGES: dict[str, Change] = {
    "light-paused": (fake.lit(), fake.snapshot(state="paused", exposure=PAUSED, state_number=2, **WAITING), "Continue"),
    "lid-shut": (
        fake.snapshot(state="paused", lid="open", may=["abandon", "dark"], exposure=PAUSED, state_number=3),
        fake.snapshot(state="paused", exposure=PAUSED, state_number=4, **WAITING),
        "Continue",
    ),
    "turned": (
        fake.snapshot(state="turn", may=["abandon", "dark"], exposure=TURNED, state_number=5),
        fake.snapshot(state="turn", exposure=TURNED, state_number=6, **WAITING),
        "Light side B",
    ),
    "taken-out": (
        fake.rising(20.0) | {"may": ["dark"], "state_number": 7},
        fake.rising(20.0) | {"state_number": 8},
        "Light blue-38",
    ),
    "same-words": (
        fake.snapshot(state="paused", exposure=PAUSED, state_number=9, **WAITING),
        fake.snapshot(state="paused", exposure=PAUSED, state_number=10, **WAITING),
        "Continue",
    ),
    "fault-cleared": (
        fake.snapshot(state="faulted", may=["acknowledge", "dark"], faults=[fake.fault()], state_number=11),
        fake.rising(20.0) | {"state_number": 12},
        "Light blue-38",
    ),
}
"""The box before, the box after, and the act that then stands filled."""


def eight(data: Path) -> None:
    """Eight recipes, of which only blue-38 was ever used; by name it is not the first."""
    for name in ("aaa-first", "board-35", "brass-8min", "film-50", "old-film", "trial-7"):
        (data / "recipes" / f"{name}.yaml").write_text(BLUE, encoding="utf-8")
    record(data / "logbook.sqlite", label="blue-38 · 3")


def lit_by(control: FakeControl) -> list[dict[str, Any]]:
    """The commands that would have lit lamps."""
    return [each for each in control.commands if each["command"] in LIGHTING]
