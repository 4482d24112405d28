"""Carries out what is asked about signs, causes and looks at the lamps: control writes them, whoever asks."""

from typing import Any

from sumlight.control.loop import ControlLoop
from sumlight.control.refused import RefusedError, refuse_if_unwritable
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.finding_commands import NOT_KNOWN, ConfirmCause, Findings, LookedAt
from sumlight.protocol.snapshot import OF_LIGHT
from sumlight.text.message import say


def handle(loop: ControlLoop, asked: Findings | ConfirmCause | LookedAt) -> dict[str, Any]:
    """Carry it out; returns its result. Raises RefusedError, BadRequestError."""
    match asked:
        case Findings():
            return put_findings(loop, asked)
        case ConfirmCause():
            return confirm_cause(loop, asked)
        case LookedAt():
            return looked_at(loop, asked)


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


def looked_at(loop: ControlLoop, asked: LookedAt) -> dict[str, Any]:
    """Somebody has looked at the lamps; whether the number is of a fault of light the logbook finds out.

    Raises RefusedError while a fault of light stands: a look takes none away. Raises BadRequestError without a word.
    """
    if not asked.word:
        raise BadRequestError("bad_value", say("look_needs_a_word"), field="word")
    if any(name in loop.desk for name in OF_LIGHT):
        raise RefusedError(say("fault_is_standing"), say("acknowledge_before_looking"))
    refuse_if_unwritable(loop.writer)
    utc = loop.clock.utc()
    loop.writer.add(
        f"a look at fault {asked.fault_id} by {asked.who}: {asked.word!r}",
        lambda book: book.faults.look_at(asked.fault_id, OF_LIGHT, asked.word, asked.who, utc),
    )
    return {"fault_id": asked.fault_id}
