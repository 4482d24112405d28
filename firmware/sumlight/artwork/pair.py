"""The whole way from a scan to a pair of films and a picture of the part: looked at first, then asked, then made."""

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np

from sumlight.artwork import (
    check,
    clean,
    compare,
    comparedwords,
    compensate,
    differences,
    folds,
    frame,
    layout,
    pdffile,
    pngfile,
    predict,
    preview,
    scan,
    straighten,
    svgfile,
    tabs,
)
from sumlight.artwork.behind import laid_onto, on_back
from sumlight.artwork.check import Finding
from sumlight.artwork.choices import CROPS
from sumlight.artwork.front import Build, build
from sumlight.artwork.picture import Picture
from sumlight.artwork.prior import FactorBand, factor_band
from sumlight.artwork.reading import Known, open_picture
from sumlight.artwork.sheet import Sheet, Tones, sheet_of, tones
from sumlight.craft.checks import between, one_of
from sumlight.craft.etching.compensation import OVER_ETCH, SMALLEST_PRINTED_UM
from sumlight.craft.etching.fold import Fold, Groove
from sumlight.craft.etching.limits import BORDER_MM, PRINTED, SPECK_UM
from sumlight.text.message import Message, say

DRAWN = ("PDF", "SVG", "GERBER")
"""Kinds that no scanner lays askew."""
TWO_SIDED = "sheet"
Said = Callable[[str], None]
"""Told by name what is begun: reading, straightening, cleaning, drawing, etching, writing."""


@dataclass(frozen=True)
class Asked:
    """What a person says of the artwork and the etch. `factor` None is the guess.

    `black` is what black in the file stands for, `film_black` what black on the films makes (see `lay_out`), `bias_um`
    how much further openings reach at each edge by film and light; `printed_x` and `printed_y` how long a printer makes
    a unit across and down, which the films make up for; `back_mirrored` that artwork of its own for the back is drawn
    as seen from behind; `folds` lie on the part as it is after cropping.
    """

    thickness_um: float
    black: str = "open"
    film_black: str = "open"
    factor: float | None = None
    build: str = TWO_SIDED
    over_etch: float = OVER_ETCH
    wanted_at: str = "waist"
    smallest_printed_um: float = SMALLEST_PRINTED_UM
    bias_um: float = 0.0
    speck_um: float = SPECK_UM
    straighten: bool = True
    crop: str = "frame"
    invert: bool = False
    mirror: bool = False
    tabs: int = 0
    border_mm: float = BORDER_MM
    control_marks: bool = True
    printed_x: float = 1.0
    printed_y: float = 1.0
    name: str = ""
    back_mirrored: bool = False
    folds: tuple[Fold, ...] = ()
    front_word: str = "FRONT"
    back_word: str = "BACK"


@dataclass(frozen=True)
class Seen:
    """What a first look tells: size, tones, and by how much the picture leans."""

    kind: str
    width_px: int
    height_px: int
    width_mm: float
    height_mm: float
    pitch_um: float
    tones: tuple[int, ...]
    threshold: float
    tilt_degrees: float | None
    doubt: Message | None


def look(path: Path, known: Known | None, folder: Path) -> Seen:
    """Look at a file, and draw it small into `folder` as `scan`. Raises as `open_picture` does, and OSError."""
    picture = open_picture(path, known=known)
    header, (wide, high) = picture.header, picture.size_mm
    shrinker = preview.Shrinker(header.width_px, header.height_px)
    counts = np.zeros(256, np.int64)
    for part in picture.strips():
        counts += np.bincount(part.ravel(), minlength=256)
        shrinker.put(part)
    shrinker.write(folder, "scan", picture.pitch_um)
    tilt = None if header.kind in DRAWN else straighten.tilt_of(picture)
    found = Tones(counts)
    return Seen(
        kind=header.kind,
        width_px=header.width_px,
        height_px=header.height_px,
        width_mm=wide,
        height_mm=high,
        pitch_um=picture.pitch_um,
        tones=tuple(counts.tolist()),
        threshold=found.threshold,
        tilt_degrees=tilt,
        doubt=picture.doubt,
    )


@dataclass(frozen=True)
class Made:
    """What was made. `findings` are of the artwork and of what cannot come out; `part` is the part's own.

    `open_cm2` is opened over all faces together, at the middle etch factor; `metal_mm3` is what the bath takes up.
    `folded` says of the fold lines how wide and deep they become.
    """

    seen_mm: tuple[float, float]
    tilt_degrees: float
    cropped_to: str
    specks: int
    pinholes: int
    changed_px: int
    threshold: float
    smallest_line: check.Place | None
    smallest_gap: check.Place | None
    smallest_hole: check.Place | None
    factors: FactorBand
    reach_um: float
    moves_um: float
    guess_um: tuple[float, float]
    findings: tuple[Finding, ...]
    part: predict.Prediction
    tabs: int
    tab_um: float
    open_cm2: float
    metal_mm3: float
    metal_mm: tuple[float, float]
    film_mm: tuple[float, float]
    folded: tuple[Message, ...] = ()


@dataclass(frozen=True)
class _Side:
    """One side's artwork as it is wanted: cropped and clean, and what was seen and done on the way."""

    sheet: Sheet
    cleaned: clean.Cleaned
    checked: check.Checked
    threshold: float
    tilt: float
    cropped_to: str
    findings: tuple[Finding, ...]


def make(
    path: Path, known: Known | None, asked: Asked, folder: Path, said: Said, back_path: Path | None = None
) -> Made:
    """Make the pair: front and back as PNG, PDF and SVG, and small pictures of every step, all into `folder`.

    `back_path` is artwork of its own for the back of a sheet. Raises ValueError for what is asked wrongly, else as
    `look` does.
    """
    made = build(asked.build, asked.thickness_um, over_etch=asked.over_etch)
    if back_path is not None and asked.build != TWO_SIDED:
        raise ValueError(say("art_back_of_sheet"))
    printed_of(asked)  # what is wrong with it is said before the work
    factors = factor_band(asked.factor)
    grooves = _grooves(asked, factors)
    side = _side(path, known, asked, folder, said, (made, factors), "")
    wanted = _wanted(asked, factors.middle)
    inward, outward = (_wanted(asked, one).moves_um for one in (factors.high, factors.low))
    around: tuple[Finding, ...] = ()
    behind: Sheet | None = None
    if back_path is not None:
        other = _side(
            back_path, known, replace(asked, mirror=asked.back_mirrored), folder, said, (made, factors), "-back"
        )
        behind = laid_onto(side.sheet, other.sheet)
        around = (*frame.mirror_findings(side.sheet, behind), *on_back(other.findings))
        del other
    said("drawing")
    drawing = compensate.compensate(side.sheet, wanted)
    size_mm, drawn = _size_mm(side.sheet), drawing.sheet
    # Numbers stay, sheets go: what is etched and written below needs none but the drawings.
    drawing, side = replace(drawing, sheet=drawn, impossible=drawn), replace(side, sheet=drawn)
    if behind is not None:
        drawn_back = compensate.compensate(behind, wanted)
        behind, around = drawn_back.sheet, (*around, *on_back(drawn_back.findings))
        del drawn_back
    if asked.folds:
        drawn_um = [one.drawn_um for one in grooves]
        drawn, behind = folds.with_folds(drawn, drawn if behind is None else behind, asked.folds, drawn_um)
    held = tabs.with_tabs(drawn, made, factors.low, asked.tabs if asked.build == TWO_SIDED else 0, behind)
    drawn, behind = held.sheet, held.back
    pngfile.write_sheet(folder / "drawn.png", drawn, "open")
    said("etching")
    part = predict.predict(drawn, behind, made, factors)
    small_part(folder, drawn, behind, made, factors)
    said("writing")
    films = layout.lay_out(
        drawn,
        behind,
        asked.film_black,
        border_mm=asked.border_mm,
        names=(f"{asked.front_word}  {asked.name}", f"{asked.back_word}  {asked.name}"),
        control_marks=asked.control_marks,
    )
    _write(films, folder, printed_of(asked), both=asked.build == TWO_SIDED)
    middle = next(one for one in part.outlines if one.factor == factors.middle)
    faces = middle.front_mm2 + (middle.back_mm2 if asked.build == TWO_SIDED else 0.0)
    (folder / "grey.raw").unlink(missing_ok=True)
    return Made(
        seen_mm=size_mm,
        tilt_degrees=side.tilt,
        cropped_to=side.cropped_to,
        specks=side.cleaned.speck_count,
        pinholes=side.cleaned.pinhole_count,
        changed_px=side.cleaned.changed_px,
        threshold=side.threshold,
        smallest_line=side.checked.smallest_line,
        smallest_gap=side.checked.smallest_gap,
        smallest_hole=side.checked.smallest_hole,
        factors=factors,
        reach_um=drawing.grown.reach_um,
        moves_um=drawing.moves_um,
        guess_um=(drawing.moves_um - inward, outward - drawing.moves_um),
        findings=(*side.findings, *drawing.findings, *around),
        part=part,
        tabs=held.count,
        tab_um=held.width_um,
        open_cm2=faces / 100,
        metal_mm3=middle.metal_mm3,
        metal_mm=films.metal_mm,
        film_mm=films.film_mm,
        folded=tuple(folds.told_of(asked.folds, grooves)),
    )


def _side(
    path: Path, known: Known | None, asked: Asked, folder: Path, said: Said, etch: tuple[Build, FactorBand], word: str
) -> _Side:
    """Read, straighten, crop, clean and check one file; `word` is what the names of its pictures end in."""
    said("reading")
    picture = open_picture(path, known=known)
    picture, tilt = _upright(picture, asked, folder, said)
    found = tones(picture.strips())
    sheet = _meant(sheet_of(picture, found.threshold, asked.black), asked)
    said("cleaning")
    one_of("crop", asked.crop, CROPS)
    border = frame.border_findings(sheet) if asked.crop == "no" else []
    cropped_to = "nothing"
    if asked.crop != "no":
        cropped = frame.crop_to_frame(sheet, asked.black, inside=asked.crop == "inside")
        sheet, cropped_to = cropped.sheet, "frame" if cropped.to_frame else "ink"
    done = clean.clean(sheet, asked.speck_um)
    preview.write_sheet_small(folder, f"cleaned{word}", done.sheet, clean.difference(sheet, done.sheet))
    pngfile.write_sheet(folder / f"wanted{word}.png", done.sheet, "open")
    del sheet  # of a whole sheet each copy counts
    made, factors = etch
    checked = check.check(done.sheet, found, made=made, factors=factors, speck_um=asked.speck_um)
    # What falls apart is judged later, on the drawing that is etched and not on the part that is wanted.
    kept = tuple(one for one in checked.findings if one.kind != "falls_apart")
    empty = Sheet(done.sheet.packed[:0], done.sheet.width_px, done.sheet.pitch_um)
    return _Side(done.sheet, replace(done, sheet=empty), checked, found.threshold, tilt, cropped_to, (*border, *kept))


@dataclass(frozen=True)
class Met:
    """How a scan of what came out meets what was made, in words; `size_mm` is that of the picture `compared`.

    `growth_um` is how much further openings reach at each edge than on what it was compared with, `scale_x` and
    `scale_y` how long a unit across and down came out, the scanner's own error included; `places` is the map.
    """

    size_mm: tuple[float, float]
    growth_um: float
    scale_x: float
    scale_y: float
    told: tuple[Message, ...]
    findings: tuple[Finding, ...]
    places: tuple[compare.MapPlace, ...] = ()


def meet(path: Path, reference: Path, folder: Path) -> Met:
    """Compare a scan with one of the pictures that `make` wrote, and draw it small as `compared`, as it was laid on.

    Raises as `open_picture` and `compare` do, and OSError.
    """
    # A film's density makes up for the printer; its pixels are those of the drawing.
    pitch_um = open_picture(reference.with_name("wanted.png")).pitch_um
    behind = open_picture(reference, known=Known(1.0, pitch_um))
    sheet = sheet_of(behind, 127.5)
    with scan.laid_down(open_picture(path), folder) as image:
        done = compare.compare(image, sheet)
    preview.write_sheet_small(folder, "compared", done.seen)
    told = [
        *comparedwords.lies(done),
        *comparedwords.sizes(done, done.affine),
        say("art_scale_relative"),
    ]
    affine = done.affine
    return Met(
        behind.size_mm,
        done.bias.mean_um,
        affine.scale_x,
        affine.scale_y,
        tuple(told),
        differences.findings_of(done.differences),
        done.places,
    )


def _upright(picture: Picture, asked: Asked, folder: Path, said: Said) -> tuple[Picture, float]:
    """The picture without its lean, and by how much it leaned."""
    if not asked.straighten or picture.header.kind in DRAWN:
        return picture, 0.0
    tilt = straighten.tilt_of(picture) or 0.0
    if abs(tilt) <= straighten.STILL_DEGREES:
        return picture, 0.0
    said("straightening")
    return straighten.straightened(picture, tilt, folder), tilt


def _meant(sheet: Sheet, asked: Asked) -> Sheet:
    sheet = clean.invert(sheet) if asked.invert else sheet
    return clean.mirror(sheet) if asked.mirror else sheet


def _wanted(asked: Asked, factor: float) -> compensate.Wanted:
    sides = 2 if asked.build == TWO_SIDED else 1
    return compensate.Wanted(
        asked.thickness_um,
        factor,
        sides,
        asked.over_etch,
        asked.wanted_at,
        asked.smallest_printed_um,
        asked.bias_um,
    )


def _grooves(asked: Asked, factors: FactorBand) -> list[Groove]:
    """What fold lines become. Raises ValueError as `folds.grooves` does, and for what is not open on both sides."""
    if asked.folds and asked.build != TWO_SIDED:
        raise ValueError(say("art_fold_of_sheet"))
    return folds.grooves(
        asked.folds,
        asked.thickness_um,
        factors,
        over_etch=asked.over_etch,
        bias_um=asked.bias_um,
        smallest_printed_um=asked.smallest_printed_um,
    )


def _size_mm(sheet: Sheet) -> tuple[float, float]:
    return sheet.width_px * sheet.pitch_um / 1000, sheet.height_px * sheet.pitch_um / 1000


def small_part(folder: Path, drawing: Sheet, back: Sheet | None, made: Build, factors: FactorBand) -> None:
    """Draw the part small as `part`: metal bright, openings dark, marked where pieces fall out."""
    shrinker = preview.Shrinker(drawing.width_px, drawing.height_px)
    for levels in predict.levels_of(drawing, back, made, factors):
        shrinker.put(_PART_TONES[levels], levels == predict.FALLS_OUT)
    shrinker.write(folder, "part", drawing.pitch_um)


_PART_TONES = np.array([230, 170, 130, 60, 0, 0], np.uint8)
"""Metal is bright, what is through is dark as the hole that it is; between them the surfaces that are eaten."""


def printed_of(asked: Asked) -> tuple[float, float]:
    """How long a printer makes a unit across and down. Raises ValueError for what no printer does."""
    return tuple(between(name, getattr(asked, name), *PRINTED) for name in ("printed_x", "printed_y"))  # type: ignore[return-value]


def _write(films: layout.Films, folder: Path, printed: tuple[float, float], *, both: bool) -> None:
    for side, made in (("front", films.front), ("back", films.back)):
        if side == "front" or both:
            film = made()
            pngfile.write_sheet(folder / f"{side}.png", film, "open", printed)
            pdffile.write_pdf(folder / f"{side}.pdf", film, "open", printed)
            svgfile.write_svg(folder / f"{side}.svg", film, "open", printed)
            preview.write_sheet_small(folder, f"film-{side}", film)
