"""What stands of a light in doubt: for how long, what ends it, and that a restart does not forget it."""

import json
import math
from dataclasses import replace

import pytest

from sumlight.control.calibration.seen_light import (
    LastLooks,
    SeenLight,
    SeenLights,
    Standing,
    after,
    seen_in,
    standing_in,
)

AT_H = 100.0
GOOD = SeenLight((10.0, 8.0, 0.0, 0.0, 0.0, 0.0), 0, AT_H, "below", "")
PLACE = GOOD.place
BEFORE = Standing(GOOD)
"""Nothing is in doubt."""


def light(factor: float, hours: float = AT_H + 1) -> SeenLight:
    """So much of the good light, later."""
    return replace(GOOD, basic_counts=tuple(factor * each for each in GOOD.basic_counts), lamp_hours=hours)


def stands(
    factor: float,
    before: Standing | None = BEFORE,
    *,
    weaker: float | None = None,
    apart_ln: float = 0.0,
    jumped_ln: float = 0.0,
    looked: bool = False,
) -> Standing:
    """After a panel in so much of the good light."""
    return after(before, light(factor), weaker=weaker, apart_ln=apart_ln, jumped_ln=jumped_ln, looked=looked)


def test_light_in_doubt_is_not_what_later_light_is_compared_with() -> None:
    """Whatever the doubt is; the first panel's hours and the weakest light are kept."""
    fallen = stands(0.8, weaker=0.78)
    assert (fallen.light, fallen.doubted_h, fallen.weaker) == (GOOD, AT_H + 1, 0.78)
    again = after(fallen, light(0.85, AT_H + 2), weaker=0.78, apart_ln=0.0, jumped_ln=0.0, looked=False)
    assert (again.light, again.doubted_h, again.weaker) == (GOOD, AT_H + 1, 0.78)
    assert stands(1.0, apart_ln=0.2).light == GOOD
    assert stands(0.95, jumped_ln=-0.08).light == GOOD


def test_a_fall_ends_when_the_light_is_back() -> None:
    """Within two per cent, on the mean of a panel: its first light may have been cold."""
    fallen = stands(0.8, weaker=0.78)
    assert stands(0.97, fallen, weaker=0.78).weaker == 0.78
    back = stands(0.99, fallen, weaker=0.78)
    assert (back.doubted_h, back.weaker) == (None, None)


def test_a_jump_ends_only_by_a_jump_back() -> None:
    """Lamps that warm up make up for what lies before the sensor, and would hide it."""
    jumped = stands(0.95, jumped_ln=-0.08)
    assert stands(1.1, jumped).jumped_ln == pytest.approx(-0.08)
    assert stands(0.9, jumped, jumped_ln=-0.08).jumped_ln == pytest.approx(-0.16)
    assert stands(1.0, jumped, jumped_ln=0.075) == Standing(light(1.0))
    assert stands(1.0, None, jumped_ln=-0.08).jumped_ln == -0.08, "nor is one of the very first panel forgotten"


def test_what_gets_dirty_little_by_little_is_compared_with_the_strongest_light() -> None:
    """Four panels, each with a twentieth less; a look at the window makes the present light the standard."""
    standing = BEFORE
    for n in range(1, 5):
        standing = after(standing, light(0.95**n), weaker=None, apart_ln=0.0, jumped_ln=0.0, looked=False)
    assert standing.light == GOOD
    assert stands(1.05, standing).light == light(1.05)
    assert stands(0.8, standing, looked=True).light == light(0.8)


def test_light_of_other_lamps_or_another_place_begins_anew() -> None:
    """Nothing is carried over."""
    moved = replace(light(0.5), position="elsewhere")
    assert after(stands(0.8, weaker=0.8), moved, weaker=None, apart_ln=0.0, jumped_ln=0.0, looked=False) == Standing(
        moved
    )


def record(seen: SeenLight, standing: Standing | None) -> str:
    """As `dose_uncertainty` keeps it."""
    anchor = {
        "lamp_set": seen.lamp_set,
        "lamp_hours": seen.lamp_hours,
        "meter": seen.meter,
        "position": seen.position,
    }
    kept = None if standing is None else standing.kept()
    return json.dumps({"settled_basic_counts": seen.basic_counts, "anchor": anchor, "standing": kept})


@pytest.mark.parametrize(
    "standing",
    [
        stands(0.8, weaker=0.78),
        stands(1.0, apart_ln=0.2),
        stands(0.95, jumped_ln=-0.08),
        Standing(light(0.8)),
    ],
)
def test_a_restart_forgets_no_doubt(standing: Standing) -> None:
    """The record of the last side holds it."""
    text = record(light(0.8), standing)
    assert (seen_in(text), standing_in(text)) == (light(0.8), standing)
    lights = SeenLights({"lower": text})
    assert lights.standing("lower", PLACE, AT_H + 2, LastLooks()) == standing
    assert lights.last("lower", PLACE, AT_H + 2) == light(0.8)


def test_an_old_record_holds_no_doubt() -> None:
    """Its own light is the standard; one that was spoiled by hand counts as old, one without light as none."""
    text = record(light(0.8), None)
    assert standing_in(text) == Standing(light(0.8))
    spoiled = json.loads(text) | {"standing": {"light": 3}}
    assert standing_in(json.dumps(spoiled)) == Standing(light(0.8))
    assert standing_in("{}") is None


def test_a_calibration_or_a_look_since_ends_what_it_can() -> None:
    """One before the doubt does not. A look at one window says nothing of two sensors that contradict each other."""
    doubted = Standing(GOOD, AT_H + 1, 0.8, 0.2, -0.08)
    lights = SeenLights({})
    lights.saw("lower", light(0.8, AT_H + 3), doubted)

    def found(calibrated_h: float = -math.inf, self_check_h: float = -math.inf) -> Standing | None:
        return lights.standing("lower", PLACE, AT_H + 4, LastLooks(calibrated_h, self_check_h))

    assert found() == found(calibrated_h=AT_H + 0.5) == found(self_check_h=AT_H + 2) == doubted
    assert found(calibrated_h=AT_H + 2) == Standing(light(0.8, AT_H + 3))
    assert found(calibrated_h=AT_H + 3.5) == Standing(light(0.8, AT_H + 3), calibrated=True)
    assert found(self_check_h=AT_H + 3.5) == Standing(GOOD, AT_H + 1, None, 0.2, 0.0)


def test_light_of_many_hours_ago_is_compared_with_only_while_it_is_in_doubt() -> None:
    """A doubt does not pass by itself."""
    lights = SeenLights({})
    lights.saw("lower", light(0.8), Standing(GOOD, AT_H + 1, 0.8))
    assert lights.standing("lower", PLACE, AT_H + 500, LastLooks()) == Standing(GOOD, AT_H + 1, 0.8)
    assert lights.last("lower", PLACE, AT_H + 500) is None
    lights.saw("lower", light(1.0), Standing(light(1.0)))
    assert lights.standing("lower", PLACE, AT_H + 500, LastLooks()) is None
    assert lights.standing("lower", (1, "below", ""), AT_H + 2, LastLooks()) is None
