"""A JPEG file without what a camera writes beside the picture: its segments are walked, nothing is decoded. Pure.

Markers as ITU-T T.81 (table B.1) has them. What draws the picture stays, byte for byte: tables, frame, scans. Cut are
application segments (place, camera, small pictures; ITU-T T.81 leaves them to others), comments, and whatever follows
the end of the image.
"""

import re
from typing import Final

from sumlight_web.language import N_

LARGEST_BYTES = 1_000_000
MOST_PIXELS = 16_000_000
"""A small file may claim to be a huge picture, at which a phone would choke."""

START, END, SCAN = 0xD8, 0xD9, 0xDA
FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
KEPT = FRAMES | {0xC4, 0xCC, 0xDA, 0xDB, 0xDC, 0xDD}
"""Frames, Huffman and arithmetic tables, scans, quantisation, number of lines, restart interval."""
ADOBE: Final = (0xEE, b"Adobe", 12)
"""The one application segment without which colours of some files come out wrong; it holds nothing else."""
AFTER_SCAN = re.compile(rb"\xff+[^\x00\xff\xd0-\xd7]")
"""In the data of a scan, 0xFF is followed by 0x00 or a restart marker; anything else ends it."""

BROKEN = N_("This is not a JPEG picture, or it is damaged. Take it again.")


class NoPictureError(ValueError):
    """Why this is not taken, as a text for the catalogue."""


def without_metadata(raw: bytes) -> bytes:
    """Cut what does not draw the picture. Raises NoPictureError for what is too large, broken or no JPEG."""
    if len(raw) > LARGEST_BYTES:
        raise NoPictureError(N_("The picture must not be larger than 1 MB."))
    if raw[:2] != bytes((0xFF, START)):
        raise NoPictureError(BROKEN)
    kept, at, framed, scanned = bytearray(raw[:2]), 2, False, False
    while True:
        marker, at = _marker(raw, at)
        if marker == END:
            if not scanned:
                raise NoPictureError(BROKEN)
            return bytes(kept) + bytes((0xFF, END))
        end = at + _length(raw, at)
        segment = raw[at:end]
        if marker in FRAMES:
            _judge_size(segment)
            framed = True
        if marker == SCAN:
            if not framed:
                raise NoPictureError(BROKEN)
            scanned, found = True, AFTER_SCAN.search(raw, end)
            if found is None:
                raise NoPictureError(BROKEN)
            end = found.start()
        if marker in KEPT:
            kept += bytes((0xFF, marker)) + raw[at:end]
        elif marker == ADOBE[0] and segment[2:7] == ADOBE[1]:
            kept += bytes((0xFF, marker, 0, 2 + ADOBE[2])) + segment[2 : 2 + ADOBE[2]].ljust(ADOBE[2], b"\0")
        at = end


def _marker(raw: bytes, at: int) -> tuple[int, int]:
    """The next marker, and what lies behind it. Any number of 0xFF may fill the room before one."""
    if raw[at : at + 1] != b"\xff":
        raise NoPictureError(BROKEN)
    while raw[at : at + 1] == b"\xff":
        at += 1
    if at >= len(raw) or raw[at] in (0x00, 0x01, START, *range(0xD0, 0xD8)):
        raise NoPictureError(BROKEN)
    return raw[at], at + 1


def _length(raw: bytes, at: int) -> int:
    length = int.from_bytes(raw[at : at + 2], "big")
    if length < 2 or at + length > len(raw):
        raise NoPictureError(BROKEN)
    return length


def _judge_size(segment: bytes) -> None:
    """Length 2, precision 1, height 2, width 2, then the colours."""
    height, width = int.from_bytes(segment[3:5], "big"), int.from_bytes(segment[5:7], "big")
    if len(segment) < 8 or not height or not width:
        raise NoPictureError(BROKEN)
    if height * width > MOST_PIXELS:
        raise NoPictureError(N_("The picture has too many dots: at most 16 million."))
