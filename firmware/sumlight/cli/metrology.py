"""Commands to a running box about what doses are worth: its calibration, a radiometer, the sensor's own LED."""

import argparse
import time
from collections.abc import Callable
from typing import Any

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words
from sumlight.cli.rigs import Bench, RunningBench
from sumlight.control.daemon import RECIPES
from sumlight.language import _, text_of
from sumlight.protocol.amounts import SteadyLeg
from sumlight.protocol.commands import Radiometer
from sumlight.store.recipes import RecipeStore, RecipeStoreError, UnknownRecipeError

LOOK_S = 0.3
LOOKS = 30

Act = Callable[[argparse.Namespace, Bench], Answer]


def add_calibration(command: argparse.ArgumentParser) -> None:
    """Declare the options of `calibration`."""
    command.add_argument("recipe", nargs="?", metavar="RECIPE", help=_("judge it for this recipe's tolerance"))
    _asks(command, _calibration)


def add_steady(command: argparse.ArgumentParser) -> None:
    """Declare the options of `steady`."""
    command.add_argument("recipe", metavar="RECIPE", help=_("whose side A is used"))
    shared.add_amount(
        command,
        "--seconds",
        SteadyLeg,
        "seconds",
        "s",
        required=True,
        metavar="S",
        help=_("how long the lamps stay lit"),
    )
    _asks(command, _steady)


def add_radiometer(command: argparse.ArgumentParser) -> None:
    """Declare the options of `radiometer`."""
    shared.add_amount(
        command,
        "mw_cm2",
        Radiometer,
        "mw_cm2",
        "mW/cm²",
        metavar="MW_CM2",
        help=_("reading at the glass, in steady light"),
    )
    shared.add_amount(
        command,
        "--uncertainty",
        Radiometer,
        "relative_uncertainty",
        "share",
        metavar="SHARE",
        help=_("its standard uncertainty; left out: 10 %%"),
    )
    command.add_argument("--bank", metavar="BANK")
    _asks(command, _radiometer)


def add_self_check(command: argparse.ArgumentParser) -> None:
    """Declare the options of `self-check`."""
    command.add_argument("--bank", metavar="BANK")
    command.add_argument("--apply", action="store_true", help=_("apply the correction it offers"))
    _asks(command, _self_check)


def _asks(command: argparse.ArgumentParser, act: Act) -> None:
    """A command to a running box."""
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=lambda options: on_running(options, act))


def on_running(options: argparse.Namespace, act: Act) -> Answer:
    """Carry it out on the running box."""
    with RunningBench(options.data or shared.default_data(twin=False)) as bench:
        return act(options, bench)


def _calibration(options: argparse.Namespace, bench: Bench) -> Answer:
    banks = bench.ask("calibration", **_tolerance(options))["banks"]
    return Answer({"banks": banks}, [f"{name}: {text_of(found['sentence'])}" for name, found in banks.items()])


def _steady(options: argparse.Namespace, bench: Bench) -> Answer:
    bench.begin(options.recipe, kind="steady", panel="steady light", seconds=options.seconds)
    told = _("Lamps go on. After three seconds read the radiometer and enter it: sumlight light radiometer MW_CM2")
    return Answer({"recipe": options.recipe, "seconds": options.seconds}, [told])


def _radiometer(options: argparse.Namespace, bench: Bench) -> Answer:
    values = {"mw_cm2": options.mw_cm2, "relative_uncertainty": options.uncertainty, **_bank(options)}
    return said(bench.ask("radiometer", **values))


def said(reply: dict[str, Any]) -> Answer:
    """Control's whole reply, or its sentence."""
    return Answer(reply, [reply["sentence"]])


def _bank(options: argparse.Namespace) -> dict[str, str]:
    return {"bank": options.bank} if options.bank else {}


def _tolerance(options: argparse.Namespace) -> dict[str, float]:
    """The tolerance of the recipe that was named. Control is told the number: it opens no file to show something."""
    if not options.recipe:
        return {}
    shelf = RecipeStore((options.data or shared.default_data(twin=False)) / RECIPES)
    try:
        return {"tolerance": shelf.load(options.recipe).recipe.tolerance}
    except (UnknownRecipeError, RecipeStoreError) as error:
        raise ValueError(in_words(error)) from error


def _self_check(options: argparse.Namespace, bench: Bench) -> Answer:
    bank = _bank(options)
    if options.apply:
        return said(bench.ask("self_check", apply=True, **bank)["result"])
    bench.ask("self_check", **bank)
    for _look in range(LOOKS):
        time.sleep(LOOK_S)
        banks = bench.ask("state")["banks"]
        found = next(b["self_check"] for b in banks if not options.bank or b["name"] == options.bank)
        if found["phase"] != "running":
            break
    if found["result"] is None:
        raise ValueError(_("the self-check was broken off; shut the lid and try again"))
    offer = [_("To apply it: sumlight light self-check --apply")] if found["result"]["may_apply"] else []
    return Answer(found["result"], [found["result"]["sentence"], *offer])
