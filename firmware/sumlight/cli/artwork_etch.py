"""`sumlight artwork predict` and `compensate`: the part that artwork gives, and the artwork that gives a part."""

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from sumlight.artwork.choices import BUILDS
from sumlight.cli import artwork, typed
from sumlight.cli.answer import Answer
from sumlight.craft.chemistry import loading
from sumlight.craft.etching.compensation import OVER_ETCH, SMALLEST_PRINTED_UM, WANTED_AT, growth
from sumlight.language import _
from sumlight.text.message import Message, say

if TYPE_CHECKING:
    from sumlight.artwork.front import Build
    from sumlight.artwork.predict import Prediction
    from sumlight.artwork.prior import FactorBand


def add_predict(command: argparse.ArgumentParser) -> None:
    """Declare the options of `predict`."""
    artwork.add_reading(command)
    add_etching(command, each_side=True)
    command.add_argument("--factor", type=typed.of(""), metavar="F", help=_("etch factor of a coupon; none: a guess"))
    command.add_argument("--back", type=Path, metavar="FILE", help=_("artwork of the back, as seen from the front"))
    command.add_argument("--shift", type=_shift, metavar="X,Y", help=_("so far lies the back to the right and down"))
    command.add_argument("--depth", type=typed.of("µm"), metavar="D", help=_("of a half-etch, one side masked"))
    command.add_argument(
        "--metal", choices=tuple(loading.METALS), default="brass", metavar="M", help=_("for its mass: brass")
    )
    command.add_argument("--picture", type=Path, metavar="PNG", help=_("draw the part, and PNG-depths how deep"))
    command.add_argument("--daylight", action="store_true", help=_("draw it grey instead of amber"))
    command.set_defaults(carry_out=_predict)


def add_compensate(command: argparse.ArgumentParser) -> None:
    """Declare the options of `compensate`."""
    artwork.add_reading(command)
    command.add_argument("new", metavar="NEW", type=Path, help=_("file to write: .png, .pdf or .svg"))
    add_etching(command)
    command.add_argument("--rate", type=typed.of("µm/min", 500), metavar="R", help=_("10um/min on each side: times"))
    command.add_argument("--factor", type=factor, metavar="F", help=_("etch factor of a coupon; 'guess' without one"))
    command.add_argument("--at", choices=WANTED_AT, default="waist", metavar="W", help=_("waist or surface"))
    command.add_argument("--prints", type=typed.of("µm"), default=SMALLEST_PRINTED_UM, metavar="D", help=_("(50um)"))
    command.add_argument(
        "--bias", type=typed.of("µm"), default=0.0, metavar="B", help=_("how far film and light widen openings (0)")
    )
    command.add_argument("--marks", type=Path, metavar="PNG", help=_("draw what cannot come out, into a new file"))
    command.set_defaults(carry_out=_compensate)


def add_etching(command: argparse.ArgumentParser, *, each_side: bool = False) -> None:
    """Declare what is asked of every etch: thickness, build, over-etch (as a pair, where `each_side` has its own)."""
    command.add_argument("--thickness", type=typed.of("µm"), required=True, metavar="T", help=_("150um, 0.15mm, 6mil"))
    command.add_argument(
        "--build", choices=BUILDS, default="sheet", metavar="B", help=_("sheet (free, both sides), foil or masked")
    )
    if each_side:
        told = _("reach over through: 1.2, or front:back: 1.3:1.1")
        command.add_argument("--over-etch", type=_each_side, default=(OVER_ETCH, OVER_ETCH), metavar="K", help=told)
        return
    command.add_argument(
        "--over-etch", type=typed.of(""), default=OVER_ETCH, metavar="K", help=_("reach over through: 1.2")
    )


def factor(text: str) -> float | str:
    """A factor, or the word guess."""
    return text if text == "guess" else typed.of("")(text)


def _each_side(text: str) -> tuple[float, float]:
    """Over-etch of front and back; one number is for both."""
    front, colon, back = text.partition(":")
    read = typed.of("")
    return read(front), read(back if colon else front)


def _shift(text: str) -> tuple[float, float]:
    """To the right and down, as seen from the front, in µm."""
    parts = [typed.of("µm")(part) for part in text.split(",")]
    if len(parts) != 2:
        raise argparse.ArgumentTypeError(_("'{text}' is no shift; write right,down: 40um,-25um", text=text))
    return parts[0], parts[1]


def _predict(options: argparse.Namespace) -> Answer:
    found, tones = artwork.opened(options)
    from sumlight.artwork import behind as behind_
    from sumlight.artwork import front, predict, prior

    sheet = artwork.parted(options, found, tones)
    back = None
    if options.back is not None:
        behind, behind_tones = artwork.opened(options, options.back)
        back = artwork.parted(options, behind, behind_tones)
    ahead, behind_k = options.over_etch
    if ahead != behind_k and options.build != "sheet":
        raise ValueError(say("art_back_of_sheet"))
    mean, share = (ahead + behind_k) / 2, behind_k / ahead
    made = front.build(options.build, options.thickness, over_etch=mean, depth_um=options.depth, back_share=share)
    factors = prior.factor_band(options.factor)
    meant = None
    if options.shift is not None:
        if options.build != "sheet":
            raise ValueError(say("art_back_of_sheet"))
        meant = predict.predict(sheet, back, made, factors)
        back = behind_.shifted(sheet if back is None else back, *options.shift)
    part = predict.predict(sheet, back, made, factors)
    told, lines = artwork.described(found, sheet, options.black)
    lines += [
        *_factor_lines(factors),
        *_part_lines(part, made, factors, options),
        *artwork.finding_lines(part.findings),
    ]
    if meant is not None:
        through = [[one.through_mm2 / 100 for one in each.outlines] for each in (meant, part)]
        right, down = options.shift
        lines.append(say("art_shifted", right=right, down=down, meant=_band(through[0]), now=_band(through[1])))
        told["through_unshifted_mm2"] = [one.through_mm2 for one in meant.outlines]
    if options.build == "sheet" and not part.findings:
        lines.append(say("art_holds"))
    if options.picture is not None:
        depths = options.picture.with_stem(f"{options.picture.stem}-depths")
        for new in (options.picture, depths):
            if new.exists():
                raise ValueError(say("art_never_over", name=str(new)))
        colours = predict.DAYLIGHT if options.daylight else predict.AMBER
        predict.draw(options.picture, sheet, back, made, factors, colours)
        colours = predict.DAYLIGHT_DEPTHS if options.daylight else predict.AMBER_DEPTHS
        predict.draw_depths(depths, sheet, back, made, factors.middle, colours)
        lines += [say("art_written", name=str(new)) for new in (options.picture, depths)]
    answer = told | {"build": asdict(made), "factors": asdict(factors)} | asdict(part)
    answer["metal_g"] = [_grams(one.metal_mm3, options.metal) for one in part.outlines]
    return Answer(answer, lines, status=1 if part.findings else 0)


def _factor_lines(factors: "FactorBand") -> list[Message]:
    if factors.guessed:
        return [say("art_band", low=factors.low, high=factors.high)]
    return [say("art_factor_known", factor=factors.middle)]


def _grams(metal_mm3: float, metal: str) -> float:
    return metal_mm3 / 1000 * loading.METALS[metal].density_g_cm3


def _band(values: list[float]) -> Message:
    low, high = min(values), max(values)
    return say("art_just", value=low) if low == high else say("art_between", low=low, high=high)


def _part_lines(part: "Prediction", made: "Build", factors: "FactorBand", options: argparse.Namespace) -> list[Message]:
    depth = made.thickness_um / (2 if made.kind == "sheet" else 1)
    front, back = made.front_reach_um, made.back_reach_um
    lines = [say("art_reach", front=front, back=back, k=max(front, back) / depth)]
    cm2 = [
        _band([getattr(one, name) / 100 for one in part.outlines]) for name in ("front_mm2", "through_mm2", "back_mm2")
    ]
    lines.append(say("art_outlines", front=cm2[0], through=cm2[1], back=cm2[2]))
    if options.depth is None and back in (0, front):
        sides = 2 if back else 1
        grown = [growth(made.thickness_um, one, sides=sides, over_etch=options.over_etch[0]) for one in factors.factors]
        lines.append(say("art_cusp", cusp=_band([one.cusp_um for one in grown])))
    grams = _band([_grams(one.metal_mm3, options.metal) for one in part.outlines])
    lines.append(say("art_metal_lost", grams=grams, metal=options.metal))
    if part.first_share is None or part.last_share is None:
        lines.append(say("art_never_through"))
    else:
        lines.append(say("art_first_last", first=part.first_share, last=part.last_share))
    if part.left_um is not None:
        lines.append(say("art_half_etched", left=part.left_um))
    return lines


def _compensate(options: argparse.Namespace) -> Answer:
    from sumlight.craft.etching.factor import etch_factor

    found, tones = artwork.opened(options)
    from sumlight.artwork import compensate, prior

    guess = prior.factor_band(None)
    if options.factor is None:
        asked = say("art_coupon_first", guess=guess.middle)
        return Answer({"question": asked}, [asked], status=1)
    factors = guess if options.factor == "guess" else prior.factor_band(etch_factor(options.factor))
    sides = 2 if options.build == "sheet" else 1
    wanted, least, most = (
        compensate.Wanted(options.thickness, one, sides, options.over_etch, options.at, options.prints, options.bias)
        for one in (factors.middle, factors.high, factors.low)
    )
    sheet = artwork.parted(options, found, tones)
    done = compensate.compensate(sheet, wanted)
    told, lines = artwork.described(found, sheet, options.black)
    lines.append(
        say(
            "art_drawn_by",
            moves=done.moves_um,
            at=say("at_surface") if options.at == "surface" else say("at_waist"),
            k=options.over_etch,
            factor=wanted.factor,
            reach=done.grown.reach_um,
        )
    )
    minutes = None if options.rate is None else done.grown.reach_um / options.rate
    if minutes is not None:
        lines.append(say("art_etch_time", minutes=minutes, rate=options.rate))
    if factors.guessed:
        inward, outward = done.moves_um - least.moves_um, most.moves_um - done.moves_um
        lines.append(say("art_guess_used", low=inward, high=outward))
    lines += artwork.finding_lines(done.findings)
    lines.append(artwork.write(options.new, done.sheet, options.black))
    if options.marks is not None:
        lines.append(artwork.write(options.marks, done.impossible, "open"))
    answer = told | {"factors": asdict(factors), "growth": asdict(done.grown), "moves_um": done.moves_um}
    answer |= {"minutes": minutes, "impossible_mm2": done.impossible_mm2, "over_etch": options.over_etch}
    answer |= {"wanted_at": options.at, "findings": [asdict(one) for one in done.findings]}
    return Answer(answer, lines)
