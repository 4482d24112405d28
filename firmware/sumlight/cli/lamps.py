"""`sumlight lamps`: the state of every bank in words, and the register of tubes."""

import argparse
from datetime import UTC, datetime
from typing import Any

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.control.daemon import LOGBOOK, SOCKET
from sumlight.language import _, n_, text_of
from sumlight.light.lampanswer import answer, compare
from sumlight.light.lampuse import present_use, replacement
from sumlight.protocol.client import ControlClient
from sumlight.protocol.commands import TubesFitted
from sumlight.store import lamp_settings
from sumlight.store.lamp_settings import LampSettings
from sumlight.store.logbook.lamps import day_of
from sumlight.store.logbook.logbook import Logbook


def add_show(command: argparse.ArgumentParser) -> None:
    """Declare the options of `show`."""
    shared.add_amount(
        command,
        "--level",
        LampSettings,
        "replace_at_percent",
        "%",
        default=None,
        metavar="PERCENT",
        help=_("when to replace (default: as set on the page)"),
    )
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_show)


def add_new(command: argparse.ArgumentParser) -> None:
    """Declare the options of `new`."""
    command.add_argument("type", metavar="TYPE", help=_("what is printed on them (LED… for LEDs)"))
    command.add_argument("--bank", metavar="BANK", help=_("which bank, if there are several"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_new)


def add_tubes(command: argparse.ArgumentParser) -> None:
    """Declare the options of `tubes`."""
    command.add_argument("bank", metavar="BANK")
    command.add_argument("--places", type=int, nargs="+", default=[], metavar="N", help=_("places that were changed"))
    command.add_argument("--all", type=int, metavar="COUNT", help=_("all tubes were changed; how many there are"))
    command.add_argument("--type", default="", metavar="TEXT", help=_("what is printed on the tube"))
    command.add_argument("--class", dest="wavelength_class", default="", metavar="TEXT", help="e.g. 'UV-A 365 nm'")
    command.add_argument("--label", default="", metavar="TEXT", help=_("a mark to recognise this tube by"))
    shared.add_amount(
        command,
        "--hours",
        TubesFitted,
        "hours",
        "h",
        metavar="H",
        help=_("hours already on the tubes"),
    )
    shared.add_amount(command, "--strikes", TubesFitted, "strikes", metavar="N", help=_("starts already on the tubes"))
    shared.add_amount(
        command,
        "--life",
        TubesFitted,
        "expected_life_h",
        "h",
        metavar="H",
        help=_("life that the maker states"),
    )
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_tubes)


def _show(options: argparse.Namespace) -> Answer:
    level = lamp_settings.load(options.data).level if options.level is None else options.level / 100
    with Logbook.open_reader(options.data / LOGBOOK) as book:
        return _told(book, level, datetime.now(UTC))


def _told(book: Logbook, level: float, now: datetime) -> Answer:
    usual, sets = book.lamps.usual_recipe(), book.calibrations.kept().lamp_sets
    histories = [book.lamps.lamp_history(bank["bank"]) for bank in book.lamps.banks()]
    answers = [answer(history, usual, level=level) for history in histories]
    lines, banks = [], []
    for bank in book.lamps.banks():
        number = sets[bank["bank"]].number if bank["bank"] in sets else 0
        banks.append({"bank": bank["bank"], "lamp_set": number, "hours": bank["hours"], "strikes": bank["strikes"]})
        lines.append(_bank(banks[-1]))
    if not answers:
        lines.append(_("No lamps have been lit yet."))
    for bank, history, found in zip(banks, histories, answers, strict=True):
        use = present_use(history.points, history.hours, day_of(now))
        bank["sentences"] = [*found.sentences, replacement(found, use, now.date()).sentence]
        lines.append(" ".join(map(text_of, bank["sentences"])).strip())
    compared = compare(answers)
    tubes = [dict(tube) for tube in book.lamps.tubes(removed=False)]
    lines += [*compared, *map(_tube, tubes)]
    return Answer({"level": level, "banks": banks, "compared": compared, "tubes": tubes}, lines)


def _bank(bank: dict[str, Any]) -> str:
    return _("{bank}: set {lamp_set}, {hours:.1f} h, {strikes} starts", **bank)


def _tube(tube: dict[str, Any]) -> str:
    life = _(" of {hours:.0f} expected", hours=tube["expected_life_h"]) if tube["expected_life_h"] else ""
    label = f" '{tube['label']}'" if tube["label"] else ""
    return _(
        "  {bank} place {position}: {lamp_type}{label}, {wavelength_class}, {hours:.0f} h{life}, {strikes} starts, "
        "fitted {day}",
        **{key: tube[key] for key in ("bank", "position", "lamp_type", "wavelength_class", "hours", "strikes")},
        label=label,
        life=life,
        day=tube["fitted_utc"][:10],
    )


def _new(options: argparse.Namespace) -> Answer:
    asked = {"lamp_type": options.type, **({"bank": options.bank} if options.bank else {})}
    with ControlClient(options.data / SOCKET) as client:
        told = client.ask("new_lamps", **asked)["sentence"]
        snapshot = client.ask("state")
    lines, banks = [told], []
    for found in snapshot["banks"]:
        name, number = found["name"], snapshot["calibration"][found["name"]]["lamp_set"]
        banks.append({"bank": name, "lamp_set": number, "hours": found["lamp_hours"], "strikes": found["strikes"]})
        lines.append(_bank(banks[-1]))
    return Answer({"sentence": told, "banks": banks}, lines)


def _tubes(options: argparse.Namespace) -> Answer:
    asked: dict[str, Any] = {"bank": options.bank, "lamp_type": options.type, "label": options.label}
    asked |= {"wavelength_class": options.wavelength_class, "hours": options.hours}
    asked |= {"strikes": options.strikes, "expected_life_h": options.life}
    asked |= {"tubes": options.all} if options.all else {"positions": options.places}
    with ControlClient(options.data / SOCKET) as client:
        done = client.ask("tubes_fitted", **asked)
    places = ", ".join(str(place) for place in done["positions"])
    told = n_(
        "bank {bank}: {n} tube recorded in place {places}",
        "bank {bank}: {n} tubes recorded in places {places}",
        len(done["positions"]),
        bank=done["bank"],
        places=places,
    )
    return Answer({"bank": done["bank"], "positions": done["positions"]}, [told])
