"""Commands about what doses are worth: those of `light` that need a box, and runs of `panel` that tell something."""

import argparse
import time
from collections.abc import Callable
from dataclasses import replace
from itertools import accumulate
from pathlib import Path
from typing import Any

from sumlight.bounds import Bounds
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.benches import Bench, RunningBench, TwinBench
from sumlight.control.daemon import RECIPES
from sumlight.craft.tablet import transmittance
from sumlight.protocol.amounts import MeasuringLegs, SteadyLeg, TeachLeg
from sumlight.protocol.commands import Radiometer, StripPlan, TabletPlan, TabletReadings
from sumlight.protocol.run_parameters import FARTHEST_MM, TabletParameters
from sumlight.quantity import QuantityError, read_list
from sumlight.store.recipes import RecipeShelf, RecipeShelfError, UnknownRecipeError
from sumlight.twin.panel import Panel, Resist

LOOK_S = 0.3
LOOKS = 30
CONVENTIONS = ("last_held", "first_cleared")
SHEET = 0.9
"""What the simulated sheets let through."""

Act = Callable[[argparse.Namespace, Bench], Answer]
Hands = Callable[[argparse.Namespace, TwinBench], None]
"""Prepares somebody at the simulated box for a series."""


def add_calibration(command: argparse.ArgumentParser) -> None:
    """Declare the options of `calibration`."""
    command.add_argument("recipe", nargs="?", metavar="RECIPE", help="judge it for this recipe's tolerance")
    _asks(command, _calibration)


def add_steady(command: argparse.ArgumentParser) -> None:
    """Declare the options of `steady`."""
    command.add_argument("recipe", metavar="RECIPE", help="whose side A is used")
    shared.add_amount(
        command,
        "--seconds",
        SteadyLeg,
        "seconds",
        "s",
        required=True,
        metavar="S",
        help="how long the lamps stay lit",
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
        help="reading at the glass, in steady light",
    )
    shared.add_amount(
        command,
        "--uncertainty",
        Radiometer,
        "relative_uncertainty",
        "share",
        metavar="SHARE",
        help="its standard uncertainty",
    )
    command.add_argument("--bank", metavar="BANK")
    _asks(command, _radiometer)


def add_strip(command: argparse.ArgumentParser) -> None:
    """Declare the options of `strip`."""
    shared.add_amount(
        command,
        "--first",
        StripPlan,
        "first_mj_cm2",
        "mJ/cm²",
        required=True,
        metavar="MJ_CM2",
        help="dose of the first zone",
    )
    shared.add_amount(command, "--factor", StripPlan, "factor", help="from zone to zone (default: %(default)s)")
    shared.add_amount(command, "--zones", StripPlan, "zones")
    _guides(command, "panel strip", _strip, _slide_and_develop)


def add_transmission(command: argparse.ArgumentParser) -> None:
    """Declare the options of `transmission`."""
    shared.add_amount(command, "--sheets", MeasuringLegs, "sheets", help="how many, one after the other (default: 1)")
    shared.add_amount(
        command,
        "--seconds",
        MeasuringLegs,
        "seconds",
        "s",
        default=5.0,
        metavar="S",
        help="length of a leg (default: %(default)s)",
    )
    _guides(command, "light transmission", _transmission, _lay_sheets)


def add_field(command: argparse.ArgumentParser) -> None:
    """Declare the options of `field`."""
    command.add_argument(
        "--place", action="append", default=[], metavar="X,Y", help="in mm; repeat the middle now and then"
    )
    shared.add_amount(
        command,
        "--seconds",
        MeasuringLegs,
        "seconds",
        "s",
        default=6.0,
        metavar="S",
        help="length of a leg (default: %(default)s)",
    )
    _guides(command, "light field", _field, _carry_sensor)


def add_self_check(command: argparse.ArgumentParser) -> None:
    """Declare the options of `self-check`."""
    command.add_argument("--bank", metavar="BANK")
    command.add_argument("--apply", action="store_true", help="apply the correction it offers")
    _asks(command, _self_check)


def add_teach(command: argparse.ArgumentParser) -> None:
    """Declare the options of `teach`."""
    shared.add_amount(
        command,
        "--seconds",
        TeachLeg,
        "seconds",
        "s",
        required=True,
        metavar="S",
        help="the time that is known to be good",
    )
    _guides(command, "panel teach", _teach, lambda _options, _twin: None)


def _asks(command: argparse.ArgumentParser, act: Act) -> None:
    """A command to a running box."""
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=lambda options: _on_running(options, act))


def _on_running(options: argparse.Namespace, act: Act) -> Answer:
    with RunningBench(options.data or shared.default_data(twin=False)) as bench:
        return act(options, bench)


def _guides(command: argparse.ArgumentParser, name: str, act: Act, hands: Hands) -> None:
    """A series that somebody accompanies; on the twin that is `hands`."""
    command.add_argument("recipe", nargs="?", metavar="RECIPE", help="whose side A is used (with --twin a file may do)")
    _add_twin(command, "on a simulated box, with simulated hands")

    def carry_out(options: argparse.Namespace) -> Answer:
        if not options.twin:
            _need_recipe(options, name)
            return _on_running(options, act)
        with _twin_of(options) as twin:
            options.recipe = twin.recipe
            hands(options, twin)
            return act(options, twin)

    command.set_defaults(carry_out=carry_out)


def _add_twin(command: argparse.ArgumentParser, words: str) -> None:
    command.add_argument("--twin", action="store_true", help=words)
    shared.add_data(command, twin=True)
    command.add_argument("--box", type=Path, metavar="FILE", help="with --twin: the simulated box")
    command.add_argument("--scenario", type=Path, metavar="FILE", help="with --twin: what happens in it")


def _need_recipe(options: argparse.Namespace, name: str) -> None:
    if options.recipe is None:
        raise ValueError(f"name a recipe of the running box: sumlight {name} RECIPE")


def _twin_of(options: argparse.Namespace) -> TwinBench:
    file = Path(options.recipe) if options.recipe else None
    return TwinBench(options.box, options.scenario, file, options.data)


def add_tablet(tablet: argparse.ArgumentParser) -> None:
    """Declare the options of `tablet`."""
    tablet.add_argument("recipe", nargs="?", metavar="RECIPE", help="name of a recipe (with --twin a file may do)")
    shared.add_amount(
        tablet,
        "--target-step",
        TabletParameters,
        "target_step",
        default=8,
        metavar="N",
        help="step to be just held (default: 8)",
    )
    shared.add_amount(
        tablet,
        "--reference",
        TabletParameters,
        "reference_mj_cm2",
        "mJ/cm²",
        metavar="MJ_CM2",
        help="dose known to do it (default: the recipe's)",
    )
    shared.add_amount(
        tablet,
        "--reference-uncertainty",
        TabletReadings,
        "reference_uncertainty",
        "share",
        metavar="SHARE",
    )
    shared.add_amount(tablet, "--zones", TabletPlan, "zones")
    tablet.add_argument("--convention", choices=CONVENTIONS, help="how you read a tablet (asked if left out)")
    tablet.add_argument("--apply", choices=("calibration", "recipe"), default="calibration")
    _add_twin(tablet, "on a simulated box, with a simulated panel, developed")
    tablet.set_defaults(carry_out=_tablet)


def _calibration(options: argparse.Namespace, bench: Bench) -> Answer:
    banks = bench.ask("calibration", **_tolerance(options))["banks"]
    return Answer({"banks": banks}, [f"{name}: {found['sentence']}" for name, found in banks.items()])


def _steady(options: argparse.Namespace, bench: Bench) -> Answer:
    bench.begin(options.recipe, kind="steady", panel="steady light", seconds=options.seconds)
    told = "Lamps go on. After three seconds read the radiometer and enter it: sumlight light radiometer MW_CM2"
    return Answer({"recipe": options.recipe, "seconds": options.seconds}, [told])


def _radiometer(options: argparse.Namespace, bench: Bench) -> Answer:
    values = {"mw_cm2": options.mw_cm2, "relative_uncertainty": options.uncertainty, **_bank(options)}
    return _said(bench.ask("radiometer", **values))


def _said(reply: dict[str, Any]) -> Answer:
    """Control's whole reply, or its sentence."""
    return Answer(reply, [reply["sentence"]])


def _bank(options: argparse.Namespace) -> dict[str, str]:
    return {"bank": options.bank} if options.bank else {}


def _tolerance(options: argparse.Namespace) -> dict[str, float]:
    """The tolerance of the recipe that was named. Control is told the number: it opens no file to show something."""
    if not options.recipe:
        return {}
    shelf = RecipeShelf((options.data or shared.default_data(twin=False)) / RECIPES)
    try:
        return {"tolerance": shelf.load(options.recipe).recipe.tolerance}
    except (UnknownRecipeError, RecipeShelfError) as error:
        raise ValueError(str(error)) from error


def _tablet(options: argparse.Namespace) -> Answer:
    if not options.twin:
        _need_recipe(options, "panel tablet")
        with RunningBench(options.data or shared.default_data(twin=False)) as bench:
            return _guided(options, bench, options.recipe, lambda zones: _read_by_person(bench, zones))
    with _twin_of(options) as twin:
        recipe = twin.box.daemon.shelf.load(twin.recipe).recipe
        reference = options.reference or recipe.dose_mj_cm2
        resist = Resist(threshold_mj_cm2=reference * transmittance(options.target_step))
        options.convention = "last_held"

        def read(_zones: int) -> list[dict[str, Any]]:
            print("The panel is developed; its tablets show:")
            return list(twin.develop(resist, seed=1).values())

        answer = _guided(options, twin, twin.recipe, read)
        truth = twin.box.world.true_calibration(twin.box.daemon.loop.box.description.meters[0].name)
        now = next(iter(twin.ask("calibration")["banks"].values()))["mw_cm2_per_basic_count"]
        told = f"The simulated box now counts {now / truth:.1%} of what its panels really get."
        return replace(answer, found={**answer.found, "counts_of_truth": now / truth}, lines=[*answer.lines, told])


def _guided(
    options: argparse.Namespace, bench: Bench, recipe: str, read: Callable[[int], list[dict[str, Any]]]
) -> Answer:
    known = {"target_step": options.target_step}
    if options.reference is not None:
        known["reference_mj_cm2"] = options.reference
    planned = bench.ask("tablet_plan", recipe=recipe, zones=options.zones, **known)
    print(planned["sentence"])
    doses = planned["doses_mj_cm2"]
    bench.begin(recipe, kind="tablet", panel="step tablet", doses_mj_cm2=doses, parameters=known)
    ended = bench.follow()
    convention = options.convention or _ask_convention(bench)
    readings = read(len(doses))
    for reading in readings:
        half = ", the next one half" if reading["half"] else ""
        print(f"  zone {reading['zone']}: {str(reading['step']).replace('_', ' ')}{half}")
    reply = bench.ask(
        "tablet_readings",
        exposure_id=ended["exposure"]["exposure_id"],
        convention=convention,
        readings=readings,
        apply=options.apply,
        reference_uncertainty=options.reference_uncertainty,
        **known,
    )
    found = {**reply, "readings": readings}
    if options.apply == "recipe" and reply["recipe_dose_mj_cm2"] is not None:
        put = f"Put dose_mj_cm2: {reply['recipe_dose_mj_cm2']:.1f} into the recipe."
        return Answer(found, [reply["sentence"], put])
    return Answer(found, [reply["sentence"]], 0 if reply["applied"] else 1)


def _ask_convention(bench: Bench) -> str:
    while True:
        answer = bench.question("Do you read the last step held in full (h) or the first step all gone (g)? ")
        if answer in ("h", "g"):
            return CONVENTIONS[answer == "g"]


def _read_by_person(bench: Bench, zones: int) -> list[dict[str, Any]]:
    print("Rest, develop and read the panel. For each zone: a step, such as 7, or 7h if the next one is half there,")
    print("or 'all held' or 'all gone'.")
    readings: list[dict[str, Any]] = []
    while len(readings) < zones:
        answer = bench.question(f"zone {len(readings) + 1}: ").lower().replace(" ", "_")
        number = answer.removesuffix("h")
        if answer in ("all_held", "all_gone"):
            readings.append({"zone": str(len(readings) + 1), "step": answer, "half": False})
        elif number.isdigit():
            readings.append({"zone": str(len(readings) + 1), "step": int(number), "half": answer != number})
        else:
            print(f"'{answer}' is no reading.")
    return readings


def _strip(options: argparse.Namespace, bench: Bench) -> Answer:
    plan = bench.ask("strip_plan", first_mj_cm2=options.first, factor=options.factor, zones=options.zones)
    for line in plan["steps"] + plan["warnings"]:
        print(line)
    doses = plan["leg_doses_mj_cm2"]
    bench.begin(options.recipe, kind="strip", panel="test strip", doses_mj_cm2=doses)
    number = bench.follow()["exposure"]["exposure_id"]
    answer = bench.question("Develop it. The first zone that held (Enter if none): ")
    held = int(answer) if answer.isdigit() else None
    return _said(bench.ask("strip", exposure_id=number, first_held_zone=held))


def _slide_and_develop(options: argparse.Namespace, twin: TwinBench) -> None:
    """The resist of the simulated strip just holds three quarters of the recipe's dose."""
    del options
    panel = Panel(Resist(threshold_mj_cm2=0.75 * twin.box.daemon.shelf.load(twin.recipe).recipe.dose_mj_cm2), seed=1)

    def answer(_text: str) -> str:
        places = panel.develop_strip(list(accumulate(twin.box.truth.dose_mj_cm2().values())))
        held = str(places.index("held") + 1) if "held" in places else ""
        print(f"The strip is developed; {f'zone {held} is the first that held' if held else 'no zone held'}.")
        return held

    twin.answer = answer


def _transmission(options: argparse.Namespace, bench: Bench) -> Answer:
    print("Legs without and with a sheet take turns: begin and end with nothing on the sensor.")
    legs = 2 * options.sheets + 1
    bench.begin(options.recipe, kind="compare", panel="sheets", seconds=options.seconds, legs=legs)
    reply = bench.ask("transmission", exposure_id=bench.follow()["exposure"]["exposure_id"])
    lines = [
        f"leg {sheet['leg']}: {sheet['transmission']:.1%} ± {2 * sheet['standard']:.1%}, {sheet['sentence']}"
        for sheet in reply["sheets"]
    ]
    return Answer(reply, [*lines, reply["sentence"]])


def _lay_sheets(options: argparse.Namespace, twin: TwinBench) -> None:
    print(f"Each simulated sheet lets {SHEET:.0%} through.")

    def between(leg: int) -> None:
        if leg % 2:
            twin.happen("sheet_laid", transmission=SHEET)
        else:
            twin.happen("sheet_lifted")

    del options
    twin.between = between


def _field(options: argparse.Namespace, bench: Bench) -> Answer:
    places = [list(_place(text)) for text in options.place]
    if len(places) < 5:
        raise ValueError("name at least five places: --place 0,0 --place -60,0 … with the middle first and last")
    print("Sensor to: " + "; ".join(f"{x:g}, {y:g} mm" for x, y in places))
    walk: dict[str, Any] = {"seconds": options.seconds, "legs": len(places), "parameters": {"places": places}}
    bench.begin(options.recipe, kind="field", panel="field", **walk)
    number = bench.follow()["exposure"]["exposure_id"]
    return _said(bench.ask("field", exposure_id=number, places=places))


def _carry_sensor(options: argparse.Namespace, twin: TwinBench) -> None:
    def to(leg: int) -> None:
        x, y = places[leg]
        twin.happen("sensor_moved", x_mm=x, y_mm=y)

    places = [_place(text) for text in options.place]
    if places:
        to(0)
    twin.between = to


def _place(text: str) -> tuple[float, float]:
    try:
        x, y = read_list(text, 2, "mm", Bounds(-FARTHEST_MM, FARTHEST_MM))
    except QuantityError as error:
        raise ValueError(f"'{text}' is no place: {error} Write X,Y in mm, such as --place=-60,0") from None
    return x, y


def _self_check(options: argparse.Namespace, bench: Bench) -> Answer:
    bank = _bank(options)
    if options.apply:
        return _said(bench.ask("self_check", apply=True, **bank)["result"])
    bench.ask("self_check", **bank)
    for _ in range(LOOKS):
        time.sleep(LOOK_S)
        banks = bench.ask("state")["banks"]
        found = next(b["self_check"] for b in banks if not options.bank or b["name"] == options.bank)
        if found["phase"] != "running":
            break
    if found["result"] is None:
        raise ValueError("the self-check was broken off; shut the lid and try again")
    offer = ["To apply it: sumlight light self-check --apply"] if found["result"]["may_apply"] else []
    return Answer(found["result"], [found["result"]["sentence"], *offer])


def _teach(options: argparse.Namespace, bench: Bench) -> Answer:
    bench.begin(options.recipe, kind="teach", panel="taught", seconds=options.seconds)
    return _said(bench.ask("teach", exposure_id=bench.follow()["exposure"]["exposure_id"]))
