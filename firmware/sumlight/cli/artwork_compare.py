"""`sumlight artwork compare` and `scanner`: a scan against what it should be, and what a scanner does to shapes."""

import argparse
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING

from sumlight.cli import artwork, typed
from sumlight.cli.answer import Answer
from sumlight.language import _
from sumlight.text.message import Message, say

if TYPE_CHECKING:
    from sumlight.artwork.compare import Comparison
    from sumlight.artwork.scanner import Scanner


def add_compare(command: argparse.ArgumentParser) -> None:
    """Declare the options of `compare`."""
    artwork.add_reading(command)
    command.add_argument("reference", metavar="REFERENCE", type=Path, help=_("artwork, or a scan, that it should be"))
    command.add_argument("--reference-scale", type=artwork.scale, metavar="S", help=_("as --scale, of the reference"))
    command.add_argument(
        "--scanner", type=_scanner, metavar="S", help=_("as `artwork scanner` prints it: x over y, skew, scale")
    )
    command.add_argument("--picture", type=Path, metavar="PNG", help=_("draw both on each other, into a new file"))
    command.add_argument("--daylight", action="store_true", help=_("draw it in grey, red and blue instead of amber"))
    command.set_defaults(carry_out=_compare)


def add_scanner(command: argparse.ArgumentParser) -> None:
    """Declare the options of `scanner`."""
    artwork.add_reading(command)
    command.add_argument("turned", metavar="TURNED", type=Path, help=_("the same sheet, scanned a quarter turn round"))
    command.add_argument(
        "--rule",
        type=artwork.scale,
        metavar="L",
        help=_("one known length across the first scan, of a steel rule: 2362:50mm"),
    )
    command.set_defaults(carry_out=_find_scanner)


def _scanner(text: str) -> "Scanner":
    told = artwork.missing()
    if told is not None:
        raise argparse.ArgumentTypeError(told)
    from sumlight.artwork.scanner import Scanner

    parts = [typed.of("")(part) for part in text.split(",")]
    if len(parts) not in (2, 3):
        raise argparse.ArgumentTypeError(_("'{text}' is not a scanner; write x over y, skew: 1.0012,0.0003", text=text))
    try:
        return Scanner(*parts)
    except ValueError as error:
        raise argparse.ArgumentTypeError(error.args[0]) from None


def _compared(options: argparse.Namespace) -> tuple["Comparison", dict[str, object], list[Message]]:
    found = artwork.picture(options)
    from sumlight.artwork import compare, scan

    behind, behind_tones = artwork.opened(options, options.reference, options.reference_scale)
    reference = artwork.parted(options, behind, behind_tones)
    with scan.laid_down(found) as image:
        done = compare.compare(image, reference, open_is_black=options.black == "open")
    told, lines = artwork.described(behind, reference, options.black)
    if options.picture is not None:
        from sumlight.artwork import differences

        colours = differences.DAYLIGHT if options.daylight else differences.AMBER
        try:
            differences.draw(options.picture, reference, done.seen, colours)
        except FileExistsError:
            raise ValueError(say("art_never_over", name=str(options.picture))) from None
    return done, told, lines


def _compare(options: argparse.Namespace) -> Answer:
    done, told, lines = _compared(options)
    from sumlight.artwork import comparedwords, differences

    affine = done.affine
    if options.scanner is not None:
        affine = options.scanner.corrected(done.matrix)
    findings = differences.findings_of(done.differences)
    lines += [*comparedwords.lies(done), *comparedwords.sizes(done, affine), *comparedwords.shift_map(done)]
    if options.scanner is None or options.scanner.scale is None:
        lines.append(say("art_scale_relative"))
    lines += [*artwork.finding_lines(findings)]
    if not findings:
        lines.append(say("art_no_differences"))
    if options.picture is not None:
        lines.append(say("art_written", name=str(options.picture)))
    answer = asdict(done) | {"affine": asdict(affine), "findings": [asdict(one) for one in findings]}
    del answer["seen"]
    return Answer(told | answer, lines, status=1 if findings else 0)


def _find_scanner(options: argparse.Namespace) -> Answer:
    first, tones = artwork.opened(options)
    from dataclasses import replace

    from sumlight.artwork import compare, scan, scanner

    second = artwork.picture(options, options.turned)
    reference = artwork.parted(options, first, tones)
    with scan.laid_down(second) as image:
        done = compare.compare(image, reference, open_is_black=options.black == "open")
    found = scanner.scanner_of(done.matrix)
    if options.rule is not None:
        pixels, length_um = options.rule
        # A length across comes out by the mean scale and the root of the ratio.
        across = pixels * first.pitch_um / length_um
        found = replace(found, scale=across / found.x_over_y**0.5)
    lines = [say("art_scanner", ratio=found.x_over_y, skew=1000 * found.skew)]
    use = f"--scanner {found.x_over_y:.6f},{found.skew:.6f}"
    if found.scale is None:
        lines.append(say("art_scanner_relative"))
    else:
        use += f",{found.scale:.6f}"
        lines.append(say("art_scanner_scale", scale=found.scale))
    lines.append(say("art_scanner_use", option=use))
    return Answer(asdict(found) | {"option": use}, lines)
