"""Straightening: judged by turning known drawings with another library (Pillow), and by their own geometry."""

from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sumlight.artwork.header import NotReadableError
from sumlight.artwork.reading import open_picture
from sumlight.artwork.sheet import sheet_of
from sumlight.artwork.straighten import straightened, tilt_of
from tests.artwork.scans import DPI, crooked_scan


@pytest.mark.parametrize("degrees", [-3.0, *(pytest.param(one, marks=pytest.mark.campaign) for one in (0.0, 0.4, 9.0))])
def test_the_lean_is_found_to_a_thirtieth_of_a_degree(tmp_path: Path, degrees: float) -> None:
    """Pillow turned it; 0.03° is half a pixel over this plate."""
    found = tilt_of(open_picture(crooked_scan(tmp_path / "scan.png", degrees=degrees)))
    assert found == pytest.approx(degrees, abs=0.03)


@pytest.mark.parametrize("what", ["discs", "white", "noise"])
def test_what_has_no_straight_edge_has_no_lean(tmp_path: Path, what: str) -> None:
    """Nothing is turned by chance."""
    y, x = np.mgrid[:300, :400]
    grey = {
        "discs": np.where(((x % 100 - 50) ** 2 + (y % 100 - 50) ** 2) < 900, 30, 230),
        "white": np.full((300, 400), 255),
        "noise": np.random.default_rng(2).normal(200, 20, (300, 400)).clip(0, 255),
    }[what]
    path = tmp_path / "a.png"
    Image.fromarray(grey.astype(np.uint8)).save(path, dpi=(DPI, DPI))
    assert tilt_of(open_picture(path)) is None


def test_a_turned_plate_is_upright_again_whole_and_in_strips(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Edges of the frame stand within two pixels over 16 mm; strips of 16 rows give the same picture as one."""
    picture = open_picture(crooked_scan(tmp_path / "scan.png", degrees=-3.0))
    turned = straightened(picture, -3.0, tmp_path)
    whole = np.concatenate(list(turned.strips()))
    ink = whole < 130
    columns = np.flatnonzero(ink.sum(axis=0) > 0.9 * 16 / 25.4 * DPI)
    assert columns.max() - columns.min() == pytest.approx(24 / 25.4 * DPI, abs=2)
    monkeypatch.setattr("sumlight.artwork.straighten.strip_rows", lambda _width: 16)
    apart = np.abs(np.concatenate(list(turned.strips())).astype(int) - whole)
    assert apart.max() <= 255 / 16  # the library rounds places to a 32nd of a pixel
    assert apart.mean() <= 0.1
    assert sheet_of(turned, 130).width_px == turned.header.width_px


def test_what_is_too_long_to_turn_is_refused_in_words(tmp_path: Path) -> None:
    """The library's turning counts in 16 bits."""
    path = tmp_path / "long.png"
    Image.new("1", (33_000, 8)).save(path, dpi=(DPI, DPI))
    with pytest.raises(NotReadableError, match="32000 pixels along a side"):
        straightened(open_picture(path), 1.0, tmp_path)
