"""Contact: how far light creeps under the edges of the artwork.

Light that leaves the edge at angle b reaches gap * tan b beyond it (similar triangles). Inside a film it runs steeper:
sin b' = sin b / n (Snell). This is the outermost ray, an upper bound; how much of it hardens depends on dose and
resist. Refractive indices: polyester about 1.6, resist about 1.5 (from memory). Lengths in micrometres.
"""

import math
from dataclasses import dataclass

from sumlight.text.message import Message, joined, say

POLYESTER_INDEX = 1.6
RESIST_INDEX = 1.5
TELLING_UM = 5.0
"""A cause below this is not worth a word."""
AIR_GAP, FILM_BASE = say("layer_air_gap"), say("layer_film_base")
COVER_SHEET, RESIST = say("layer_cover_sheet"), say("layer_resist")
REMEDIES = {
    AIR_GAP: say("remedy_air_gap"),
    FILM_BASE: say("remedy_film_base"),
    COVER_SHEET: say("remedy_cover_sheet"),
    RESIST: say("remedy_resist"),
}


@dataclass(frozen=True)
class Layer:
    """What one layer between black and resist adds at one edge."""

    name: Message
    thickness_um: float
    creep_um: float


@dataclass(frozen=True)
class LineGrowth:
    """Light under one edge of a black area, a line's growth from both edges, its causes and what to say."""

    per_edge_um: float
    per_line_um: float
    layers: tuple[Layer, ...]
    sentence: Message


def creep_um(thickness_um: float, half_angle_deg: float, index: float = 1.0) -> float:
    """Work out how far the outermost ray reaches sideways in a layer, in µm.

    The source's half-angle, in °, is that in air; Snell's law bends it in a layer of that refractive index.
    Raises ValueError for an angle outside 0 to below 90°, a negative thickness or an index below 1.
    """
    if not 0 <= half_angle_deg < 90:
        raise ValueError(f"half_angle_deg must lie between 0 and below 90, not {half_angle_deg}")
    if thickness_um < 0 or index < 1:
        raise ValueError(f"thickness_um must be at least 0 and index at least 1, not {thickness_um} and {index}")
    return thickness_um * math.tan(math.asin(math.sin(math.radians(half_angle_deg)) / index))


def source_half_angle_deg(source_half_width_mm: float, distance_mm: float) -> float:
    """Work out the half-angle of a source seen from the panel, in °: a bank of that half width at that distance, in mm.

    Raises ValueError for a negative width, or a distance that is not above 0.
    """
    if source_half_width_mm < 0 or distance_mm <= 0:
        raise ValueError("source_half_width_mm must be at least 0 and distance_mm above 0")
    return math.degrees(math.atan(source_half_width_mm / distance_mm))


def line_growth(
    half_angle_deg: float,
    *,
    gap_um: float,
    image_towards_resist: bool,
    base_um: float = 100.0,
    cover_um: float = 0.0,
    resist_um: float = 0.0,
) -> LineGrowth:
    """Add up the layers between the black of the artwork and the foot of the resist.

    `half_angle_deg` is the source's; `gap_um` of air lie between artwork and panel; the artwork's base of `base_um`
    is in the way when the image side faces the lamps; `cover_um` is the resist's cover sheet.
    """
    layers = [Layer(AIR_GAP, gap_um, creep_um(gap_um, half_angle_deg))]
    if not image_towards_resist:
        layers.append(Layer(FILM_BASE, base_um, creep_um(base_um, half_angle_deg, POLYESTER_INDEX)))
    layers.append(Layer(COVER_SHEET, cover_um, creep_um(cover_um, half_angle_deg, POLYESTER_INDEX)))
    layers.append(Layer(RESIST, resist_um, creep_um(resist_um, half_angle_deg, RESIST_INDEX)))
    total = math.fsum(layer.creep_um for layer in layers)
    return LineGrowth(total, 2 * total, tuple(layers), _sentence(total, layers, image_towards_resist))


def _sentence(total: float, layers: list[Layer], image_towards_resist: bool) -> Message:
    largest = max(layers, key=lambda layer: layer.creep_um)
    if largest.creep_um < TELLING_UM:
        return say("contact_is_good", total_um=total)
    remedy = REMEDIES[largest.name]
    told = say("light_creeps", total_um=total, largest_um=largest.creep_um, layer=largest.name, remedy=remedy)
    if not image_towards_resist and largest.name != FILM_BASE:
        return joined(told, say("turn_the_artwork"))
    return told
