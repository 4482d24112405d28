"""`sumlight stock`: rolls of resist, metal and stencils on the shelf, as control keeps them."""

import argparse
from typing import Any

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.control.daemon import SOCKET
from sumlight.craft.chemistry import hazards
from sumlight.craft.stock.rolls import STORAGES
from sumlight.craft.stock.stencils import HELD, ORDER
from sumlight.language import _, text_of
from sumlight.protocol.client import ControlClient
from sumlight.protocol.stock_commands import MetalNew, RollNew, StencilMeasured, StencilNew, StockThing

YES_NO = ("yes", "no")
NO_RECIPE = "none"


def add_list(command: argparse.ArgumentParser) -> None:
    """Declare the options of `list`."""
    _number(command, nargs="?", help=_("its number (default: all)"))
    _finish(command, _list)


def add_roll(command: argparse.ArgumentParser) -> None:
    """Declare the options of `roll`."""
    command.add_argument("resist", metavar="RESIST", help=_("its name, as in its recipe"))
    shared.add_amount(command, "--film", RollNew, "film_um", "µm", metavar="T", help=_("thickness of the film: 38um"))
    told = _("2026-11-30, 30 Nov 2026, 30.11.2026, or 'closed' (default: today)")
    shared.add_day(command, "--opened", {"closed": ""}, help=told)
    shared.add_day(command, "--expires", default=None, help=_("as printed on it: 30 Nov 2027"))
    command.add_argument("--storage", choices=STORAGES, metavar="WHERE", help=", ".join(STORAGES))
    _finish(command, _roll)


def add_metal(command: argparse.ArgumentParser) -> None:
    """Declare the options of `metal`."""
    command.add_argument("metal", choices=hazards.METALS, metavar="METAL", help="brass, copper, steel …")
    shared.add_amount(
        command, "--thickness", MetalNew, "thickness_um", "µm", required=True, metavar="T", help="150um, 0.15mm, 6mil"
    )
    shared.add_amount(command, "--pieces", MetalNew, "pieces", metavar="N", help=_("how many; cards count them down"))
    command.add_argument("--remark", default="", metavar="TEXT", help=_("where it is from"))
    _finish(command, _metal)


def add_stencil(command: argparse.ArgumentParser) -> None:
    """Declare the options of `stencil`."""
    command.add_argument("artwork", metavar="ARTWORK", help=_("the word that its jobs carry"))
    shared.add_amount(command, "--films", StencilNew, "sides", dest="sides", metavar="N", help=_("1, or 2 (default)"))
    shared.add_amount(
        command, "--spacer", StencilNew, "spacer_um", "µm", metavar="T", help=_("strip between the sheets: 150um")
    )
    command.add_argument("--held", choices=HELD, default=HELD[0], metavar="HOW", help=", ".join(HELD))
    _finish(command, _stencil)


def add_note(command: argparse.ArgumentParser) -> None:
    """Declare the options of `note`."""
    _number(command, help=_("its number"))
    command.add_argument("--step", choices=ORDER, metavar="STEP", help=_("a step is done: ") + ", ".join(ORDER))
    command.add_argument("--take-back", action="store_true", help=_("the step is not done after all"))
    shared.add_amount(
        command, "--density", StencilMeasured, "density", metavar="D", help=_("of its black over clear: 2.4")
    )
    shared.add_amount(
        command, "--apart", StencilMeasured, "apart_um", "µm", metavar="L", help=_("front against back: 40um")
    )
    reads = _("the side reads the way the part should: yes, no")
    for side in "ab":
        command.add_argument(f"--readable-{side}", choices=YES_NO, metavar="YES", help=reads)
    told = _("whose panels without a card count for it; 'none': no recipe's")
    command.add_argument("--recipe", metavar="RECIPE", help=told)
    _finish(command, _note)


def add_end(command: argparse.ArgumentParser) -> None:
    """Declare the options of `end`."""
    _number(command, help=_("its number"))
    command.add_argument("--back", action="store_true", help=_("put it back on the shelf"))
    _finish(command, lambda options: _asked(options, "stock_end", stock_id=options.number, ended=not options.back))


def _number(command: argparse.ArgumentParser, **how: Any) -> None:
    shared.add_amount(command, "number", StockThing, "stock_id", metavar="N", **how)


def _finish(command: argparse.ArgumentParser, carry_out: Any) -> None:
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=carry_out)


def _list(options: argparse.Namespace) -> Answer:
    if options.number is not None:
        return _asked(options, "stock_thing", stock_id=options.number)
    with ControlClient(options.data / SOCKET) as client:
        told = client.ask("stock")
    lines = [": ".join(map(text_of, [one["name"], *one["sentences"][:1]])) for one in told["things"]]
    return Answer(told, lines or [_("Nothing is on the shelf.")])


def _roll(options: argparse.Namespace) -> Answer:
    asked = {"resist": options.resist, "film_um": options.film, "opened_on": options.opened}
    asked |= {"expires_on": options.expires or ""}
    return _asked(options, "roll_new", **asked, storage=options.storage)


def _metal(options: argparse.Namespace) -> Answer:
    asked = {"metal": options.metal, "thickness_um": options.thickness, "pieces": options.pieces}
    return _asked(options, "metal_new", **asked, remark=options.remark)


def _stencil(options: argparse.Namespace) -> Answer:
    asked = {"artwork": options.artwork, "sides": options.sides, "spacer_um": options.spacer, "held": options.held}
    return _asked(options, "stencil_new", **asked)


def _note(options: argparse.Namespace) -> Answer:
    measured: dict[str, Any] = {"density": options.density, "apart_um": options.apart}
    said = {"readable_a": options.readable_a, "readable_b": options.readable_b}
    measured |= {key: None if word is None else word == "yes" for key, word in said.items()}
    given = any(value is not None for value in measured.values())
    if options.take_back and options.step is None:
        raise ValueError(_("--take-back: say which step with --step"))
    if options.step is None and options.recipe is None and not given:
        raise ValueError(_("say what to note: --step, --recipe, --density, --apart, --readable-a or --readable-b"))
    asked: list[tuple[str, dict[str, Any]]] = []
    if options.recipe is not None:
        asked.append(("stencil_recipe", {} if options.recipe == NO_RECIPE else {"recipe": options.recipe}))
    if options.step is not None:
        asked.append(("stencil_done", {"step": options.step, "done": not options.take_back}))
    if given:
        asked.append(("stencil_measured", measured))
    *first, (command, fields) = asked
    for each, its in first:
        _asked(options, each, stock_id=options.number, **its)
    return _asked(options, command, stock_id=options.number, **fields)


def _asked(options: argparse.Namespace, command: str, **fields: Any) -> Answer:
    with ControlClient(options.data / SOCKET) as client:
        told = client.ask(command, **fields)
    lines = [told["name"], *told["made"], *told["sentences"]]
    for step in (told["stencil"] or {"steps": ()})["steps"]:
        state = _("done") if step["done_utc"] else _("open")
        lines.append(f"[{step['step']}] {text_of(step['title'])}: {state}")
        if not step["done_utc"]:
            lines.append(f"  {text_of(step['sentence'])}")
    return Answer(told, lines)
