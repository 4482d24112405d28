"""What one light sensor sees: what lies before it, where it sits, and its own faults that stay as they are."""

from dataclasses import dataclass, field
from random import Random

from sumlight.twin import events, optics
from sumlight.twin.field import Field
from sumlight.twin.optics import Response, Sheet

GAIN_CODES = 11
ANCHOR_CODE = 5
"""Gain 16 is taken as exact; all others are off relative to it."""
LARGEST_STEP_ERROR = 0.03
"""A doubling of the gain is off by up to this share."""

LED_DIRECT_SHARE = 0.54
"""So much of the LED's light comes back from the clean inner face of the diffuser; the rest went out through the dirt
and back in again (invented). So a transmission of 0.80 shows as 0.83."""


@dataclass
class Sight:
    """The state of one sensor's window.

    `diffuser` is the transmission of dirt on the diffuser, the same at all wavelengths. `sheet` lies on the sensor,
    over the diffuser. `place` is the lamp light where the sensor sits, `at_mm` from the middle of the glass and taking
    light up to `accepts_deg` from upright, over that in the middle; it was `unit` when the box was built.
    """

    diffuser: float = 1.0
    filter_fitted: bool = True
    sheet: Sheet | None = None
    place: float = 1.0
    at_mm: tuple[float, float] = (0.0, 0.0)
    accepts_deg: float = 90.0
    unit: float = 1.0

    def sit(self, lamp_field: Field, across_mm: float, accepts_deg: float) -> None:
        """Be built in so; what it sees of the lamps there is what it is calibrated with."""
        self.at_mm, self.accepts_deg = (across_mm, 0.0), accepts_deg
        self.unit = lamp_field.relative(*self.at_mm, accepts_deg)

    def look(self, lamp_field: Field) -> None:
        """See the tubes that are in now."""
        self.place = lamp_field.relative(*self.at_mm, self.accepts_deg) / self.unit

    def response(self, channel: str, lamp: str) -> Response:
        """Counts of a channel at gain 1 for each kind of light as it is outside, under a kind of lamp."""
        sheet = self.sheet
        bare = optics.counts(channel, lamp, self.filter_fitted, sheet is not None and sheet.blocks_uv)
        passing = self.diffuser * (sheet.transmission if sheet is not None else 1.0)
        shining = self.place * passing
        led = LED_DIRECT_SHARE + (1 - LED_DIRECT_SHARE) * self.diffuser**2
        return Response(bare.phosphor * shining, bare.lines * shining, bare.daylight * passing, bare.led * led)

    def change(self, event: events.Event, lamp_field: Field | None) -> None:
        """Let an event happen to the window; `lamp_field` is that of the bank the sensor watches."""
        match event:
            case events.DiffuserFouls():
                self.diffuser = event.transmission
            case events.DiffuserCleaned():
                self.diffuser = 1.0
            case events.FilterRemoved() | events.FilterFitted():
                self.filter_fitted = isinstance(event, events.FilterFitted)
            case events.SheetLaid():
                self.sheet = Sheet(event.transmission, event.blocks_uv)
            case events.SheetLifted():
                self.sheet = None
            case events.SensorMoved():
                self.at_mm, self.accepts_deg, self.unit = (event.x_mm, event.y_mm), 90.0, 1.0
                if lamp_field is not None:
                    self.look(lamp_field)


@dataclass(frozen=True)
class Quirks:
    """How one chip differs from its datasheet.

    `gain_factors` are true over nominal gain by gain code. `clock_error` 0.01 makes every conversion 1 % longer than
    its registers say. Sensitivity changes by `drift_per_k` for each kelvin away from 25 °C.
    """

    gain_factors: tuple[float, ...] = field(default=(1.0,) * GAIN_CODES)
    clock_error: float = 0.0
    drift_per_k: float = 0.0


def gain_factors(rng: Random) -> tuple[float, ...]:
    """True over nominal gain by code: each doubling is off by up to 3 %, and the errors pile up away from gain 16."""
    steps = [1 + rng.uniform(-LARGEST_STEP_ERROR, LARGEST_STEP_ERROR) for _ in range(GAIN_CODES - 1)]
    factors = [1.0] * GAIN_CODES
    for code in range(ANCHOR_CODE, GAIN_CODES - 1):
        factors[code + 1] = factors[code] * steps[code]
    for code in range(ANCHOR_CODE, 0, -1):
        factors[code - 1] = factors[code] / steps[code - 1]
    return tuple(factors)
