"""`sumlight bath mix`, `dwell`, `meet`, `waste`, `neutralise`: sums about baths, and what is refused. Needs no box."""

import argparse
from collections.abc import Sequence
from dataclasses import asdict

from sumlight.cli import typed
from sumlight.cli.answer import Answer
from sumlight.craft import developing
from sumlight.craft.chemistry import gas, hazards, mixing, peroxide, powder, solutions

MIXED = (*mixing.RECIPES, "persulfate", "peroxide")


def add_mix(mix: argparse.ArgumentParser) -> None:
    """Declare the options of `mix`."""
    mix.add_argument("bath", metavar="BATH", choices=MIXED, help="which one")
    mix.description = f"Mix a bath to a volume:\n{', '.join(MIXED)}."
    mix.add_argument(
        "--volume", type=typed.in_units(typed.LITRES, 200), required=True, metavar="V", help="1l, 500ml, 1gal"
    )
    mix.add_argument("--strength", metavar="S", help="of the finished bath: 1%%, 10g/l, 1:115water")
    mix.add_argument("--powder", choices=powder.ANSWERS, metavar="P", help="which soda: asked first, with its answers")
    mix.add_argument("--oven", type=typed.pair, metavar="G:G", help="oven check: grams before:after")
    mix.add_argument("--stock", metavar="S", help="40%%, 1.415g/cm3, 42Be/145, 72%%hydrate")
    mix.add_argument("--peroxide", metavar="S", help="strength of the bottle: 11.9%%, 10vol")
    mix.add_argument("--acid", metavar="S", help="of the bottle of hydrochloric acid: 31%%")
    mix.add_argument("--ratio", type=typed.pair, metavar="P:A", help="volumes of peroxide to acid, 2:1")
    mix.set_defaults(carry_out=_mix)


def add_dwell(dwell: argparse.ArgumentParser) -> None:
    """Declare the options of `dwell`."""
    dwell.add_argument("--clear", type=typed.of("s"), required=True, metavar="TIME", help="to the break point")
    dwell.add_argument("--share", type=typed.of("share"), default=developing.BEST, help="of the dwell (default: 60 %%)")
    dwell.set_defaults(carry_out=_dwell)


def add_meet(meet: argparse.ArgumentParser) -> None:
    """Declare the options of `meet`."""
    words = [", ".join(words) for words in (hazards.KINDS, hazards.LIQUIDS[len(hazards.KINDS) :], hazards.METALS[:6])]
    meet.description = "\n".join(["Whether two liquids may meet, or a metal and a bath.", *words, "and other metals."])
    for name in ("one", "other"):
        meet.add_argument(name, metavar=name.upper(), choices=(*hazards.LIQUIDS, *hazards.METALS))
    meet.set_defaults(carry_out=_meet)


def add_waste(waste: argparse.ArgumentParser) -> None:
    """Declare the options of `waste`."""
    waste.add_argument("bath", metavar="BATH", choices=hazards.KINDS, help=", ".join(hazards.KINDS))
    waste.add_argument("--into", metavar="BATH", choices=hazards.KINDS, help="the container it is to go into")
    waste.set_defaults(carry_out=_waste)


def add_neutralise(command: argparse.ArgumentParser) -> None:
    """Declare the options of `neutralise`."""
    command.add_argument(
        "--volume", type=typed.in_units(typed.LITRES, 200), required=True, metavar="V", help="of the bath"
    )
    command.add_argument("--with", dest="powder", required=True, metavar="POWDER", help=", ".join(gas.POWDERS))
    command.add_argument("--acid", type=typed.of(""), default=0.0, metavar="MOL_L", help="free acid in it")
    command.add_argument("--copper", type=typed.of(""), default=0.0, metavar="G_L", help="copper dissolved in it")
    command.add_argument("--iron", metavar="S", help="strength of iron chloride in it: 36%%")
    command.add_argument("--authority-allows", action="store_true", help="your waste authority allows it at home")
    command.set_defaults(carry_out=_neutralise)


def _mix(options: argparse.Namespace) -> Answer:
    if options.bath == "peroxide":
        return _told(_peroxide(options))
    if options.bath == "persulfate":
        grams = typed.in_units({"g/l": 1.0, "": 1.0}, 999)(options.strength) if options.strength else 250.0
        return _told(mixing.mix_persulfate(options.volume, grams))
    solute = mixing.RECIPES[options.bath].solute
    wanted = None if options.strength is None else typed.strength_of(solute, options.strength)
    if options.stock is not None:
        return _told(mixing.mix_stock(options.bath, options.volume, typed.strength_of(solute, options.stock), wanted))
    if options.bath == "iron":
        raise ValueError("--stock is needed: the strength of the can, such as 40%, 1.415g/cm3 or 42Be/145")
    if options.bath != "developer":
        return _told(mixing.mix_powder(options.bath, options.volume, wanted))
    return _developer(options, wanted)


def _developer(options: argparse.Namespace, wanted: float | None) -> Answer:
    """The powder is asked for first."""
    if options.oven is not None:
        found = powder.powder_of_oven(*options.oven)
    elif options.powder is not None:
        found = powder.powder_of(options.powder)
    else:
        raise ValueError(f"--powder is asked first: {', '.join(powder.ANSWERS)}, or --oven BEFORE:AFTER in grams")
    if found.share is None:
        return Answer({"powder": asdict(found)}, [found.sentence, "Nothing is worked out before that."], status=1)
    mixed = mixing.mix_powder("developer", options.volume, wanted, dry_share=found.share)
    return _told(mixed, [found.sentence], {"powder": asdict(found)})


def _peroxide(options: argparse.Namespace) -> mixing.Mix:
    if options.peroxide is None or options.acid is None:
        raise ValueError("--peroxide and --acid are needed: the strengths on the two bottles, such as 11.9% and 31%")
    if options.strength is not None or options.stock is not None:
        raise ValueError("--strength and --stock say too little of a bath of two; write --ratio, or leave it out")
    # what stands on a strong bottle is refused by name, before a table says that it is too strong
    bottle = typed.strength_of("H2O2", options.peroxide)
    acid = typed.strength_of("HCl", options.acid)
    if options.ratio is None:
        return peroxide.mix_peroxide(options.volume, bottle, acid)
    return peroxide.mix_peroxide_parts(options.volume, options.ratio[0], bottle, options.ratio[1], acid)


def _told(mix: mixing.Mix, first: Sequence[str] = (), more: dict[str, object] | None = None) -> Answer:
    """Cautions stand before the steps: that is where the danger is."""
    portions = [
        {"name": one.name, "mass_g": one.mass_g, "volume_ml": None if one.density_g_cm3 is None else one.volume_ml}
        for one in mix.portions
    ]
    lines = [*first, mix.echo, *(f"! {caution}" for caution in mix.cautions)]
    lines += [f"{number}. {step}" for number, step in enumerate(mix.steps, 1)]
    return Answer(asdict(mix) | {"portions": portions} | (more or {}), [*lines, hazards.WASTE_WORDS])


def _dwell(options: argparse.Namespace) -> Answer:
    found = developing.dwell(options.clear, options.share)
    words = f"Leave it in for {found.dwell_s:.0f} s in all: {found.shortest_s:.0f} to {found.longest_s:.0f} s keep the "
    return Answer(asdict(found), [words + "break point at 50 to 65 % of the dwell."])


def _meet(options: argparse.Namespace) -> Answer:
    for metal, bath in ((options.one, options.other), (options.other, options.one)):
        if metal in hazards.METALS:
            hazards.refuse_metal(metal, bath)
            return Answer({"may_meet": True, "why": None}, [f"{metal} may go into the {bath} bath."])
    why = hazards.why_apart(options.one, options.other)
    found = {"may_meet": why is None, "why": why}
    if why is not None:
        return Answer(found, [f"! Never: {why}."], status=1)
    return Answer(found, ["Nothing is known against it. That is no leave to mix: ask, and try a spot outdoors."])


def _waste(options: argparse.Namespace) -> Answer:
    if options.into is not None:
        hazards.refuse_waste(options.bath, options.into)
    found = hazards.container(options.bath)
    return Answer(asdict(found), [f"Container: {found.vessel}.", "Label:", *(f"  {line}" for line in found.label)])


def _neutralise(options: argparse.Namespace) -> Answer:
    iron = 0.0
    if options.iron is not None:
        iron = solutions.strength("FeCl3", typed.strength_of("FeCl3", options.iron)).mol_per_l
    found = gas.neutralise(
        options.volume,
        options.powder,
        authority_allows=options.authority_allows,
        acid_mol_per_l=options.acid,
        copper_g_per_l=options.copper,
        iron_chloride_mol_per_l=iron,
    )
    return Answer(asdict(found), [found.sentence])
