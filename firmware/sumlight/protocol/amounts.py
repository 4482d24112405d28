"""Numbers that are typed for reckoning or for a series of light, with their bounds: what forms and options take. Pure.

Bounds of a command's fields stand in `commands`, those of a recipe and of the settings of lamps in the models of their
files, those of a series' parameters in `run_parameters`. Units stand in the names; shares are parts of one.
"""

from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

LONGEST_LEG_S = 3600.0
MOST_DOSE_MJ_CM2 = 5000.0

Dose = Annotated[float, Field(ge=0.1, le=MOST_DOSE_MJ_CM2)]
Irradiance = Annotated[float, Field(ge=0.001, le=1000)]
Share = Annotated[float, Field(ge=0, le=1)]
Hours = Annotated[float, Field(ge=0, le=1_000_000)]


class Amounts(BaseModel):
    """Of one command or one reckoning."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class TeachLeg(Amounts):
    """Light for a time that is known to be good."""

    seconds: float = Field(ge=0.5, le=LONGEST_LEG_S)


class SteadyLeg(Amounts):
    """Light for a radiometer, which has to settle."""

    seconds: float = Field(ge=5, le=LONGEST_LEG_S)


class MeasuringLegs(Amounts):
    """Legs of a comparison of sheets, or of a walk through the field: the lamps rise in the first seconds of each."""

    seconds: float = Field(ge=3, le=600)
    sheets: int = Field(1, ge=1, le=20)
    width_mm: float = Field(200.0, ge=10, le=2000)
    depth_mm: float = Field(150.0, ge=10, le=2000)
    columns: int = Field(3, ge=3, le=7)
    rows: int = Field(3, ge=3, le=7)


class LeakReading(Amounts):
    """The highest reading of a radiometer along the gaps of a shut lid."""

    leak_mw_cm2: float = Field(ge=0, le=1000)


class ThresholdLight(Amounts):
    """A light and the dose that holds a certain step in it, with that dose's standard uncertainty in per cent."""

    mw_cm2: Irradiance
    dose_mj_cm2: Dose
    percent: float = Field(10.0, ge=0.1, le=50)


class ContactStack(Amounts):
    """Lamps, artwork and resist, as light creeps under an edge."""

    half_width_mm: float = Field(ge=0, le=2000)
    distance_mm: float = Field(ge=1, le=5000)
    half_angle_deg: float = Field(ge=0, le=89)
    gap_um: float = Field(0.0, ge=0, le=5000)
    base_um: float = Field(100.0, ge=0, le=1000)
    cover_um: float = Field(0.0, ge=0, le=500)
    resist_um: float = Field(0.0, ge=0, le=500)
