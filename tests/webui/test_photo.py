"""Photos of panels: what a camera wrote beside the picture is cut, the picture itself stays byte for byte.

Markers as ITU-T T.81, table B.1, has them; Chromium judges in tests/browser whether what is kept still is a picture.
"""

from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st

from sumlight_web.panels import photo
from sumlight_web.panels.jpeg import NoPictureError, without_metadata
from tests.webui.given import ORIGIN
from tests.webui.test_panels import record


def segment(marker: int, payload: bytes) -> bytes:
    """A marker with its length and what it holds."""
    return bytes((0xFF, marker)) + (len(payload) + 2).to_bytes(2, "big") + payload


def frame(width: int, height: int, marker: int = 0xC0) -> bytes:
    """One colour, eight bits."""
    return segment(marker, b"\x08" + height.to_bytes(2, "big") + width.to_bytes(2, "big") + b"\x01\x01\x11\x00")


START, END = b"\xff\xd8", b"\xff\xd9"
TABLES = segment(0xDB, bytes(65)) + segment(0xC4, bytes(20)) + segment(0xDD, b"\x00\x04")
SCAN = segment(0xDA, b"\x01\x01\x00\x00\x3f\x00") + b"\x12\xff\x00\x34\xff\xd0\x56\xff\xd1\x78"
EXIF = segment(0xE1, b"Exif\x00\x00 GPS 53.1 N, 8.8 E, camera 4711")
REST = segment(0xFE, b"made by nobody") + segment(0xED, b"Photo 3.0 caption") + segment(0xE2, b"ICC_PROFILE")
PLAIN = START + TABLES + frame(16, 8) + SCAN + END


def test_a_plain_picture_stays_as_it_is() -> None:
    """Nothing to cut."""
    assert without_metadata(PLAIN) == PLAIN


def test_what_the_camera_wrote_is_cut_wherever_it_stands() -> None:
    """Before the tables, between them, between scans, and behind the end."""
    raw = START + EXIF + TABLES + REST + frame(16, 8, 0xC2) + SCAN + EXIF + SCAN + END + b"hidden GPS film"
    assert without_metadata(raw) == START + TABLES + frame(16, 8, 0xC2) + SCAN + SCAN + END


def test_room_before_a_marker_is_no_part_of_the_picture() -> None:
    """Any number of 0xFF may stand there (T.81, B.1.1.2)."""
    assert without_metadata(START + b"\xff\xff" + PLAIN[2:]) == PLAIN


def test_how_colours_are_coded_is_kept_and_nothing_behind_it() -> None:
    """Adobe's segment has twelve bytes; whatever somebody hid behind them goes."""
    adobe = segment(0xEE, b"Adobe\x00\x64\x00\x00\x00\x00\x01")
    hidden = segment(0xEE, b"Adobe\x00\x64\x00\x00\x00\x00\x01 GPS")
    assert without_metadata(START + hidden + PLAIN[2:]) == START + adobe + PLAIN[2:]
    assert without_metadata(START + segment(0xEE, b"other") + PLAIN[2:]) == PLAIN


@pytest.mark.parametrize(
    "raw",
    [
        b"",
        b"\x89PNG\r\n\x1a\n" + bytes(40),
        START + END,
        START + frame(16, 8) + END,
        START + SCAN + END,
        START + frame(0, 8) + SCAN + END,
        START + frame(16, 8) + SCAN,
        START + b"\xff\xe1\x00\x01" + PLAIN[2:],
        START + b"\xff\xe1\xff\xf0" + PLAIN[2:],
        START + b"\xff\xd0" + PLAIN[2:],
        START + b"\xff" * 9,
        START + b"x" + PLAIN[2:],
    ],
)
def test_what_is_no_whole_jpeg_is_refused(raw: bytes) -> None:
    """Said in words, nothing kept."""
    with pytest.raises(NoPictureError, match="damaged"):
        without_metadata(raw)


def test_every_beginning_of_a_picture_is_refused() -> None:
    """A transfer may stop anywhere."""
    for length in range(len(PLAIN)):
        with pytest.raises(NoPictureError):
            without_metadata(PLAIN[:length])


def test_a_picture_of_900_million_dots_is_refused() -> None:
    """A few hundred bytes can claim to be one."""
    with pytest.raises(NoPictureError, match="too many dots"):
        without_metadata(START + TABLES + frame(30_000, 30_000) + SCAN + END)
    with pytest.raises(NoPictureError, match="1 MB"):
        without_metadata(PLAIN[:-2] + bytes(1_000_000) + END)


@given(st.lists(st.sampled_from([TABLES, EXIF, REST, SCAN, frame(16, 8), END, b"\xff", b"\x00", b"GPS"])), st.binary())
def test_whatever_comes_is_taken_or_refused(parts: list[bytes], tail: bytes) -> None:
    """Never another error, and never a place that a camera wrote in a segment of its own."""
    try:
        kept = without_metadata(START + b"".join(parts) + tail)
    except NoPictureError:
        return
    assert b"Exif" not in kept
    assert b"Photo 3.0" not in kept


@pytest.fixture
def panel(data: Path) -> int:
    """A finished panel."""
    return record(data / "logbook.sqlite")


def sent(client: FlaskClient, panel: int, raw: bytes, size: int = photo.PIECE_BYTES) -> list[int]:
    """Send a picture in pieces; returns what each was answered with."""
    pieces = [raw[at : at + size] for at in range(0, len(raw), size)]
    return [
        client.post(
            f"/panels/{panel}/photo?piece={number}{'&last=1' if number == len(pieces) - 1 else ''}",
            data=piece,
            headers=ORIGIN | {"Content-Type": "image/jpeg"},
        ).status_code
        for number, piece in enumerate(pieces)
    ]


def test_a_picture_comes_in_pieces_and_is_shown(client: FlaskClient, panel: int) -> None:
    """Larger than any body that a request may have."""
    assert "photo.jpg" not in client.get(f"/panels/{panel}").text
    scan = SCAN + bytes(150_000)
    assert sent(client, panel, START + EXIF + TABLES + frame(16, 8) + scan + END) == [200, 200, 200, 201]
    assert f"/panels/{panel}/photo.jpg" in client.get(f"/panels/{panel}").text
    answer = client.get(f"/panels/{panel}/photo.jpg")
    assert answer.data == START + TABLES + frame(16, 8) + scan + END
    assert answer.mimetype == "image/jpeg"
    assert answer.headers["X-Content-Type-Options"] == "nosniff"
    client.post(f"/panels/{panel}/photo/remove", headers=ORIGIN)
    assert client.get(f"/panels/{panel}/photo.jpg").status_code == 404


def test_a_broken_picture_is_told_and_the_old_one_stays(client: FlaskClient, panel: int) -> None:
    """No piece of it is left, either."""
    assert sent(client, panel, PLAIN) == [201]
    assert sent(client, panel, b"\x89PNG" + bytes(100)) == [422]
    assert client.get(f"/panels/{panel}/photo.jpg").data == PLAIN


def test_pieces_come_one_after_the_other(client: FlaskClient, panel: int) -> None:
    """A missing one, an empty one, one too far or too large."""
    headers = ORIGIN | {"Content-Type": "image/jpeg"}

    def answer(query: str, body: bytes) -> int:
        return client.post(f"/panels/{panel}/photo?{query}", data=body, headers=headers).status_code

    assert answer("piece=1&last=1", b"x") == 409
    assert answer("piece=0", b"short") == 200
    assert answer("piece=1&last=1", b"x") == 409
    assert answer("piece=0&last=1", b"") == 400
    assert answer("piece=-1", b"x") == 400
    assert answer("piece=900", b"x") == 400
    assert answer("piece=0", bytes(photo.PIECE_BYTES + 1)) == 400
    assert client.post("/panels/99/photo?piece=0", data=b"x", headers=headers).status_code == 404


def test_no_room_is_said_before_the_card_is_full(
    client: FlaskClient, panel: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Records come before pictures."""
    monkeypatch.setattr(photo, "SPARE_BYTES", 1 << 60)
    assert sent(client, panel, PLAIN) == [507]


def test_who_only_watches_sends_nothing(app: Flask, client: FlaskClient, panel: int) -> None:
    """They see it."""
    assert sent(client, panel, PLAIN) == [201]
    watcher = app.test_client()
    assert watcher.get(f"/panels/{panel}/photo.jpg").status_code == 200
    assert sent(watcher, panel, PLAIN)[0] not in (200, 201)
    assert "data-photo" not in watcher.get(f"/panels/{panel}").text
