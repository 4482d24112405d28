"""Artwork of its own for the back: where it comes to lie, and what becomes of film and part."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw
from scipy import ndimage
from scipy.optimize import brentq

from sumlight.artwork import pair
from sumlight.artwork.behind import laid_onto, on_back, shifted
from sumlight.artwork.check import Finding
from sumlight.artwork.front import build
from sumlight.artwork.predict import predict
from sumlight.artwork.prior import factor_band
from sumlight.artwork.sheet import from_mask
from sumlight.text.message import say
from tests.artwork.shapes import disc
from tests.artwork.test_clean import pixels

MM = 300 / 25.4
HOLE, GROOVE = (6.0, 6.0, 8.0, 9.0), (12.0, 5.0, 13.0, 11.0)


def drawn(path: Path, *boxes: tuple[float, float, float, float], mirrored: bool = False, dpi: int = 300) -> Path:
    """A frame of 16 × 12 mm with openings: left, top, right, bottom in mm on a sheet of 20 × 16."""
    mm = dpi / 25.4
    image = Image.new("L", (round(20 * mm), round(16 * mm)), 255)
    draw = ImageDraw.Draw(image)
    draw.rectangle([one * mm for one in (2, 2, 18, 14)], outline=0, width=round(0.4 * mm))
    for box in boxes:
        draw.rectangle([one * mm for one in box], fill=0)
    image = image.transpose(Image.Transpose.FLIP_LEFT_RIGHT) if mirrored else image
    image.save(path, dpi=(dpi, dpi))
    return path


def made(tmp_path: Path, back: Path, **asked: object) -> pair.Made:
    """A pair of a hole and a groove on the front, and that back."""
    front = drawn(tmp_path / "front-drawn.png", HOLE, GROOVE)
    given = {"thickness_um": 150.0, "factor": 2.0, "straighten": False, **asked}
    return pair.make(front, None, pair.Asked(**given), tmp_path, lambda _stage: None, back)  # type: ignore[arg-type]


def test_what_only_the_front_has_is_half_etched_and_is_not_on_the_film_of_the_back(tmp_path: Path) -> None:
    """Closed form: the groove's metal left is T - k·T/2 = 60 µm; front and back differ by it alone, 1 × 6 mm within a
    pixel at each edge. The back was drawn as seen from behind."""
    back = drawn(tmp_path / "back-drawn.png", HOLE, mirrored=True)
    done = made(tmp_path, back, back_mirrored=True)
    assert done.part.left_um == pytest.approx(150 - 1.2 * 75)
    (outlines,) = done.part.outlines
    assert outlines.front_mm2 - outlines.back_mm2 == pytest.approx(
        (1 + 1 / MM) * (6 + 1 / MM),
        abs=2 * (7 + 2 / MM) / MM + 4 / MM**2,  # Pillow draws a rectangle's last pixel, too
    )
    assert outlines.through_mm2 < outlines.back_mm2 + 1
    films = {name: np.asarray(Image.open(tmp_path / f"{name}.png")) for name in ("front", "back")}
    front, behind = ~films["front"][:, ::-1], ~films["back"]
    middle = front.shape[1] // 2
    apart = front ^ behind
    _y, x = np.nonzero(apart[150:-150])  # without the bands of marks and names
    assert len(x)
    inside = (x > middle + 1.5 * MM) & (x < middle + 3.6 * MM)  # 12 to 13 mm, where the middle is 10
    assert inside.mean() > 0.9
    # Marks are shared: all of the top band.
    assert not apart[:130].any()


def test_a_back_that_is_mirrored_by_mistake_or_of_another_plate_is_said_to_be(tmp_path: Path) -> None:
    """The first is a finding, the second is refused; so is a back where there is only one side."""
    wrong = drawn(tmp_path / "wrong.png", HOLE, GROOVE, mirrored=True)
    assert "mirrored" in [one.kind for one in made(tmp_path, wrong).findings]
    small = from_mask(np.zeros((100, 100), np.bool_), 100.0)
    with pytest.raises(ValueError, match=r"10\.0 × 10\.0 mm, the back 12\.0 × 10\.0 mm"):
        laid_onto(small, from_mask(np.zeros((100, 120), np.bool_), 100.0))
    with pytest.raises(ValueError, match="both sides"):
        made(tmp_path, wrong, build="masked")


@pytest.mark.parametrize(("size", "pitch_um"), [(120, 50.0), (121, 50.0), (150, 40.0), (61, 100.0)])
def test_a_back_on_other_pixels_comes_to_lie_middle_on_middle(size: int, pitch_um: float) -> None:
    """A disc in the middle has its centre of gravity there, and keeps its area (closed form), within a pixel's side."""
    front = from_mask(np.zeros((120, 120), np.bool_), 50.0)
    laid = pixels(laid_onto(front, from_mask(disc(size, 1500 / pitch_um), pitch_um)))
    y, x = np.nonzero(laid)
    assert (x.mean(), y.mean()) == pytest.approx((59.5, 59.5), abs=0.6)
    assert len(x) * 0.05**2 == pytest.approx(np.pi * 1.5**2, rel=0.03)


def test_what_is_found_on_the_back_says_so() -> None:
    """In words; place and remedy stay."""
    (told,) = on_back([Finding("too_narrow", say("art_add_tabs"), say("art_add_tabs"))])
    assert str(told.words).startswith("On the back: ")
    assert told.remedy == say("art_add_tabs")


@pytest.mark.parametrize("shift_um", [0.0, 60.0, -60.0, 200.0])
def test_a_shifted_back_moves_both_edges_of_a_slot_as_geometry_says(shift_um: float) -> None:
    """Straight slot, F 1: through is where both fronts meet, sqrt(R² - e²) + sqrt(R² - (d + e)²) = T on one side and
    the same mirrored on the other; where the shift is wide, R + sqrt(R² - (d + e)²) = T."""
    thick, pitch, wide = 300.0, 10.0, 800.0
    reach, off = 0.6 * thick, abs(shift_um)
    deep = np.sqrt(reach**2 - (thick - reach) ** 2)
    e_um = deep - off
    if e_um > 0:
        met = lambda e: (  # noqa: E731
            np.sqrt(reach**2 - e**2) + np.sqrt(max(0.0, reach**2 - (off + e) ** 2)) - thick
        )
        e_um = brentq(met, 0, min(e_um, reach - 1e-6))
    mask = np.zeros((60, 200), np.bool_)
    mask[:, 60:140] = True
    front = from_mask(mask, pitch)
    part = predict(front, shifted(front, shift_um, 0.0), build("sheet", thick), factor_band(1.0))
    through_um = part.outlines[0].through_mm2 / (60 * pitch / 1000) * 1000
    assert through_um == pytest.approx(wide + off + 2 * e_um, abs=pitch)


@pytest.mark.parametrize(("right", "down"), [(3, -2), (-4, 5), (0, 0), (300, 0), (0, -300)])
def test_a_shift_is_that_of_an_array_with_metal_coming_in(
    monkeypatch: pytest.MonkeyPatch, right: int, down: int
) -> None:
    """Scipy is the oracle, in strips of seven rows; more than 5 mm is a mistake."""
    monkeypatch.setattr("sumlight.artwork.picture.LEAST_ROWS", 7)
    monkeypatch.setattr("sumlight.artwork.picture.STRIP_PIXELS", 7)
    mask = np.random.default_rng(1).random((40, 53)) < 0.5
    exact = ndimage.shift(mask.astype(np.uint8), (down, right), order=0, cval=0) > 0
    assert np.array_equal(pixels(shifted(from_mask(mask, 10.0), 10.0 * right, 10.0 * down)), exact)
    with pytest.raises(ValueError, match="shift down"):
        shifted(from_mask(mask, 10.0), 0, 6000)
