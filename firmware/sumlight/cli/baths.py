"""`sumlight bath new`, `list`, `panel`, and `waste` of a bath in use: what control keeps of them."""

import argparse
from typing import Any

from sumlight.cli import options as shared
from sumlight.cli import typed
from sumlight.cli.answer import Answer
from sumlight.control.daemon import SOCKET
from sumlight.craft.baths.contents import SOLUTES
from sumlight.craft.chemistry import hazards
from sumlight.language import _, text_of
from sumlight.protocol.bath_commands import Bath, BathNew, BathPanel
from sumlight.protocol.client import ControlClient


def add_new(command: argparse.ArgumentParser) -> None:
    """Declare the options of `new`."""
    command.description = _("Put a bath that is mixed to use. What is left out is not known.")
    command.add_argument("kind", metavar="BATH", choices=hazards.KINDS, help=", ".join(hazards.KINDS))
    shared.add_amount(command, "--volume", BathNew, "volume_l", "L", required=True, metavar="V", help="1l, 500ml, 1gal")
    command.add_argument("--strength", metavar="S", help=_("of the finished bath: 36%%, 1.415g/cm3; persulfate 250g/l"))
    command.add_argument("--peroxide", metavar="S", help=_("in the finished bath: 1.8%%"))
    command.add_argument("--acid", metavar="S", help=_("in the finished bath: 11%%"))
    shared.add_amount(command, "--from", BathNew, "bottle_percent", dest="bottle", metavar="N", help=_("of stock: 40"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_new)


def add_list(command: argparse.ArgumentParser) -> None:
    """Declare the options of `list`."""
    shared.add_amount(command, "bath", Bath, "bath_id", nargs="?", metavar="N", help=_("its number (default: all)"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_list)


def add_panel(command: argparse.ArgumentParser) -> None:
    """Declare the options of `panel`."""
    shared.add_amount(command, "bath", Bath, "bath_id", metavar="N", help=_("its number"))
    command.add_argument("--metal", default="", choices=hazards.METALS, metavar="METAL", help="brass, copper, steel …")
    shared.add_amount(command, "--area", BathPanel, "open_cm2", metavar="CM2", help=_("opened, over all faces"))
    shared.add_amount(command, "--depth", BathPanel, "depth_um", "µm", metavar="D", help=_("on each face: 75um"))
    shared.add_amount(
        command, "--took", BathPanel, "took_s", "s", metavar="TIME", help=_("until through, or clear: 9min")
    )
    shared.add_amount(command, "--warmth", BathPanel, "bath_c", "°C", metavar="T", help=_("of the bath: 22C"))
    command.add_argument("--back", action="store_true", help=_("take the last one back instead"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_panel)


def _new(options: argparse.Namespace) -> Answer:
    asked: dict[str, Any] = {"kind": options.kind, "volume_l": options.volume, "bottle_percent": options.bottle}
    if options.strength is not None and options.kind == "persulfate":
        asked["g_per_l"] = typed.of("g/L", 999)(options.strength)
    elif options.strength is not None:
        asked["wt_percent"] = typed.strength_of(SOLUTES.get(options.kind, ""), options.strength)
    for key, solute in (("peroxide", "H2O2"), ("acid", "HCl")):
        said = getattr(options, key)
        asked[f"{key}_wt_percent"] = None if said is None else typed.strength_of(solute, said)
    return _asked(options, "bath_new", **asked)


def _list(options: argparse.Namespace) -> Answer:
    if options.bath is not None:
        return _asked(options, "bath", bath_id=options.bath)
    with ControlClient(options.data / SOCKET) as client:
        told = client.ask("baths")
    lines = [f"{text_of(bath['name'])}: {text_of(bath['verdict'])}" for bath in told["baths"]]
    return Answer(told, lines or [_("No bath is in use.")])


def _panel(options: argparse.Namespace) -> Answer:
    if options.back:
        return _asked(options, "bath_take_back", bath_id=options.bath)
    asked = {"metal": options.metal, "open_cm2": options.area, "depth_um": options.depth, "took_s": options.took}
    return _asked(options, "bath_panel", bath_id=options.bath, bath_c=options.warmth, **asked)


def to_waste(options: argparse.Namespace) -> Answer:
    """Move the bath of that number. Raises what control refuses."""
    answer = _asked(options, "bath_waste", bath_id=int(options.bath), into=options.into)
    lid = answer.found["tight_lid"]
    label = hazards.container(options.into).label
    return Answer(answer.found, [*answer.lines[:1], *label, *([lid] if lid else [])])


def emptied(options: argparse.Namespace) -> Answer:
    """Note that a container was taken away. Raises what control refuses."""
    if options.into is not None:
        raise ValueError(_("--into and --emptied: give one of the two"))
    with ControlClient(options.data / SOCKET) as client:
        told = client.ask("waste_emptied", kind=options.bath)
    lines = [f"{text_of(one['name'])}: {text_of(one['sentence'])}" for one in told["containers"]]
    return Answer(told, [*lines, hazards.WASTE_WORDS])


def _asked(options: argparse.Namespace, command: str, **fields: Any) -> Answer:
    with ControlClient(options.data / SOCKET) as client:
        bath = client.ask(command, **fields)
    first = bath["expectation"]
    return Answer(bath, [bath["name"], bath["made"], bath["verdict"], *([first] if first else []), *bath["sentences"]])
