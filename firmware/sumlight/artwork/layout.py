"""Lays out the films of front and back together: metal to hold and tape, marks outside of it that both share, a name.

Text reads right when a film's ink lies on the metal. So the film of the front is printed mirrored, the film of the back
as the artwork is seen from the front, and ink never lies a film's thickness away from the resist.
"""

import unicodedata
from collections.abc import Callable, Iterator
from dataclasses import dataclass

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sumlight.artwork.choices import BLACKS
from sumlight.artwork.sheet import Mask, Sheet, check_one_size, from_rows
from sumlight.craft.checks import between, one_of
from sumlight.craft.etching.limits import WIDEST_BORDER_MM

ZONE_MM = 12.0
"""Beyond the metal's edge: room for marks and text."""
MARK_MM, LINE_MM, TEXT_MM = 6.0, 0.2, 3.0
TESTED_UM = (500.0, 300.0, 200.0, 150.0, 100.0, 75.0, 50.0)
"""Widths of the control marks: of lines and of the gaps between them."""
LONGEST_TEXT = 80
_SPELT = str.maketrans(
    {"ä": "ae", "ö": "oe", "ü": "ue", "Ä": "Ae", "Ö": "Oe", "Ü": "Ue", "ß": "ss", "µ": "u", "×": "x"}
)


@dataclass(frozen=True)
class Films:
    """The films of front and back, True where there is ink, each made when it is asked for: a sheet is large.

    `metal_mm` is the size of the metal that they are meant for, `film_mm` their own.
    """

    front: Callable[[], Sheet]
    back: Callable[[], Sheet]
    metal_mm: tuple[float, float]
    film_mm: tuple[float, float]


def lay_out(
    front: Sheet,
    back: Sheet | None,
    film_black: str,
    *,
    border_mm: float,
    names: tuple[str, str],
    control_marks: bool = True,
) -> Films:
    """Lay out two drawings, both as seen from the front (`back` None is the same one); `names` stand on their films.

    `film_black` is what black on a film makes: openings with resist that light hardens, metal with the other kind.
    Raises ValueError for a border outside 0 to 50 mm, and for drawings of different size.
    """
    between("border_mm", border_mm, 0, WIDEST_BORDER_MM)
    one_of("film_black", film_black, BLACKS)
    behind = front if back is None else back
    check_one_size(front, behind)
    paper = _Paper(front, border_mm)
    marks = paper.marks(control_marks=control_marks)
    words = [paper.text(plain(name)[:LONGEST_TEXT]) for name in names]
    mm = front.pitch_um / 1000
    return Films(
        lambda: paper.film(front, film_black, marks, words[0], turned=True),
        # Seen from the front, text on the back stands mirrored: it is read from behind.
        lambda: paper.film(behind, film_black, marks, words[1][:, ::-1], turned=False),
        ((front.width_px + 2 * paper.border) * mm, (front.height_px + 2 * paper.border) * mm),
        (paper.width * mm, paper.height * mm),
    )


def plain(words: str) -> str:
    """Words in the letters that the built-in font has: ASCII."""
    apart = unicodedata.normalize("NFKD", words.translate(_SPELT))
    return "".join(letter if letter.isascii() else "?" for letter in apart if not unicodedata.combining(letter))


class _Paper:
    """A film's paper in pixels: the drawing, a border of metal around it, and a zone beyond the metal's edge."""

    def __init__(self, drawing: Sheet, border_mm: float) -> None:
        self.pitch_um = drawing.pitch_um
        self.border, self.zone = self._px(border_mm), self._px(ZONE_MM)
        around = self.border + self.zone
        self.width, self.height = drawing.width_px + 2 * around, drawing.height_px + 2 * around

    def _px(self, mm: float) -> int:
        return round(mm * 1000 / self.pitch_um)

    def marks(self, *, control_marks: bool) -> "_Marks":
        """Crosses in the corners, a dot that tells which way up, ticks at the metal's corners, and control marks."""
        top = np.zeros((self.zone, self.width), np.bool_)
        bottom = np.zeros_like(top)
        half, line = self._px(MARK_MM / 2), max(1, self._px(LINE_MM))
        middle = self.zone // 2
        for band in (top, bottom):
            for x in (middle, self.width - middle):
                _put(band, middle - half, x - line // 2, 2 * half, line)
                _put(band, middle - line // 2, x - half, line, 2 * half)
        down, across = np.ogrid[: self.zone, : self.zone]
        dot = (down - middle) ** 2 + (across - middle) ** 2 <= (half // 2) ** 2
        top[:, self.zone : 2 * self.zone] |= dot
        tick, edge = self._px(MARK_MM), self.zone
        for x in (edge - line, self.width - edge):
            _put(top, self.zone - tick, x, tick, line)
            _put(bottom, 0, x, tick, line)
        if control_marks:
            self._control_marks(top)
        return _Marks(top, bottom)

    def _control_marks(self, band: Mask) -> None:
        """Dense fields of lines and gaps, each with such a line and a dot alone beside it, as far as there is room."""
        x, high = round(2.5 * self.zone), self._px(TEXT_MM * 1.5)
        end = self.width - round(1.5 * self.zone)
        top = (self.zone - high) // 2
        for width_um in TESTED_UM:
            wide = round(width_um / self.pitch_um)
            if wide < 2 or x + 20 * wide > end:
                continue
            for line in range(5):
                _put(band, top, x + 2 * line * wide, high, wide)
            _put(band, top, x + 13 * wide, high, wide)
            _dot(band, top + high // 2, x + 17 * wide, wide)
            x += 20 * wide + self._px(1.0)

    def text(self, words: str) -> Mask:
        """The band below with words in it, as large as there is room for."""
        room = self.width - 3 * self.zone
        band = Image.new("1", (self.width, self.zone), 0)
        draw = ImageDraw.Draw(band)
        size = max(6, self._px(TEXT_MM))
        long = draw.textlength(words, font=ImageFont.load_default(size))
        if room > 0 and long > room:
            size = max(6, int(size * room / long))
        font = ImageFont.load_default(size)
        draw.text((self.width // 2, self.zone // 2), words, fill=1, font=font, anchor="mm")
        return np.asarray(band, np.bool_)

    def film(self, drawing: Sheet, film_black: str, marks: "_Marks", words: Mask, *, turned: bool) -> Sheet:
        """Ink of one film, from its top; `turned` with left and right changed."""
        inked = film_black == "metal"  # then metal is black, and so is the border

        def parts() -> Iterator[Mask]:
            yield marks.top
            yield self._rows(np.full((self.border, drawing.width_px), inked), inked)
            for strip in drawing.strips():
                yield self._rows(~strip.rows if inked else strip.rows, inked)
            yield self._rows(np.full((self.border, drawing.width_px), inked), inked)
            yield marks.bottom | words

        rows = (part[:, ::-1] if turned else part for part in parts())
        return from_rows(rows, self.height, self.width, self.pitch_um)

    def _rows(self, rows: Mask, inked: bool) -> Mask:
        wide = np.pad(rows, ((0, 0), (self.border, self.border)), constant_values=inked)
        return np.pad(wide, ((0, 0), (self.zone, self.zone)))


@dataclass(frozen=True)
class _Marks:
    """The bands above and below the metal."""

    top: Mask
    bottom: Mask


def _dot(band: Mask, middle: int, left: int, wide: int) -> None:
    """A disc of pixels whose middles lie within half of `wide`."""
    down, across = (np.arange(wide) - (wide - 1) / 2 for _ in range(2))
    top = middle - wide // 2
    band[top : top + wide, left : left + wide] |= down[:, None] ** 2 + across**2 <= (wide / 2) ** 2


def _put(band: Mask, top: int, left: int, high: int, wide: int) -> None:
    band[max(0, top) : top + high, max(0, left) : left + wide] = True
