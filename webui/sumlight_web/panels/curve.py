"""The light of a recorded side as an SVG drawing. Pure.

The record keeps counts as the chip gave them. They are scaled so that their sum over time is the recorded dose, which
makes them mW/cm² at the resist (1 mJ = 1 mW · 1 s), the unit of the live curve.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from markupsafe import Markup, escape

from sumlight.light.sample import Sample
from sumlight_web import words
from sumlight_web.downsample import downsampled
from sumlight_web.language import _, figure

WIDTH, HEIGHT = 640, 330
LEFT, RIGHT, TOP, BOTTOM = 66, 74, 30, 60
"""Room for figures that a phone shows larger than a desk, for the drawing is half as wide there."""

MOST_POINTS = 600

LONGEST_STEP_S = 1.0
"""Samples further apart than this have darkness between them: the curve breaks, and no light is summed."""

PAUSE_SHOWN = 0.03
"""Share of the light's time that a pause takes on the axis, however long it was: else it would squeeze the light."""


@dataclass(frozen=True)
class LightPoint:
    """One sample of the curve; `break_before` where darkness lies before it."""

    at_s: float
    light_mw_cm2: float
    dose_mj_cm2: float
    break_before: bool


def light_points(samples: Sequence[Sample], dose_mj_cm2: float) -> list[LightPoint]:
    """Light at the resist, and the dose that had gathered, over seconds since the first sample.

    Empty when no sample shows light. Light whose samples were lost is spread over the others: their sum is the dose.
    """
    usable = [s for s in samples if s.usable]
    light = [max(0.0, s.counts[0] / 2.0 ** (s.gain_code - 1)) for s in usable]
    if max(light, default=0.0) <= 0:
        return []
    sums, total = [0.0], 0.0
    for before, after, low, high in zip(usable, usable[1:], light, light[1:], strict=False):
        gap_s = after.mid_s - before.mid_s
        if 0 < gap_s <= LONGEST_STEP_S:
            total += gap_s * (low + high) / 2
        sums.append(total)
    scale = dose_mj_cm2 / total if total > 0 else 0.0
    begin_s = usable[0].mid_s
    points = []
    for index, sample in enumerate(usable):
        broken = index > 0 and sample.mid_s - usable[index - 1].mid_s > LONGEST_STEP_S
        points.append(LightPoint(sample.mid_s - begin_s, light[index] * scale, sums[index] * scale, broken))
    return points


def curve_svg(
    samples: Sequence[Sample], side: str, target_mj_cm2: float | None, dose_mj_cm2: float, unit: str = "mJ/cm²"
) -> Markup:
    """The drawing of one side, or an empty string when there is no light to draw. Colours come from the style sheet."""
    points = light_points(samples, dose_mj_cm2)
    if not points:
        return Markup()
    points, cuts_s = without_pauses(points)
    longest_s = max(points[-1].at_s, 1e-3)
    top_mj_cm2 = max(target_mj_cm2 or 0.0, dose_mj_cm2, 1e-3) * 1.1
    scale = _Scale(longest_s, top_mj_cm2, 1.3 * max(max(p.light_mw_cm2 for p in points), 1e-3))
    light = _path([(p.at_s, p.light_mw_cm2, p.break_before) for p in _kept(points)], scale.x, scale.y_light)
    gathered = _path([(p.at_s, p.dose_mj_cm2, False) for p in downsampled(points, 200, _dose)], scale.x, scale.y_dose)
    label = _(
        "Side {side}: light over {time}, dose rising to {dose} {unit}, target {target} {unit}.",
        side=side,
        time=words.duration(longest_s),
        dose=words.dose(dose_mj_cm2),
        target=words.target(target_mj_cm2),
        unit=unit,
    )
    wanted = []
    if target_mj_cm2 is not None:
        target_y = scale.y_dose(target_mj_cm2)
        said = escape(_("target"))
        wanted = [
            f'<path class="target-line" d="M{LEFT} {target_y:.1f}H{WIDTH - RIGHT}"/>',
            f'<text x="{LEFT + 6}" y="{target_y - 5:.1f}">{said} {words.target(target_mj_cm2)}</text>',
        ]
    parts = [
        f'<svg class="record-curve" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(label)}">',
        *_axes(scale, unit),
        *(f'<path class="cut" d="{_zigzag(scale.x(at_s))}"/>' for at_s in cuts_s),
        *wanted,
        f'<path class="light-line" d="{light}"/>',
        f'<path class="dose-line" d="{gathered}"/>',
        *_names(points, scale),
        "</svg>",
    ]
    return Markup("".join(parts))  # noqa: S704 - every piece of foreign text above is a number or escaped


def without_pauses(points: Sequence[LightPoint]) -> tuple[list[LightPoint], list[float]]:
    """The same points with every pause cut down to the same small width, and where the cuts lie on the new axis."""
    lit_s = sum(b.at_s - a.at_s for a, b in pairwise(points) if not b.break_before)
    out: list[LightPoint] = []
    cuts_s: list[float] = []
    at_s = 0.0
    for before, point in zip([None, *points], points, strict=False):
        if before is not None:
            step_s = PAUSE_SHOWN * max(lit_s, 1e-3) if point.break_before else point.at_s - before.at_s
            if point.break_before:
                cuts_s.append(at_s + step_s / 2)
            at_s += step_s
        out.append(LightPoint(at_s, point.light_mw_cm2, point.dose_mj_cm2, point.break_before))
    return out, cuts_s


def _zigzag(x: float) -> str:
    """A torn edge from the axis to the top."""
    base, step = HEIGHT - BOTTOM, 8
    places = [f"{x + (3 if n % 2 else -3):.1f} {base - n * step}" for n in range((base - TOP) // step + 1)]
    return "M" + "L".join(places)


def _names(points: Sequence[LightPoint], scale: "_Scale") -> list[str]:
    """Each line named where it runs: the light at its middle, the dose at two thirds, on the side that is free."""
    middle, later = points[len(points) // 2], points[2 * len(points) // 3]
    light_y = scale.y_light(middle.light_mw_cm2)
    dose_x, dose_y = scale.x(later.at_s), scale.y_dose(later.dose_mj_cm2)
    light, dose = escape(_("light")), escape(_("dose"))
    return [
        f'<text x="{scale.x(middle.at_s):.1f}" y="{light_y - 7:.1f}" text-anchor="middle">{light}</text>',
        f'<text x="{dose_x + 10:.1f}" y="{dose_y + 20:.1f}">{dose}</text>',
    ]


@dataclass(frozen=True)
class _Scale:
    longest_s: float
    top_mj_cm2: float
    top_mw_cm2: float

    def x(self, at_s: float) -> float:
        return LEFT + (WIDTH - LEFT - RIGHT) * at_s / self.longest_s

    def y_light(self, light_mw_cm2: float) -> float:
        return self._y(light_mw_cm2 / self.top_mw_cm2)

    def y_dose(self, dose_mj_cm2: float) -> float:
        return self._y(dose_mj_cm2 / self.top_mj_cm2)

    def _y(self, part: float) -> float:
        return TOP + (HEIGHT - TOP - BOTTOM) * (1 - part)


def _kept(points: list[LightPoint]) -> list[LightPoint]:
    """Few enough points to draw; a break between two kept points is kept too."""
    out: list[LightPoint] = []
    last_s, breaks = -1.0, [p.at_s for p in points if p.break_before]
    for point in downsampled(points, MOST_POINTS, lambda p: p.light_mw_cm2):
        broken = any(last_s < at_s <= point.at_s for at_s in breaks)
        out.append(LightPoint(point.at_s, point.light_mw_cm2, point.dose_mj_cm2, broken))
        last_s = point.at_s
    return out


def _dose(point: LightPoint) -> float:
    return point.dose_mj_cm2


Place = Callable[[float], float]


def _path(points: Iterable[tuple[float, float, bool]], x: Place, y: Place) -> str:
    """An SVG path through (time, value, whether the line breaks before this point)."""
    steps = []
    for index, (at_s, value, broken) in enumerate(points):
        steps.append(f"{'M' if index == 0 or broken else 'L'}{x(at_s):.1f} {y(value):.1f}")
    return "".join(steps)


def ticks(top: float, wanted: int = 5) -> list[float]:
    """Round numbers from 0 up to `top`, about `wanted` of them."""
    rough = top / wanted
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(s * power for s in (1, 2, 5, 10) if s * power >= rough)
    return [step * n for n in range(int(top / step + 1e-9) + 1)]


def _axes(scale: _Scale, unit: str) -> list[str]:
    seconds = escape(_("seconds of light"))
    base, right = HEIGHT - BOTTOM, WIDTH - RIGHT
    out = [f'<path class="frame" d="M{LEFT} {TOP}V{base}H{right}V{TOP}"/>']
    for at_s in ticks(scale.longest_s):
        x = scale.x(at_s)
        out.append(f'<path class="frame" d="M{x:.1f} {base}v5"/>')
        written = figure(at_s, "g")
        out.append(f'<text x="{x:.1f}" y="{base + 24}" text-anchor="middle">{written}</text>')
    for light_mw_cm2 in ticks(scale.top_mw_cm2, 4):
        y = scale.y_light(light_mw_cm2)
        if light_mw_cm2:
            out.append(f'<path class="grid" d="M{LEFT} {y:.1f}H{right}"/>')
        written = figure(light_mw_cm2, "g")
        out.append(f'<text x="{LEFT - 7}" y="{y + 4:.1f}" text-anchor="end">{written}</text>')
    for dose_mj_cm2 in ticks(scale.top_mj_cm2):
        y = scale.y_dose(dose_mj_cm2)
        out.append(f'<path class="frame" d="M{right} {y:.1f}h5"/>')
        written = figure(dose_mj_cm2, "g")
        out.append(f'<text x="{right + 9}" y="{y + 4:.1f}">{written}</text>')
    out.append(f'<text x="{(LEFT + right) / 2:.0f}" y="{HEIGHT - 6}" text-anchor="middle">{seconds}</text>')
    out.append(f'<text x="4" y="{TOP - 9}">mW/cm²</text>')
    out.append(f'<text x="{WIDTH - 4}" y="{TOP - 9}" text-anchor="end">{escape(unit)}</text>')
    return out
