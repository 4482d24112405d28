"""`sumlight artwork check` and `clean`: look at artwork and mend it, on any computer. Needs the extra `artwork`."""

import argparse
from collections.abc import Iterator, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sumlight.artwork.choices import BLACKS, UM_PER_INCH
from sumlight.cli import typed
from sumlight.cli.answer import Answer
from sumlight.craft.etching.limits import SPECK_UM
from sumlight.language import _
from sumlight.text.message import Message, say

if TYPE_CHECKING:
    from sumlight.artwork.check import Finding, Place
    from sumlight.artwork.picture import Picture
    from sumlight.artwork.sheet import Sheet, Tones

SHOWN = 3
"""Places of a finding that are printed; --json has them all."""


def add_check(command: argparse.ArgumentParser) -> None:
    """Declare the options of `check`."""
    add_reading(command)
    command.add_argument(
        "--thickness",
        type=typed.of("µm"),
        metavar="T",
        help=_("thickness of the metal, which decides what is too small"),
    )
    command.add_argument("--factor", type=typed.of(""), metavar="F", help=_("etch factor of a coupon; none: a guess"))
    command.add_argument(
        "--specks", type=typed.of("µm"), default=SPECK_UM, metavar="D", help=_("smaller is dust (100um)")
    )
    command.add_argument("--back", type=Path, metavar="FILE", help=_("artwork of the back, as seen from the front"))
    command.set_defaults(carry_out=_check)


def add_clean(command: argparse.ArgumentParser) -> None:
    """Declare the options of `clean`."""
    add_reading(command)
    command.add_argument("new", metavar="NEW", type=Path, help=_("file to write: .png, .pdf or .svg"))
    command.add_argument(
        "--specks", type=typed.of("µm"), default=SPECK_UM, metavar="D", help=_("smaller is dust (100um)")
    )
    command.add_argument(
        "--threshold", type=typed.of(""), metavar="N", help=_("of 255 (default: midway between the tones)")
    )
    command.add_argument("--invert", action="store_true", help=_("black becomes white"))
    command.add_argument("--mirror", action="store_true", help=_("left becomes right"))
    command.add_argument("--crop", type=_box, metavar="BOX", help=_("left,top,right,bottom in mm"))
    command.add_argument("--difference", type=Path, metavar="PNG", help=_("write what changes as a picture"))
    command.add_argument("--write", action="store_true", help=_("write it; without, the difference is only shown"))
    command.set_defaults(carry_out=_clean)


def add_reading(command: argparse.ArgumentParser) -> None:
    """Declare what every command asks that reads artwork."""
    command.add_argument("file", metavar="FILE", type=Path, help=_("PNG, TIFF, JPEG, BMP, PDF, SVG or Gerber"))
    command.add_argument("--scale", type=scale, metavar="S", help=_("1200dpi, or one known length: 2362:50mm"))
    command.add_argument("--black", choices=BLACKS, default="open", metavar="B", help=_("open (default) or metal"))


def scale(text: str) -> tuple[float, float]:
    """Pixels, and the µm that they are."""
    if text.lower().endswith("dpi"):
        dpi = typed.of("")(text[:-3])
        if dpi <= 0:
            raise argparse.ArgumentTypeError(_("'{text}': dots per inch must be above 0", text=text))
        return 1.0, UM_PER_INCH / dpi
    pixels, colon, length = text.partition(":")
    if not colon:
        told = _("'{text}' is not a scale; write 1200dpi, or pixels:length such as 2362:50mm", text=text)
        raise argparse.ArgumentTypeError(told)
    return typed.of("")(pixels), typed.of("µm")(length)


def _box(text: str) -> tuple[float, float, float, float]:
    parts = text.split(",")
    if len(parts) != 4:
        told = _("'{text}' is not a box; write left,top,right,bottom in mm: 5,5,95,65", text=text)
        raise argparse.ArgumentTypeError(told)
    left, top, right, bottom = (typed.of("mm")(part) for part in parts)
    return left, top, right, bottom


def missing() -> Message | None:
    """Say which library of the extra is missing; None if all are there."""
    try:
        import cv2
        import PIL.Image
        import pypdfium2
        import resvg_py
    except ImportError as error:
        return say("art_extra_missing", missing=str(error.name))
    del cv2, PIL, pypdfium2, resvg_py
    return None


def opened(
    options: argparse.Namespace, path: Path | None = None, scale_of: tuple[float, float] | None = None
) -> tuple["Picture", "Tones"]:
    """The picture that options name, or that of `path`, and its tones; `scale_of` goes before --scale for the latter.

    Raises ValueError.
    """
    found = picture(options, path, scale_of)
    from sumlight.artwork import sheet

    return found, sheet.tones(found.strips())


def picture(
    options: argparse.Namespace, path: Path | None = None, scale_of: tuple[float, float] | None = None
) -> "Picture":
    """The same without its tones, for which a file is unpacked. Raises ValueError."""
    told = missing()
    if told is not None:
        raise ValueError(told)
    from sumlight.artwork import reading

    given = scale_of or options.scale
    known = None if given is None else reading.Known(*given)
    return reading.open_picture(options.file if path is None else path, known=known)


def parted(options: argparse.Namespace, found: "Picture", tones: "Tones") -> "Sheet":
    """It in black and white."""
    from sumlight.artwork import sheet

    threshold = getattr(options, "threshold", None)
    return sheet.sheet_of(found, tones.threshold if threshold is None else threshold, options.black)


def described(found: "Picture", sheet: "Sheet", black: str) -> tuple[dict[str, object], list[Message]]:
    """Size and shares, as numbers and as words."""
    header, (wide, high) = found.header, found.size_mm
    share = sheet.open_share
    told: dict[str, object] = {
        "kind": header.kind,
        "width_px": header.width_px,
        "height_px": header.height_px,
        "width_mm": wide,
        "height_mm": high,
        "pitch_um": found.pitch_um,
        "open_share": share,
    }
    is_words = say(
        "art_is",
        kind=header.kind,
        width=header.width_px,
        height=header.height_px,
        wide=wide,
        high=high,
        pitch=found.pitch_um,
        dpi=UM_PER_INCH / found.pitch_um,
    )
    meant = say("art_black_open") if black == "open" else say("art_black_metal")
    lines = [is_words, say("art_shares", open=share, metal=1 - share, black=meant)]
    return told, lines if found.doubt is None else [*lines, found.doubt]


def _check(options: argparse.Namespace) -> Answer:
    found, tones = opened(options)
    from sumlight.artwork import check, frame, front, prior

    sheet = parted(options, found, tones)
    around = frame.border_findings(sheet)
    if options.back is not None:
        behind, behind_tones = opened(options, options.back)
        around += frame.mirror_findings(sheet, parted(options, behind, behind_tones))
    made = None if options.thickness is None else front.build("sheet", options.thickness)
    factors = prior.factor_band(options.factor)
    checked = check.check(sheet, tones, made=made, factors=factors, speck_um=options.specks)
    if all(one.kind != "not_line_art" for one in checked.findings):
        checked = replace(checked, findings=(*around, *checked.findings))
    told, lines = described(found, sheet, options.black)
    smallest = say(
        "art_smallest",
        line=_sized(checked.smallest_line),
        gap=_sized(checked.smallest_gap),
        hole=_sized(checked.smallest_hole),
    )
    lines += [smallest, *finding_lines(checked.findings)]
    if not checked.findings:
        lines.append(say("art_nothing_wrong"))
    return Answer(told | {"threshold": tones.threshold} | asdict(checked), lines, status=1 if checked.findings else 0)


def finding_lines(findings: Sequence["Finding"]) -> Iterator[Message]:
    """What was found, where, and what to do."""
    for finding in findings:
        yield finding.words
        if finding.places:
            where: list[Message] = [
                say("art_xy", x=at.x_mm, y=at.y_mm, size=at.size_um) for at in finding.places[:SHOWN]
            ]
            if finding.count > SHOWN:
                where.append(say("art_and_more", more=finding.count - SHOWN))
            yield say("art_at", places=where)
        yield finding.remedy


def _sized(place: "Place | None") -> Message:
    return say("art_none") if place is None else say("art_size_at", size=place.size_um, x=place.x_mm, y=place.y_mm)


def _clean(options: argparse.Namespace) -> Answer:
    found, tones = opened(options)
    from sumlight.artwork import clean

    sheet = parted(options, found, tones)
    told, lines = described(found, sheet, options.black)
    done = clean.clean(sheet, options.specks)
    share = done.changed_px / (sheet.width_px * sheet.height_px)
    lines.append(
        say(
            "art_changes",
            specks=done.speck_count,
            pinholes=done.pinhole_count,
            size=options.specks,
            pixels=done.changed_px,
            share=share,
        )
    )
    if options.difference is not None:
        lines.append(write(options.difference, clean.difference(sheet, done.sheet), "open"))
    made = done.sheet
    made = made if options.crop is None else clean.crop(made, options.crop)
    made = clean.invert(made) if options.invert else made
    made = clean.mirror(made) if options.mirror else made
    name = str(options.new)
    lines.append(write(options.new, made, options.black) if options.write else say("art_would_write", name=name))
    changed = asdict(done)
    del changed["sheet"]
    return Answer(told | changed | {"tones": tones.counts.tolist(), "written": options.write}, lines)


def write(path: Path, sheet: "Sheet", black: str) -> Message:
    """Write a new file, never over an old one. Raises ValueError."""
    from sumlight.artwork import pdffile, pngfile, svgfile

    writers = {".png": pngfile.write_sheet, ".pdf": pdffile.write_pdf, ".svg": svgfile.write_svg}
    if path.suffix.lower() not in writers:
        raise ValueError(say("art_suffix", name=path.name))
    try:
        writers[path.suffix.lower()](path, sheet, black)
    except FileExistsError:
        raise ValueError(say("art_never_over", name=str(path))) from None
    return say("art_written", name=str(path))
