"""What the logbook knows of this wiring, held against today's steps. Pure.

A box that passed an older walk has to pass again as soon as today's walk has a step that its record does not hold: what
nobody has tried is not proved. An override given before such a pass does not come back to life with it.
"""

from sumlight.control.commissioning.steps import Step
from sumlight.protocol.snapshot import LeftOut
from sumlight.protocol.walk import not_proved, walk_from
from sumlight.store.logbook.records import Commissioned, CommissioningRecord, OverrideRecord
from sumlight.text.message import Message


class Known:
    """`passed` covers every step of today, `override` is in force, `older` names what an older walk left unproved."""

    def __init__(self, steps: list[Step], left_out: list[LeftOut], found: Commissioned) -> None:
        self._steps, self._left_out = steps, left_out
        self.passed: CommissioningRecord | None = found.passed
        self.override: OverrideRecord | None = found.override
        self.older: list[Message] = []
        if found.passed is not None:
            self.older = _not_done(steps, found.passed)
            self.override = found.override if _later(found.override, found.passed) else None
        if self.older:
            self.passed = None

    @property
    def open_points(self) -> list[Message]:
        """Titles of what the walk that passed did not prove: left out, left to the electrician, or not yet asked."""
        if self.passed is None:
            return []
        results = walk_from(self.passed.results).results
        done = {result["step"] for result in results}
        later = [step.title for step in self._steps if not (step.locks or step.name in done)]
        return [*not_proved(results, self._left_out), *later]

    @property
    def unseen(self) -> dict[str, list[int]]:
        """By bank the tubes that its sensor was shown not to see by the walk that passed."""
        results = [] if self.passed is None else walk_from(self.passed.results).results
        told = {result["step"]: result["unseen"] for result in results if "unseen" in result}
        return {step.bank: told[step.name] for step in self._steps if step.name in told}

    def has_passed(self, record: CommissioningRecord) -> None:
        """Every step of today has passed."""
        self.passed, self.override, self.older = record, None, []

    def overridden(self, override: OverrideRecord) -> None:
        """Somebody takes it upon himself."""
        self.override = override


def _not_done(steps: list[Step], record: CommissioningRecord) -> list[Message]:
    done = {result["step"] for result in walk_from(record.results).results if result["passed"]}
    return [step.title for step in steps if step.locks and step.name not in done]


def _later(override: OverrideRecord | None, passed: CommissioningRecord) -> bool:
    ended = passed.ended_utc or passed.began_utc
    return override is not None and override.given_utc > ended
