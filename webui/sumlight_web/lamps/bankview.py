"""One bank as the page Lamps shows it, made from the logbook alone. Pure but for the reading."""

from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from markupsafe import Markup

from sumlight.light.ageing import by_day
from sumlight.light.lampanswer import BankAnswer, Sign, UsualRecipe, answer
from sumlight.light.lampchange import in_present_unit, without_dirt
from sumlight.light.lampuse import present_use, replacement
from sumlight.store.logbook.lamps import date_of, day_of
from sumlight.store.logbook.reading import LogbookReader
from sumlight_web import words
from sumlight_web.lamps.drawing import curve_rows, day_rows, life_drawing, life_svg
from sumlight_web.language import N_, _, figure
from sumlight_web.texts import text_of

SHOWN_DAYS = 30
CHANGE = "change_these_lamps"
"""The one message that asks for something to be done now; it stands out."""

SIGN_WORDS: dict[Sign, tuple[str, str, str, float]] = {
    "strike_s": (N_("Time to strike"), ".2f", "s", 1.0),
    "warm_up_s": (N_("Time to warm up"), ".0f", "s", 1.0),
    "flicker": (N_("Slow flicker"), ".2f", "%", 100.0),
}

Row = tuple[str, ...]


@dataclass(frozen=True)
class BankView:
    """What the page needs of a bank: words, rows of its tables, numbers of its drawing (None without readings).

    `sentences` come with whether they stand out.
    """

    name: str
    found: BankAnswer
    share: str
    sentences: list[tuple[str, bool]]
    facts: list[Row]
    drawing: dict[str, Any] | None
    svg: Markup
    label: str
    days: list[Row]
    curve: list[Row]
    wear: list[Row]
    tubes: list[Row]
    removed: list[Row]


def bank_view(book: LogbookReader, name: str, usual: UsualRecipe | None, level: float, now: datetime) -> BankView:
    """Judge a bank and put it in words. Raises LogbookError."""
    history, state, changes = book.lamps.lamp_history(name), book.bank_state(name), book.lamps.lamp_changes(name)
    found = answer(history, usual, level=level)
    when = replacement(found, present_use(history.points, history.hours, day_of(now)), now.date())
    days = in_present_unit(without_dirt(by_day(history.points)), found.steps)
    drawn = life_drawing(days, history.hours, found, when)
    tubes = book.lamps.tubes(name)
    facts: list[Row] = [(_("Lamp hours"), f"{words.number(history.hours, 1)} h"), (_("Starts"), str(state.strikes))]
    if when.use is not None:
        facts.append((_("Present use"), _("{n} h a week", n=words.number(when.use.hours_per_week, 1))))
    if changes:
        facts.append((_("Last change of tubes"), words.local_day_and_time(changes[-1]["changed_utc"])))
    label = _("Light of bank {name} over its lamp hours, with fitted curve and replacement level.", name=name)
    return BankView(
        name=name,
        found=found,
        share=_share(found),
        sentences=[(text_of(told), told.code == CHANGE) for told in (*found.sentences, when.sentence) if told],
        facts=facts,
        drawing=None if drawn is None else asdict(drawn),
        svg=Markup() if drawn is None else life_svg(drawn, label),
        label=label,
        days=day_rows(days, found, SHOWN_DAYS, [date_of(p.day) for p in days]),
        curve=[] if drawn is None else curve_rows(drawn, found.new_mw_cm2),
        wear=_wear(found),
        tubes=[_tube(tube) for tube in tubes if tube["removed_utc"] is None],
        removed=[_removed(tube) for tube in tubes if tube["removed_utc"] is not None],
    )


def _share(found: BankAnswer) -> str:
    if found.share is None:
        return ""
    return _("{n} % of new", n=words.number(100 * found.share[0], 0))


def _wear(found: BankAnswer) -> list[Row]:
    rows: list[Row] = []
    for sign, wear in found.wear.items():
        label, wanted, unit, scale = SIGN_WORDS[sign]
        usual, now = (f"{figure(scale * value, wanted)} {unit}" for value in (wear.usual, wear.now))
        verdict = _("clearly more") if wear.clear else _("as usual")
        rows.append((_(label), usual, now, verdict))
    return rows


def _tube(tube: dict[str, Any]) -> Row:
    life = _(" of {n}", n=words.number(tube["expected_life_h"], 0)) if tube["expected_life_h"] else ""
    return (
        str(tube["position"]),
        tube["lamp_type"],
        tube["wavelength_class"],
        tube["label"] or words.NOTHING,
        f"{tube['hours']:.0f}{life}",
        str(tube["strikes"]),
        _day(tube["fitted_utc"]),
    )


def _removed(tube: dict[str, Any]) -> Row:
    return (*_tube(tube), _day(tube["removed_utc"]))


def _day(utc: str) -> str:
    return words.local_day_and_time(utc).partition(" ")[0]
