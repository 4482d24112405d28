"""`sumlight bath etch-time`, `compensate` and `smallest`: sums about etching. Needs no box."""

import argparse
from dataclasses import asdict

from sumlight.cli import typed
from sumlight.cli.answer import Answer
from sumlight.craft.chemistry import hazards, loading
from sumlight.craft.etching import compensation, factor, limits, plan
from sumlight.language import _, text_of
from sumlight.text.message import say


def add_time(command: argparse.ArgumentParser) -> None:
    """Declare the options of `etch-time`."""
    length, percent = typed.of("µm"), typed.of("share")
    command.add_argument("metal", metavar="METAL", choices=hazards.METALS, help="brass, copper, steel …")
    command.add_argument("bath", metavar="BATH", choices=plan.ETCHANTS, help="iron, persulfate, peroxide …")
    command.add_argument("--thickness", type=length, required=True, metavar="T", help="150um, 0.15mm, 6mil")
    command.add_argument("--rate", type=typed.of("µm/min", 500), required=True, help=_("10um/min on each side"))
    command.add_argument("--sides", type=int, default=2, help=_("open sides (default: 2)"))
    command.add_argument("--depth", type=length, metavar="D", help=_("less deep than through"))
    command.add_argument(
        "--warmth", type=typed.temperatures, metavar="T:T", help=_("of the rate : of the bath, 20C:95F")
    )
    command.add_argument("--open", type=typed.of("cm²"), metavar="AREA", help=_("opened, all faces"))
    command.add_argument("--volume", type=typed.of("L", 200), metavar="V", help=_("of the bath"))
    command.add_argument("--capacity", metavar="C", help=_("50 (g/l of metal); of ferric chloride also 36%%"))
    command.add_argument("--peroxide", metavar="S", default="1.8%", help=_("left in a peroxide bath (1.8%%)"))
    command.add_argument(
        "--load", type=percent, default=0.0, metavar="SHARE", help=_("share of the bath already used, 30%%")
    )
    command.set_defaults(carry_out=_time)


def add_compensate(command: argparse.ArgumentParser) -> None:
    """Declare the options of `compensate`."""
    length = typed.of("µm")
    command.add_argument("kind", metavar="KIND", choices=compensation.KINDS, help=_("opening or line"))
    command.add_argument("wanted", metavar="WIDTH", type=length, help=_("wanted on the part: 300um, 0.3mm"))
    command.add_argument("--thickness", type=length, required=True, metavar="T", help="150um, 0.15mm, 6mil")
    command.add_argument(
        "--factor", type=typed.of(""), required=True, metavar="F", help=_("depth over undercut per side")
    )
    command.add_argument("--meaning", choices=factor.MEANINGS, metavar="M", help=_("if F means something else"))
    command.add_argument("--found-at", type=length, metavar="D", help=_("depth at which the undercut was measured"))
    command.add_argument("--sides", type=int, default=2, help=_("open sides (default: 2)"))
    command.add_argument("--over-etch", type=typed.of(""), default=compensation.OVER_ETCH, metavar="K", help="1.2")
    command.add_argument("--at", choices=compensation.WANTED_AT, default="waist", help=_("where WIDTH is meant"))
    command.add_argument(
        "--prints", type=length, default=compensation.SMALLEST_PRINTED_UM, help=_("smallest that prints")
    )
    command.set_defaults(carry_out=_compensate)


def add_smallest(command: argparse.ArgumentParser) -> None:
    """Declare the options of `smallest`."""
    length = typed.of("µm")
    command.add_argument("--thickness", type=length, required=True, metavar="T", help="150um, 0.15mm, 6mil")
    command.add_argument(
        "--metal", choices=hazards.METALS, default="brass", metavar="METAL", help=_("(default: brass)")
    )
    command.add_argument(
        "--factor", type=typed.of(""), default=1.5, metavar="F", help=_("depth over undercut per side")
    )
    command.add_argument(
        "--prints", type=length, default=compensation.SMALLEST_PRINTED_UM, help=_("smallest that prints")
    )
    command.add_argument(
        "--scan", type=typed.of(""), metavar="DPI", help=_("resolution of a scan that must still find it")
    )
    command.set_defaults(carry_out=_smallest)


def _time(options: argparse.Namespace) -> Answer:
    hazards.refuse_metal(options.metal, options.bath)
    found = plan.plan(
        options.metal,
        options.bath,
        options.thickness,
        options.rate,
        sides=options.sides,
        depth_um=options.depth,
        warmth_c=options.warmth,
        charge=_charge(options),
        load=options.load,
    )
    cautions = ([found.warmth] if found.warmth else []) + list(hazards.CAUTIONS[options.bath])
    told = asdict(found)
    del told["sentences"], told["warmth"]
    return Answer(told, [*found.sentences, *(f"! {text_of(caution)}" for caution in cautions)])


def _charge(options: argparse.Namespace) -> plan.Charge | None:
    """The panel in its bath; None when nobody says how much of either."""
    if (options.open is None) != (options.volume is None):
        raise ValueError(_("--open and --volume go together: so much metal, in so much bath"))
    if options.open is None:
        if options.capacity is not None:
            raise ValueError(_("--capacity needs --open and --volume: so much metal, in so much bath"))
        return None
    capacity = None if options.capacity is None else _capacity(options)
    return plan.Charge(options.open, options.volume, capacity, typed.strength_of("H2O2", options.peroxide))


def _capacity(options: argparse.Namespace) -> float:
    """As told, or by stoichiometry of ferric chloride; of that, half is used in practice before a bath is slow."""
    if not options.capacity.strip().endswith("%"):
        return typed.of("g/L", 999)(options.capacity)
    if options.bath != "iron":
        raise ValueError(_("--capacity in % is the strength of ferric chloride; of other baths give grams in a litre"))
    return loading.capacity_iron_g_per_l(typed.strength_of("FeCl3", options.capacity), options.metal)


def _compensate(options: argparse.Namespace) -> Answer:
    try:
        etched = (
            factor.etch_factor(options.factor)
            if options.meaning is None
            else factor.etch_factor_meaning(options.factor, options.meaning, options.found_at)
        )
    except factor.MeaningNeededError as asked:
        ways = [f"  --meaning {key}: {text_of(factor.MEANINGS[key])}" for key in asked.answers]
        return Answer({"question": asked.question, "answers": asked.answers}, [asked.question, *ways], status=1)
    found = compensation.compensate(
        options.wanted,
        options.kind,
        options.thickness,
        etched,
        sides=options.sides,
        over_etch=options.over_etch,
        wanted_at=options.at,
        smallest_printed_um=options.prints,
    )
    words = say("etch_factor_guessed", factor=etched)
    mils = say("that_is_mil", mil=found.drawn_um / 25.4, mm=found.drawn_um / 1000)
    return Answer(asdict(found) | {"etch_factor": etched}, [words, found.sentence, mils])


def _smallest(options: argparse.Namespace) -> Answer:
    found = {
        feature: limits.smallest(
            feature,
            options.thickness,
            options.metal,
            factor=options.factor,
            printed_um=options.prints,
            scan_dpi=options.scan,
        )
        for feature in limits.FEATURES
    }
    lines = [
        f"{name:15}{one.smallest_um:6.0f} µm   {text_of(one.rule)} ({text_of(one.source)})"
        for name, one in found.items()
    ]
    return Answer({name: asdict(one) for name, one in found.items()}, lines)
