"""How the back lies on the front, from two scanned films: against two known bends, in closed form."""

import re
from dataclasses import asdict
from typing import Any

import numpy as np
import pytest

from sumlight.artwork.compare import compare
from sumlight.craft.etching.registration import laid_off
from sumlight_web.artwork import shiftmap
from tests.artwork.bent_sheets import (
    HEIGHT,
    WIDTH,
    bent,
    bowed,
    left_over_um,
    mirrored,
    openings,
    points_px,
    scan_of,
)
from tests.artwork.known_scans import PITCH_UM, Lying, Shape, sheet_of

FRONT, BACK = bowed(3.0, 0.0, 1.0), bowed(-2.0, 2.0, 0.0)
ASKED = {"build": "sheet", "thickness_um": 150.0, "over_etch": 1.2}
MADE = {"factors": {"middle": 1.5}}


def met(shapes: list[Shape], drawn: list[Shape], turn: float) -> dict[str, Any]:
    """What the process answers for a scan of a film."""
    done = compare(scan_of(shapes, Lying(turn)), sheet_of(drawn, WIDTH, HEIGHT))
    size = [WIDTH * PITCH_UM / 1000, HEIGHT * PITCH_UM / 1000]
    return {"size_mm": size, "places": [asdict(one) for one in done.places]}


def by_hand(shift: float, size: tuple[float, float] = (20.0, 28.0)) -> dict[str, Any]:
    """A map of four places, the one at the top left off to the right."""
    places = [{"x_mm": x, "y_mm": y, "off_x_um": 0.0, "off_y_um": 0.0} for y in (7.0, 21.0) for x in (5.0, 15.0)]
    places[0]["off_x_um"] = shift
    return {"size_mm": list(size), "places": places}


def test_two_films_that_were_bent_tell_how_the_back_lies_on_the_front() -> None:
    """The front's film is drawn mirrored; seen from the front the back lies off by one bend less the other."""
    drawn = openings()
    front = met(mirrored(bent(drawn, FRONT)), mirrored(drawn), 1.0)
    back = met(bent(drawn, BACK), drawn, -2.0)
    places = shiftmap.back_on_front(front, back)
    points = points_px([(one.x_mm, one.y_mm) for one in places])
    assert len(places) == 35

    def both(points: np.ndarray[Any, Any]) -> np.ndarray[Any, Any]:
        return BACK(points) - FRONT(points)

    expected = left_over_um(points, both(points))
    found = np.array([(one.right_um, one.down_um) for one in places])
    assert np.abs(expected).max() > 50
    assert found == pytest.approx(expected, abs=6.0)


def test_a_shift_of_the_fronts_film_is_seen_from_the_other_side() -> None:
    """Top left of the film, to the right, is top right of the part, to the left: the back lies to the right of it."""
    places = shiftmap.back_on_front(by_hand(30.0), by_hand(0.0))
    assert [(one.x_mm, one.y_mm, one.right_um) for one in places if one.right_um] == [(15.0, 7.0, 30.0)]
    assert shiftmap.back_on_front(by_hand(0.0), by_hand(0.0, (21.0, 28.0))) == ()
    assert shiftmap.back_on_front({}, by_hand(0.0)) == ()
    done = shiftmap.what_it_does(places, MADE, ASKED)
    assert done == laid_off(150.0, 1.5, 30.0)
    assert shiftmap.what_it_does(places, MADE, ASKED | {"build": "foil"}) is None
    assert shiftmap.what_it_does(places, {}, {"build": "sheet"}) is None


def test_the_scale_is_the_same_for_every_sheet() -> None:
    """A place that is 25 µm off is as bright beside 30 as beside 300 µm, and every cell holds its number."""
    for beside in (30.0, 300.0):
        told = by_hand(25.0)
        told["places"][1]["off_y_um"] = -beside
        drawn = shiftmap.map_svg(shiftmap.places_of(told), "A map")
        brightness = re.findall(r'<rect x="[^>]*fill-opacity="([\d.]+)"', drawn)
        assert brightness[0] == f"{shiftmap.opacity(25.0):.3f}"
        assert drawn.count("<line") == drawn.count("<circle") == 2  # what does not lie off has no arrow
        for number in (25, beside, 0):
            assert f">{number:.0f}</text>" in drawn
    assert shiftmap.opacity(100.0) == shiftmap.opacity(300.0) == 1.0
    assert shiftmap.opacity(25.0) < shiftmap.opacity(50.0) < 1.0


def test_places_on_the_edges_are_rounded_for_reading() -> None:
    """To a tenth of a millimetre: seven columns on a phone have no room for more."""
    told = by_hand(1.0)
    told["places"] = [one | {"x_mm": one["x_mm"] + 0.0643} for one in told["places"]]
    assert re.findall(r">([\d.]+)</text>", shiftmap.map_svg(shiftmap.places_of(told), "A map"))[4:8] == [
        "5.1",
        "15.1",
        "7",
        "21",
    ]


def test_the_label_of_a_map_cannot_be_markup() -> None:
    """It goes into an attribute."""
    assert "&lt;b&gt;" in shiftmap.map_svg(shiftmap.places_of(by_hand(1.0)), "<b>")
