"""`sumlight artwork pair`: from a crooked scan to a pair of films and a picture of the part, as the page does it."""

import argparse
import textwrap
from dataclasses import asdict
from pathlib import Path

from sumlight.artwork.choices import CROPS, RESISTS
from sumlight.cli import artwork, artwork_etch, typed
from sumlight.cli.answer import Answer
from sumlight.craft.etching.compensation import SMALLEST_PRINTED_UM, WANTED_AT
from sumlight.craft.etching.fold import Fold
from sumlight.craft.etching.limits import BORDER_MM, SPECK_UM
from sumlight.language import _, text_of
from sumlight.text.message import say

RARE = (
    "--back",
    "--fold",
    "--resist",
    "--from-behind",
    "--printed",
    "--black",
    "--over-etch",
    "--at",
    "--prints",
    "--bias",
    "--specks",
    "--as-it-lies",
    "--invert",
    "--mirror",
)
"""Options whose usual value is nearly always right."""


def add_pair(command: argparse.ArgumentParser) -> None:
    """Declare the options of `pair`."""
    artwork.add_reading(command)
    command.add_argument("--back", type=Path, metavar="FILE", help=_("artwork of the back, as seen from the front"))
    command.add_argument("--from-behind", action="store_true", help=_("the back's is drawn as seen from behind"))
    command.add_argument(
        "--fold", type=_fold, action="append", default=[], metavar="F", help=_("'front 10 5 10 30 90': a fold line")
    )
    command.add_argument("folder", metavar="FOLDER", type=Path, help=_("a new folder for films and pictures"))
    artwork_etch.add_etching(command)
    command.add_argument(
        "--factor", type=artwork_etch.factor, metavar="F", help=_("etch factor of a coupon; 'guess' without one")
    )
    command.add_argument("--at", choices=WANTED_AT, default="waist", metavar="W", help=_("waist or surface"))
    command.add_argument("--prints", type=typed.of("µm"), default=SMALLEST_PRINTED_UM, metavar="D", help=_("(50um)"))
    command.add_argument(
        "--bias", type=typed.of("µm"), default=0.0, metavar="B", help=_("how far film and light widen openings (0)")
    )
    command.add_argument(
        "--specks", type=typed.of("µm"), default=SPECK_UM, metavar="D", help=_("smaller is dust (100um)")
    )
    command.add_argument("--crop", choices=CROPS, default="frame", metavar="C", help=_("frame, inside or no"))
    command.add_argument(
        "--border", type=typed.of("mm"), default=BORDER_MM, metavar="B", help=_("metal around it (10mm)")
    )
    command.add_argument(
        "--resist", choices=RESISTS, default=RESISTS[0], metavar="R", help=_("negative: light hardens it; or positive")
    )
    command.add_argument("--tabs", type=int, default=0, metavar="N", help=_("for each piece that falls out (0)"))
    command.add_argument(
        "--printed", type=_printed, default=(1.0, 1.0), metavar="X,Y", help=_("what 100 mm across and down print as")
    )
    command.add_argument("--name", default="", metavar="N", help=_("printed on the films"))
    command.add_argument("--as-it-lies", action="store_true", help=_("do not straighten it"))
    command.add_argument("--invert", action="store_true", help=_("black becomes white"))
    command.add_argument("--mirror", action="store_true", help=_("left becomes right"))
    for action in command._actions:
        if action.option_strings and action.option_strings[0] in RARE:
            action.help = argparse.SUPPRESS  # the screen has room for what is asked often; the manual has them all
    rare = textwrap.fill(", ".join(name[2:] for name in RARE), 66, break_on_hyphens=False, subsequent_indent="  ")
    command.add_argument_group(description=_("more: {options}", options=rare))
    command.set_defaults(carry_out=_pair)


def _printed(text: str) -> tuple[float, float]:
    """What 100 mm across and down come out as, as ratios."""
    parts = [typed.of("mm")(part) for part in text.split(",")]
    if len(parts) != 2:
        told = _("'{text}' is not what 100 mm print as; write across,down in mm: 100.12,99.95", text=text)
        raise argparse.ArgumentTypeError(told)
    return parts[0] / 100, parts[1] / 100


def _fold(text: str) -> Fold:
    """The side towards which it folds, both ends in mm from the top left corner, and the angle."""
    parts = text.split()
    if len(parts) not in (5, 6):
        told = _("'{text}' is no fold line; write side, both ends in mm, angle: 'front 10 5 10 30 90'", text=text)
        raise argparse.ArgumentTypeError(told)
    places = [typed.of("mm")(part) for part in parts[1:5]]
    try:
        return Fold(parts[0], *places, *map(typed.of("°"), parts[5:]))
    except ValueError as error:
        raise argparse.ArgumentTypeError(text_of(error.args[0])) from None


def _pair(options: argparse.Namespace) -> Answer:
    told = artwork.missing()
    if told is not None:
        raise ValueError(told)
    from sumlight.artwork import pair, prior, reading

    if options.factor is None:
        asked_first = say("art_coupon_first", guess=prior.factor_band(None).middle)
        return Answer({"question": asked_first}, [asked_first], status=1)
    known = None if options.scale is None else reading.Known(*options.scale)
    asked = pair.Asked(
        thickness_um=options.thickness,
        black=options.black,
        film_black="open" if options.resist == "negative" else "metal",
        factor=None if options.factor == "guess" else options.factor,
        build=options.build,
        over_etch=options.over_etch,
        wanted_at=options.at,
        smallest_printed_um=options.prints,
        bias_um=options.bias,
        speck_um=options.specks,
        straighten=not options.as_it_lies,
        crop=options.crop,
        invert=options.invert,
        mirror=options.mirror,
        border_mm=options.border,
        name=options.name,
        back_mirrored=options.from_behind,
        printed_x=options.printed[0],
        printed_y=options.printed[1],
        tabs=options.tabs,
        folds=tuple(options.fold),
    )
    try:
        options.folder.mkdir(parents=True)
    except FileExistsError:
        raise ValueError(say("art_never_over", name=str(options.folder))) from None
    made = pair.make(options.file, known, asked, options.folder, lambda _stage: None, options.back)
    lines = [
        say("art_pair_straightened", degrees=made.tilt_degrees, specks=made.specks, pinholes=made.pinholes),
        say("art_pair_drawn", moves=made.moves_um, reach=made.reach_um),
        say("art_pair_cut", wide=made.metal_mm[0], high=made.metal_mm[1], cm2=made.open_cm2),
        *([say("art_tabs", count=made.tabs, width=made.tab_um)] if made.tabs else []),
        *made.folded,
        *artwork.finding_lines((*made.findings, *made.part.findings)),
        say("art_written", name=str(options.folder)),
    ]
    return Answer(asdict(made), lines, status=1 if made.findings or made.part.findings else 0)
