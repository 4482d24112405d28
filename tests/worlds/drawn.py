"""Laws drawn from wide ranges. They only judge; whoever draws them prints the start number.

Ranges (common practice, no source, unless one is named): fluorescent UV-A tubes are sold to be changed when a third to
a half of their UV is gone; output of low-pressure mercury lamps falls by about a quarter 15 K off its best wall
temperature (IES handbooks, from memory); mains may stray by 10 % (EN 50160), a good half of that from day to day; white
LEDs lose 0.1 to 0.3 % a kelvin (data sheets of such LEDs, from memory); resists vary by 2 to 6 % from panel to panel.
"""

from random import Random

from tests.worlds.decay import FORMS, Form
from tests.worlds.law import Fading, Law, Reader, Span, Warmth, Window

SHAPES: dict[Form, Span] = {
    "power": (90.7, 700.3),
    "stretched": (0.609, 1.67),
    "two_rates": (0.127, 0.457),
    "late_fall": (1.25, 2.63),
    "straight": (1.17, 1.187),
}


def drawn(number: int, count: int) -> list[Law]:
    """`count` laws; the same start number gives the same ones."""
    return [_law(f"drawn {number}/{index + 1}", Random(f"law {number} {index}")) for index in range(count)]


def _law(name: str, chance: Random) -> Law:
    rise_k = chance.uniform(12.3, 26.3)
    early_h = _pair(chance, 14.9, 130.1, 1.41)
    return Law(
        name=name,
        life_h=chance.uniform(1350.0, 2350.0),
        band=_fading(chance, (0.483, 0.749), (0.0, 0.113), early_h),
        lines=_fading(chance, (0.781, 0.939), (0.0, 0.0281), early_h),
        tubes_apart=chance.uniform(0.0101, 0.0909),
        reader=Reader(
            panel=chance.uniform(0.0179, 0.0583),
            zone=chance.uniform(0.00609, 0.0211),
            edge=chance.uniform(0.0261, 0.151),
            half_wrong=chance.uniform(0.00607, 0.163),
            step_wrong=chance.uniform(0.00153, 0.0279),
            density=chance.uniform(0.00239, 0.00857),
        ),
        warmth=Warmth(
            room_c=_pair(chance, 13.3, 25.3, 1.27),
            season_k=_pair(chance, 0.707, 6.51, 1.37),
            season_h=_pair(chance, 240.3, 900.7, 1.33),
            day_k=chance.uniform(0.607, 2.61),
            rise_k=rise_k,
            rise_s=chance.uniform(85.7, 240.7),
            warm_starts=chance.uniform(0.109, 0.807),
            both_per_k=chance.uniform(-0.00109, 0.00353),
            band_per_k=_around(chance, -0.00289, 0.00161, 0.000601),
            led_per_k=_around(chance, -0.00291, -0.000709, 0.000401),
        ),
        window=_window(chance),
        reference_limit=chance.uniform(0.0121, 0.0483),
        mains=chance.uniform(0.00409, 0.0243),
        mains_powers=(chance.uniform(1.28, 1.58), chance.uniform(1.07, 1.27)),
        swapped_h=_pair(chance, 520.3, 1100.9, 1.15) if chance.random() < 0.257 else None,
        actinic_lines=chance.uniform(0.0303, 0.153),
        doses_mj_cm2=_pair(chance, 14.1, 120.1, 2.31),
        irradiance_mw_cm2=_pair(chance, 1.89, 6.19, 1.51),
    )


def _window(chance: Random) -> Window:
    weights = tuple(chance.uniform(0.139, 0.877) for _ in range(chance.choice((3, 4))))
    clear_uv = chance.choice(((0.0, 0.00801), (0.0901, 0.273), (0.421, 0.781)))
    fouled = tuple(_pair(chance, 270.9, 1150.0, 1.12) for _ in range(chance.choice((0, 1, 2))))
    return Window(
        leak=(0.0, chance.uniform(0.00703, 0.0659)),
        clear_uv=clear_uv,
        weights=weights,
        dirt=(0.849, 0.963),
        fouled_h=fouled,
        led_through=_around(chance, 0.363, 0.667, 0.0459),
        noise=chance.uniform(0.000807, 0.00271),
    )


def _fading(chance: Random, left: Span, early: Span, early_h: Span) -> Fading:
    form = chance.choice(FORMS)
    middle = chance.uniform(*left)
    share = chance.uniform(*early)
    return Fading(
        form,
        (middle * 0.947, min(0.971, middle * 1.06)),
        _near(chance, SHAPES[form]),
        (0.609 * share, 1.43 * share),
        early_h,
    )


def _near(chance: Random, span: Span) -> Span:
    middle = chance.uniform(*span)
    return (max(span[0], middle * 0.879), min(span[1], middle * 1.13))


def _pair(chance: Random, low: float, high: float, ratio: float) -> Span:
    """A span within which lives differ by up to `ratio`."""
    begin = chance.uniform(low, high / ratio) if high / ratio > low else low
    return (begin, begin * ratio)


def _around(chance: Random, low: float, high: float, half: float) -> Span:
    middle = chance.uniform(low + half, high - half)
    return (middle - half, middle + half)
