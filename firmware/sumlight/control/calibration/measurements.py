"""What finished series tell: transmission of sheets, the field, a test strip; and the arithmetic that goes with them.

Fields and results; a ? marks what may be left out:

transmission: exposure_id of a series `compare`, covered? (legs with a sheet; default 2, 4, …) → sheets (each: leg,
    transmission, standard, density, density_standard, opaque, verdict, sentence), stack, recipe_value, sentence.
    `recipe_value` is the stack's transmission, null unless every sheet was judged to pass UV: the sensor's violet
    channel alone does not tell.
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
from sumlight.light.transmission import Reading, Transmission
from sumlight.protocol.commands import DoseWindow, FieldMap, SheetTransmission, Strip, StripPlan
from sumlight.protocol.errors import BadRequestError
from sumlight.store.logbook.reading import LogbookReader

VIOLET, CLEAR = 0, 4
NO_DARK = Reading(0.0, 0.0)
HEAT_MAP = 13


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
    legs = steady_legs(book, exposure, known.gains[banks[bank].meter.name])
    try:
        return kind, transmission(asked, legs) if isinstance(asked, SheetTransmission) else field(asked, legs)
    except ValueError as error:
        if isinstance(error, BadRequestError):
            raise
        raise BadRequestError("bad_value", str(error), field="exposure_id") from error


def transmission(asked: SheetTransmission, legs: list[SteadyLeg]) -> dict[str, Any]:
    """Each covered leg against the open legs next to it."""
    names = [leg.leg for leg in legs]
    covered = {f"{number:g}" for number in asked.covered} if asked.covered else set(names[1::2])
    if not covered or covered - set(names) or covered >= set(names):
        text = f"'covered' must name some of the legs {', '.join(names)}, not all"
        raise BadRequestError("bad_value", text, field="covered")
    found, results = [], []
    for index, leg in enumerate(legs):
        if leg.leg not in covered:
            continue
        before = next((other for other in reversed(legs[:index]) if other.leg not in covered), None)
        after = next((other for other in legs[index + 1 :] if other.leg not in covered), None)
        violet, clear = (_through(leg, before, after, channel) for channel in (VIOLET, CLEAR))
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
    return {
        "sheets": results,
        "stack": asdict(whole),
        "recipe_value": round(whole.value, 4) if usable else None,
        "sentence": f"Together {whole.value:.1%} ± {2 * whole.standard:.1%} (k = 2) passes: put it into the recipe."
        if usable
        else "Do not put this into a recipe: the sensor cannot tell how much UV passes. Expose a tablet under it.",
    }


def _through(leg: SteadyLeg, before: SteadyLeg | None, after: SteadyLeg | None, channel: int) -> Transmission:
    first, last = before or after, after if before else None
    if first is None:
        raise ValueError("a leg without any sheet is needed beside the covered ones")
    return sheets.measured(
        first.channels[channel],
        leg.channels[channel],
        NO_DARK,
        None if last is None else last.channels[channel],
    )


def field(asked: FieldMap, legs: list[SteadyLeg]) -> dict[str, Any]:
    """The map: grid, values, uniformity, usable area (±5 % and ±10 %), heat map, and `place` from sensor to panel."""
    places = asked.places
    if len(places) != len(legs):
        text = f"'places' holds {len(places)} places, but {len(legs)} legs were finished"
        raise BadRequestError("bad_value", text, field="places")
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
    text = f"The weakest place gets {figures.min_over_max:.0%} of the strongest, {figures.steps:.1f} tablet steps less."
    if sensor or panel:
        if len(sensor) != 2 or len(panel) != 4:
            raise BadRequestError("bad_value", "'sensor' is [x, y], 'panel' [x0, x1, y0, y1]", field="panel")
        place = fields.place_factor(found, (sensor[0], sensor[1]), (panel[0], panel[1], panel[2], panel[3]))
        result["place"] = asdict(place)
        text += f" The panel's mean is {place.factor:.3f} of the sensor's place."
    return {**result, "sentence": text}


def strip_plan(asked: StripPlan) -> dict[str, Any]:
    """A test strip by geometric increments; `leg_doses_mj_cm2` is what a series of kind strip takes."""
    try:
        planned = strips.strip(asked.first_mj_cm2, asked.factor, asked.zones)
    except ValueError as error:
        raise BadRequestError("bad_value", str(error)) from error
    return {
        "zone_doses_mj_cm2": list(planned.zone_doses_mj_cm2),
        "leg_doses_mj_cm2": [part.dose_mj_cm2 for part in planned.parts],
        "steps": [part.sentence for part in planned.parts],
        "warnings": list(planned.warnings),
    }


def strip(asked: Strip, exposure: dict[str, Any]) -> dict[str, Any]:
    """Doses that the zones really got, and between which of them the resist holds."""
    parts = [side["dose_mj_cm2"] for side in exposure["sides"] if side["state"] == "done"]
    doses = [math.fsum(parts[: number + 1]) for number in range(len(parts))]
    if not doses:
        raise BadRequestError("refused", "no part of this strip was completed", field="exposure_id")
    held = asked.first_held_zone
    if held is not None and not 1 <= held <= len(doses):
        text = f"'first_held_zone' is {held}; it must lie between 1 and {len(doses)}"
        raise BadRequestError("bad_value", text, field="first_held_zone")
    low = doses[-1] if held is None else (0.0 if held == 1 else doses[held - 2])
    high = None if held is None else doses[held - 1]
    if high is None:
        text = f"No zone held: this resist needs more than {low:.1f} mJ/cm²."
    else:
        text = f"The resist begins to hold between {low:.1f} and {high:.1f} mJ/cm²."
    return {"zone_doses_mj_cm2": doses, "low_mj_cm2": low, "high_mj_cm2": high, "sentence": text}


def dose_window(asked: DoseWindow) -> dict[str, Any]:
    """Between which doses an artwork works on a resist."""
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
        raise BadRequestError("bad_value", str(error)) from error
    return asdict(found)


def reciprocity_remarks(sides: Iterable[SideRun]) -> list[str]:
    """Where the light is far from that at which the recipe's dose was found."""
    found = []
    for side in sides:
        light = side.resist_mw_cm2 if side.state == "lit" else side.cut_mw_cm2
        if side.plan.found_at_mw_cm2 is not None and light > 0.2 * side.plan.found_at_mw_cm2:
            remark = warning(light, side.plan.found_at_mw_cm2)
            found += [f"Side {side.plan.side}: {remark}"] if remark else []
    return found


def as_text(result: dict[str, Any]) -> str:
    """A result for the record."""
    return json.dumps(result)
