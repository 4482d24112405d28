"""Carries out what is asked about signs and causes: control writes them, whoever asks."""

from typing import Any

from sumlight.control.loop import ControlLoop
from sumlight.control.refused import refuse_if_unwritable
from sumlight.protocol.finding_commands import NOT_KNOWN, ConfirmCause, Findings


def put_findings(loop: ControlLoop, asked: Findings) -> dict[str, Any]:
    """Signs of a recorded exposure, and what is known beside them; whether the number exists the logbook finds out."""
    refuse_if_unwritable(loop.writer)
    known = asked.model_dump(exclude_none=True, exclude=set(NOT_KNOWN))
    utc = loop.clock.utc()
    loop.writer.add(
        f"{len(asked.signs)} signs on exposure {asked.exposure_id} by {asked.who}",
        lambda book: book.findings.put_findings(asked.exposure_id, asked.signs, known, asked.who, utc),
    )
    return {"exposure_id": asked.exposure_id}


def confirm_cause(loop: ControlLoop, asked: ConfirmCause) -> dict[str, Any]:
    """A cause that somebody has found to be the one, or has not after all."""
    refuse_if_unwritable(loop.writer)
    utc = loop.clock.utc()
    loop.writer.add(
        f"the cause {asked.cause} of exposure {asked.exposure_id} by {asked.who}",
        lambda book: book.findings.confirm_cause(asked.exposure_id, asked.cause, asked.confirmed, asked.who, utc),
    )
    return {"exposure_id": asked.exposure_id}
