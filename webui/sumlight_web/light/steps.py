"""What the hands do before each leg of a series, with a small map of where the sensor goes. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

from markupsafe import Markup

from sumlight_web import words
from sumlight_web.language import _

Place = tuple[float, float]
Places = tuple[Place, ...]

MAP_WIDTH, MAP_MARGIN, DOT, DOT_NOW = 100.0, 8.0, 2.5, 6.0
WAITING = ("turn", "paused")
"""States in which the hands have something to do."""


@dataclass(frozen=True)
class Step:
    """What to do now, as a sentence, and where; `map` is empty where nothing is carried about."""

    words: str
    map: Markup


def step_of(kind: str, number: int, count: int, places: Places = ()) -> Step | None:
    """The step before leg `number` of `count`; None for a kind of series whose legs need no hands.

    `places` in mm from the middle of the glass, x to the right and y away from the person.
    """
    map_ = Markup()
    if kind == "field":
        if len(places) != count:
            return None
        what = place_words(places[number - 1])
        map_ = map_svg(places, number - 1)
    elif kind == "compare":
        what = _sheet_words(number, count)
    elif kind == "tablet":
        what = _("tablet on zone {zone}, the other zones masked", zone=number)
    elif kind == "strip":
        what = _("mask over zone {zone}", zone=number - 1) if number > 1 else _("the whole strip open")
    else:
        return None
    return Step(_("{n} of {count}: {what}", n=number, count=count, what=what), map_)


def place_words(place: Place) -> str:
    """Where to lay the sensor: `sensor to the centre, 75 mm towards you`."""
    x, y = place
    if x == 0:
        told = _("sensor to the centre")
    else:
        far = words.length(abs(x))
        told = _("sensor {far} to the left", far=far) if x < 0 else _("sensor {far} to the right", far=far)
    if y == 0:
        return told
    far = words.length(abs(y))
    further = _("{far} towards you", far=far) if y < 0 else _("{far} away from you", far=far)
    return f"{told}, {further}"


def _sheet_words(number: int, count: int) -> str:
    if number % 2:
        return _("take the sheet off") if number > 1 else _("nothing over the sensor")
    return _("lay sheet {n} over the sensor", n=number // 2) if count > 3 else _("lay the sheet over the sensor")


def map_svg(places: Sequence[Place], now: int) -> Markup:
    """A small map of the glass, its near edge at the bottom: places done before `now` filled, the present one large."""
    wide = max((abs(x) for x, _y in places), default=0.0) or 1.0
    deep = max((abs(y) for _x, y in places), default=0.0) or 1.0
    height = max(30.0, min(MAP_WIDTH, MAP_WIDTH * deep / wide))
    dots = []
    for place in dict.fromkeys(places):
        x, y = MAP_MARGIN + MAP_WIDTH * (1 + place[0] / wide) / 2, MAP_MARGIN + height * (1 - place[1] / deep) / 2
        here = place == places[now]
        look = "at" if here else "been" if place in places[:now] else "yet"
        dots.append(f'<circle class="{look}" cx="{x:.1f}" cy="{y:.1f}" r="{DOT_NOW if here else DOT}"/>')
    whole_wide, whole_high = MAP_WIDTH + 2 * MAP_MARGIN, height + 2 * MAP_MARGIN
    return Markup(  # noqa: S704 - every piece above is a number
        f'<svg class="where" viewBox="0 0 {whole_wide:.0f} {whole_high:.0f}" aria-hidden="true">'
        f'<rect x="1" y="1" width="{whole_wide - 2:.0f}" height="{whole_high - 2:.0f}"/>{"".join(dots)}</svg>'
    )
