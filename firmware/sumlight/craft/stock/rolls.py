"""A roll of dry film resist: how old it is, and whether a step tablet has been lit since it was opened.

Every roll wants a tablet of its own (trade notes E1, a film's data sheet); dry film keeps for months, not years, at 5
to 21 °C (trade notes 1.1, common practice).
"""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal, get_args

from sumlight.craft.checks import between, one_of
from sumlight.text.message import Message, say, say_named

Storage = Literal["cool", "room", "warm"]
STORAGES: tuple[Storage, ...] = get_args(Storage)
"""5 to 21 °C, up to 25 °C, above that: the first is what data sheets ask for (common practice, no source)."""

FILM_UM = (5.0, 500.0)
DAYS_A_MONTH = 365.2425 / 12
SOON_OLD_MONTHS = 6.0
"""From here on an open roll is said to be old (trade notes: months, not years; common practice)."""


@dataclass(frozen=True)
class Roll:
    """A roll of a `resist`, as recipes name it, `film_um` thick.

    Days are ISO 8601: `opened_on` None while it is closed, `expires_on` None where nothing is printed on it.
    `tablet_utc` is when a step tablet was lit with it first. Raises ValueError for what cannot be.
    """

    resist: str
    film_um: float | None = None
    opened_on: str | None = None
    expires_on: str | None = None
    storage: Storage | None = None
    tablet_utc: str | None = None

    def __post_init__(self) -> None:
        if not self.resist.strip():
            raise ValueError(say("resist_needed"))
        if self.film_um is not None:
            between("film_um", self.film_um, *FILM_UM)
        if self.storage is not None:
            one_of("storage", self.storage, STORAGES)
        for name in ("opened_on", "expires_on"):
            day_of(name, getattr(self, name))


def day_of(name: str, text: str | None) -> date | None:
    """Read a day, None as None. Raises ValueError for what is none."""
    if text is None:
        return None
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(say("no_day", field=name, given=text)) from None


def months_open(roll: Roll, now: datetime) -> float | None:
    """Months since it was opened; None while it is closed, or when that day is still to come."""
    opened = day_of("opened_on", roll.opened_on)
    days = None if opened is None else (now.date() - opened).days
    return None if days is None or days < 0 else days / DAYS_A_MONTH


def wants_tablet(roll: Roll) -> bool:
    """Whether nobody has lit a step tablet with it yet."""
    return roll.tablet_utc is None


def sentences(roll: Roll, now: datetime) -> tuple[Message, ...]:
    """How it stands, what is wrong with it first."""
    told = []
    if wants_tablet(roll):
        told.append(say("roll_wants_tablet"))
    expires = day_of("expires_on", roll.expires_on)
    if expires is not None and expires < now.date():
        told.append(say("roll_expired", day=expires.isoformat()))
    months = months_open(roll, now)
    if months is not None and months >= SOON_OLD_MONTHS:
        told.append(say("roll_old", months=months))
    elif months is not None:
        told.append(say("roll_open", months=months))
    else:
        told.append(say("roll_closed"))
    if roll.storage is not None:
        told.append(say_named(f"kept_{roll.storage}"))
    return tuple(told)
