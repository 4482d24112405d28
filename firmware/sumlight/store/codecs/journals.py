"""The dose journal of a finished side in a small blob and back, without losing a bit. Pure.

Layout 1: one byte 1, then a zlib stream of: number of states (8 bits), each as length (8 bits) and text; then columns
as long as the journal: state's number (8 bits), time in microseconds since 1970 as the change of its change, dose,
doubt and lit time as changes of their 64-bit patterns, all by byte planes.
"""

import zlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

from sumlight.store.codecs.columns import changes, floats, patterns, planes, sums, unplaned

LAYOUT = 1
BYTES_PER_ENTRY = 1 + 4 * 8
MAX_BYTES = 64 * 1024 * 1024
_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


class JournalError(ValueError):
    """Entries that cannot be packed, or a blob that is no journal."""


@dataclass(frozen=True, slots=True)
class JournalEntry:
    """Where a side stood when it was written."""

    written_utc: datetime
    state: str
    dose_mj_cm2: float
    doubt_mj_cm2: float
    lit_s: float


def encode(entries: Sequence[JournalEntry]) -> bytes:
    """Pack entries, in order. Raises JournalError for states that do not fit."""
    states = list(dict.fromkeys(entry.state for entry in entries))
    names = [state.encode() for state in states]
    if len(states) > 255 or any(len(name) > 255 for name in names):
        raise JournalError("a journal may hold 255 different states of at most 255 bytes each")
    number = {state: index for index, state in enumerate(states)}
    times = [(entry.written_utc - _EPOCH) // _MICROSECOND & (1 << 64) - 1 for entry in entries]
    columns = [
        bytes([len(names)]) + b"".join(bytes([len(name)]) + name for name in names),
        bytes(number[entry.state] for entry in entries),
        planes(changes(changes(times, 64), 64), "Q"),
        *(
            planes(changes(patterns([getattr(entry, name) for entry in entries]), 64), "Q")
            for name in ("dose_mj_cm2", "doubt_mj_cm2", "lit_s")
        ),
    ]
    return bytes([LAYOUT]) + zlib.compress(b"".join(columns), 6)


def decode(packed: bytes) -> list[JournalEntry]:
    """The entries of a blob, bit for bit. Raises JournalError when it is damaged or of an unknown layout."""
    if packed[:1] != bytes([LAYOUT]):
        raise JournalError(f"a journal begins with {packed[:1]!r}, not layout {LAYOUT}; update Sumlight to read it")
    unpacker = zlib.decompressobj()
    try:
        raw = unpacker.decompress(packed[1:], MAX_BYTES)
    except zlib.error as error:
        raise JournalError(f"a journal is damaged: {error}") from error
    try:
        states, at = _states(raw)
    except (IndexError, UnicodeDecodeError) as error:
        raise JournalError("a journal is damaged: its states cannot be read") from error
    if not unpacker.eof or (len(raw) - at) % BYTES_PER_ENTRY:
        raise JournalError(f"a journal is damaged: {len(raw) - at} bytes are not whole entries")
    count = (len(raw) - at) // BYTES_PER_ENTRY
    codes = raw[at : at + count]
    if count and max(codes) >= len(states):
        raise JournalError("a journal is damaged: it names a state that it does not hold")
    at += count
    wide = [unplaned(raw[at + 8 * count * i : at + 8 * count * (i + 1)], "Q") for i in range(4)]
    times = sums(sums(wide[0], 64), 64)
    doses, doubts, lits = (floats(sums(column, 64)) for column in wide[1:])
    return [
        JournalEntry(_EPOCH + time * _MICROSECOND, states[code], dose, doubt, lit)
        for code, time, dose, doubt, lit in zip(codes, times, doses, doubts, lits, strict=True)
    ]


def _states(raw: bytes) -> tuple[list[str], int]:
    states, at = [], 1
    for _ in range(raw[0]):
        length = raw[at]
        name = raw[at + 1 : at + 1 + length]
        states.append(name.decode())
        at += 1 + length
    return states, at
