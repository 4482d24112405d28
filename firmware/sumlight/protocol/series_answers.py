"""What control answers about curves, step tablets, test strips and other finished series, as types. Pure."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final, Literal

from pydantic import with_config
from typing_extensions import TypedDict

from sumlight.protocol.snapshot import STRICT, Calibration
from sumlight.text.message import Message

Point = tuple[float, str, float, float]
"""Control's monotonic time in s, the side, net irradiance at the resist in mW/cm², its dose so far in mJ/cm²."""

CURVE_PIECE = 100
"""So many points of a curve are answered at once: under light nobody's question may take the loop longer than that. The
next piece is asked for from the last point on; one that is not full is the last."""


@with_config(STRICT)
class Curve(TypedDict):
    """Light and dose of the panel at hand, all sides in the order of time; fewer than 100 points are the rest of it."""

    samples: list[Point]


@with_config(STRICT)
class TabletZones(TypedDict):
    """Doses for the zones of the next panel; `expected_sigma` (ln, standard) is how well it will tell the threshold."""

    doses_mj_cm2: list[float]
    expected_sigma: float
    reference_mj_cm2: float
    sentence: Message


@with_config(STRICT)
class TabletResult(TypedDict):
    """What a run with a step tablet says; `low_mj_cm2` and `high_mj_cm2` bound the threshold with 95 % probability.

    `factor` is true over counted dose and `factor_sigma` its standard uncertainty (ln). `recipe_dose_mj_cm2` just holds
    the target step. `surprise` counts standard deviations from what was expected. Where every step held, or none, there
    is only `retry_factor` for the next doses, and what the readings would give is null.
    """

    threshold_mj_cm2: float | None
    low_mj_cm2: float | None
    high_mj_cm2: float | None
    panels: int | None
    note: Message
    factor: float | None
    factor_sigma: float | None
    textbook_factor: float | None
    reference_mj_cm2: float
    recipe_dose_mj_cm2: float | None
    surprise: float | None
    retry_factor: float | None
    applied: bool
    calibration: Calibration | None
    sentence: Message


@with_config(STRICT)
class Transmission(TypedDict):
    """The share of light that passes, its density (-log10), standard uncertainties; `opaque`: at least so dense."""

    value: float
    standard: float
    density: float
    density_standard: float
    opaque: bool


@with_config(STRICT)
class Sheet(TypedDict):
    """What one covered leg says of its sheet: its transmission with standard uncertainty, and a verdict."""

    leg: str
    transmission: float
    standard: float
    density: float
    density_standard: float
    opaque: bool
    verdict: Literal["passes", "blocks_uv", "doubtful", "dim"]
    sentence: Message


@with_config(STRICT)
class Sheets(TypedDict):
    """Every sheet, and all of them on top of each other; `recipe_value` unless one was not judged to pass UV."""

    sheets: list[Sheet]
    stack: Transmission
    recipe_value: float | None
    sentence: Message


@with_config(STRICT)
class Uniformity(TypedDict):
    """Figures of a field: ratios of its irradiances, (max-min)/(max+min), and max over min in tablet steps."""

    min_over_max: float
    min_over_mean: float
    contrast: float
    steps: float


@with_config(STRICT)
class UsableArea(TypedDict):
    """The largest rectangle within a tolerance: its edges in mm, its area, its share of the mapped area."""

    x_mm: tuple[float, float]
    y_mm: tuple[float, float]
    area_cm2: float
    share: float


@with_config(STRICT)
class Place(TypedDict):
    """Mean irradiance of the panel over that at the sensor, its standard uncertainty, and its spread over the panel."""

    factor: float
    standard: float
    spread: float


@with_config(STRICT)
class FieldMap(TypedDict):
    """A grid of irradiances over that in the middle; rows follow `y_mm`. `usable` is by tolerance, a share.

    `heat_map` is the same at evenly spaced places from edge to edge.
    `repeat` is the relative standard deviation of a reading, `drift` the largest change of the middle, relative.
    """

    x_mm: list[float]
    y_mm: list[float]
    values: list[list[float]]
    repeat: float
    drift: float
    uniformity: Uniformity
    usable: dict[str, UsableArea]
    heat_map: list[list[float]]
    place: Place | None
    sentence: Message


@with_config(STRICT)
class StripZones(TypedDict):
    """A test strip: the dose of each zone in the end, that of each leg, and what the hands do before each."""

    zone_doses_mj_cm2: list[float]
    leg_doses_mj_cm2: list[float]
    steps: list[Message]
    warnings: list[Message]


@with_config(STRICT)
class StripResult(TypedDict):
    """What the zones really got; the resist begins to hold in (`low_mj_cm2`, `high_mj_cm2`], null: no zone held."""

    zone_doses_mj_cm2: list[float]
    low_mj_cm2: float
    high_mj_cm2: float | None
    sentence: Message


@with_config(STRICT)
class DoseWindow(TypedDict):
    """Doses under the clear areas between which an artwork works; `margin_steps` of a tablet lie between them."""

    low_mj_cm2: float
    high_mj_cm2: float
    margin_steps: float
    verdict: Literal["safe", "thin", "bleeds"]
    sentence: Message


ANSWERS: Final[Mapping[str, type]] = MappingProxyType(
    {
        "trace": Curve,
        "tablet_plan": TabletZones,
        "tablet_readings": TabletResult,
        "transmission": Sheets,
        "field": FieldMap,
        "strip_plan": StripZones,
        "strip": StripResult,
        "dose_window": DoseWindow,
    }
)
"""The type of each answer by the name of its command."""
