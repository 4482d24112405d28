"""What light is expected of the lamps, and what is told or refused of that before it is lit."""

from collections.abc import Callable

from sumlight.control.calibration import forecast
from sumlight.control.exposure.plan import Plan
from sumlight.control.exposure.state_machine import Event, Exposure
from sumlight.control.loop import ControlLoop
from sumlight.control.refused import RefusedError
from sumlight.control.server.recipe_scales import RecipeDoseScales
from sumlight.text.message import Message, say

MOVED_ON_PURPOSE = ("compare", "field")
"""Series in which sheets lie on the sensor, or in which it walks through the field."""


class BeforeLight:
    """Of every bank: what it is expected to give, by its calibration and by what the last panel saw.

    `lamp_hours` tells a bank's hours of light, `scales` where a recipe's dose is from; `told` is what was said of
    the plan at hand before its light.
    """

    def __init__(self, loop: ControlLoop, lamp_hours: Callable[[str], float], scales: RecipeDoseScales) -> None:
        self._loop = loop
        self._lamp_hours = lamp_hours
        self._scales = scales
        self.told: list[Message] = []
        loop.observers.append(self._remember)

    def expect_usual(self, bank: str) -> None:
        """From now on the light of a panel is expected of this bank."""
        expected = self._loop.book.expected(bank, self._lamp_hours(bank))
        self._loop.banks[bank].spectrum.judge.expect(expected)

    def expect(self, plan: Plan) -> None:
        """What lies before the sensor, or where it sits, is changed on purpose in some series: then expect nothing.

        Raises RefusedError for a panel under lamps that the number in box.yaml says nothing about, for a dose that its
        guard would end long before it is reached, and for one that was found on another scale; LogbookError.
        """
        if self._loop.exposure.running:
            return  # refused in a moment
        self._scales.refuse(plan)
        self.told = self._foretold(plan)
        by_dose = plan.kind == "panel" and any(side.target_mj_cm2 is not None for side in plan.sides)
        for name in dict.fromkeys(side.bank for side in plan.sides):
            watch = self._loop.banks[name]
            if plan.kind in MOVED_ON_PURPOSE:
                watch.spectrum.judge.expect(None)
            elif by_dose and watch.anchor.origin == "box.yaml" and self._loop.book.lamps(name) == "led":
                raise RefusedError(say("leds_never_calibrated", bank=name), say("calibrate_leds_first"))

    def refuse_after_unlikely(self) -> None:
        """Refuse more light to a panel whose light was implausible: its dose is unknown. Raises RefusedError."""
        for side in self._loop.exposure.sides:
            if side.open and self._loop.banks[side.plan.bank].spectrum.judge.unlikely is not None:
                raise RefusedError(say("dose_cannot_be_told"), say("abandon_and_see_to_light"))

    def _foretold(self, plan: Plan) -> list[Message]:
        """What is to be said before light of how long it will take, by the light of the last panel."""
        banks, book = self._loop.banks, self._loop.book
        light = {
            name: before.basic_counts[0] * watch.anchor.mw_cm2_per_basic_count
            for name, watch in banks.items()
            if watch.spectrum.judge.expected is not None
            and (before := watch.spectrum.judge.expected.before) is not None
        }
        times = forecast.of_plan(plan, light)
        forecast.refuse_hopeless(times, self._loop.box.description.limits.lit_limit_s)
        return forecast.remarks(times, {name: book.calibrated_lit_s(name) for name in banks})

    def _remember(self, exposure: Exposure, event: Event) -> None:
        """A side was completed: its settled light is what the next one is compared with."""
        side = next((side for side in exposure.sides if side.plan.side == event.side), None)
        if event.what != "side" or side is None or side.state != "done" or exposure.plan is None:
            return
        watch, name = self._loop.banks[side.plan.bank], side.plan.bank
        seen = watch.anchor.seen(watch.spectrum.settled)
        stands = None if seen is None else watch.spectrum.judge.stands(seen)
        if exposure.plan.kind == "panel" and seen is not None and stands is not None:
            self._loop.book.saw(name, seen, stands)
            watch.spectrum.judge.expect(self._loop.book.expected(name, watch.anchor.lamp_hours))
