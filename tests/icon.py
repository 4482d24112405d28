"""The page's icon as PNG, drawn from `static/icon.svg`: `python -m tests.icon` writes it anew.

Some phones install a page only with an icon of pixels. A little smaller than the drawing, so that nothing is lost where
a phone cuts a circle out of it (W3C, Web Application Manifest: a maskable icon is safe within 40 % of its width).
"""

import re
from pathlib import Path

from PIL import Image, ImageDraw

STATIC = Path(__file__).parents[1] / "webui/sumlight_web/static"
SIZES = (192, 512)
SHRINK = 0.9
FINER = 8
"""Drawn so many times finer, then made smaller: smooth edges."""


def drawn(size: int) -> Image.Image:
    """The icon, `size` pixels wide."""
    svg = (STATIC / "icon.svg").read_text(encoding="ascii")
    unit = size * FINER / 24
    colour = re.findall(r'stroke="(#\w+)"', svg)[0]
    wide = round(float(re.findall(r'stroke-width="([\d.]+)"', svg)[0]) * unit * SHRINK)
    picture = Image.new("RGB", (size * FINER, size * FINER), "#000")
    pen = ImageDraw.Draw(picture)

    def at(x: float, y: float) -> tuple[float, float]:
        return (12 + (x - 12) * SHRINK) * unit, (12 + (y - 12) * SHRINK) * unit

    (cx, cy, r) = map(float, re.findall(r'<circle cx="([\d.]+)" cy="([\d.]+)" r="([\d.]+)"', svg)[0])
    half = wide / unit / SHRINK / 2
    pen.ellipse((*at(cx - r - half, cy - r - half), *at(cx + r + half, cy + r + half)), outline=colour, width=wide)
    for x, y, way, by in re.findall(r"M([\d.]+) ([\d.]+)([hvl])([-\d. ]+)", svg):
        steps = [float(number) for number in re.findall(r"-?[\d.]+", by)]
        dx, dy = {"h": (steps[0], 0.0), "v": (0.0, steps[0]), "l": (steps[0], steps[-1])}[way]
        pen.line((*at(float(x), float(y)), *at(float(x) + dx, float(y) + dy)), fill=colour, width=wide)
    return picture.resize((size, size), Image.Resampling.BOX)


def main() -> None:
    """Write every size."""
    for size in SIZES:
        drawn(size).quantize(32).save(STATIC / f"icon-{size}.png", optimize=True)


if __name__ == "__main__":
    main()
