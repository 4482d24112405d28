"""What a person tells, made into what the table weighs."""

import pytest

from sumlight.craft.causes.facts import Facts
from sumlight.craft.causes.known import Known, facts_of


def test_times_become_shares_and_steps_a_difference() -> None:
    """What belongs together is needed together."""
    known = Known(
        held_step=6, wanted_step=8, clear_s=60, fresh_clear_s=40, developed_s=90, etched_s=600, expected_etch_s=480
    )
    facts = facts_of(known)
    assert (facts.held_off, facts.clear_share, facts.dwell_share, facts.etch_share) == (-2, 1.5, 1.5, 1.25)
    assert facts_of(Known(held_step=6, clear_s=60, etched_s=600)) == Facts()


def test_the_side_farthest_off_its_dose_counts() -> None:
    """In ratio, up or down; a side that got nothing is as far off as can be."""
    assert facts_of(Known(), [(59, 60), (50, 60), (64, 60)]).dose_share == pytest.approx(50 / 60)
    assert facts_of(Known(), [(120, 60), (50, 60)]).dose_share == 2
    assert facts_of(Known(), [(0, 60), (60, 60)]).dose_share == 0


def test_a_rest_is_told_in_seconds_and_judged_by_the_recipe() -> None:
    """Without a recipe's figures it was kept."""
    assert facts_of(Known(rested_s=60), hold_s=900).rest == "short"
    assert facts_of(Known(rested_s=90_000), hold_s=900, limit_s=28_800).rest == "long"
    assert facts_of(Known(rested_s=60)).rest == "kept"


def test_times_that_do_not_belong_together_stay_within_bounds() -> None:
    """A slip of the pen is weighed as one, not refused: who looks at an old record cannot correct it there."""
    assert facts_of(Known(clear_s=86_400, fresh_clear_s=1)).clear_share == 50
    assert facts_of(Known(developed_s=10, clear_s=60)).dwell_share == 1
