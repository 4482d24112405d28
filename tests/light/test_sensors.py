"""What is known of each kind of light sensor, against the mains and against what its maker publishes."""

from fractions import Fraction

import pytest

from sumlight.light.sensors import AS7331, AS7341, KINDS, kind_of_record, record_name
from sumlight_web.panels.export import _sensor

HALF_PERIODS_MS = (Fraction(1000, 100), Fraction(1000, 120))


def test_only_one_of_them_has_conversions_of_whole_half_periods() -> None:
    """50 Hz and 60 Hz mains ripple at 100 and 120 Hz; 64 ms and every other window of 2^n ms lies in between."""
    assert AS7341.ripple_free
    assert not AS7331.ripple_free
    for half in HALF_PERIODS_MS:
        assert abs(AS7341.integration_ms / float(half) - round(AS7341.integration_ms / float(half))) < 0.01
        assert all((Fraction(2**n) / half).denominator > 1 for n in range(15))


def test_gains_of_the_uv_sensor_suit_what_boxes_give() -> None:
    """Full scale of UV-A (65535 over 385 counts for each µW/cm² at gain 2048, by the driver): 349 mW/cm² at gain 1."""
    full_mw_cm2 = [65_535 / (385 * 2.0 ** (code - 1) / 2048) / 1000 for code in (1, AS7331.most_gain_code)]
    assert full_mw_cm2 == pytest.approx([348.6, 0.681], rel=0.001)
    assert (AS7331.within(0), AS7331.within(5), AS7331.within(11)) == (1, 5, 10)


def test_records_tell_the_kind() -> None:
    """By the meter's name in them; the oldest have the plain one, and their traces keep the heads that they had."""
    for kind in KINDS.values():
        assert kind_of_record(record_name("below", kind.name)) is kind
    assert record_name("below", "as7341") == "below"
    sides = [{"budget": None}, {"budget": {"anchor": {"meter": "below (as7331)"}}}]
    assert _sensor({"sides": sides}).channels[:3] == ("uv_a", "uv_b", "uv_c")
    assert _sensor({"sides": [{"budget": None}]}).channels[0] == "415_nm"
