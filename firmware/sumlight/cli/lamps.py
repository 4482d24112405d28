"""`sumlight lamps`: the state of every bank in words, and the register of tubes; readings go out by `export lamps`."""

import argparse
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sumlight.cli import export
from sumlight.cli import options as shared
from sumlight.control.daemon import LOGBOOK, SOCKET
from sumlight.light.lampanswer import answer, compare
from sumlight.light.lampuse import present_use, replacement
from sumlight.protocol.client import ControlClient
from sumlight.store import lamp_settings
from sumlight.store.logbook.lamps import day_of
from sumlight.store.logbook.logbook import Logbook


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    shared.add_data(command, twin=False)
    command.add_argument("--level", type=float, metavar="PERCENT", help="when to replace (default: as set on the page)")
    command.add_argument("--csv", type=Path, metavar="FILE", help="write every reading of the lamps ('-': print)")
    command.add_argument("--bank", metavar="BANK", help="which bank --new is about, if there are several")
    command.add_argument("--new", metavar="TYPE", help="new lamps of this type were fitted (LED… for LEDs)")
    command.add_argument("--fitted", metavar="BANK", help="record tubes put into this bank (the box must be running)")
    command.add_argument("--places", type=int, nargs="+", default=[], metavar="N", help="places that were changed")
    command.add_argument("--all", type=int, default=0, metavar="COUNT", help="all of the bank's tubes, so many, were")
    command.add_argument("--type", default="", metavar="TEXT", help="what is printed on the tube")
    command.add_argument("--class", dest="wavelength_class", default="", metavar="TEXT", help="e.g. 'UV-A 365 nm'")
    command.add_argument("--label", default="", metavar="TEXT", help="a mark to know this tube by")
    command.add_argument("--hours", type=float, default=0.0, metavar="H", help="hours the tubes had behind them")
    command.add_argument("--strikes", type=int, default=0, metavar="N", help="starts the tubes had behind them")
    command.add_argument("--life", type=float, default=0.0, metavar="H", help="hours the maker lets expect")
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> int:
    """Tell, write or record."""
    if options.fitted:
        return _fitted(options)
    if options.new:
        return _new(options)
    if options.csv:
        return export.write(options.data, "lamps", options.csv)
    level = lamp_settings.load(options.data).level if options.level is None else options.level / 100
    with Logbook.open_reader(options.data / LOGBOOK) as book:
        return _tell(book, level, datetime.now(UTC))


def _tell(book: Logbook, level: float, now: datetime) -> int:
    usual, sets = book.usual_recipe(), book.kept().lamp_sets
    histories = [book.lamp_history(bank["bank"]) for bank in book.banks()]
    answers = [answer(history, usual, level=level) for history in histories]
    for bank in book.banks():
        number = sets[bank["bank"]].number if bank["bank"] in sets else 0
        print(f"{bank['bank']}: set {number}, {bank['hours']:.1f} h, {bank['strikes']} strikes")
    if not answers:
        print("No lamps have been lit yet.")
    for history, found in zip(histories, answers, strict=True):
        use = present_use(history.points, history.hours, day_of(now))
        print(" ".join([*found.sentences, replacement(found, use, now.date()).sentence]).strip())
    for sentence in compare(answers):
        print(sentence)
    for tube in book.tubes(removed=False):
        name = f" '{tube['label']}'" if tube["label"] else ""
        life = f" of {tube['expected_life_h']:.0f} expected" if tube["expected_life_h"] else ""
        print(
            f"  {tube['bank']} place {tube['position']}: {tube['lamp_type']}{name}, {tube['wavelength_class']}, "
            f"{tube['hours']:.0f} h{life}, {tube['strikes']} strikes, fitted {tube['fitted_utc'][:10]}"
        )
    return 0


def _new(options: argparse.Namespace) -> int:
    asked = {"lamp_type": options.new, **({"bank": options.bank} if options.bank else {})}
    with ControlClient(options.data / SOCKET) as client:
        print(client.ask("new_lamps", **asked)["sentence"])
        snapshot = client.ask("state")
    for found in snapshot["banks"]:
        number = snapshot["calibration"][found["name"]]["lamp_set"]
        print(f"{found['name']}: set {number}, {found['lamp_hours']:.1f} h, {found['strikes']} strikes")
    return 0


def _fitted(options: argparse.Namespace) -> int:
    asked: dict[str, Any] = {"bank": options.fitted, "lamp_type": options.type, "label": options.label}
    asked |= {"wavelength_class": options.wavelength_class, "hours": options.hours}
    asked |= {"strikes": options.strikes, "expected_life_h": options.life}
    asked |= {"tubes": options.all} if options.all else {"positions": options.places}
    with ControlClient(options.data / SOCKET) as client:
        done = client.ask("tubes_fitted", **asked)
    places = ", ".join(str(place) for place in done["positions"])
    print(f"bank {done['bank']}: tubes recorded in {'place' if len(done['positions']) == 1 else 'places'} {places}")
    return 0
