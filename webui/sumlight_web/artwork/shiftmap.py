"""How far places lie off, as an SVG map: of a film against its drawing, and of the back against the front. Pure.

Brightness tells how far, by a scale that is the same for every sheet; an arrow tells which way, a number tells µm.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup, escape

from sumlight.craft.etching.registration import MOST_OFF_UM, LaidOff, laid_off
from sumlight_web.language import _, figure
from sumlight_web.words import in_length_unit, length_unit

FULL_UM = 100.0
"""Full brightness from here on, so that a good sheet never looks bad. Home prints lie off by tens of µm (common
practice, no source)."""
LEFT, TOP, WIDTH, RIGHT, KEY = 64.0, 12.0, 360.0, 12.0, 84.0
FAINTEST, DARK_INK_FROM = 0.12, 0.55
SWATCHES_UM = (0.0, 25.0, 50.0, 75.0, FULL_UM)
ARROW_UM = 50.0
"""From here on an arrow is as long as its cell has room for."""


@dataclass(frozen=True)
class Place:
    """A place of a sheet in mm, and how far what is there lies off to the right and down, in µm."""

    x_mm: float
    y_mm: float
    right_um: float
    down_um: float

    @property
    def off_um(self) -> float:
        """How far, whichever way."""
        return math.hypot(self.right_um, self.down_um)


def places_of(compared: Mapping[str, Any]) -> tuple[Place, ...]:
    """The map of a comparison, row by row from the top; empty for one that was made before there were maps."""
    found = (
        Place(*(one[key] for key in ("x_mm", "y_mm", "off_x_um", "off_y_um"))) for one in compared.get("places", ())
    )
    return tuple(sorted(found, key=lambda one: (one.y_mm, one.x_mm)))


def back_on_front(front: Mapping[str, Any], back: Mapping[str, Any]) -> tuple[Place, ...]:
    """Where the back lies off the front, as seen from the front, from what each film showed against its drawing.

    Both were laid on at best, so this is what is left when they are. The front's film is drawn mirrored. Empty where
    both are not known, or of one size.
    """
    wide = front.get("size_mm", (0.0,))[0]
    ahead = [Place(wide - one.x_mm, one.y_mm, -one.right_um, one.down_um) for one in places_of(front)]
    ahead.sort(key=lambda one: (round(one.y_mm, 3), one.x_mm))
    behind = places_of(back)
    if len(ahead) != len(behind) or front.get("size_mm") != back.get("size_mm"):
        return ()
    return tuple(
        Place(one.x_mm, one.y_mm, one.right_um - other.right_um, one.down_um - other.down_um)
        for one, other in zip(behind, ahead, strict=True)
    )


def what_it_does(places: Sequence[Place], made: Mapping[str, Any], asked: Mapping[str, Any]) -> LaidOff | None:
    """What the worst place of front against back does to a sheet; None where the artwork is of no such sheet."""
    if not places or asked.get("build") != "sheet":
        return None
    worst_um = min(MOST_OFF_UM, max(one.off_um for one in places))
    try:
        return laid_off(asked["thickness_um"], made["factors"]["middle"], worst_um, over_etch=asked["over_etch"])
    except (KeyError, TypeError, ValueError):
        return None  # made before there were maps


def opacity(off_um: float) -> float:
    """How bright a place is drawn."""
    return FAINTEST + (1 - FAINTEST) * min(1.0, off_um / FULL_UM)


def map_svg(places: Sequence[Place], label: str) -> Markup:
    """The map, its columns and rows as they lie on the sheet."""
    columns = sorted({round(one.x_mm, 3) for one in places})
    rows = sorted({round(one.y_mm, 3) for one in places})
    cell = WIDTH / len(columns)
    # Cells are half a step around their places on all sides: the sheet is as high as its rows are apart.
    apart = columns[1] - columns[0] if len(columns) > 1 else 1.0
    tall = max(44.0, min(1.6 * cell, cell * (rows[1] - rows[0]) / apart)) if len(rows) > 1 else cell
    parts = []
    for one in places:
        x = LEFT + columns.index(round(one.x_mm, 3)) * cell
        y = TOP + rows.index(round(one.y_mm, 3)) * tall
        parts.append(_cell(one, x, y, cell, tall))
    floor = TOP + tall * len(rows)
    parts.append(f'<rect class="edge" x="{LEFT}" y="{TOP}" width="{WIDTH}" height="{floor - TOP:.1f}"/>')
    for number, mm in enumerate(columns):
        parts.append(_text(LEFT + (number + 0.5) * cell, floor + 16, in_length_unit(round(mm, 1))))
    for number, mm in enumerate(rows):
        parts.append(_text(LEFT - 6, TOP + (number + 0.5) * tall + 5, in_length_unit(round(mm, 1)), "end"))
    parts.append(_text(LEFT - 6, floor + 16, escape(length_unit()), "end"))
    parts += _key(floor + 30)
    return Markup(  # noqa: S704 - every piece above is a number or escaped
        f'<svg class="heat-map" viewBox="0 0 {LEFT + WIDTH + RIGHT:.0f} {floor + KEY:.0f}" role="img" '
        f'aria-label="{escape(label)}">{"".join(parts)}</svg>'
    )


def _cell(one: Place, x: float, y: float, wide: float, tall: float) -> str:
    ink = "dark-ink" if opacity(one.off_um) > DARK_INK_FROM else "light-ink"
    rect = (
        f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide + 0.5:.1f}" height="{tall + 0.5:.1f}" '
        f'fill-opacity="{opacity(one.off_um):.3f}"/>'
    )
    number = _text(x + wide / 2, y + tall / 2 - 4, figure(one.off_um, ".0f"), ink=ink)
    if one.off_um < 0.5:
        return rect + number
    # Its direction as measured, its length bounded so that it stays in its cell.
    long = min(1.0, one.off_um / ARROW_UM) * 0.4 * min(wide, tall) / one.off_um
    to_x, to_y = one.right_um * long / 2, one.down_um * long / 2
    at_x, at_y = x + wide / 2, y + tall * 0.74
    arrow = (
        f'<line class="{ink}" x1="{at_x - to_x:.1f}" y1="{at_y - to_y:.1f}" x2="{at_x + to_x:.1f}" '
        f'y2="{at_y + to_y:.1f}"/><circle class="{ink}" cx="{at_x + to_x:.1f}" cy="{at_y + to_y:.1f}" r="3"/>'
    )
    return rect + number + arrow


def _text(x: float, y: float, words: str, anchor: str = "middle", ink: str = "") -> str:
    style = f' class="{ink}"' if ink else ""
    return f'<text{style} x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{words}</text>'


def _key(top: float) -> list[str]:
    """What brightness means."""
    wide = WIDTH / len(SWATCHES_UM)
    parts = []
    for number, um in enumerate(SWATCHES_UM):
        x, ink = LEFT + number * wide, "dark-ink" if opacity(um) > DARK_INK_FROM else "light-ink"
        told = f"≥ {um:.0f}" if um == FULL_UM else f"{um:.0f}"
        parts.append(
            f'<rect x="{x:.1f}" y="{top}" width="{wide:.1f}" height="22" fill-opacity="{opacity(um):.3f}"/>'
            + _text(x + wide / 2, top + 16, told, ink=ink)
        )
    return [*parts, _text(LEFT, top + 40, escape(_("µm off; the dot is the arrow's head")), "start")]
