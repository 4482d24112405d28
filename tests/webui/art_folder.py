"""For tests of the page Artwork: its form, sending a file, and by hand what a process that made films leaves behind."""

import json
from pathlib import Path

import numpy as np
from flask.testing import FlaskClient

from sumlight.artwork import preview, sheet
from sumlight.text.message import packed, say
from sumlight_web.artwork.worktable import ArtworkDesk
from tests.webui.fake_control import wait_until
from tests.webui.given import ORIGIN

FORM = {
    "thickness_um": "150",
    "factor": "2",
    "name": "Test plate",
    "tabs": "2",
    "black": "open",
    "film_black": "open",
    "build": "sheet",
    "metal": "brass",
    "crop": "frame",
    "wanted_at": "waist",
    "over_etch": "1.2",
    "bias_um": "0",
    "printed_x_mm": "100",
    "printed_y_mm": "100",
    "speck_um": "100",
    "border_mm": "10",
    "straighten": "1",
    "control_marks": "1",
}
"""The form as the page sends it."""

MADE = {
    "seen_mm": [26.0, 18.0],
    "tilt_degrees": 2.0,
    "specks": 1,
    "pinholes": 0,
    "moves_um": 35.2,
    "guess_um": [10.3, 14.5],
    "factors": {"guessed": True, "middle": 1.5},
    "reach_um": 90.0,
    "tabs": 4,
    "tab_um": 150.0,
    "open_cm2": 1.234,
    "metal_mm3": 20.0,
    "metal_mm": [46.0, 38.0],
    "film_mm": [70.0, 62.0],
    "findings": [
        {
            "words": say("art_hole_small", size=107.0),
            "remedy": say("art_add_tabs"),
            "places": [{"x_mm": 21.1, "y_mm": 4.1, "size_um": 107.0}],
            "count": 3,
        }
    ],
    "part": {
        "findings": [
            {
                "words": say("art_falls_apart", count=1, factor=1.0),
                "remedy": say("art_add_tabs"),
                "places": [{"x_mm": 13.0, "y_mm": 9.0, "size_um": 20377.0}],
                "count": 1,
            }
        ]
    },
}
ASKED = {"build": "sheet", "thickness_um": 150.0, "film_black": "open", "over_etch": 1.2}
PLACES = [
    {"x_mm": 26 * (x + 0.5) / 7, "y_mm": 18 * (y + 0.5) / 5, "off_x_um": 8.0 * (x - 3), "off_y_um": 20.0 * (y - 2)}
    for y in range(5)
    for x in range(7)
]
"""As the map of a sheet that lies across."""
SCALES = {"scale_x": 1.001, "scale_y": 0.999}
SEEN = {
    "kind": "PNG",
    "width_px": 850,
    "height_px": 661,
    "width_mm": 36.0,
    "height_mm": 28.0,
    "pitch_um": 42.33,
    "tones": [900, *[0] * 30, 5000, *[3] * 192, 90000, *[0] * 31],
    "threshold": 131.0,
    "tilt_degrees": 2.0,
    "doubt": None,
}


def made_by_hand(data: Path, *, made: bool = True) -> Path:
    """Put a scan into a data folder that was looked at, and what was made of it; returns its folder."""
    folder = data / "page" / "artwork"
    (folder / "scan").mkdir(parents=True)
    (folder / "scan" / "plate.png").write_bytes(b"x")
    mask = np.zeros((90, 130), np.bool_)
    mask[20:60, 30:40] = True
    drawn = sheet.from_mask(mask, 200.0)
    for kind, answer in (("look", SEEN), ("make", MADE)) if made else (("look", SEEN),):
        (folder / kind).mkdir()
        _put(folder / kind / "answer.json", {"ok": True, "made": answer})
        _put(folder / kind / "task.json", {"asked": ASKED, "metal": "brass", "guess_by": "Ada"})
        for name in ("scan", "part", "cleaned", "film-front", "film-back"):
            preview.write_sheet_small(folder / kind, name, drawn, drawn if name == "part" else None)
    return folder


def compared_by_hand(folder: Path, with_: str = "front", growth_um: float = 3.0) -> None:
    """Put a comparison beside it."""
    place = folder / "compare"
    place.mkdir(exist_ok=True)
    bias = say("art_bias", mean=3.0, across=2.0, down=4.0, spread=1.0)
    found = [{"words": say("art_shorts", count=1), "remedy": say("art_differs_remedy"), "count": 1}]
    found[0]["places"] = [{"x_mm": 3.0, "y_mm": 4.0, "size_um": 200.0}]
    _put(
        place / "answer.json",
        {
            "ok": True,
            "made": {
                "size_mm": [26.0, 18.0],
                "growth_um": growth_um,
                **SCALES,
                "told": [bias],
                "findings": found,
                "places": PLACES,
            },
        },
    )
    _put(place / "task.json", {"kind": "compare", "with": with_})
    preview.write_sheet_small(place, "compared", sheet.from_mask(np.zeros((90, 130), np.bool_), 200.0))


def _put(path: Path, told: object) -> None:
    path.write_text(json.dumps(packed(told)), encoding="utf-8")


def sent(client: FlaskClient, path: Path) -> None:
    """Send a file as the page's script does."""
    raw = path.read_bytes()
    told = client.post(f"/artwork/begin?name={path.name}&size={len(raw)}", headers=ORIGIN)
    assert told.status_code == 201, told.text
    size = told.get_json()["piece_bytes"]
    for at in range(0, len(raw), size):
        assert client.post(f"/artwork/piece?at={at}", data=raw[at : at + size], headers=ORIGIN).status_code < 300


def rested(desk: ArtworkDesk) -> str:
    """The phase in which it ends."""
    wait_until(lambda: desk.standing().phase not in ("working", "arriving"), 60)
    return desk.standing().phase
