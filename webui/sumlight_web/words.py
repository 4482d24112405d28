"""Numbers and times as a person reads them, in the reader's language and units."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sumlight.protocol.snapshot import WITHOUT_PANEL
from sumlight.store.recipe import Recipe
from sumlight.text.message import Message
from sumlight_web.language import N_, _, figure, named, reader
from sumlight_web.texts import text_of

NOTHING = "–"

PAUSE_WORDS = {
    "lid": N_("the lid was opened"),
    "dark_command": N_("someone pressed Lamps off"),
    "fault": N_("a fault put the lamps off"),
    "restart": N_("the controller was restarted"),
}

KIND_WORDS = {
    "panel": N_("panel"),
    "tablet": N_("step tablet"),
    "strip": N_("test strip"),
    "compare": N_("comparison"),
    "field": N_("light field"),
    "teach": N_("teaching"),
    "steady": N_("steadiness"),
}

MINUTE = timedelta(minutes=1)
UM_PER_MIL = 25.4
MM_PER_INCH = 25.4
CM2_PER_IN2 = 6.4516


def sides(mode: str) -> str:
    """How a panel is lit, in words."""
    return named("sides_are", mode)


def outcome(value: str | None) -> str:
    """How an exposure ended."""
    return named("outcome", "unfinished" if value is None else value)


def pause(cause: str) -> str:
    """Why the light paused."""
    return _(PAUSE_WORDS.get(cause, cause))


def kind(value: str) -> str:
    """What an exposure was for."""
    return _(KIND_WORDS.get(value, value))


def recorded(row: Mapping[str, Any]) -> str:
    """What a recorded exposure is called: by the label of its panel, or by what it was for where no panel was lit."""
    return capital(kind(row["kind"])) if row["kind"] in WITHOUT_PANEL else _("Panel {name}", name=row["panel"])


def who(name: str | None) -> str:
    """Who did something, as records name them: an operator, or the terminal."""
    return _("terminal") if name == "terminal" else name or NOTHING


def upkeep(what: str) -> str:
    """What was done to the logbook."""
    return named("upkeep", what)


def number(value: float | None, places: int) -> str:
    """`value` with so many decimal places; a dash when it is not known."""
    return NOTHING if value is None else figure(value, f"z.{places}f")


def dose(value: float | None) -> str:
    """A dose in mJ/cm² without its unit: a tenth, or whole numbers above 1000."""
    return number(value, 1 if value is None or abs(value) < 1000 else 0)


def target(value: float | None) -> str:
    """A wanted dose in mJ/cm² without its unit: as short as it can be; a dash where a set time decides."""
    return NOTHING if value is None else figure(value, ".6g")


def ending(recipe: Recipe, *, box_units: bool = False) -> str:
    """What ends the light of a recipe: its dose, or the time of a draft, which is always called one.

    `box_units` tells that its dose is known to be in the box's own.
    """
    if recipe.draft_lit_s is not None:
        return _("draft, {time}", time=duration(recipe.draft_lit_s))
    return _("no dose yet") if recipe.dose_mj_cm2 is None else f"{target(recipe.dose_mj_cm2)} {unit_of_dose(box_units)}"


def by_time(row: Mapping[str, Any]) -> bool:
    """Whether a recorded panel was a draft: lit by time, with no dose aimed at."""
    return row["kind"] == "panel" and any(side["target_mj_cm2"] is None for side in row["sides"])


def unit_of_dose(relative: bool) -> str:
    """The unit of a dose: of a box that nothing outside it has ever checked, the box's own."""
    return _("box units") if relative else "mJ/cm²"


def in_box_units(side: Mapping[str, Any]) -> bool:
    """Whether a recorded dose was counted in the box's own units."""
    return bool((side["budget"] or {}).get("relative"))


def dose_unit(side: Mapping[str, Any]) -> str:
    """The unit of a recorded dose."""
    return unit_of_dose(in_box_units(side))


def worth(absolute_mj_cm2: float | None, repeat_mj_cm2: float | None, *, relative: bool) -> str:
    """How far off the true dose may be, and apart from it how well this box repeats it (both expanded)."""
    if absolute_mj_cm2 is None:
        return _("uncertainty not known")
    wide = dose(absolute_mj_cm2)
    if repeat_mj_cm2 is None:
        return _("± {wide} mJ/cm²", wide=wide)
    repeat = number(repeat_mj_cm2, 2)
    if relative:
        return _("in units of this box, ± {repeat} between its doses", repeat=repeat)
    return _("± {wide}; between doses of this box ± {repeat}", wide=wide, repeat=repeat)


def recorded_worth(side: Mapping[str, Any]) -> str:
    """The same of a recorded side; one of an older version has no budget."""
    budget = side["budget"] or {}
    wide, repeat = (budget.get(f"expanded_{kind}_mj_cm2") for kind in ("absolute", "repeat"))
    return worth(wide, repeat, relative=bool(budget.get("relative")))


def thickness(um: float) -> str:
    """The thickness of a film with its unit: µm, and mil for readers of inches."""
    metric = f"{figure(um, 'g')} µm"
    return f"{figure(um / UM_PER_MIL, '.2g')} mil ({metric})" if reader().units == "inch" else metric


def spread(um: float, wanted: str) -> str:
    """A small length with its unit: µm as `wanted` asks, or mil."""
    return f"{figure(um / UM_PER_MIL, '.2g')} mil" if reader().units == "inch" else f"{figure(um, wanted)} µm"


def length(mm: float) -> str:
    """A length with its unit: mm, or inches."""
    return f"{figure(mm / MM_PER_INCH, '.3g')} in" if reader().units == "inch" else f"{figure(mm, 'g')} mm"


def length_unit() -> str:
    """The unit in which the reader takes lengths of a hand's width."""
    return "in" if reader().units == "inch" else "mm"


def in_length_unit(mm: float) -> str:
    """A length without its unit, for tables and drawings that name it once."""
    return figure(mm / MM_PER_INCH, ".3g") if reader().units == "inch" else figure(mm, "g")


def area(cm2: float) -> str:
    """An area with its unit."""
    return f"{figure(cm2 / CM2_PER_IN2, '.3g')} in²" if reader().units == "inch" else f"{figure(cm2, '.0f')} cm²"


def temperature(celsius: float | None) -> str:
    """A temperature with its unit; a dash when it is not known."""
    if celsius is None:
        return NOTHING
    return f"{celsius * 9 / 5 + 32:.0f} °F" if reader().units == "inch" else f"{figure(celsius, '.1f')} °C"


def duration(seconds: float | None) -> str:
    """`875` as `14 min 35 s`; a dash when it is not known."""
    if seconds is None:
        return NOTHING
    whole = max(0, round(seconds))
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    if hours:
        return f"{hours} h {minutes} min" if minutes else f"{hours} h"
    if minutes:
        return f"{minutes} min {rest} s" if rest else f"{minutes} min"
    return f"{rest} s"


def clock(seconds: float | None) -> str:
    """`875` as `14:35`, as a clock that counts down; a dash when it is not known."""
    if seconds is None:
        return NOTHING
    whole = max(0, round(seconds))
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    return f"{hours}:{minutes:02}:{rest:02}" if hours else f"{minutes}:{rest:02}"


def capital(text: str) -> str:
    """`text` beginning with a capital letter; the others stay, for German writes nouns with one."""
    return text[:1].upper() + text[1:]


def options(keys: Iterable[str], names: Mapping[str, Message]) -> list[tuple[str, str, str]]:
    """What can be chosen, as `picks` of forms.html takes it: each of `keys` by its name."""
    return [(key, capital(text_of(names[key])), "") for key in keys]


def sentence(text: str) -> str:
    """`text` beginning with a capital letter and ending with a mark."""
    text = capital(text)
    return text if text.endswith((".", "!", "?")) else text + "."


def local_time(utc: str | None, seconds_later: float = 0.0) -> str:
    """An ISO time in UTC as the clock on this box's wall shows it: `09:14:07`."""
    moment = _moment(utc, seconds_later)
    return NOTHING if moment is None else moment.strftime("%H:%M:%S")


def local_day_and_time(utc: str | None) -> str:
    """An ISO time in UTC as `2026-11-25 09:14` on this box's wall clock."""
    moment = _moment(utc, 0.0)
    return NOTHING if moment is None else moment.strftime("%Y-%m-%d %H:%M")


@dataclass(frozen=True)
class Zone:
    """The time zone of the box: `name` for people, and `offsets`, pairs of a moment (ms since 1970) and minutes east.

    The moments are this hour, midsummer and midwinter: two zones that agree in all of them show the same times.
    """

    name: str
    offsets: list[list[int]]


def zone() -> Zone:
    """Whose times the page shows."""
    now = datetime.now().astimezone().replace(minute=0, second=0, microsecond=0)  # the same page for an hour
    moments = [now, *(datetime(now.year, month, 21, 12).astimezone() for month in (6, 12))]
    offsets = [[int(at.timestamp() * 1000), round((at.utcoffset() or timedelta()) / MINUTE)] for at in moments]
    east = offsets[0][1]
    written = f"UTC{'-' if east < 0 else '+'}{abs(east) // 60}" + (f":{abs(east) % 60:02}" if east % 60 else "")
    known = now.tzname() or ""
    return Zone("UTC" if known == "UTC" else f"{known} ({written})" if known.isalpha() else written, offsets)


def _moment(utc: str | None, seconds_later: float) -> datetime | None:
    if not utc:
        return None
    try:
        moment = datetime.fromisoformat(utc)
        return datetime.fromtimestamp(moment.timestamp() + seconds_later).astimezone()
    except (ValueError, OverflowError, OSError):
        return None
