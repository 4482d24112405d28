"""What control answers about baths, as types. Pure. Times `…_utc` are ISO 8601 text."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

from pydantic import with_config
from typing_extensions import TypedDict

from sumlight.protocol.snapshot import STRICT
from sumlight.text.message import Message


@with_config(STRICT)
class Forecast(TypedDict):
    """When the next panel is likely to be through, or clear, and what the fresh bath would need.

    `low_s` is for a first look; `timed` panels of this bath stand behind it, 0: practice alone.
    """

    low_s: float
    mid_s: float
    high_s: float
    fresh_s: float
    timed: int


@with_config(STRICT)
class Bath(TypedDict):
    """A bath in short. `used` is the share used up, `worn` how much of its life is over: 1 is the end of either."""

    bath_id: int
    kind: str
    name: Message
    made: Message
    volume_l: float
    mixed_utc: str
    mixed_by: str
    waste_utc: str | None
    waste_into: str | None
    panels: int
    metal_g: float
    used: float
    worn: float
    verdict: Message
    expected: Forecast | None
    expectation: Message | None


@with_config(STRICT)
class Taken(TypedDict):
    """A panel in a bath. `took_s` is until it was through, or clear; `every_s` the time between looks.

    `ended_utc` is null while it is in there; `age_h` is the bath's own age in hours.
    """

    label: str
    began_utc: str
    ended_utc: str | None
    expected_s: float | None
    metal: str
    open_cm2: float | None
    depth_um: float | None
    took_s: float | None
    every_s: float
    bath_c: float | None
    age_h: float


@with_config(STRICT)
class WholeBath(Bath):
    """A bath with its panels, the last ones first, and what they come to in words.

    `tight_lid`: why the cap of its waste is vented; null where it gives off no gas by itself.
    """

    taken: list[Taken]
    sentences: list[Message]
    tight_lid: Message | None


@with_config(STRICT)
class Container(TypedDict):
    """A waste container, and what went into it since it was emptied; null: it never was."""

    kind: str
    name: Message
    litres: float
    baths: int
    emptied_utc: str | None
    sentence: Message


@with_config(STRICT)
class Containers(TypedDict):
    """The waste containers that something went into."""

    containers: list[Container]


@with_config(STRICT)
class Baths(Containers):
    """The baths in use, the last ones that became waste, and their containers."""

    baths: list[Bath]
    wasted: list[Bath]


ANSWERS: Final[Mapping[str, type]] = MappingProxyType(
    {
        "baths": Baths,
        "waste_emptied": Containers,
        **dict.fromkeys(("bath", "bath_new", "bath_panel", "bath_take_back", "bath_waste"), WholeBath),
    }
)
"""The type of each answer by the name of its command."""
