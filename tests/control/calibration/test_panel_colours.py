"""Colours of panels between calibrations: which are kept, and what the book makes of them."""

import json
import math
from dataclasses import replace

import pytest

from sumlight.control.calibration.expected_light import SeenLight, seen_among
from sumlight.control.calibration.panel_colours import EVERY_H, PanelColours, ln_colour
from sumlight.control.calibration.registry import CalibrationBook
from sumlight.light.fingerprint import fingerprint
from sumlight.store.logbook.calibrations import CalibrationRecord, StoredCalibrations
from tests.control.bench_box import demo_box

UTC = "2026-11-25T08:00:00.000000Z"
SIX = (1.0, 0.8, 0.02, 0.013, 0.7, 0.007)


def light(hours: float, six: tuple[float, ...] = SIX, position: str = "middle") -> SeenLight:
    """Settled light under the first lamps."""
    return SeenLight(six, 0, hours, "below", position)


def of(colours: PanelColours) -> list[float]:
    """Hours of those that were kept."""
    return [seen.lamp_hours for seen in colours.of("lower", 0, "below", "middle")]


def test_one_colour_in_ten_hours_is_kept() -> None:
    """Tubes fade slowly; another place of the sensor begins anew."""
    colours = PanelColours()
    kept = [colours.add("lower", light(hours), None) for hours in (0.0, EVERY_H - 0.1, EVERY_H, EVERY_H + 1)]
    assert kept == [True, False, True, False]
    assert colours.add("lower", light(EVERY_H + 1, position="corner"), None)
    assert of(colours) == [0.0, EVERY_H]


def test_daylight_and_blind_channels_are_left_out() -> None:
    """What daylight adds to the clear channel is no ageing; nor is a channel that saw nothing."""
    colours, reference = PanelColours(), fingerprint(SIX, [0.0004] * 6)
    daylight = tuple(value + added for value, added in zip(SIX, (0.01, 0.015, 0.02, 0.02, 0.06, 0.02), strict=True))
    assert not colours.add("lower", light(0.0, daylight), reference)
    assert not colours.add("lower", light(0.0, (*SIX[:4], 0.0, 0.007)), reference)
    assert ln_colour((*SIX[:4], 0.0, 0.007)) is None
    assert colours.add("lower", light(0.0), reference)


def tablet(hours: float, ln_ratio: float, clear: float) -> CalibrationRecord:
    """A good one, with the colour that its light had."""
    seen = fingerprint((*SIX[:4], clear, SIX[5]), [0.0004] * 6)
    return replace(
        CalibrationRecord("tablet", "below", "lower", 0, ln_ratio, 0.035, 0.0, hours, UTC, seen, 5),
        position=demo_box().meters[0].position,
        made_utc=f"{UTC[:-1]}{hours:09}",
    )


def faded(hours: float) -> tuple[float, float]:
    """ln of what the band lost by this hour, faster and faster, and the clear channel, two thirds of it the band."""
    lost = -0.35 * (hours / 1000) ** 2
    return lost, 0.7 * (1 + 0.66 * math.expm1(lost))


def book(panels_until_h: float, **kept: object) -> CalibrationBook:
    """Tablets until 500 h, panels every 20 h."""
    made = CalibrationBook(demo_box(), replace(StoredCalibrations(), **kept))  # type: ignore[arg-type]
    for hours in range(0, 1000, 20):
        if hours % 100 == 0 and hours <= 500:
            made.add(tablet(float(hours), -4.4 + faded(hours)[0], faded(hours)[1]))
        if hours <= panels_until_h:
            made.saw("lower", (*SIX[:4], faded(hours)[1], SIX[5]), hours + 5.0)
    return made


def ln_k(of: CalibrationBook, hours: float) -> float:
    """ln of what a basic count is worth."""
    return math.log(of.k("lower", hours).mw_cm2_per_basic_count)


def test_the_number_follows_the_colour_between_tablets() -> None:
    """400 h after the last one: a third of the error is gone, and the truth lies within what is stated."""
    seen, unseen = book(1000), book(-1)
    seen.take_in("lower")
    true = -4.4 + faded(900)[0]
    assert abs(ln_k(seen, 900.0) - true) < 0.67 * abs(ln_k(unseen, 900.0) - true)
    assert abs(ln_k(seen, 900.0) - true) < 2 * seen.k("lower", 900.0).ln_sigma


def test_colours_wait_for_dark() -> None:
    """What a panel showed counts once the lamps are off and the book is told so."""
    made = book(-1)
    before = ln_k(made, 900.0)
    made.saw("lower", (*SIX[:4], faded(900)[1], SIX[5]), 890.0)
    assert ln_k(made, 900.0) == before
    made.take_in("lower")
    assert ln_k(made, 900.0) != before


def test_a_new_start_knows_what_was_known() -> None:
    """From the records alone: calibrations and the panels' own budgets."""
    running = book(1000)
    running.take_in("lower")
    place = {"lamp_set": 0, "meter": "below", "position": demo_box().meters[0].position}
    budgets = [
        (
            "lower",
            json.dumps(
                {
                    "settled_basic_counts": [*SIX[:4], faded(hours)[1], SIX[5]],
                    "anchor": {**place, "lamp_hours": hours + 5.0},
                }
            ),
        )
        for hours in range(0, 1000, 20)
    ]
    tablets = [tablet(float(hours), -4.4 + faded(hours)[0], faded(hours)[1]) for hours in range(0, 501, 100)]
    again = CalibrationBook(demo_box(), StoredCalibrations(tablets, panel_budgets=budgets))
    assert ln_k(again, 990.0) == pytest.approx(ln_k(running, 990.0), abs=0.002)
    assert len(seen_among([*budgets, ("lower", "{}")])) == len(budgets)


def test_a_tablet_read_late_is_judged_by_what_was_known_then() -> None:
    """Developed after more panels were exposed: its surprise is told, and it goes where it belongs."""
    made = book(1000)
    made.take_in("lower")
    late = tablet(700.0, -4.4 + faded(700)[0], faded(700)[1])
    surprise = made.surprise(late)
    assert surprise is not None
    assert abs(surprise) < 2.5
    made.add(late)
    assert abs(ln_k(made, 990.0) - (-4.4 + faded(985)[0])) < 0.05
