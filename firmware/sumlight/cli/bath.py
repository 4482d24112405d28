"""`sumlight bath mix`, `dwell`, `meet`, `waste`, `neutralise`: sums about baths, and what is refused. Needs no box."""

import argparse
from collections.abc import Sequence
from dataclasses import asdict

from sumlight.cli import baths, typed
from sumlight.cli import options as options_
from sumlight.cli.answer import Answer
from sumlight.craft import developing
from sumlight.craft.baths import gassing
from sumlight.craft.baths.contents import contents_of
from sumlight.craft.chemistry import gas, hazards, mixing, peroxide, powder, solutions
from sumlight.language import _, text_of
from sumlight.text.message import say

MIXED = (*mixing.RECIPES, "persulfate", "peroxide")


def add_mix(mix: argparse.ArgumentParser) -> None:
    """Declare the options of `mix`."""
    mix.add_argument("bath", metavar="BATH", choices=MIXED, help=_("which one"))
    mix.description = _("Mix a bath to a volume:\n{baths}.", baths=", ".join(MIXED))
    mix.add_argument(
        "--volume", type=typed.of("L", mixing.LARGEST_L), required=True, metavar="V", help="1l, 500ml, 1gal"
    )
    mix.add_argument("--strength", metavar="S", help=_("of the finished bath: 1%%, 10g/l, 1:115water"))
    mix.add_argument(
        "--powder", choices=powder.ANSWERS, metavar="P", help=_("which soda it is; leave it out and be asked")
    )
    mix.add_argument("--oven", type=typed.pair, metavar="G:G", help=_("oven check: grams before:after"))
    mix.add_argument("--stock", metavar="S", help="40%%, 1.415g/cm3, 42Be/145, 72%%hydrate")
    mix.add_argument("--peroxide", metavar="S", help=_("strength of the bottle: 11.9%%, 10vol"))
    mix.add_argument("--acid", metavar="S", help=_("of the bottle of hydrochloric acid: 31%%"))
    mix.add_argument("--ratio", type=typed.pair, metavar="P:A", help=_("volumes of peroxide to acid, 2:1"))
    mix.set_defaults(carry_out=_mix)


def add_dwell(dwell: argparse.ArgumentParser) -> None:
    """Declare the options of `dwell`."""
    dwell.add_argument("--clear", type=typed.of("s"), required=True, metavar="TIME", help=_("to the break point"))
    dwell.add_argument(
        "--share", type=typed.of("share"), default=developing.BEST, help=_("of the dwell (default: 60 %%)")
    )
    dwell.set_defaults(carry_out=_dwell)


def add_meet(meet: argparse.ArgumentParser) -> None:
    """Declare the options of `meet`."""
    words = [", ".join(words) for words in (hazards.KINDS, hazards.LIQUIDS[len(hazards.KINDS) :], hazards.METALS[:6])]
    meet.description = "\n".join(
        [_("Whether two liquids may meet, or a metal and a bath."), *words, _("and other metals.")]
    )
    for name in ("one", "other"):
        meet.add_argument(name, metavar=name.upper(), choices=(*hazards.LIQUIDS, *hazards.METALS))
    meet.set_defaults(carry_out=_meet)


def add_waste(waste: argparse.ArgumentParser) -> None:
    """Declare the options of `waste`."""
    kinds = ", ".join(hazards.KINDS)
    waste.add_argument("bath", type=_kind_or_number, metavar="BATH", help=_("{kinds}, or a number", kinds=kinds))
    waste.add_argument("--into", metavar="BATH", choices=hazards.KINDS, help=_("the container it is to go into"))
    waste.add_argument("--emptied", action="store_true", help=_("the container of a kind was taken away"))
    options_.add_data(waste, twin=False)
    waste.set_defaults(carry_out=_waste)


def add_neutralise(command: argparse.ArgumentParser) -> None:
    """Declare the options of `neutralise`."""
    command.add_argument(
        "--volume", type=typed.of("L", mixing.LARGEST_L), required=True, metavar="V", help=_("of the bath")
    )
    command.add_argument("--with", dest="powder", required=True, metavar="POWDER", help=", ".join(gas.POWDERS))
    command.add_argument("--acid", type=typed.of(""), default=0.0, metavar="MOL_L", help=_("free acid in it"))
    command.add_argument("--copper", type=typed.of(""), default=0.0, metavar="G_L", help=_("copper dissolved in it"))
    command.add_argument("--iron", metavar="S", help=_("strength of ferric chloride in it: 36%%"))
    command.add_argument("--authority-allows", action="store_true", help=_("your waste authority allows it at home"))
    command.set_defaults(carry_out=_neutralise)


def _mix(options: argparse.Namespace) -> Answer:
    if options.bath == "peroxide":
        return _told(_peroxide(options))
    if options.bath == "persulfate":
        grams = typed.of("g/L", 999)(options.strength) if options.strength else 250.0
        return _told(mixing.mix_persulfate(options.volume, grams))
    solute = mixing.RECIPES[options.bath].solute
    wanted = None if options.strength is None else typed.strength_of(solute, options.strength)
    if options.stock is not None:
        return _told(mixing.mix_stock(options.bath, options.volume, typed.strength_of(solute, options.stock), wanted))
    if options.bath == "iron":
        raise ValueError(_("--stock is needed: the strength on the can, such as 40%, 1.415g/cm3 or 42Be/145"))
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
        told = _(
            "say first which soda it is: --powder {words}; or --oven BEFORE:AFTER in grams",
            words=", ".join(powder.ANSWERS),
        )
        raise ValueError(told)
    if found.share is None:
        return Answer({"powder": asdict(found)}, [found.sentence, say("nothing_before_that")], status=1)
    mixed = mixing.mix_powder("developer", options.volume, wanted, dry_share=found.share)
    return _told(mixed, [found.sentence], {"powder": asdict(found)})


def _peroxide(options: argparse.Namespace) -> mixing.Mix:
    if options.peroxide is None or options.acid is None:
        raise ValueError(_("--peroxide and --acid are needed: the strengths on the two bottles, such as 11.9% and 31%"))
    if options.strength is not None or options.stock is not None:
        raise ValueError(
            _("this bath is mixed from two bottles: write --ratio instead of --strength or --stock, or leave it out")
        )
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
    lines = [*first, mix.echo, *(f"! {text_of(caution)}" for caution in mix.cautions)]
    lines += [f"{number}. {text_of(step)}" for number, step in enumerate(mix.steps, 1)]
    lid = gassing.tight_lid(contents_of(mix))
    found = asdict(mix) | {"portions": portions, "tight_lid": lid} | (more or {})
    return Answer(found, [*lines, *([lid] if lid else []), hazards.WASTE_WORDS])


def _dwell(options: argparse.Namespace) -> Answer:
    found = developing.dwell(options.clear, options.share)
    words = say("dwell_in_all", dwell=found.dwell_s, shortest=found.shortest_s, longest=found.longest_s)
    return Answer(asdict(found), [words])


def _meet(options: argparse.Namespace) -> Answer:
    for metal, bath in ((options.one, options.other), (options.other, options.one)):
        if metal in hazards.METALS:
            hazards.refuse_metal(metal, bath)
            return Answer(
                {"may_meet": True, "why": None},
                [say("may_go_into", metal=hazards.NAMES[metal], bath=hazards.NAMES[bath])],
            )
    why = hazards.why_apart(options.one, options.other)
    found = {"may_meet": why is None, "why": why}
    if why is not None:
        return Answer(found, [f"! {text_of(say('never_together', why=why))}"], status=1)
    return Answer(found, [say("nothing_known_against")])


def _kind_or_number(text: str) -> str:
    if text not in hazards.KINDS and not text.isdecimal():
        kinds = ", ".join(hazards.KINDS)
        raise argparse.ArgumentTypeError(
            _("'{text}' is not a bath: {kinds}, or the number of one", text=text, kinds=kinds)
        )
    return text


def _waste(options: argparse.Namespace) -> Answer:
    if options.emptied:
        return baths.emptied(options)
    if options.bath.isdecimal():
        if options.into is None:
            raise ValueError(_("--into is needed: the kind that stands on the container before you"))
        return baths.to_waste(options)
    if options.into is not None:
        hazards.refuse_waste(options.bath, options.into)
    found, lid = hazards.container(options.bath), gassing.tight_lid_usually(options.bath)
    return Answer(
        asdict(found) | {"tight_lid": lid},
        [
            say("waste_container", vessel=found.vessel),
            say("waste_label_reads"),
            *(f"  {text_of(line)}" for line in found.label),
            *([lid] if lid else []),
        ],
    )


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
