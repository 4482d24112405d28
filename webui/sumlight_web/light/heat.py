"""The field as an SVG heat map. Pure."""

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup, escape

from sumlight_web.language import _, figure
from sumlight_web.words import in_length_unit, length_unit

LEFT, TOP, WIDTH, RIGHT, BOTTOM = 64.0, 12.0, 360.0, 12.0, 84.0
FAINTEST = 0.12
"""Opacity of the weakest place; strength is told by brightness alone, so that safelight colours suffice."""

SCALE_LOW = 0.8
"""The scale always goes from here to 1, so that noise of one per cent does not look like a dark corner."""

DARK_INK_FROM = 0.55
"""Opacity from which numbers are written in the ground's colour."""

SWATCHES = (0.8, 0.85, 0.9, 0.95, 1.0)


def opacity(share: float) -> float:
    """How bright a place is drawn that has `share` of the strongest."""
    part = (share - SCALE_LOW) / (1 - SCALE_LOW)
    return FAINTEST + (1 - FAINTEST) * min(1.0, max(0.0, part))


def field_svg(result: Mapping[str, Any]) -> Markup:
    """The lattice of `result["heat_map"]`, its far edge on top, with the area within ±5 % framed.

    Every place that was read carries its number, in per cent of the strongest place.
    """
    rows: Sequence[Sequence[float]] = result["heat_map"]
    x0, x1, y0, y1 = result["x_mm"][0], result["x_mm"][-1], result["y_mm"][0], result["y_mm"][-1]
    height = max(90.0, min(480.0, WIDTH * (y1 - y0) / (x1 - x0)))
    read = [value for row in result["values"] for value in row]
    low, high = min(read), max(read)
    wide, tall = WIDTH / len(rows[0]), height / len(rows)
    parts = []
    for number, row in enumerate(reversed(rows)):
        for column, value in enumerate(row):
            x, y = LEFT + column * wide, TOP + number * tall
            parts.append(
                f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide + 0.5:.1f}" height="{tall + 0.5:.1f}" '
                f'fill-opacity="{opacity(value / high):.3f}"/>'
            )
    area = result["usable"].get("0.05")
    if area:
        left, right = (LEFT + WIDTH * (x - x0) / (x1 - x0) for x in area["x_mm"])
        bottom, top = (TOP + height * (y1 - y) / (y1 - y0) for y in area["y_mm"])
        wide, tall = right - left, bottom - top
        parts.append(f'<rect class="usable" x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{tall:.1f}"/>')
    for y_mm, row in zip(result["y_mm"], result["values"], strict=False):
        for x_mm, value in zip(result["x_mm"], row, strict=False):
            place = (x_mm - x0) / (x1 - x0), (y1 - y_mm) / (y1 - y0)
            parts.append(_number(place, height, value / high))
    floor = TOP + height
    parts.append(f'<rect class="edge" x="{LEFT}" y="{TOP}" width="{WIDTH}" height="{height:.1f}"/>')
    unit = length_unit()
    ends = (
        (LEFT, floor + 20, "start", in_length_unit(x0)),
        (LEFT + WIDTH / 2, floor + 20, "middle", f"x, {unit}"),
        (LEFT + WIDTH, floor + 20, "end", in_length_unit(x1)),
        (LEFT - 6, floor, "end", in_length_unit(y0)),
        (LEFT - 6, TOP + height / 2 + 5, "end", f"y, {unit}"),
        (LEFT - 6, TOP + 11, "end", in_length_unit(y1)),
    )
    parts += [f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{at}">{words}</text>' for x, y, at, words in ends]
    parts += _key(floor + 34)
    label = _("Heat map of the field: the weakest place has {share} of the strongest", share=figure(low / high, ".0%"))
    return Markup(  # noqa: S704 - every piece above is a number or escaped
        f'<svg class="heat-map" viewBox="0 0 {LEFT + WIDTH + RIGHT:.0f} {floor + BOTTOM:.0f}" role="img" '
        f'aria-label="{escape(label)}">{"".join(parts)}</svg>'
    )


def _number(place: tuple[float, float], height: float, share: float) -> str:
    """The per cent at a place, given as parts of width and height; at an edge it stands inside of it."""
    across, down = place
    anchor = "start" if across < 0.05 else "end" if across > 0.95 else "middle"
    x = LEFT + WIDTH * across + {"start": 5, "middle": 0, "end": -5}[anchor]
    y = TOP + height * down + (17 if down < 0.05 else -6 if down > 0.95 else 5)
    ink = "dark-ink" if opacity(share) > DARK_INK_FROM else "light-ink"
    return f'<text class="{ink}" x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{figure(100 * share, ".1f")}</text>'


def _key(top: float) -> list[str]:
    """What brightness means, in per cent of the strongest place."""
    wide = WIDTH / len(SWATCHES)
    parts = []
    for number, share in enumerate(SWATCHES):
        x, ink = LEFT + number * wide, "dark-ink" if opacity(share) > DARK_INK_FROM else "light-ink"
        told = f"≤ {100 * share:.0f}" if number == 0 else f"{100 * share:.0f}"
        parts.append(
            f'<rect x="{x:.1f}" y="{top}" width="{wide:.1f}" height="22" fill-opacity="{opacity(share):.3f}"/>'
            f'<text class="{ink}" x="{x + wide / 2:.1f}" y="{top + 16}" text-anchor="middle">{told}</text>'
        )
    words = escape(_("% of the strongest place"))
    return [*parts, f'<text x="{LEFT}" y="{top + 40}">{words}</text>']
