"""Series that somebody accompanies, asked for step by step; on the twin, by simulated hands."""

import argparse
from collections.abc import Callable
from dataclasses import replace
from itertools import accumulate
from pathlib import Path
from typing import Any

from sumlight.bounds import Bounds
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.cli.inwords import in_words
from sumlight.cli.metrology import Act, on_running, said
from sumlight.cli.rigs import Bench, TwinBench
from sumlight.craft.tablet import MOST_DENSITY, STEPS, certified, transmittance
from sumlight.language import N_, _, text_of
from sumlight.protocol.amounts import MeasuringLegs, TeachLeg
from sumlight.protocol.commands import StripPlan, TabletPlan, TabletReadings
from sumlight.protocol.run_parameters import FARTHEST_MM, TabletParameters
from sumlight.quantity import QuantityError, read_list
from sumlight.store.recipe import Recipe
from sumlight.twin.panel import Panel, Resist

CONVENTIONS = ("last_held", "first_cleared")
HELD = {"all_held": N_("all held"), "all_gone": N_("all gone")}
"""What is read of a zone that shows no last step."""
SHEET = 0.9
"""What the simulated sheets let through."""

Hands = Callable[[argparse.Namespace, TwinBench], None]
"""Prepares somebody at the simulated box for a series."""


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
        help=_("dose of the first zone"),
    )
    shared.add_amount(command, "--factor", StripPlan, "factor", help=_("from zone to zone (default: %(default)s)"))
    shared.add_amount(command, "--zones", StripPlan, "zones")
    _guides(command, "panel strip", _strip, _slide_and_develop)


def _add_leg_seconds(command: argparse.ArgumentParser, default_s: float) -> None:
    shared.add_amount(
        command,
        "--seconds",
        MeasuringLegs,
        "seconds",
        "s",
        default=default_s,
        metavar="S",
        help=_("length of a round (default: %(default)s)"),
    )


def add_transmission(command: argparse.ArgumentParser) -> None:
    """Declare the options of `transmission`."""
    shared.add_amount(
        command, "--sheets", MeasuringLegs, "sheets", help=_("how many, one after the other (default: 1)")
    )
    _add_leg_seconds(command, 5.0)
    _guides(command, "light transmission", _transmission, _lay_sheets)


def add_field(command: argparse.ArgumentParser) -> None:
    """Declare the options of `field`."""
    command.add_argument(
        "--place", action="append", default=[], metavar="X,Y", help=_("in mm; come back to the middle now and then")
    )
    _add_leg_seconds(command, 6.0)
    _guides(command, "light field", _field, _carry_sensor)


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
        help=_("the time that is known to be good"),
    )
    _guides(command, "panel teach", _teach, lambda _options, _twin: None)


def _guides(command: argparse.ArgumentParser, name: str, act: Act, hands: Hands) -> None:
    """A series that somebody accompanies; on the twin that is `hands`."""
    command.add_argument(
        "recipe", nargs="?", metavar="RECIPE", help=_("whose side A is used (with --twin a file may do)")
    )
    _add_twin(command, _("on a simulated box, with simulated hands"))

    def carry_out(options: argparse.Namespace) -> Answer:
        if not options.twin:
            _need_recipe(options, name)
            return on_running(options, act)
        with _twin_of(options) as twin:
            options.recipe = twin.recipe
            hands(options, twin)
            return act(options, twin)

    command.set_defaults(carry_out=carry_out)


def _add_twin(command: argparse.ArgumentParser, words: str) -> None:
    command.add_argument("--twin", action="store_true", help=words)
    shared.add_data(command, twin=True)
    command.add_argument("--box", type=Path, metavar="FILE", help=_("with --twin: the simulated box"))
    command.add_argument("--scenario", type=Path, metavar="FILE", help=_("with --twin: file of what happens in it"))


def _need_recipe(options: argparse.Namespace, name: str) -> None:
    if options.recipe is None:
        raise ValueError(_("name a recipe of the running box: sumlight {command} RECIPE", command=name))


def _twin_of(options: argparse.Namespace) -> TwinBench:
    file = Path(options.recipe) if options.recipe else None
    return TwinBench(options.box, options.scenario, file, options.data)


def add_tablet(tablet: argparse.ArgumentParser) -> None:
    """Declare the options of `tablet`."""
    tablet.add_argument("recipe", nargs="?", metavar="RECIPE", help=_("name of a recipe (with --twin a file may do)"))
    shared.add_amount(
        tablet,
        "--target-step",
        TabletParameters,
        "target_step",
        default=8,
        metavar="N",
        help=_("step to be just held (default: 8)"),
    )
    shared.add_amount(
        tablet,
        "--reference",
        TabletParameters,
        "reference_mj_cm2",
        "mJ/cm²",
        metavar="MJ_CM2",
        help=_("dose known to do it (default: the recipe's)"),
    )
    shared.add_amount(
        tablet,
        "--reference-uncertainty",
        TabletReadings,
        "reference_uncertainty",
        "share",
        metavar="SHARE",
    )
    tablet.add_argument(
        "--densities",
        type=_densities,
        default={},
        metavar="D1;D2;…",
        help=_("the tablet's 21 by its certificate, then their ±"),
    )
    shared.add_amount(tablet, "--zones", TabletPlan, "zones")
    read = _("how you read it: {conventions}", conventions=", ".join(CONVENTIONS))
    tablet.add_argument("--convention", choices=CONVENTIONS, metavar="HOW", help=read)
    tablet.add_argument("--apply", choices=("calibration", "recipe"), default="calibration")
    _add_twin(tablet, _("on a simulated box, with a simulated panel, developed"))
    tablet.set_defaults(carry_out=_tablet)


def _densities(text: str) -> dict[str, Any]:
    """What --densities names: 21, and after them their standard uncertainty. argparse tells what is wrong with it."""
    bounds = Bounds(0, MOST_DENSITY)
    try:
        try:
            *found, sigma = read_list(text, STEPS + 1, bounds=bounds)
        except QuantityError:
            found, sigma = read_list(text, STEPS, bounds=bounds), 0.0
        return {"densities": list(certified(found)), "density_uncertainty": sigma}
    except (QuantityError, ValueError) as error:
        raise argparse.ArgumentTypeError(in_words(error)) from error


def _tablet(options: argparse.Namespace) -> Answer:
    if not options.twin:
        _need_recipe(options, "panel tablet")
        return on_running(
            options,
            lambda _, bench: _guided(options, bench, options.recipe, lambda zones: _read_by_person(bench, zones)),
        )
    with _twin_of(options) as twin:
        recipe = twin.box.daemon.shelf.load(twin.recipe).recipe
        reference = options.reference or _dose_of(recipe)
        resist = Resist(threshold_mj_cm2=reference * transmittance(options.target_step))
        options.convention = "last_held"

        def read(_zones: int) -> list[dict[str, Any]]:
            print(_("The panel is developed; its tablets show:"))
            return list(twin.develop(resist, seed=1).values())

        answer = _guided(options, twin, twin.recipe, read)
        truth = twin.box.world.true_calibration(twin.box.daemon.loop.box.description.meters[0].name)
        now = next(iter(twin.ask("calibration")["banks"].values()))["mw_cm2_per_basic_count"]
        told = _("The simulated box now counts {share:.1%} of what its panels actually get.", share=now / truth)
        return replace(answer, found={**answer.found, "counts_of_truth": now / truth}, lines=[*answer.lines, told])


def _guided(
    options: argparse.Namespace, bench: Bench, recipe: str, read: Callable[[int], list[dict[str, Any]]]
) -> Answer:
    known = {"target_step": options.target_step}
    if options.reference is not None:
        known["reference_mj_cm2"] = options.reference
    planned = bench.ask("tablet_plan", recipe=recipe, zones=options.zones, **known)
    print(text_of(planned["sentence"]))
    doses = planned["doses_mj_cm2"]
    bench.begin(recipe, kind="tablet", panel="step tablet", doses_mj_cm2=doses, parameters=known)
    ended = bench.follow()
    convention = options.convention or _ask_convention(bench)
    readings = read(len(doses))
    for reading in readings:
        step = _(HELD.get(reading["step"], str(reading["step"])))
        half = _(", the next one half") if reading["half"] else ""
        print(_("  zone {number}: {step}{half}", number=reading["zone"], step=step, half=half))
    reply = bench.ask(
        "tablet_readings",
        exposure_id=ended["exposure"]["exposure_id"],
        convention=convention,
        readings=readings,
        apply=options.apply,
        reference_uncertainty=options.reference_uncertainty,
        **options.densities,
        **known,
    )
    found = {**reply, "readings": readings}
    if options.apply == "recipe" and reply["recipe_dose_mj_cm2"] is not None:
        dose = format(reply["recipe_dose_mj_cm2"], ".1f")  # with a point, as files have it
        put = _("Put dose_mj_cm2: {dose} into the recipe.", dose=dose)
        return Answer(found, [reply["sentence"], put])
    return Answer(found, [reply["sentence"]], 0 if reply["applied"] else 1)


def _ask_convention(bench: Bench) -> str:
    while True:
        answer = bench.question(_("Do you read the last step held in full (h) or the first step all gone (g)? "))
        if answer in ("h", "g"):
            return CONVENTIONS[answer == "g"]


def _read_by_person(bench: Bench, zones: int) -> list[dict[str, Any]]:
    print(
        _(
            "Rest, develop and read the panel. For each zone type a step, such as 7, or 7h if the next one is half "
            "there,\nor 'all held' or 'all gone'."
        )
    )
    whole = {typed: word for word, words in HELD.items() for typed in (words, _(words))}
    readings: list[dict[str, Any]] = []
    while len(readings) < zones:
        answer = bench.question(_("zone {number}: ", number=len(readings) + 1)).lower().replace("_", " ")
        number = answer.removesuffix("h")
        if answer in whole:
            readings.append({"zone": str(len(readings) + 1), "step": whole[answer], "half": False})
        elif number.isdecimal():
            readings.append({"zone": str(len(readings) + 1), "step": int(number), "half": answer != number})
        else:
            print(_("'{answer}' is not a reading.", answer=answer))
    return readings


def _strip(options: argparse.Namespace, bench: Bench) -> Answer:
    plan = bench.ask("strip_plan", first_mj_cm2=options.first, factor=options.factor, zones=options.zones)
    for line in plan["steps"] + plan["warnings"]:
        print(text_of(line))
    doses = plan["leg_doses_mj_cm2"]
    bench.begin(options.recipe, kind="strip", panel="test strip", doses_mj_cm2=doses)
    number = bench.follow()["exposure"]["exposure_id"]
    return said(bench.ask("strip", exposure_id=number, first_held_zone=_first_held(bench, len(doses))))


def _first_held(bench: Bench, zones: int) -> int | None:
    """None where no zone held; a slip of the finger must not pass for that."""
    known = {str(zone): zone for zone in range(1, zones + 1)}
    while answer := bench.question(_("Develop it. The first zone that held (Enter if none): ")):
        if answer in known:
            return known[answer]
        print(_("'{answer}' is not a zone of this strip: there are 1 to {zones}.", answer=answer, zones=zones))
    return None


def _dose_of(recipe: Recipe) -> float:
    """What the resist of a simulated panel is made for."""
    if recipe.dose_mj_cm2 is None:
        raise ValueError(_("the simulated panel needs a recipe with dose_mj_cm2; this one has none yet"))
    return recipe.dose_mj_cm2


def _slide_and_develop(options: argparse.Namespace, twin: TwinBench) -> None:
    """The resist of the simulated strip just holds three quarters of the recipe's dose."""
    del options
    panel = Panel(Resist(threshold_mj_cm2=0.75 * _dose_of(twin.box.daemon.shelf.load(twin.recipe).recipe)), seed=1)

    def answer(_text: str) -> str:
        places = panel.develop_strip(list(accumulate(twin.box.truth.dose_mj_cm2().values())))
        held = str(places.index("held") + 1) if "held" in places else ""
        if held:
            print(_("The strip is developed; zone {number} is the first that held.", number=held))
        else:
            print(_("The strip is developed; no zone held."))
        return held

    twin.answer = answer


def _transmission(options: argparse.Namespace, bench: Bench) -> Answer:
    print(_("Parts without and with a sheet take turns: begin and end with nothing on the sensor."))
    legs = 2 * options.sheets + 1
    bench.begin(options.recipe, kind="compare", panel="sheets", seconds=options.seconds, legs=legs)
    reply = bench.ask("transmission", exposure_id=bench.follow()["exposure"]["exposure_id"])
    lines = [
        _(
            "part {number}: {share:.1%} ± {wide:.1%}, {sentence}",
            number=sheet["leg"],
            share=sheet["transmission"],
            wide=2 * sheet["standard"],
            sentence=sheet["sentence"],
        )
        for sheet in reply["sheets"]
    ]
    return Answer(reply, [*lines, reply["sentence"]])


def _lay_sheets(options: argparse.Namespace, twin: TwinBench) -> None:
    print(_("Each simulated sheet lets {share:.0%} through.", share=SHEET))

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
        raise ValueError(_("name at least five places: --place=0,0 --place=-60,0 … with the middle first and last"))
    shown = [_("x {x:g}, y {y:g} mm", x=x, y=y) for x, y in places]
    print(_("Sensor to: {places}", places="; ".join(shown)))
    walk: dict[str, Any] = {"seconds": options.seconds, "legs": len(places), "parameters": {"places": places}}
    bench.begin(options.recipe, kind="field", panel="field", **walk)
    number = bench.follow()["exposure"]["exposure_id"]
    return said(bench.ask("field", exposure_id=number, places=places))


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
        told = _("'{text}' is not a place: {why} Write X,Y in mm, such as --place=-60,0", text=text, why=error.message)
        raise ValueError(told) from None
    return x, y


def _teach(options: argparse.Namespace, bench: Bench) -> Answer:
    bench.begin(options.recipe, kind="teach", panel="taught", seconds=options.seconds)
    return said(bench.ask("teach", exposure_id=bench.follow()["exposure"]["exposure_id"]))
