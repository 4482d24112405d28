"""Numbers and times as a person reads them. Pure."""

from datetime import datetime

NOTHING = "–"

SIDES_WORDS = {
    "one": "one side",
    "turned": "two sides, panel turned by hand",
    "together": "two sides together",
}

OUTCOME_WORDS = {
    "completed": "completed",
    "abandoned": "given up",
    "faulted": "ended by a fault",
    None: "not finished",
}

PAUSE_WORDS = {
    "lid": "the lid was opened",
    "dark_command": "someone pressed dark",
    "fault": "a fault put the lamps off",
    "restart": "the control program was restarted",
}


def number(value: float | None, places: int) -> str:
    """`value` with so many decimal places; a dash when it is not known."""
    return NOTHING if value is None else f"{value:.{places}f}"


def dose(value: float | None) -> str:
    """A dose in mJ/cm² without its unit: a tenth, or whole numbers above 1000."""
    return number(value, 1 if value is None or abs(value) < 1000 else 0)


def target(value: float | None) -> str:
    """A wanted dose in mJ/cm² without its unit: as short as it can be; a dash where a set time decides."""
    return NOTHING if value is None else f"{value:.6g}"


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


def sentence(text: str) -> str:
    """`text` beginning with a capital letter and ending with a mark."""
    text = text[:1].upper() + text[1:]
    return text if text.endswith((".", "!", "?")) else text + "."


def local_time(utc: str | None, seconds_later: float = 0.0) -> str:
    """An ISO time in UTC as the clock on this box's wall shows it: `09:14:07`."""
    moment = _moment(utc, seconds_later)
    return NOTHING if moment is None else moment.strftime("%H:%M:%S")


def local_day_and_time(utc: str | None) -> str:
    """An ISO time in UTC as `2026-11-25 09:14` on this box's wall clock."""
    moment = _moment(utc, 0.0)
    return NOTHING if moment is None else moment.strftime("%Y-%m-%d %H:%M")


def _moment(utc: str | None, seconds_later: float) -> datetime | None:
    if not utc:
        return None
    try:
        moment = datetime.fromisoformat(utc)
        return datetime.fromtimestamp(moment.timestamp() + seconds_later).astimezone()
    except (ValueError, OverflowError, OSError):
        return None
