"""What a law of nature holds. Every figure of a law is its own: there are no defaults to share.

Relative scatters are standard deviations. Temperature terms are per kelvin of the tubes' wall (of the board, for the
LED); `span` is a pair (low, high) from which each life draws evenly.
"""

from dataclasses import dataclass

from tests.worlds.decay import Form

Span = tuple[float, float]


@dataclass(frozen=True)
class Fading:
    """From what the decay of one part of the light is drawn for each tube."""

    form: Form
    left: Span
    shape: Span
    early: Span
    early_h: Span


@dataclass(frozen=True)
class Reader:
    """Panels, zones and the person who reads them.

    `panel` and `zone` scatter the threshold. `edge` misplaces the border between held and lost, in steps;
    `half_wrong` and `step_wrong` are shares of readings: the half flag turned round, the number off by one.
    `density` is the error of the tablet's own steps, in density.
    """

    panel: float
    zone: float
    edge: float
    half_wrong: float
    step_wrong: float
    density: float


@dataclass(frozen=True)
class Warmth:
    """Temperature: the room, the tubes' wall, and what the parts of the light and the board's LED make of it.

    The room swings by `season_k` about `room_c` with `season_h` lamp hours a turn and `day_k` from day to day. The wall
    rises by `rise_k` with `rise_s` as time constant; a share `warm_starts` of the panels finds it warm. Both parts of
    the light change by `both_per_k`, the band by `band_per_k` more.
    """

    room_c: Span
    season_k: Span
    season_h: Span
    day_k: float
    rise_k: float
    rise_s: float
    warm_starts: float
    both_per_k: float
    band_per_k: Span
    led_per_k: Span


@dataclass(frozen=True)
class Window:
    """The sensor: what its channels see, where it sits, what dirt does.

    `leak` is the band's share of what F1 counts of new tubes, `clear_uv` the band's share of what the clear channel
    counts of them (0: it sees nothing of the near UV). `weights` are the tubes' shares in the sensor's light, the panel
    sees all alike. Dirt passes `dirt` once in each span of `fouled_h`; `led_through` is the LED's share that goes
    through the dirt and back. `noise` scatters readings.
    """

    leak: Span
    clear_uv: Span
    weights: tuple[float, ...]
    dirt: Span
    fouled_h: tuple[Span, ...]
    led_through: Span
    noise: float


@dataclass(frozen=True)
class Law:
    """One law of nature.

    `reference_limit` bounds the error of the dose that is known to hold the target step (evenly within it); the person
    states it as such. `mains` scatters the voltage from panel to panel; band and lines follow it to the powers
    `mains_powers`. At `swapped_h` somebody fits new tubes of the same type without a word; None: never.
    `actinic_lines` is the lines' share in what the resist uses of new tubes.
    """

    name: str
    life_h: float
    band: Fading
    lines: Fading
    tubes_apart: float
    reader: Reader
    warmth: Warmth
    window: Window
    reference_limit: float
    mains: float
    mains_powers: tuple[float, float]
    swapped_h: Span | None
    actinic_lines: float
    doses_mj_cm2: Span
    irradiance_mw_cm2: Span
