"""`sumlight lamps`: the state of every bank in words, and the register of tubes."""

import argparse
from datetime import UTC, datetime
from typing import Any

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.control.daemon import LOGBOOK, SOCKET
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
        help="when to replace (default: as set on the page)",
    )
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_show)


def add_new(command: argparse.ArgumentParser) -> None:
    """Declare the options of `new`."""
    command.add_argument("type", metavar="TYPE", help="what is printed on them (LED… for LEDs)")
    command.add_argument("--bank", metavar="BANK", help="which bank, if there are several")
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_new)


def add_tubes(command: argparse.ArgumentParser) -> None:
    """Declare the options of `tubes`."""
    command.add_argument("bank", metavar="BANK")
    command.add_argument("--places", type=int, nargs="+", default=[], metavar="N", help="places that were changed")
    command.add_argument("--all", type=int, metavar="COUNT", help="all of the bank's tubes, so many, were")
    command.add_argument("--type", default="", metavar="TEXT", help="what is printed on the tube")
    command.add_argument("--class", dest="wavelength_class", default="", metavar="TEXT", help="e.g. 'UV-A 365 nm'")
    command.add_argument("--label", default="", metavar="TEXT", help="a mark to know this tube by")
    shared.add_amount(
        command,
        "--hours",
        TubesFitted,
        "hours",
        "h",
        metavar="H",
        help="hours the tubes had behind them",
    )
    shared.add_amount(command, "--strikes", TubesFitted, "strikes", metavar="N", help="starts they had behind them")
    shared.add_amount(
        command,
        "--life",
        TubesFitted,
        "expected_life_h",
        "h",
        metavar="H",
        help="hours the maker lets expect",
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
        lines.append(f"{bank['bank']}: set {number}, {bank['hours']:.1f} h, {bank['strikes']} strikes")
    if not answers:
        lines.append("No lamps have been lit yet.")
    for bank, history, found in zip(banks, histories, answers, strict=True):
        use = present_use(history.points, history.hours, day_of(now))
        bank["sentences"] = [*found.sentences, replacement(found, use, now.date()).sentence]
        lines.append(" ".join(bank["sentences"]).strip())
    compared = compare(answers)
    tubes = [dict(tube) for tube in book.lamps.tubes(removed=False)]
    lines += [*compared, *map(_tube, tubes)]
    return Answer({"level": level, "banks": banks, "compared": compared, "tubes": tubes}, lines)


def _tube(tube: dict[str, Any]) -> str:
    name = f" '{tube['label']}'" if tube["label"] else ""
    life = f" of {tube['expected_life_h']:.0f} expected" if tube["expected_life_h"] else ""
    return (
        f"  {tube['bank']} place {tube['position']}: {tube['lamp_type']}{name}, {tube['wavelength_class']}, "
        f"{tube['hours']:.0f} h{life}, {tube['strikes']} strikes, fitted {tube['fitted_utc'][:10]}"
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
        lines.append(f"{name}: set {number}, {found['lamp_hours']:.1f} h, {found['strikes']} strikes")
    return Answer({"sentence": told, "banks": banks}, lines)


def _tubes(options: argparse.Namespace) -> Answer:
    asked: dict[str, Any] = {"bank": options.bank, "lamp_type": options.type, "label": options.label}
    asked |= {"wavelength_class": options.wavelength_class, "hours": options.hours}
    asked |= {"strikes": options.strikes, "expected_life_h": options.life}
    asked |= {"tubes": options.all} if options.all else {"positions": options.places}
    with ControlClient(options.data / SOCKET) as client:
        done = client.ask("tubes_fitted", **asked)
    places = ", ".join(str(place) for place in done["positions"])
    told = f"bank {done['bank']}: tubes recorded in {'place' if len(done['positions']) == 1 else 'places'} {places}"
    return Answer({"bank": done["bank"], "positions": done["positions"]}, [told])
