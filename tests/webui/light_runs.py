"""What the tests of Light share: runs in a logbook, forms, and what control was asked."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from flask.testing import FlaskClient

from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import NewExposure, NewSide, SideState
from tests.webui.fake_control import SEEN_BEFORE_SERIES, FakeControl, RefusalError
from tests.webui.given import BLUE, ORIGIN

BEGAN = datetime(2026, 11, 25, 8, 0, tzinfo=UTC)
KINDS = {"tablet": 1, "teach": 2, "strip": 3, "compare": 4, "field": 5, "steady": 6, "panel": 7}
"""The number that each kind of run has in the logbook below."""
PARAMETERS = {
    "tablet": '{"target_step": 9, "reference_mj_cm2": 55}',
    "field": '{"places": [[0, 0], [-60, -40], [0, 0]]}',
}


PLAN = {"recipe": "blue-38", "target_step": "9", "reference_mj_cm2": "55", "zones": "4"}
READ = {"convention": "last_held", "step_1": "6", "half_1": "yes", "step_2": "7", "step_3": "8", "target_step": "9"}


def keep(path: Path, kind: str, *, ended: bool = True, done: str = "done", parameters: str | None = None) -> int:
    """Write a series of three legs; returns its number."""
    logbook = Logbook(path, durable=False)
    timed = kind in ("teach", "compare", "field", "steady")
    sides = tuple(NewSide(str(leg), "lower", None if timed else 10.0 * leg, 0.82) for leg in (1, 2, 3))
    new = NewExposure(kind, "", "blue-38", BLUE, "0" * 64, sides, BEGAN, "Demo box", True, kind)
    new = replace(new, parameters=PARAMETERS.get(kind) if parameters is None else parameters)
    begun = logbook.begin(new)
    legs = [SideState(begun.side_ids[str(leg)], done, 10.0 * leg, 0.1, 2.4, 0, 0.0) for leg in (1, 2, 3)]
    logbook.put_sides(legs, BEGAN)
    if ended:
        logbook.finish(begun.exposure_id, "completed", False, BEGAN + timedelta(seconds=60))
    logbook.close()
    return begun.exposure_id


def post(client: FlaskClient, path: str, **fields: Any) -> Any:
    """A form of this page."""
    return client.post(path, data=SEEN_BEFORE_SERIES | fields, headers=ORIGIN)


def asked(control: FakeControl, command: str) -> dict[str, Any]:
    """What the last such command said, without its number."""
    found = [c for c in control.commands if c["command"] == command]
    assert found, f"{command} was never asked"
    return {key: value for key, value in found[-1].items() if key not in ("id", "command")}


def refuse(control: FakeControl, command: str, field: str | None, message: str = "no such thing") -> None:
    """From now on that command is refused."""

    def no(_request: dict[str, Any]) -> dict[str, Any]:
        raise RefusalError("bad_value", message, field)

    control.answers[command] = no


def beside(page: str, html_id: str) -> str:
    """The mistake that stands beside a field."""
    return page.split(f'id="{html_id}-error">')[1].split("</p>")[0]
