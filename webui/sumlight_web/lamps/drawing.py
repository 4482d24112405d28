"""A bank's light over its lamp hours: the numbers for the canvas and the table, and the drawing for paper. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date

from markupsafe import Markup, escape

from sumlight.light.ageing import SEASONED_H, LampPoint
from sumlight.light.lampanswer import BankAnswer
from sumlight.light.lampcurve import Decay
from sumlight.light.lampuse import Replacement
from sumlight_web.downsample import downsampled
from sumlight_web.language import _, figure
from sumlight_web.panels.curve import BOTTOM, HEIGHT, LEFT, RIGHT, TOP, WIDTH, ticks

MOST_POINTS = 300
LINE_POINTS = 40
BEYOND = 1.12
"""How far the axis goes past the last thing on it."""

Curve = list[list[float]]


@dataclass
class LifeDrawing:
    """What is drawn: light in mW/cm² over lamp hours. `line` is [hours, curve, low, high], a prediction interval.

    `points` are [hours, light] of single days, dirt on the diffuser taken out; those before `run_in_h` are running in.
    `end` is value, low and high of the hours at which the level is met, None where it is not told.
    """

    points: Curve
    now_h: float
    run_in_h: float = SEASONED_H
    line: Curve = field(default_factory=list)
    level_mw_cm2: float | None = None
    end: tuple[float | None, float | None, float | None] = (None, None, None)
    level: str = ""
    date: str = ""
    words: dict[str, str] = field(default_factory=dict)
    x: tuple[float, float] = (0.0, 1.0)
    y: tuple[float, float] = (0.0, 1.0)


def life_drawing(days: Sequence[LampPoint], now_h: float, found: BankAnswer, when: Replacement) -> LifeDrawing | None:
    """The drawing of a bank at its age `now_h`; None without `days`, which are readings with the dirt taken out."""
    if not days:
        return None
    drawn = LifeDrawing(
        points=[[round(p.hours, 2), round(p.mw_cm2, 4)] for p in downsampled(days, MOST_POINTS, lambda p: p.mw_cm2)],
        now_h=round(now_h, 2),
        words={"x": _("lamp hours"), "now": _("today"), "run_in": _("running in")},
    )
    if found.new_mw_cm2 is not None and found.left_h is not None and found.share is not None:
        drawn.level_mw_cm2 = round(found.level * found.new_mw_cm2, 4)
        drawn.level = f"{figure(100 * found.level, 'g')} %"
        if found.share[0] > found.level:  # otherwise it is behind us, and that is said in words
            middle, low, high = (None if left is None else round(now_h + left, 1) for left in found.left_h)
            drawn.end = (middle, low, high)
            drawn.date = "" if when.day is None else str(when.day)
    last_h = max(now_h, *(h for h in drawn.end if h is not None), days[-1].hours)
    if drawn.end[2] is None and found.life is not None:  # no bound is told: as far as the rule lets one look, and no
        last_h = max(last_h, min(found.life.cap_h, 2 * now_h) / BEYOND)  # further than the past is long
    if found.decay is not None:
        cap_h = now_h if found.life is None else max(found.life.cap_h, now_h)
        drawn.line = curve_of(found.decay, now_h, min(last_h * BEYOND, cap_h))
    drawn.x = (0.0, max(last_h * BEYOND, 1.0))
    heights = [p[1] for p in drawn.points] + [v for row in drawn.line for v in row[2:]]
    if drawn.level_mw_cm2 is not None:
        heights.append(drawn.level_mw_cm2)
    room = 0.06 * (max(heights) - min(heights)) + 0.01 * max(heights)
    drawn.y = (max(0.0, min(heights) - room), max(heights) + room)
    return drawn


def curve_of(decay: Decay, now_h: float, to_h: float, count: int = LINE_POINTS) -> Curve:
    """[hours, curve, low, high] at even steps, now, and on both sides of each jump."""
    from_h = decay.first_h
    hours = {from_h + (to_h - from_h) * n / count for n in range(count + 1)} | {now_h}
    for at_h in decay.step_hours:
        hours |= {at_h - 0.01, at_h}
    return [[round(h, 2), *(round(v, 4) for v in decay.reading(h))] for h in sorted(hours) if from_h <= h <= to_h]


def day_rows(
    days: Sequence[LampPoint], found: BankAnswer, most: int, day_names: Sequence[date]
) -> list[tuple[str, ...]]:
    """The newest days in words: day, lamp hours, light, percent of new; what the room's season does is taken out."""
    rows: list[tuple[str, ...]] = []
    for point, day in list(zip(days, day_names, strict=True))[-most:][::-1]:
        share = "–"
        if found.new_mw_cm2 is not None and found.decay is not None:
            share = f"{figure(100 * point.mw_cm2 / found.decay.season(point.day) / found.new_mw_cm2, '.1f')} %"
        rows.append((str(day), figure(point.hours, ".1f"), figure(point.mw_cm2, ".3f"), share))
    return rows


def curve_rows(drawn: LifeDrawing, new_mw_cm2: float | None) -> list[tuple[str, ...]]:
    """Every fifth place of the curve in words: lamp hours, light with its interval, percent of new."""
    rows: list[tuple[str, ...]] = []
    for hours, light, low, high in drawn.line[::5]:
        share = "–" if new_mw_cm2 is None else f"{figure(100 * light / new_mw_cm2, '.1f')} %"
        between = f"{figure(low, '.3f')} – {figure(high, '.3f')}"
        rows.append((figure(hours, ".0f"), figure(light, ".3f"), between, share))
    return rows


def life_svg(drawn: LifeDrawing, label: str) -> Markup:
    """The same for paper, and for a browser without script."""
    x0, x1 = drawn.x
    y0, y1 = drawn.y
    right, base = WIDTH - RIGHT, HEIGHT - BOTTOM

    def x(hours: float) -> float:
        return LEFT + (right - LEFT) * (hours - x0) / (x1 - x0)

    def y(light: float) -> float:
        return base - (base - TOP) * (light - y0) / (y1 - y0)

    def path(places: Sequence[tuple[float, float]]) -> str:
        return "M" + "L".join(f"{x(h):.1f} {y(v):.1f}" for h, v in places)

    out = [
        f'<svg class="record-curve" viewBox="0 0 {WIDTH} {HEIGHT}" role="img" aria-label="{escape(label)}">',
        f'<path class="run-in" d="M{LEFT} {TOP}H{min(x(drawn.run_in_h), right):.1f}V{base}H{LEFT}Z"/>',
        f'<path class="frame" d="M{LEFT} {TOP}V{base}H{right}V{TOP}Z"/>',
    ]
    if drawn.line:
        band = [(row[0], row[3]) for row in drawn.line] + [(row[0], row[2]) for row in reversed(drawn.line)]
        out.append(f'<path class="band" d="{path(band)}Z"/>')
        seen = [(row[0], row[1]) for row in drawn.line if row[0] <= drawn.now_h]
        ahead = [(row[0], row[1]) for row in drawn.line if row[0] >= drawn.now_h]
        out += [
            f'<path class="light-line{kind}" d="{path(part)}"/>'
            for kind, part in (("", seen), (" dashes", ahead))
            if part
        ]
    for h, v in drawn.points:
        kind = "day early" if h < drawn.run_in_h else "day"
        out.append(f'<circle class="{kind}" cx="{x(h):.1f}" cy="{y(v):.1f}" r="1.6"/>')
    if drawn.level_mw_cm2 is not None:
        out.append(f'<path class="target-line" d="{path([(x0, drawn.level_mw_cm2), (x1, drawn.level_mw_cm2)])}"/>')
        out.append(f'<text x="{LEFT + 6}" y="{y(drawn.level_mw_cm2) - 5:.1f}">{drawn.level}</text>')
    out.append(f'<path class="light-line" d="M{x(drawn.now_h):.1f} {TOP}V{base}"/>')
    out.append(
        f'<text x="{x(drawn.now_h) - 5:.1f}" y="{TOP + 14}" text-anchor="end">{escape(drawn.words["now"])}</text>'
    )
    if drawn.end[0] is not None:
        out.append(f'<path class="light-line dashes" d="M{x(drawn.end[0]):.1f} {TOP}V{base}"/>')
        out.append(f'<text x="{x(drawn.end[0]) - 5:.1f}" y="{TOP + 30}" text-anchor="end">{drawn.date}</text>')
    for hours in ticks(x1):
        out.append(f'<text x="{x(hours):.1f}" y="{base + 17}" text-anchor="middle">{figure(hours, "g")}</text>')
    for light in (tick for tick in ticks(y1, 6) if tick >= y0):
        out.append(f'<text x="{LEFT - 7}" y="{y(light) + 4:.1f}" text-anchor="end">{figure(light, "g")}</text>')
    out.append(
        f'<text x="{(LEFT + right) / 2:.0f}" y="{HEIGHT - 6}" text-anchor="middle">{escape(drawn.words["x"])}</text>'
    )
    out.append(f'<text x="4" y="{TOP - 3}">mW/cm²</text></svg>')
    return Markup("".join(out))  # noqa: S704 - every piece of foreign text above is a number or escaped
