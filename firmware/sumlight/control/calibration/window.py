"""What looks at the board's own LED say of a sensor's window, beside calibrations and corrections. Pure."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from sumlight.control.calibration.answers import WindowCheck
from sumlight.light import selfcheck
from sumlight.store.logbook.calibrations import CalibrationRecord, LampsFitted, SelfCheckRecord, ShiftRecord
from sumlight.text.message import joined, say

SELF_CHECK_EVERY_H = 8.0
"""A self-check costs two seconds and is suggested once in so many lamp hours, about a working day (no source)."""
TOGETHER_H = 1.0
"""Self-check and calibration within so many lamp hours saw the same window."""
WORTH_A_SHIFT = 0.025
"""Smaller changes of the window (ln) are left alone."""


@dataclass(frozen=True)
class WindowHistory:
    """All that bears on the window over one bank's meter.

    `checks` of that meter and `shifts` of the bank in the order of their making; `records`, the calibrations that hold
    for it, by lamp hours; the lamps that were `fitted` last, if any were recorded.
    """

    checks: Sequence[SelfCheckRecord]
    shifts: Sequence[ShiftRecord]
    records: Sequence[CalibrationRecord]
    fitted: LampsFitted | None

    def due(self, lamp_hours: float) -> bool:
        """Whether the board's LED should be looked at again."""
        return not self.checks or not 0 <= lamp_hours - self.checks[-1].lamp_hours < SELF_CHECK_EVERY_H

    @property
    def missing_ln(self) -> float:
        """What the last look found of dirt (ln) that is not in the bank's number; 0 where nothing is known of any.

        A calibration since then was made through the window as it is.
        """
        last = self.checks[-1] if self.checks else None
        if last is None or any(record.made_utc > last.made_utc for record in self.records):
            return 0.0
        return self.judge(last.led, last.lamp_basic_counts).ln_shift

    def judge(self, led: tuple[float, ...], lamp: float | None) -> WindowCheck:
        """Compare an LED reading with the reference; say what is not yet in the calibration.

        `lamp` is the last settled lamp reading in basic counts. What a calibration made since the last self-check
        may already hold is never offered again. `led` has a value a channel, in basic counts.
        """
        reference = self._reference()
        if reference is None:
            return WindowCheck("reference", say("first_led_reading"), 1.0, 0.0, 0.0, False)
        now, before = _visible(led), _visible(reference.led)
        found = selfcheck.judge(now, before, None)
        if found.verdict == "steady" and lamp and reference.lamp_basic_counts:
            found = selfcheck.judge(now, before, lamp / reference.lamp_basic_counts)
        if found.verdict == "sensor_changed":
            return WindowCheck(found.verdict, found.sentence, found.diffuser, 0.0, 0.0, False)
        accounted = self._ln_accounted(reference)
        missing = found.ln_shift - accounted
        if abs(missing) < WORTH_A_SHIFT:
            return _nothing_new(found, accounted)
        sigma = found.ln_sigma or WORTH_A_SHIFT / 2
        if self._calibrated_since(self.checks[-1]):
            text = joined(found.found, say("calibrated_since_check"))
            return WindowCheck(found.verdict, text, found.diffuser, missing, sigma, False)
        verdict = found.verdict
        if missing < 0 and verdict != "diffuser_cleaned":
            text = say("cleaned_since_check")
            return WindowCheck("diffuser_cleaned", text, found.diffuser, missing, sigma, True)
        text = joined(found.found, say("apply_until_then"))
        return WindowCheck(verdict, text, found.diffuser, missing, sigma, True)

    def share(self, lamp_hours: float) -> float | None:
        """Share of the lamps' light that the meter's window passes, over that at the last calibration.

        Corrections that were applied do not change it: `corrected_by` tells those. Told only within TOGETHER_H lamp
        hours of a self-check, or of a calibration after one: what an older check said must not stand beside a new loss
        of light as if the window had been looked at. None otherwise, and when the sensor itself has changed.
        """
        reference = self._reference()
        if reference is None:
            return None
        last, fitted = self.checks[-1], self.fitted
        hours = [check.lamp_hours for check in self.checks if fitted is None or check.made_utc >= fitted.fitted_utc]
        hours += [record.lamp_hours for record in self.records]
        if not any(0 <= lamp_hours - known_h <= TOGETHER_H for known_h in hours):
            return None
        if any(record.made_utc > last.made_utc for record in self.records):
            return 1.0  # the calibration was made through the window as it is
        found = selfcheck.judge(_visible(last.led), _visible(reference.led), None)
        if found.verdict == "sensor_changed":
            return None
        in_calibration = self._ln_accounted(reference) - math.log(self.corrected_by())
        return math.exp(in_calibration - found.ln_shift)

    def corrected_by(self) -> float:
        """Factor by which corrections have raised the ratio since the last calibration."""
        since_h = self.records[-1].lamp_hours if self.records else -math.inf
        return math.exp(math.fsum(shift.ln_shift for shift in self.applied() if shift.lamp_hours >= since_h))

    def ln_corrected_since(self, lamp_hours: float) -> float:
        """By how much (ln) corrections have moved the bank's number after these lamp hours."""
        return math.fsum(shift.ln_shift for shift in self.applied() if shift.lamp_hours > lamp_hours)

    def applied(self) -> list[ShiftRecord]:
        """Corrections that were applied under the present lamps."""
        number = 0 if self.fitted is None else self.fitted.number
        return [shift for shift in self.shifts if shift.applied and shift.lamp_set == number]

    def _reference(self) -> SelfCheckRecord | None:
        return next((check for check in reversed(self.checks) if check.is_reference), None)

    def _ln_accounted(self, reference: SelfCheckRecord) -> float:
        """What was already corrected, or was in a calibration, since the reference reading."""
        return math.fsum(shift.ln_shift for shift in self.shifts if shift.made_utc >= reference.made_utc)

    def _calibrated_since(self, check: SelfCheckRecord) -> bool:
        fitted = self.fitted
        if fitted is not None and fitted.number and check.made_utc < fitted.fitted_utc:
            return bool(self.records)
        return any(record.lamp_hours > check.lamp_hours + TOGETHER_H for record in self.records)


def _nothing_new(found: selfcheck.SelfCheck, accounted: float) -> WindowCheck:
    if abs(accounted) < WORTH_A_SHIFT:
        return WindowCheck(found.verdict, found.sentence, found.diffuser, 0.0, 0.0, False)
    text = say("diffuser_as_before", share=found.diffuser)
    return WindowCheck("steady", text, found.diffuser, 0.0, 0.0, False)


def _visible(led: tuple[float, ...]) -> list[float]:
    """The channels that see the white LED well: 445, 480, 515 nm and clear."""
    return list(led[1:5])
