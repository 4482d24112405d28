"""Traces keep every bit of every sample."""

import struct
import zlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.light.sample import Sample
from sumlight.store.codecs import traces
from tests.store.making import sample

COUNTS = st.tuples(*[st.integers(0, 65535)] * 6)
SAMPLES = st.lists(st.builds(Sample, st.floats(), st.floats(), COUNTS, st.integers(0, 10), st.integers(0, 3)))


def bits(samples: list[Sample]) -> list[object]:
    """Samples with the bit patterns of their times, so that NaN and -0.0 compare too."""
    return [(struct.pack("<dd", s.end_s, s.mid_s), s.counts, s.gain_code, s.flags) for s in samples]


@given(SAMPLES)
def test_any_samples_come_back_bit_for_bit(samples: list[Sample]) -> None:
    """Every float is kept, NaN, infinities and -0.0 included."""
    assert bits(traces.decode(traces.encode(samples))) == bits(samples)


def test_ordinary_samples_take_less_than_half_their_plain_size() -> None:
    """Two seconds of real-looking samples pack well; ten years must fit a card."""
    samples = [sample(number) for number in range(40)]
    assert len(traces.encode(samples)) < 0.5 * 40 * traces.BYTES_PER_SAMPLE


@pytest.mark.parametrize(
    "bad",
    [
        Sample(1.0, 1.0, (65536, 0, 0, 0, 0, 0), 0, 0),
        Sample(1.0, 1.0, (0, 0, 0, 0, 0, -1), 0, 0),
        Sample(1.0, 1.0, (0, 0, 0, 0, 0, 0), 256, 0),
        Sample(1.0, 1.0, (0, 0, 0, 0, 0, 0), 0, -1),
    ],
)
def test_a_sample_that_does_not_fit_is_refused_not_cut(bad: Sample) -> None:
    """A count of 65536 must not silently become 0."""
    with pytest.raises(traces.TraceError, match="counts must be 0…65535"):
        traces.encode([bad])


def test_a_chunk_of_more_than_a_million_samples_is_refused() -> None:
    """Reading is bounded, so writing is too."""
    with pytest.raises(traces.TraceError, match="given: 1000001; split it"):
        traces.encode([sample(1)] * 1_000_001)


def test_a_damaged_blob_is_named_as_such() -> None:
    """Cut, foreign, or unpacked to broken samples: each is a clear error."""
    good = traces.encode([sample(1), sample(2)])
    with pytest.raises(traces.TraceError, match="is damaged"):
        traces.decode(good[:-3])
    with pytest.raises(traces.TraceError, match="is damaged"):
        traces.decode(good[:1] + b"nonsense")
    with pytest.raises(traces.TraceError, match="are not whole samples"):
        traces.decode(good[:1] + zlib.compress(b"odd"))
    with pytest.raises(traces.TraceError, match="not with layout 1; update Sumlight"):
        traces.decode(b"\x09" + good[1:])
    with pytest.raises(traces.TraceError, match="not with layout 1"):
        traces.decode(b"")
