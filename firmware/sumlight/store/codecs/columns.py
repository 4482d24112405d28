"""Columns of numbers laid out so that zlib packs them well, bit for bit back again. Pure."""

import struct
from collections.abc import Iterable, Sequence
from itertools import accumulate, pairwise


def patterns(values: Sequence[float]) -> list[int]:
    """The 64-bit patterns of floats."""
    return list(struct.unpack(f"<{len(values)}Q", struct.pack(f"<{len(values)}d", *values)))


def floats(bits: Sequence[int]) -> list[float]:
    """The floats of 64-bit patterns."""
    return list(struct.unpack(f"<{len(bits)}d", struct.pack(f"<{len(bits)}Q", *bits)))


def changes(values: Sequence[int], bits: int) -> list[int]:
    """Each value less the one before, modulo 2^bits; the first less 0."""
    mask = (1 << bits) - 1
    return [(value - before) & mask for before, value in pairwise([0, *values])]


def sums(differences: Iterable[int], bits: int) -> list[int]:
    """What `changes` was given."""
    mask = (1 << bits) - 1
    return list(accumulate(differences, lambda total, change: (total + change) & mask))


def planes(values: Sequence[int], code: str) -> bytes:
    """All lowest bytes, then all second bytes and so on; `code` as in `struct`. Raises struct.error."""
    raw = struct.pack(f"<{len(values)}{code}", *values)
    width = struct.calcsize(f"<{code}")
    return b"".join(raw[plane::width] for plane in range(width))


def unplaned(raw: bytes, code: str) -> list[int]:
    """What `planes` was given."""
    width = struct.calcsize(f"<{code}")
    number = len(raw) // width
    mixed = bytearray(len(raw))
    for plane in range(width):
        mixed[plane::width] = raw[plane * number : (plane + 1) * number]
    return list(struct.unpack(f"<{number}{code}", mixed))
