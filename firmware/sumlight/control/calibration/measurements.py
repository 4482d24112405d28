"""What finished series tell: transmission of sheets, the field, a test strip; and the arithmetic that goes with them.

Fields and results; a ? marks what may be left out:

transmission: exposure_id of a series `compare`, covered? (legs with a sheet; default 2, 4, …) → sheets (each: leg,
    transmission, standard, density, density_standard, opaque, verdict, sentence), stack, recipe_value, sentence.
    `recipe_value` is the stack's transmission, null unless every sheet was judged to pass UV, as the sensor's violet
    channel alone does not tell, and its ± is small enough for a recipe.
field: exposure_id of a series `field`, places [[x, y], …] in mm by leg, sensor? [x, y], panel? [x0, x1, y0, y1] →
    x_mm, y_mm, values, repeat, drift, uniformity, usable, heat_map, place (factor, standard, spread), sentence.
strip_plan: first_mj_cm2, factor?, zones? → zone_doses_mj_cm2, leg_doses_mj_cm2 (for a series `strip`), steps, warnings.
strip: exposure_id of a series `strip`, first_held_zone (null: none held) → zone_doses_mj_cm2, low_mj_cm2,
    high_mj_cm2, sentence.
dose_window: clear, opaque (transmissions), clear_standard?, opaque_standard?, dose_mj_cm2, held_step, clean_step,
    target_step? → low_mj_cm2, high_mj_cm2, margin_steps, verdict, sentence.
"""

import json
import math
from collections.abc import Iterable, Mapping
from dataclasses import asdict
from typing import Any, Protocol

from sumlight.control.calibration.registry import CalibrationBook
from sumlight.control.calibration.series_results import SteadyLeg, finished, steady_legs
from sumlight.control.exposure.side import SideRun
from sumlight.craft import strip as strips
from sumlight.light import field as fields
from sumlight.light import transmission as sheets
from sumlight.light.reciprocity import warning
from sumlight.light.sensors import AS7341, SensorKind
from sumlight.light.transmission import Reading, Transmission
from sumlight.protocol.commands import DoseWindow, FieldMap, SheetTransmission, Strip, StripPlan
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.calibrations import counted_alone
from sumlight.store.logbook.reading import LogbookReader
from sumlight.text.message import Message, as_written, joined, packed, say

VIOLET, CLEAR = 0, 4
NO_DARK = Reading(0.0, 0.0)
HEAT_MAP = 13
SURE_WITHIN = 0.05
"""What sheets let through may be off by so much of itself (k = 2): half of the ±10 % that a recipe allows its dose if
it says nothing else. Lamps that cool between the legs are what breaks it."""


class Watched(Protocol):
    """What is needed of a bank."""

    glass_mw_cm2: float | None

    @property
    def meter(self) -> Any:
        """Its light meter."""


Measured = SheetTransmission | FieldMap | Strip


def evaluate(
    asked: Measured, book: LogbookReader, banks: Mapping[str, Watched], known: CalibrationBook
) -> tuple[str, dict[str, Any]]:
    """Work out a finished series; returns what was measured and the result. Raises BadRequestError."""
    kind, series = {
        SheetTransmission: ("transmission", "compare"),
        FieldMap: ("field", "field"),
        Strip: ("strip", "strip"),
    }[type(asked)]
    exposure = finished(book, asked.exposure_id, series)
    if isinstance(asked, Strip):
        return kind, strip(asked, exposure)
    bank = exposure["sides"][0]["bank"]
    meter = banks[bank].meter
    legs = steady_legs(book, exposure, known.gains[meter.name], meter.kind)
    try:
        if isinstance(asked, SheetTransmission):
            return kind, transmission(asked, legs, meter.kind)
        return kind, field(asked, legs)
    except ValueError as error:
        if isinstance(error, BadRequestError):
            raise
        raise BadRequestError("bad_value", as_written(error.args[0]), field="exposure_id") from error


def transmission(asked: SheetTransmission, legs: list[SteadyLeg], kind: SensorKind = AS7341) -> dict[str, Any]:
    """Compare each covered leg with the open legs next to it; a sensor for UV-A needs no second channel to see UV.

    Raises BadRequestError.
    """
    second = CLEAR if kind.proxy else VIOLET
    names = [leg.leg for leg in legs]
    covered = {f"{number:g}" for number in asked.covered} if asked.covered else set(names[1::2])
    if not covered or covered - set(names) or covered >= set(names):
        raise BadRequestError("bad_value", say("covered_names_legs", legs=names), field="covered")
    found, results = [], []
    for index, leg in enumerate(legs):
        if leg.leg not in covered:
            continue
        before = next((other for other in reversed(legs[:index]) if other.leg not in covered), None)
        after = next((other for other in legs[index + 1 :] if other.leg not in covered), None)
        violet, clear = (_through(leg, before, after, channel) for channel in (VIOLET, second))
        judged = sheets.judge_sheet(violet, clear)
        found.append((violet, judged.verdict))
        results.append(
            {
                "leg": leg.leg,
                "transmission": violet.value,
                **{key: value for key, value in asdict(violet).items() if key != "value"},
                "verdict": judged.verdict,
                "sentence": judged.sentence,
            }
        )
    whole = sheets.stack([sheet for sheet, _ in found])
    usable = all(verdict == "passes" for _, verdict in found)
    sure = 2 * whole.standard <= SURE_WITHIN * whole.value
    if usable:
        doubt = 2 * whole.standard
        passes = say("stack_passes", share=whole.value, doubt=doubt)
        told = passes if sure else say("stack_unsure", share=whole.value, doubt=doubt)
    return {
        "sheets": results,
        "stack": asdict(whole),
        "recipe_value": round(whole.value, 4) if usable and sure else None,
        "sentence": told if usable else say("stack_not_for_recipe"),
    }


def _through(leg: SteadyLeg, before: SteadyLeg | None, after: SteadyLeg | None, channel: int) -> Transmission:
    first, last = before or after, after if before else None
    if first is None:
        raise ValueError(say("open_leg_needed"))
    return sheets.measured(
        first.channels[channel],
        leg.channels[channel],
        NO_DARK,
        None if last is None else last.channels[channel],
    )


def field(asked: FieldMap, legs: list[SteadyLeg]) -> dict[str, Any]:
    """Map the light: grid, values, uniformity, usable area (±5 %, ±10 %), heat map, and `place` from sensor to panel.

    Raises BadRequestError.
    """
    places = asked.places
    if len(places) != len(legs):
        told = say("places_and_finished_legs", places=len(places), legs=len(legs))
        raise BadRequestError("bad_value", told, field="places")
    readings = [
        fields.FieldReading(x, y, leg.channels[VIOLET].value, leg.at_s)
        for (x, y), leg in zip(places, legs, strict=True)
    ]
    found = fields.map_from(readings)
    figures = found.uniformity()
    sensor, panel = asked.sensor, asked.panel
    result: dict[str, Any] = {
        "x_mm": list(found.x_mm),
        "y_mm": list(found.y_mm),
        "values": [list(row) for row in found.values],
        "repeat": found.repeat,
        "drift": found.drift,
        "uniformity": {**asdict(figures), "steps": figures.steps},
        "usable": {f"{share:g}": asdict(fields.usable_area(found, share)) for share in (0.05, 0.1)},
        "heat_map": found.lattice(HEAT_MAP, HEAT_MAP),
        "place": None,
    }
    text = say("weakest_place", share=figures.min_over_max, steps=figures.steps)
    if sensor or panel:
        if len(sensor) != 2 or len(panel) != 4:
            raise BadRequestError("bad_value", say("sensor_and_panel"), field="panel")
        place = fields.place_factor(found, (sensor[0], sensor[1]), (panel[0], panel[1], panel[2], panel[3]))
        result["place"] = asdict(place)
        text = joined(text, say("panels_mean", factor=place.factor))
    return {**result, "sentence": text}


def strip_plan(asked: StripPlan, *, relative: bool = False) -> dict[str, Any]:
    """Plan a test strip by geometric increments; `leg_doses_mj_cm2` is what a series of kind strip takes.

    `relative`: the box counts in its own units now.

    Raises BadRequestError.
    """
    try:
        planned = strips.strip(asked.first_mj_cm2, asked.factor, asked.zones, relative=relative)
    except ValueError as error:
        raise BadRequestError("bad_value", as_written(error.args[0])) from error
    return {
        "zone_doses_mj_cm2": list(planned.zone_doses_mj_cm2),
        "leg_doses_mj_cm2": [part.dose_mj_cm2 for part in planned.parts],
        "steps": [part.sentence for part in planned.parts],
        "warnings": list(planned.warnings),
    }


def strip(asked: Strip, exposure: dict[str, Any]) -> dict[str, Any]:
    """Tell which doses the zones really got, and between which of them the resist holds. Raises BadRequestError."""
    parts = [side["dose_mj_cm2"] for side in exposure["sides"] if side["state"] == "done"]
    doses = [math.fsum(parts[: number + 1]) for number in range(len(parts))]
    if not doses:
        raise BadRequestError("refused", say("no_part_completed"), field="exposure_id")
    held = asked.first_held_zone
    if held is not None and not 1 <= held <= len(doses):
        told = say("field_out_of_bounds", field="first_held_zone", given=str(held), low=1, high=len(doses))
        raise BadRequestError("bad_value", told, field="first_held_zone")
    low = doses[-1] if held is None else (0.0 if held == 1 else doses[held - 2])
    high = None if held is None else doses[held - 1]
    own = any(counted_alone((side["budget"] or {}).get("anchor") or {}) for side in exposure["sides"])
    if high is None:
        text = say("no_zone_held_box_units", dose_mj_cm2=low) if own else say("no_zone_held", dose_mj_cm2=low)
    else:
        text = say("begins_to_hold", low_mj_cm2=low, high_mj_cm2=high)
        text = say("begins_to_hold_box_units", low_mj_cm2=low, high_mj_cm2=high) if own else text
    return {"zone_doses_mj_cm2": doses, "low_mj_cm2": low, "high_mj_cm2": high, "sentence": text}


def dose_window(asked: DoseWindow) -> dict[str, Any]:
    """Tell between which doses an artwork works on a resist. Raises BadRequestError."""
    try:
        found = sheets.dose_window(
            sheets.of(asked.clear, asked.clear_standard),
            sheets.of(asked.opaque, asked.opaque_standard),
            dose_mj_cm2=asked.dose_mj_cm2,
            held_step=asked.held_step,
            clean_step=asked.clean_step,
            target_step=asked.target_step,
        )
    except ValueError as error:
        raise BadRequestError("bad_value", as_written(error.args[0])) from error
    return asdict(found)


def reciprocity_remarks(sides: Iterable[SideRun]) -> list[Message]:
    """Where the light is far from that at which the recipe's dose was found."""
    found = []
    for side in sides:
        light = side.resist_mw_cm2 if side.state == "lit" else side.cut_mw_cm2
        if side.plan.found_at_mw_cm2 is not None and light > 0.2 * side.plan.found_at_mw_cm2:
            remark = warning(light, side.plan.found_at_mw_cm2)
            found += [say("of_side", side=side.plan.side, told=remark)] if remark else []
    return found


def as_text(result: dict[str, Any]) -> str:
    """A result for the record."""
    return json.dumps(packed(result))
