"""Samples into a small blob and back, without losing a bit. Pure: no clock, no disk.

Layout 1: one byte 1, then a zlib stream of the columns, each little-endian and as long as the chunk:
`end_s`, `mid_s` (64-bit patterns, see below), six columns of counts (16 bits), `gain_code`, `flags` (8 bits).

Times go up in near-equal steps. So the pattern of `end_s` is stored as the change of its change, and that
of `mid_s` as the change of its distance from `end_s`, modulo 2^64: exact for every float, NaN included.
Counts are stored as changes, modulo 2^16. Wide columns are laid out byte plane by byte plane, which zlib
packs better.
"""

import struct
import zlib
from collections.abc import Sequence

from sumlight.light.sample import Sample
from sumlight.store.codecs.columns import changes, floats, patterns, planes, sums, unplaned

LAYOUT = 1
ADCS = 6
BYTES_PER_SAMPLE = 8 + 8 + 2 * ADCS + 1 + 1
MAX_SAMPLES = 1_000_000

_MASK64 = (1 << 64) - 1


class TraceError(ValueError):
    """Samples that cannot be stored, or a blob that is not a trace."""


def encode(samples: Sequence[Sample]) -> bytes:
    """Pack samples, in order.

    Raises TraceError when a count does not fit 16 bits, or a gain code or flags do not fit 8 bits.
    """
    if len(samples) > MAX_SAMPLES:
        raise TraceError(f"a chunk may hold {MAX_SAMPLES} samples, given: {len(samples)}; split it")
    ends = patterns([sample.end_s for sample in samples])
    mids = patterns([sample.mid_s for sample in samples])
    columns = [
        planes(changes(changes(ends, 64), 64), "Q"),
        planes(changes([mid - end for mid, end in zip(mids, ends, strict=True)], 64), "Q"),
    ]
    try:
        for adc in range(ADCS):
            counts = [sample.counts[adc] for sample in samples]
            struct.pack(f"<{len(counts)}H", *counts)  # refuses what 16 bits cannot hold
            columns.append(planes(changes(counts, 16), "H"))
        columns.append(struct.pack(f"<{len(samples)}B", *(sample.gain_code for sample in samples)))
        columns.append(struct.pack(f"<{len(samples)}B", *(sample.flags for sample in samples)))
    except struct.error as error:
        raise TraceError("a sample does not fit a trace: counts must be 0…65535, gain_code and flags 0…255") from error
    return bytes([LAYOUT]) + zlib.compress(b"".join(columns), 6)


def decode(packed: bytes) -> list[Sample]:
    """The samples of a blob, bit for bit as they were given to `encode`.

    Raises TraceError when the blob is damaged or of an unknown layout.
    """
    if packed[:1] != bytes([LAYOUT]):
        raise TraceError(f"a trace begins with {packed[:1]!r}, not with layout {LAYOUT}; update Sumlight to read it")
    unpacker = zlib.decompressobj()
    try:
        raw = unpacker.decompress(packed[1:], MAX_SAMPLES * BYTES_PER_SAMPLE)
    except zlib.error as error:
        raise TraceError(f"a trace is damaged: {error}") from error
    if not unpacker.eof or len(raw) % BYTES_PER_SAMPLE:
        raise TraceError(f"a trace is damaged: {len(raw)} bytes are not whole samples")
    number = len(raw) // BYTES_PER_SAMPLE
    ends = sums(sums(unplaned(raw[: 8 * number], "Q"), 64), 64)
    spans = sums(unplaned(raw[8 * number : 16 * number], "Q"), 64)
    mids = [(end + span) & _MASK64 for end, span in zip(ends, spans, strict=True)]
    at = 16 * number
    counts = []
    for _ in range(ADCS):
        counts.append(sums(unplaned(raw[at : at + 2 * number], "H"), 16))
        at += 2 * number
    gains, flags = raw[at : at + number], raw[at + number :]
    rows = zip(floats(ends), floats(mids), zip(*counts, strict=True), gains, flags, strict=True)
    return [Sample(end_s, mid_s, (c[0], c[1], c[2], c[3], c[4], c[5]), g, f) for end_s, mid_s, c, g, f in rows]
