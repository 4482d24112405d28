"""A tablet and a radiometer for one box: whether they contradict each other.

Differences and their uncertainties after JCGM 100, 5.1.2: those of independent inputs add in squares; a difference is
none where it stays within its own expanded uncertainty.
"""

import math
from dataclasses import replace

import pytest

from sumlight.light.calibration import Calibration, Shift, compared, model_from

RADIOMETER = Calibration("radiometer", 0.0, 0.01, 500.0, "2026-05-03", common_ln_sigma=0.03)
TABLET = Calibration("tablet", 0.05, 0.02, 501.0, "2026-05-04", common_ln_sigma=0.05)


def test_two_references_agree_within_what_both_state() -> None:
    """2 √(0.01² + 0.02² + 0.03² + 0.05²) is 12.5 %, and an hour of lamps adds next to nothing."""
    found = compared(TABLET, [RADIOMETER])
    assert found is not None
    assert found.ln_expanded == pytest.approx(2 * math.sqrt(0.01**2 + 0.02**2 + 0.03**2 + 0.05**2), rel=0.03)
    assert found.ln_apart == pytest.approx(0.05, abs=2e-3)
    assert (found.agree, found.ln_doubt) == (True, 0.0)


def test_references_that_contradict_each_other_leave_all_between_in_doubt() -> None:
    """Rectangular over the whole difference (4.3.7), whichever was made last."""
    far = replace(TABLET, ln_ratio=0.3)
    found = compared(far, [RADIOMETER])
    assert found is not None
    assert not found.agree
    assert found.ln_doubt == pytest.approx(0.3 / math.sqrt(3), rel=0.01)
    other = compared(replace(RADIOMETER, lamp_hours=502.0), [far])
    assert other is not None
    assert other.ln_apart == pytest.approx(-0.3, abs=5e-3)
    assert not other.agree


def test_what_the_lamps_did_in_between_is_no_contradiction() -> None:
    """Hundreds of hours later the ratio has moved, and less is known of it; a corrected window is taken out."""
    later = replace(TABLET, lamp_hours=1100.0)
    expected, sigma = model_from([RADIOMETER]).at(1100.0)
    found = compared(later, [RADIOMETER])
    assert found is not None
    assert found.ln_apart == pytest.approx(0.05 - expected)
    assert found.ln_expanded > 2 * sigma
    shifted = compared(replace(TABLET, ln_ratio=0.25), [RADIOMETER], [Shift(500.5, 0.2, 0.01)])
    assert shifted is not None
    assert shifted.ln_apart == pytest.approx(0.05, abs=5e-3)


def test_one_reference_is_compared_with_nothing() -> None:
    """Two tablets rest on the same; a taught time rests on none."""
    assert compared(TABLET, []) is None
    assert compared(TABLET, [replace(TABLET, lamp_hours=400.0)]) is None
    assert compared(TABLET, [replace(RADIOMETER, origin="teach")]) is None
    assert compared(replace(TABLET, origin="teach"), [RADIOMETER]) is None
