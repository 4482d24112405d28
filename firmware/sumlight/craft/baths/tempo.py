"""How long the next panel needs in a bath, with an interval, learned from this bath's own times.

The logarithm of the time for each micrometre is a level, plus a slope on how much of the bath is used, minus a slope on
temperature. The three are normal numbers with stated priors; each panel that was timed moves them (a Kalman filter
with drift, its scale of scatter learned with them: West and Harrison, Bayesian Forecasting and Dynamic Models, 4.6).
A time that was read at a look counts as the middle between two looks. Times in s.
"""

import math
from dataclasses import dataclass, replace

from sumlight.craft.baths.contents import Contents
from sumlight.craft.baths.load import USUAL_CM2, Taken, metal_g, share_of
from sumlight.craft.etching.times import LOOK_EVERY

Row = tuple[float, float, float]

ROOM_C = 20.0
RATES_UM_MIN = {"iron": 5.0, "persulfate": 2.5, "peroxide": 7.0, "cupric": 5.0, "caustic": 10.0}
"""What a fresh bath eats on each side in a rocked tray at 20 °C (common practice, no source)."""
CLEARS_UM_S = 1.0
"""Film that a fresh developer washes out (common practice, no source: about 40 s for 38 µm)."""
DOUBLING, DOUBLING_OFF = math.log(2), 0.3
"""An etchant doubles its rate each 10 °C (trade notes D12), give or take; baths held up by diffusion do less."""
SOFTER = 0.4
"""A developer gains less (common practice, no source)."""
LEVEL_OFF, SLOPE, SLOPE_OFF = 0.5, 1.0, 0.5
"""Practice knows a rate to a factor of 1.6; it falls with what is left of the capacity (trade notes D13, D14)."""
TIMED_OFF = 0.12
"""How far off a rate is that was timed on a coupon (common practice, no source)."""
SCATTER, SCATTER_WORTH = 0.045, 8.0
"""Scatter of panels in the same bath, and how many panels that guess is worth (common practice, no source)."""
DRIFT_PANEL, DRIFT_DAY, MOST_DAYS = 0.012, 0.03, 7.0
"""How far a bath drifts from panel to panel and from day to day: air, evaporation, a tray rocked otherwise."""
ROOM_OFF_C = 1.5
"""How far a bath is from where it was last measured, when nobody measured it."""
HANDS_LATE_S, HANDS_OFF_S = 30.0, 18.0
"""Between a panel that is seen to be through and the tap that says so, with wet gloves (common practice, no source)."""
CALL_S = 45.0
"""So much earlier a timer calls, so that even a late eye is there at the lower end."""
TAP_OFF_S = 4.0
"""How far off a tap is that says clear."""
FIRST_PLACE = 0.08
"""By so much of the time the first place is through before the last (common practice, no source)."""
LOW, HIGH = 1.6, 1.35
"""Spreads down to the lower end, from which the first place is taken off besides, and up to the upper one."""
OUTLIER = 9.0
"""A panel that was forgotten in there must not teach how widely panels scatter: at most as if three spreads off."""
FULL = 0.9
USUAL_G_PER_L = 50.0
"""Taken for a capacity that nobody knows, to order times by load (trade notes D13)."""
DEVELOPED, STRIPPED = "developer", "stripper"


@dataclass(frozen=True)
class Tempo:
    """What is known of a bath: means of level, slope on load and slope on warmth, their covariance, and the scatter.

    `scale` multiplies every variance; `worth` is how many panels stand behind it. `known_c` is the temperature that the
    level is for: that of a room while it rests on practice alone, then that of the first panel that was `measured`.
    `age_h` and `share` are those after the last panel, `timed` how many it has learned from.
    """

    mean: Row
    cov: tuple[Row, Row, Row]
    known_c: float
    scale: float = 1.0
    worth: float = SCATTER_WORTH
    age_h: float = 0.0
    share: float = 0.0
    timed: int = 0
    measured: bool = False
    by_practice: bool = True


@dataclass(frozen=True)
class Forecast:
    """When the next panel is likely to be through, or clear: `low_s` is for a first look, before the first place is.

    `timed` panels of this bath stand behind it; 0: practice alone. `fresh_s` is what the fresh bath would need.
    """

    low_s: float
    mid_s: float
    high_s: float
    fresh_s: float
    timed: int

    @property
    def call_s(self) -> float:
        """When to call for the first look: a little before the lower end."""
        return max(self.low_s / 2, self.low_s - CALL_S)

    @property
    def look_every_s(self) -> float:
        """Time between looks."""
        return LOOK_EVERY * self.mid_s

    @property
    def half_width(self) -> float:
        """Half of the interval, as a share of the time."""
        return (self.high_s - self.low_s) / 2 / self.mid_s


def fresh(bath: Contents, rate_um_min: float | None = None) -> Tempo:
    """What is known of a bath that has taken nothing: practice, or a rate that was timed on a coupon."""
    if bath.kind == DEVELOPED:
        level, warmth = -math.log(CLEARS_UM_S), SOFTER
    else:
        level, warmth = -math.log((rate_um_min or RATES_UM_MIN.get(bath.kind, 5.0)) / 60), DOUBLING
    off = LEVEL_OFF if rate_um_min is None else TIMED_OFF
    cov = ((off**2, 0.0, 0.0), (0.0, SLOPE_OFF**2, 0.0), (0.0, 0.0, DOUBLING_OFF**2))
    return Tempo((level, SLOPE, warmth), cov, ROOM_C, by_practice=rate_um_min is None)


def expected(tempo: Tempo, bath: Contents, one: Taken) -> Forecast | None:
    """Forecast a panel. None where its depth is not known, or for a bath whose times nobody needs."""
    if one.depth_um is None or bath.kind == STRIPPED:
        return None
    drifted = _drifted(_known_warmth(tempo, one.bath_c), one)
    row, extra = _row(drifted, bath, one)
    spread = math.sqrt(drifted.scale * (_width(drifted, row) + SCATTER**2 + extra))
    middle = math.log(one.depth_um) + sum(a * b for a, b in zip(row, drifted.mean, strict=True))
    stretch = _students(drifted.worth)
    first = FIRST_PLACE if bath.kind != DEVELOPED else 0.0
    return Forecast(
        math.exp(middle - LOW * stretch * spread) * (1 - first),
        math.exp(middle),
        math.exp(middle + HIGH * stretch * spread),
        math.exp(middle - row[1] * drifted.mean[1]),
        drifted.timed,
    )


def learned(tempo: Tempo, bath: Contents, one: Taken) -> Tempo:
    """Take one panel in: its load always, its time where somebody took it."""
    after = _drifted(_known_warmth(tempo, one.bath_c), one)
    row, extra = _row(after, bath, one)
    after = replace(after, age_h=max(one.age_h, tempo.age_h), share=tempo.share + _share(bath, one))
    if one.took_s is None or one.depth_um is None or bath.kind == STRIPPED:
        return after
    late_s, hand_s = (HANDS_LATE_S, HANDS_OFF_S) if one.every_s else (0.0, TAP_OFF_S)
    middle_s = max(one.took_s - one.every_s / 2 - late_s, one.took_s / 2)
    reading = (one.every_s**2 / 12 + hand_s**2) / middle_s**2
    seen = math.log(middle_s / one.depth_um)
    pull = _pull(after, row)
    width = _width(after, row) + SCATTER**2 + extra + reading
    error = seen - sum(a * b for a, b in zip(row, after.mean, strict=True))
    worth = after.worth + 1
    scale = after.scale * (after.worth + min(error**2 / (width * after.scale), OUTLIER)) / worth
    gain = [each / width for each in pull]
    top, middle, bottom = (_less(after.cov[k], gain[k], pull) for k in range(3))
    level, slope, warmth = (after.mean[k] + gain[k] * error for k in range(3))
    return replace(
        after,
        mean=(level, max(slope, 0.0), warmth),
        cov=(top, middle, bottom),
        scale=scale,
        worth=worth,
        timed=after.timed + 1,
    )


def _less(line: Row, gain: float, pull: Row) -> Row:
    return line[0] - gain * pull[0], line[1] - gain * pull[1], line[2] - gain * pull[2]


def _known_warmth(tempo: Tempo, bath_c: float | None) -> Tempo:
    """The first time that somebody measures, the level becomes that of this temperature; practice is carried there."""
    if bath_c is None or tempo.measured:
        return tempo
    level, slope, warmth = tempo.mean
    if tempo.by_practice and not tempo.timed:
        level -= warmth * (bath_c - tempo.known_c) / 10
    return replace(tempo, mean=(level, slope, warmth), known_c=bath_c, measured=True)


def _drifted(tempo: Tempo, one: Taken) -> Tempo:
    """The level wanders from panel to panel and with the days."""
    days = min(max(0.0, one.age_h - tempo.age_h) / 24, MOST_DAYS)
    first, second, third = tempo.cov
    wider = first[0] + DRIFT_PANEL**2 + DRIFT_DAY**2 * days
    return replace(tempo, cov=((wider, first[1], first[2]), second, third))


def _row(tempo: Tempo, bath: Contents, one: Taken) -> tuple[Row, float]:
    """What level, slope and warmth count for in one panel, and the variance of what nobody measured."""
    middle = min(tempo.share + _share(bath, one) / 2, FULL)
    used = -math.log1p(-middle)
    if one.bath_c is not None:
        return (1.0, used, -(one.bath_c - tempo.known_c) / 10), 0.0
    return (1.0, used, 0.0), (tempo.mean[2] * ROOM_OFF_C / 10) ** 2 if tempo.measured else 0.0


def _pull(tempo: Tempo, row: Row) -> Row:
    """The covariance times a row."""
    first, second, third = (sum(line[k] * row[k] for k in range(3)) for line in tempo.cov)
    return first, second, third


def _width(tempo: Tempo, row: Row) -> float:
    """The variance of what a row stands for."""
    return sum(a * b for a, b in zip(row, _pull(tempo, row), strict=True))


def _share(bath: Contents, one: Taken) -> float:
    """Share of the bath that a panel takes, with what is usual where nobody told."""
    known = one if one.open_cm2 is not None else replace(one, open_cm2=USUAL_CM2)
    share = share_of(bath, known)
    if share is None:
        share = (metal_g(known) or 0.0) / (bath.volume_l * USUAL_G_PER_L)
    return share


def _students(worth: float) -> float:
    """How much wider a spread is that was learned from few: Student's quantile over the normal one, first order."""
    return 1 + 5 / (4 * worth)
