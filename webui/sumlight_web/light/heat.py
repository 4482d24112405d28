"""The field as an SVG heat map. Pure."""

from collections.abc import Mapping, Sequence
from typing import Any

from markupsafe import Markup, escape

from sumlight_web.language import _, figure

LEFT, TOP, WIDTH, RIGHT, BOTTOM = 52.0, 8.0, 360.0, 12.0, 30.0
FAINTEST = 0.12
"""Opacity of the weakest place; strength is told by brightness alone, so that safelight colours suffice."""


def field_svg(result: Mapping[str, Any]) -> Markup:
    """The lattice of `result["heat_map"]`, its far edge on top, with the area within ±5 % framed."""
    rows: Sequence[Sequence[float]] = result["heat_map"]
    x0, x1, y0, y1 = result["x_mm"][0], result["x_mm"][-1], result["y_mm"][0], result["y_mm"][-1]
    height = max(90.0, min(480.0, WIDTH * (y1 - y0) / (x1 - x0)))
    low, high = min(map(min, rows)), max(map(max, rows))
    wide, tall = WIDTH / len(rows[0]), height / len(rows)
    parts = []
    for number, row in enumerate(reversed(rows)):
        for column, value in enumerate(row):
            share = 1.0 if high <= low else FAINTEST + (1 - FAINTEST) * (value - low) / (high - low)
            x, y = LEFT + column * wide, TOP + number * tall
            parts.append(
                f'<rect x="{x:.1f}" y="{y:.1f}" width="{wide + 0.5:.1f}" height="{tall + 0.5:.1f}" '
                f'fill-opacity="{share:.3f}"/>'
            )
    area = result["usable"].get("0.05")
    if area:
        left, right = (LEFT + WIDTH * (x - x0) / (x1 - x0) for x in area["x_mm"])
        bottom, top = (TOP + height * (y1 - y) / (y1 - y0) for y in area["y_mm"])
        wide, tall = right - left, bottom - top
        parts.append(f'<rect class="usable" x="{left:.1f}" y="{top:.1f}" width="{wide:.1f}" height="{tall:.1f}"/>')
    floor = TOP + height
    parts.append(f'<rect class="edge" x="{LEFT}" y="{TOP}" width="{WIDTH}" height="{height:.1f}"/>')
    parts.append(f'<text x="{LEFT}" y="{floor + 20:.1f}">{figure(x0, "g")}</text>')
    parts.append(f'<text x="{LEFT + WIDTH}" y="{floor + 20:.1f}" text-anchor="end">{figure(x1, "g")} mm</text>')
    parts.append(f'<text x="{LEFT - 6}" y="{floor:.1f}" text-anchor="end">{figure(y0, "g")}</text>')
    parts.append(f'<text x="{LEFT - 6}" y="{TOP + 11}" text-anchor="end">{figure(y1, "g")}</text>')
    label = _("Heat map of the field: the weakest place has {share} of the strongest", share=format(low / high, ".0%"))
    return Markup(  # noqa: S704 - every piece above is a number or escaped
        f'<svg class="heat-map" viewBox="0 0 {LEFT + WIDTH + RIGHT:.0f} {floor + BOTTOM:.0f}" role="img" '
        f'aria-label="{escape(label)}">{"".join(parts)}</svg>'
    )
