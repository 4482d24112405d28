"""`sumlight light contact` and `light reciprocity`: arithmetic of the trade that needs no box."""

import argparse
from dataclasses import asdict

from sumlight.bounds import bounds_of
from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.control.daemon import LOGBOOK
from sumlight.craft.contact import line_growth
from sumlight.language import _, text_of
from sumlight.light.reciprocity import fit_exponent, in_words
from sumlight.protocol.amounts import ContactStack, ThresholdLight
from sumlight.quantity import QuantityError, read
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.threshold_runs import threshold_doses
from sumlight.text.doseunit import unit_of_dose

SHOWN_STEP = 8
"""Doses of tablet runs are told for this step; the exponent is the same for any."""
PERCENT = 10.0
"""Standard uncertainty of one tablet read to a whole step: ln 10 * 0.15 / sqrt 12 (even spread, JCGM 100)."""


def add_contact(contact: argparse.ArgumentParser) -> None:
    """Declare the options of `contact`."""
    shared.add_amount(
        contact,
        "--half-angle",
        ContactStack,
        "half_angle_deg",
        "°",
        required=True,
        metavar="DEG",
        help=_("of the source, from the panel"),
    )
    shared.add_amount(
        contact,
        "--gap",
        ContactStack,
        "gap_um",
        "µm",
        metavar="UM",
        help=_("air between artwork and panel"),
    )
    contact.add_argument("--image-away", action="store_true", help=_("the image side faces the lamps"))
    shared.add_amount(
        contact,
        "--base",
        ContactStack,
        "base_um",
        "µm",
        metavar="UM",
        help=_("thickness of the artwork's film"),
    )
    shared.add_amount(
        contact,
        "--cover",
        ContactStack,
        "cover_um",
        "µm",
        metavar="UM",
        help=_("cover sheet of the resist"),
    )
    shared.add_amount(
        contact,
        "--resist",
        ContactStack,
        "resist_um",
        "µm",
        metavar="UM",
        help=_("thickness of the resist"),
    )
    contact.set_defaults(carry_out=_contact)


def add_reciprocity(weak: argparse.ArgumentParser) -> None:
    """Declare the options of `reciprocity`."""
    weak.add_argument(
        "--held",
        action="append",
        default=[],
        metavar="MW,MJ[,PERCENT]",
        help=_("light and the dose that holds the same step in it, with its standard uncertainty (default: 10 %%)"),
    )
    weak.add_argument(
        "--run", action="append", default=[], type=int, metavar="N", help=_("take it from this tablet run")
    )
    shared.add_data(weak, twin=False)
    weak.set_defaults(carry_out=_reciprocity)


def _contact(options: argparse.Namespace) -> Answer:
    found = line_growth(
        options.half_angle,
        gap_um=options.gap,
        image_towards_resist=not options.image_away,
        base_um=options.base,
        cover_um=options.cover,
        resist_um=options.resist,
    )
    lines = [
        _(
            "{layer:12} {thickness_um:6.0f} µm: {creep_um:5.1f} µm at each edge",
            layer=text_of(layer.name),
            thickness_um=layer.thickness_um,
            creep_um=layer.creep_um,
        )
        for layer in found.layers
    ]
    whole = _("A line grows by up to {um:.0f} µm. {sentence}", um=found.per_line_um, sentence=found.sentence)
    return Answer(asdict(found), [*lines, whole])


def _reciprocity(options: argparse.Namespace) -> Answer:
    lines: list[str] = []
    points = [_held(text) for text in options.held]
    if options.run:
        with Logbook.open_reader(options.data / LOGBOOK) as book:
            runs = {held.exposure_id: held for held in threshold_doses(book, SHOWN_STEP)}
        for number in options.run:
            if number not in runs:
                known = ", ".join(str(known) for known in runs) or _("none")
                told = _(
                    "--run {number}: no tablet run of that number has readings that give a dose; these have: {known}",
                    number=number,
                    known=known,
                )
                raise ValueError(told)
            held = runs[number]
            told = _(
                "run {number}, {recipe}: {dose:.1f} {unit} at {mw_cm2:.2f} mW/cm²",
                number=number,
                recipe=held.recipe_name,
                dose=held.dose_mj_cm2,
                unit=unit_of_dose(relative=held.relative),
                mw_cm2=held.mw_cm2,
            )
            lines.append(told)
            points.append((held.mw_cm2, held.dose_mj_cm2, held.ln_sigma))
    exponent = fit_exponent(points)
    words = in_words(exponent)
    return Answer(asdict(exponent) | {"sentence": words}, [*lines, words])


def _held(text: str) -> tuple[float, float, float]:
    """Light, dose and a share: MW,MJ or MW,MJ,PERCENT, with semicolons between where the numbers have commas."""
    parts = text.split(";") if ";" in text else text.split(",")
    try:
        light, dose, percent = (*parts, str(PERCENT)) if len(parts) == 2 else parts
        values = [
            read(part, unit, bounds_of(ThresholdLight, name))
            for part, unit, name in (
                (light, "mW/cm²", "mw_cm2"),
                (dose, "mJ/cm²", "dose_mj_cm2"),
                (percent, "%", "percent"),
            )
        ]
    except ValueError as error:
        why = f": {text_of(error.message)}" if isinstance(error, QuantityError) else ""
        told = _(
            "--held '{text}' is not a reading{why}; write MW,MJ or MW,MJ,PERCENT, such as --held 4.0,60,10",
            text=text,
            why=why,
        )
        raise ValueError(told) from None
    return values[0], values[1], values[2] / 100
