"""The packed dose journal: every bit comes back, damage is noticed, and it is small."""

import math
from datetime import UTC, datetime, timedelta
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.store.codecs.journals import JournalEntry, JournalError, decode, encode

FIRST = datetime(1970, 1, 1, tzinfo=UTC).replace(tzinfo=None)
ENTRIES = st.builds(
    JournalEntry,
    st.datetimes(min_value=FIRST, max_value=FIRST.replace(year=2200), timezones=st.just(UTC)),
    st.sampled_from(["lit", "cut", "done", "abandoned", "wartend ünd"]),
    st.floats(allow_nan=False),
    st.floats(allow_nan=False),
    st.floats(allow_nan=False),
)


@given(st.lists(ENTRIES, max_size=40))
def test_entries_come_back_bit_for_bit(entries: list[JournalEntry]) -> None:
    """Any times, states and floats, minus zero included."""
    again = decode(encode(entries))
    assert again == entries
    assert [math.copysign(1, e.dose_mj_cm2) for e in again] == [math.copysign(1, e.dose_mj_cm2) for e in entries]


def test_a_minute_of_journal_takes_less_than_20_bytes_an_entry() -> None:
    """As rows of a table they would take five times as much."""
    chance, dose, entries = Random(4), 0.0, []
    for number in range(240):
        dose += 1.2 + chance.gauss(0, 0.01)
        at_s = number * 0.25 + chance.uniform(0, 0.005)
        entries.append(
            JournalEntry(datetime(2026, 11, 25, tzinfo=UTC) + timedelta(seconds=at_s), "lit", dose, 0.0, at_s + 1e-7)
        )
    assert len(encode(entries)) < 20 * len(entries)


@pytest.mark.parametrize(
    "spoil", [lambda b: b"\x02" + b[1:], lambda b: b[:-3], lambda b: b[:9] + b"\xff" + b[10:], lambda b: b""]
)
def test_a_damaged_journal_is_noticed(spoil: object) -> None:
    """Cut, changed or of another layout."""
    packed = encode([JournalEntry(datetime(2026, 11, 25, tzinfo=UTC), "lit", 1.5, 0.0, 0.3)] * 9)
    with pytest.raises(JournalError, match="journal"):
        decode(spoil(packed))  # type: ignore[operator]
