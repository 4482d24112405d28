"""The record of a commissioning, and what its report says: control writes it, page and file are two views of it. Pure.

In the logbook it is JSON text: an object of results, steps left out and pins. Before messages had codes it was a list
of results in plain English, and said nothing of the other two.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from sumlight.protocol.snapshot import LeftOut, Measure, StepResult
from sumlight.text.message import Message, as_written, packed, say, unpacked

Pin = tuple[str, int]
"""A signal's place in box.yaml, and its GPIO."""


@dataclass(frozen=True)
class Walk:
    """What a run found; `left_out` and `pins` None where an older record does not tell."""

    results: list[StepResult]
    left_out: list[LeftOut] | None = None
    pins: list[Pin] | None = None

    @property
    def not_proved(self) -> list[Message]:
        """Titles of what was left out, or left to the electrician."""
        return not_proved(self.results, self.left_out or [])

    def as_text(self) -> str:
        """For the record."""
        return json.dumps(packed({"results": self.results, "left_out": self.left_out, "pins": self.pins}))


def not_proved(results: Sequence[StepResult], left_out: Sequence[LeftOut]) -> list[Message]:
    """Titles of the steps that proved nothing."""
    return [result["title"] for result in results if not result["proved"]] + [left["title"] for left in left_out]


def walk_from(text: str) -> Walk:
    """Read `text` of a record of any version. Raises ValueError for what none of them has written."""
    try:
        found = unpacked(json.loads(text))
        if isinstance(found, list):
            return Walk([_result(each) for each in found])
        return Walk(
            [_result(each) for each in found["results"]],
            [LeftOut(title=as_written(left["title"]), why=as_written(left["why"])) for left in found["left_out"]],
            [(str(place), int(pin)) for place, pin in found["pins"]],
        )
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"this is no record of a commissioning: {text[:80]}") from error


def _result(found: dict[str, Any]) -> StepResult:
    result = StepResult(
        step=str(found["step"]),
        title=as_written(found["title"]),
        passed=found["passed"] is True,
        found=as_written(found["found"]),
        measures=[_measure(each) for each in found.get("measures", [])],
        proved=found.get("proved", True) is True,
    )
    if found.get("unseen"):
        result["unseen"] = [int(place) for place in found["unseen"]]
    return result


def _measure(found: dict[str, Any]) -> Measure:
    return Measure(
        what=as_written(found["what"]),
        value=float(found["value"]),
        unit=str(found["unit"]),
        limit=float(found["limit"]),
        kept=found["kept"] is True,
    )


# -- the report -------------------------------------------------------------------------------------------------------


class Recorded(Protocol):
    """The columns of a record that its report needs; the logbook's own rows have them."""

    @property
    def began_utc(self) -> datetime:
        """When the run began."""

    @property
    def ended_utc(self) -> datetime | None:
        """When it ended; None while it is under way."""

    @property
    def wiring_sha256(self) -> str:
        """Fingerprint of the wiring it was done for."""

    @property
    def box_name(self) -> str:
        """Name of the box."""

    @property
    def simulated(self) -> bool:
        """Whether it was the twin."""

    @property
    def who(self) -> str:
        """Who did it."""

    @property
    def outcome(self) -> str | None:
        """passed, failed or aborted; None while it is under way."""

    @property
    def results(self) -> str:
        """The JSON text that `walk_from` reads."""


@dataclass(frozen=True)
class Row:
    """A step in the report; `number` None for one that was left out, `sound` if it proved what it should."""

    number: int | None
    title: Message
    result: Message
    found: Message
    measures: list[Message]
    sound: bool


@dataclass(frozen=True)
class Report:
    """All that a report says, in its order."""

    title: Message
    verdict: Message
    facts: list[tuple[Message, Message]]
    rows: list[Row]
    notes: list[Message]
    pins: list[Pin]


def report_of(record: Recorded) -> Report:
    """What the report of `record` says. Raises ValueError for a record that cannot be read."""
    walk = walk_from(record.results)
    rows = [_row(number, result) for number, result in enumerate(walk.results, 1)]
    rows += [
        Row(None, left["title"], say("step_not_proved"), left["why"], [], sound=False) for left in walk.left_out or []
    ]
    box = record.box_name
    incomplete = record.outcome == "passed" and bool(walk.not_proved)
    return Report(
        title=say("report_title_incomplete", box=box) if incomplete else say("report_title", box=box),
        verdict=verdict(record.outcome, walk),
        facts=[
            (say("report_box"), say("report_simulated", box=box) if record.simulated else as_written(box)),
            (say("report_who"), as_written(record.who)),
            (say("report_begun"), _moment(record.began_utc)),
            (say("report_ended"), _moment(record.ended_utc or record.began_utc)),
            (say("report_wiring"), as_written(record.wiring_sha256)),
        ],
        rows=rows,
        notes=[say("report_eyes"), say("report_not_covered")],
        pins=walk.pins or [],
    )


def verdict(outcome: str | None, walk: Walk) -> Message:
    """How the run ended, in one sentence."""
    if outcome == "failed":
        return say("report_failed")
    if outcome != "passed":
        return say("report_not_finished")
    if walk.not_proved:
        return say("report_incomplete")
    return say("report_passed_of_old") if walk.left_out is None else say("report_passed")


def result_word(result: StepResult) -> Message:
    """Passed, failed, or left to the electrician."""
    if not result["passed"]:
        return say("step_failed")
    return say("step_passed") if result["proved"] else say("step_not_proved")


def measured(measure: Measure) -> Message:
    """A measured value beside its limit, in one line."""
    what, value, unit, limit = measure["what"], measure["value"], measure["unit"], measure["limit"]
    if measure["kept"]:
        return say("measure_kept", what=what, value=value, unit=unit, limit=limit)
    return say("measure_not_kept", what=what, value=value, unit=unit, limit=limit)


def _row(number: int, result: StepResult) -> Row:
    lines = [measured(measure) for measure in result["measures"]]
    sound = result["passed"] and result["proved"]
    return Row(number, result["title"], result_word(result), result["found"], lines, sound)


def _moment(moment: datetime) -> Message:
    return as_written(f"{moment:%Y-%m-%d %H:%M} UTC")
