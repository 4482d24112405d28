"""Gerber RS-274X and X2: by closed form (shapely), and pixel by pixel against another renderer (pygerber).

The file is invented. What its commands mean stands in the open standard (Gerber layer format specification).
"""

import io
from pathlib import Path

import numpy as np
import pytest
import shapely
from PIL import Image

from sumlight.artwork.header import NotReadableError, kind_of
from sumlight.artwork.reading import Known, open_picture
from sumlight.artwork.sheet import Mask

BOARD = """G04 Invented board*
%FSLAX46Y46*%
%MOMM*%
%TF.GenerationSoftware,Invented,Sheet,1*%
%TF.FileFunction,Copper,L1,Top*%
%AMPAD*1,1,$1,0,0*4,1,4,-1,-0.5,1,-0.5,1,0.5,-1,0.5,-1,-0.5,0*%
%ADD10C,0.500*%
%ADD11R,2.000X1.000*%
%ADD12PAD,1.6*%
%LPD*%
D10*
X5000000Y5000000D02*
G01*
X15000000Y5000000D01*
G75*
G03*
X15000000Y9000000I0J2000000D01*
G01*
D11*
X5000000Y12000000D03*
D12*
X12000000Y13000000D03*
G36*
X20000000Y4000000D02*
X26000000Y4000000D01*
X26000000Y12000000D01*
X20000000Y12000000D01*
X20000000Y4000000D01*
G37*
%LPC*%
D10*
X21000000Y8000000D02*
X25000000Y8000000D01*
M02*
"""
DPI = 1016
"""40 pixels to the mm."""
PX_MM = DPI / 25.4
LEFT, TOP = 3.0, 14.8
"""What is drawn reaches from 4.0 to 26.0 and up to 13.8 mm; a millimetre of white stands around."""


@pytest.fixture
def board(tmp_path: Path) -> Path:
    """The file."""
    path = tmp_path / "board.gbr"
    path.write_text(BOARD, encoding="ascii")
    return path


def drawn(path: Path) -> Mask:
    """What is dark of it at 1016 dpi."""
    picture = open_picture(path, known=Known(DPI, 25_400.0))
    return np.concatenate(list(picture.strips())) < 128


def closed_form() -> shapely.Geometry:
    """The same by plane geometry: lines with round ends, a rectangle, a macro, a region with a slot cleared from it."""
    arc = [(15 + 2 * np.sin(a), 7 - 2 * np.cos(a)) for a in np.linspace(0, np.pi, 400)]
    track = shapely.LineString([(5, 5), *arc]).buffer(0.25, quad_segs=64)
    pad = shapely.box(4, 11.5, 6, 12.5)
    macro = shapely.Point(12, 13).buffer(0.8, quad_segs=64) | shapely.box(11, 12.5, 13, 13.5)
    cleared = shapely.LineString([(21, 8), (25, 8)]).buffer(0.25, quad_segs=64)
    return (track | pad | macro | shapely.box(20, 4, 26, 12)) - cleared


def test_a_board_is_drawn_as_its_geometry_says(board: Path) -> None:
    """Every pixel but those that an edge crosses; its own library would cut the arc's end off square."""
    assert kind_of(board) == "GERBER"
    dark = drawn(board)
    assert dark.shape == (round(11.8 * PX_MM), round(24 * PX_MM))
    y, x = np.mgrid[: dark.shape[0], : dark.shape[1]] + 0.5
    shape = closed_form()
    shapely.prepare(shape)
    inside = shapely.contains_xy(shape, LEFT + x / PX_MM, TOP - y / PX_MM)
    wrong = inside != dark
    points = shapely.points(LEFT + x[wrong] / PX_MM, TOP - y[wrong] / PX_MM)
    assert shapely.distance(points, shape.boundary).max(initial=0) * PX_MM <= 0.5


@pytest.mark.long
@pytest.mark.filterwarnings("ignore::DeprecationWarning")
def test_another_renderer_draws_the_same(board: Path) -> None:
    """Pygerber shares no code with gerbonara and resvg; edges may differ by a pixel and a half."""
    from pygerber.gerberx3.api.v2 import ColorScheme, GerberFile, ImageFormatEnum, PixelFormatEnum

    parsed = GerberFile.from_file(str(board)).parse()
    info = parsed.get_info()
    raw = io.BytesIO()
    parsed.render_raster(
        raw,
        dpmm=40,
        color_scheme=ColorScheme.DEBUG_1_ALPHA,
        image_format=ImageFormatEnum.PNG,
        pixel_format=PixelFormatEnum.RGBA,
    )
    with Image.open(raw) as image:
        other = np.asarray(image)[..., 3] > 127
    left, top = (round(float(one) * PX_MM) for one in (info.min_x_mm, info.max_y_mm))
    mine = np.pad(drawn(board), 40)
    row, column = round(TOP * PX_MM) - top + 40, left - round(LEFT * PX_MM) + 40
    whole = np.zeros_like(mine)
    high, wide = (min(a, b) for a, b in zip(other.shape, (mine.shape[0] - row, mine.shape[1] - column), strict=True))
    whole[row : row + high, column : column + wide] = other[:high, :wide]
    apart = mine ^ whole
    # What is left after one erosion by 3 × 3 would be wider than two pixels.
    core = apart.copy()
    for down in (-1, 0, 1):
        for across in (-1, 0, 1):
            core &= np.roll(apart, (down, across), (0, 1))
    assert core.sum() == 0
    assert apart.sum() < 0.02 * mine.sum() + 2000


@pytest.mark.parametrize(
    ("broken", "told"),
    [
        (BOARD.replace("D10*\nX5000000Y5000000D02*", "D99*\nX5000000Y5000000D02*", 1), "cannot be read"),
        ("%FSLAX46Y46*%\n%MOMM*%\nM02*\n", "no pixels"),
        (BOARD.replace("X26000000Y4000000D01*", "X2600000000Y4000000D01*"), "million pixels"),
    ],
)
def test_what_cannot_be_drawn_is_refused_in_words(tmp_path: Path, broken: str, told: str) -> None:
    """An unknown aperture, nothing at all, and a sheet of 2.6 m."""
    path = tmp_path / "board.gbr"
    path.write_text(broken, encoding="ascii")
    with pytest.raises(NotReadableError, match=told):
        drawn(path)


def test_without_the_library_it_says_what_to_install(board: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is an extra of its own."""
    monkeypatch.setitem(__import__("sys").modules, "gerbonara", None)
    with pytest.raises(NotReadableError, match=r"artwork,gerber"):
        drawn(board)
