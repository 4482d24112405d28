"""Crop, border, polarity, mirror: each by drawings whose answer is known. True is open."""

import numpy as np
import pytest

from sumlight.artwork.frame import border_findings, crop_to_frame, mirror_findings
from sumlight.artwork.sheet import from_mask
from tests.artwork.shapes import Mask, box

PITCH_UM = 50.0


def framed(line_px: int = 8) -> Mask:
    """A frame of 200 × 160 px at 30, 40 with a slot in it that touches the frame, and a speck far outside."""
    mask = box(320, 30, 40, 230, 200)
    mask[40 + line_px : 200 - line_px, 30 + line_px : 230 - line_px] = False
    mask[100:104, 30:120] = True
    mask[300:303, 300:303] = True
    return mask


@pytest.mark.parametrize("black", ["open", "metal"])
def test_it_is_cropped_to_the_frame_that_was_drawn(black: str) -> None:
    """With its line, and a millimetre of metal around, whichever way black is meant."""
    sheet = from_mask(framed() if black == "open" else ~framed(), PITCH_UM)
    found = crop_to_frame(sheet, black)
    assert found.to_frame
    assert found.box_mm == pytest.approx((1.5, 2.0, 11.5, 10.0))
    assert (found.sheet.width_px, found.sheet.height_px) == (240, 200)
    assert not found.sheet.rows(0, 20).any()
    cut = found.sheet.rows(20, 180)[:, 20:220]
    assert np.array_equal(cut, sheet.rows(40, 200)[:, 30:230])


@pytest.mark.parametrize("line_px", [4, 8, 15])
def test_inside_the_frame_its_line_is_gone(line_px: int) -> None:
    """As thick as it is; the slot that touches it is cut where the line ended."""
    found = crop_to_frame(from_mask(framed(line_px), PITCH_UM), "open", inside=True)
    assert found.box_mm[0] == pytest.approx((30 + line_px) * 0.05)
    assert found.box_mm[3] == pytest.approx((200 - line_px) * 0.05)
    assert found.sheet.rows(20 + 60 - line_px, 21 + 60 - line_px)[0, 20:30].all()


def test_without_a_frame_it_is_cropped_to_all_ink_but_dust() -> None:
    """Two holes and a speck of 150 µm; an empty sheet stays whole."""
    mask = box(200, 20, 30, 60, 70) | box(200, 120, 100, 160, 150)
    mask[5:8, 190:193] = True
    found = crop_to_frame(from_mask(mask, PITCH_UM), "open")
    assert (found.to_frame, found.box_mm) == (False, pytest.approx((1.0, 1.5, 8.0, 7.5)))
    empty = crop_to_frame(from_mask(np.zeros((100, 120), np.bool_), PITCH_UM), "open")
    assert (empty.sheet.width_px, empty.sheet.height_px) == (160, 140)


def test_an_inverted_sheet_and_one_without_border_are_told_apart() -> None:
    """By the share of the edge that is open; each with its places."""
    hole = box(100, 40, 40, 60, 60)
    assert border_findings(from_mask(hole, PITCH_UM)) == []
    (inverted,) = border_findings(from_mask(~hole, PITCH_UM))
    assert (inverted.kind, inverted.count) == ("polarity", 1)
    (running_off,) = border_findings(from_mask(box(100, 40, 0, 60, 10) | hole, PITCH_UM))
    assert (running_off.kind, running_off.count) == ("no_border", 1)
    assert running_off.places[0].x_mm == pytest.approx(2.5)


def test_a_back_that_is_mirrored_is_found_and_a_symmetric_one_is_not() -> None:
    """An L on the left: mirrored it does not meet itself; a bar in the middle does either way."""
    letter = box(200, 20, 20, 40, 180) | box(200, 20, 160, 90, 180)
    front, back = from_mask(letter, PITCH_UM), from_mask(letter[:, ::-1].copy(), PITCH_UM)
    assert [one.kind for one in mirror_findings(front, back)] == ["mirrored"]
    assert mirror_findings(front, front) == []
    bar = from_mask(box(200, 90, 20, 110, 180), PITCH_UM)
    assert mirror_findings(bar, bar) == []
