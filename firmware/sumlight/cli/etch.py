"""`sumlight bath etch-time`, `compensate` and `smallest`: sums about etching. Needs no box."""

import argparse
from dataclasses import asdict

from sumlight.cli import typed
from sumlight.cli.answer import Answer
from sumlight.craft.chemistry import hazards, loading, peroxide
from sumlight.craft.etching import compensation, factor, limits, times

ETCHANTS = ("caustic", "iron", "persulfate", "peroxide", "cupric")
SPREAD = 0.2
"""How far off a time may be before a bath's own times are known (common practice, no source)."""
SEEN = (
    "A sheet etched through is seen, not timed. Look where it goes last: the narrowest and most crowded openings, near "
    "the middle of a panel that lies flat."
)
DENSITY_G_CM3 = 8.5
"""Brass; copper alloys lie within 6 % of it."""


def add_time(command: argparse.ArgumentParser) -> None:
    """Declare the options of `etch-time`."""
    length, percent = typed.of("µm"), typed.of("share")
    command.add_argument("metal", metavar="METAL", choices=hazards.METALS, help="brass, copper, steel …")
    command.add_argument("bath", metavar="BATH", choices=ETCHANTS, help="iron, persulfate, peroxide …")
    command.add_argument("--thickness", type=length, required=True, metavar="T", help="150um, 0.15mm, 6mil")
    command.add_argument(
        "--rate", type=typed.in_units(typed.UM_A_MIN, 500), required=True, help="10um/min on each side"
    )
    command.add_argument("--sides", type=int, default=2, help="open sides (default: 2)")
    command.add_argument("--depth", type=length, metavar="D", help="less deep than through")
    command.add_argument("--warmth", type=typed.temperatures, metavar="T:T", help="of the rate : of the bath, 20C:95F")
    command.add_argument("--open", type=typed.in_units(typed.SQUARE_CM), metavar="AREA", help="opened, all faces")
    command.add_argument("--volume", type=typed.in_units(typed.LITRES, 200), metavar="V", help="of the bath")
    command.add_argument("--capacity", metavar="C", help="50 (g/l of metal); of iron chloride also 36%%")
    command.add_argument("--peroxide", metavar="S", default="1.8%", help="left in a peroxide bath (1.8%%)")
    command.add_argument("--load", type=percent, default=0.0, metavar="SHARE", help="of it used before, 30%%")
    command.set_defaults(carry_out=_time)


def add_compensate(command: argparse.ArgumentParser) -> None:
    """Declare the options of `compensate`."""
    length = typed.of("µm")
    command.add_argument("kind", metavar="KIND", choices=compensation.KINDS, help="opening or line")
    command.add_argument("wanted", metavar="WIDTH", type=length, help="wanted on the part: 300um, 0.3mm")
    command.add_argument("--thickness", type=length, required=True, metavar="T", help="150um, 0.15mm, 6mil")
    command.add_argument("--factor", type=typed.of(""), required=True, metavar="F", help="depth over undercut per side")
    command.add_argument("--meaning", choices=factor.MEANINGS, metavar="M", help="if F means something else")
    command.add_argument("--found-at", type=length, metavar="D", help="depth at which a length was found")
    command.add_argument("--sides", type=int, default=2, help="open sides (default: 2)")
    command.add_argument("--over-etch", type=typed.of(""), default=compensation.OVER_ETCH, metavar="K", help="1.2")
    command.add_argument("--at", choices=compensation.WANTED_AT, default="waist", help="where WIDTH is meant")
    command.add_argument("--prints", type=length, default=compensation.SMALLEST_PRINTED_UM, help="least that prints")
    command.set_defaults(carry_out=_compensate)


def add_smallest(command: argparse.ArgumentParser) -> None:
    """Declare the options of `smallest`."""
    length = typed.of("µm")
    command.add_argument("--thickness", type=length, required=True, metavar="T", help="150um, 0.15mm, 6mil")
    command.add_argument("--metal", choices=hazards.METALS, default="brass", metavar="METAL", help="(default: brass)")
    command.add_argument("--factor", type=typed.of(""), default=1.5, metavar="F", help="depth over undercut per side")
    command.add_argument("--prints", type=length, default=compensation.SMALLEST_PRINTED_UM, help="least that prints")
    command.add_argument("--scan", type=typed.of(""), metavar="DPI", help="what a scan must still find")
    command.set_defaults(carry_out=_smallest)


def _time(options: argparse.Namespace) -> Answer:
    hazards.refuse_metal(options.metal, options.bath)
    rate = options.rate
    if options.warmth is not None:
        rate = times.rate_at(rate, *options.warmth)
    through = compensation.growth(options.thickness, 1.0, sides=options.sides, over_etch=1.0).reach_um
    depth = through if options.depth is None else options.depth
    if depth > through:
        raise ValueError(f"--depth {depth:g} µm is deeper than through, which is {through:g} µm from each open side")
    share = _share(options)
    seconds = times.etch_time_s(depth, rate, share_per_um=share, load=options.load)
    looks = times.looks_s(seconds * (1 - SPREAD))
    found = {
        "time_s": seconds,
        "depth_um": depth,
        "rate_um_min": rate,
        "load_after": options.load + share * depth,
        "looks_s": looks,
    }
    minutes = ", ".join(f"{look / 60:.1f}" for look in looks)
    lines = [
        f"{depth:.0f} µm from each open side at {rate:.3g} µm/min: about {seconds / 60:.1f} min.",
        f"Look after {minutes} min: the first at the lower end of what is likely (± {100 * SPREAD:.0f} % until this "
        "bath's own times are known; common practice).",
    ]
    lines += [SEEN] if depth == through else []
    if share:
        lines.append(f"The bath is then used to {100 * found['load_after']:.0f} % of its capacity.")
    lines += [f"! {sentence}" for sentence in _warmth(options, depth)]
    return Answer(found, [*lines, *(f"! {caution}" for caution in hazards.CAUTIONS[options.bath])])


def _share(options: argparse.Namespace) -> float:
    """What a micrometre takes of the bath; 0 when nobody says how much it can take up."""
    if (options.open is None) != (options.volume is None):
        raise ValueError("--open and --volume go together: so much metal, in so much bath")
    if options.capacity is None:
        return 0.0
    if options.open is None:
        raise ValueError("--capacity needs --open and --volume: so much metal, in so much bath")
    return times.share_per_um(options.open, _density(options.metal), options.volume, _capacity(options))


def _density(metal: str) -> float:
    return loading.METALS[metal].density_g_cm3 if metal in loading.METALS else DENSITY_G_CM3


def _capacity(options: argparse.Namespace) -> float:
    """As told, or by stoichiometry of iron chloride; of that, half is used in practice before a bath is slow."""
    if not options.capacity.strip().endswith("%"):
        return typed.in_units({"g/l": 1.0, "": 1.0}, 999)(options.capacity)
    if options.bath != "iron":
        raise ValueError("--capacity in % is the strength of iron chloride; of other baths give grams in a litre")
    return loading.capacity_iron_g_per_l(typed.strength_of("FeCl3", options.capacity), options.metal)


def _warmth(options: argparse.Namespace, depth_um: float) -> list[str]:
    """Of a peroxide bath, or its refusal; asked when area and volume are known."""
    if options.bath != "peroxide" or options.open is None or options.volume is None:
        return []
    grams = loading.metal_g(options.open, depth_um, _density(options.metal))
    return [peroxide.heat(options.volume, grams, typed.strength_of("H2O2", options.peroxide)).sentence]


def _compensate(options: argparse.Namespace) -> Answer:
    try:
        etched = (
            factor.etch_factor(options.factor)
            if options.meaning is None
            else factor.etch_factor_meaning(options.factor, options.meaning, options.found_at)
        )
    except factor.MeaningNeededError as asked:
        ways = [f"  --meaning {key}: {factor.MEANINGS[key]}" for key in asked.answers]
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
    words = f"Etch factor {etched:.3g}: depth over undercut of one side. It is a guess until a coupon was measured."
    mils = f"That is {found.drawn_um / 25.4:.3g} mil, or {found.drawn_um / 1000:.4g} mm."
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
    lines = [f"{name:15}{one.smallest_um:6.0f} µm   {one.rule} ({one.source})" for name, one in found.items()]
    return Answer({name: asdict(one) for name, one in found.items()}, lines)
