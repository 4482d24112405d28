"""The rest between exposing and developing."""

import pytest

from sumlight.craft.holding import hold

QUARTER_HOUR_S = 15 * 60.0
"""Common practice, no source: 15 minutes at least."""

EIGHT_HOURS_S = 8 * 3600.0
"""Common practice, no source: lamination to developing within a working day."""


def test_a_fresh_panel_rests_for_the_whole_hold_time() -> None:
    """Nothing has passed yet."""
    rest = hold(0.0, QUARTER_HOUR_S, None)
    assert (rest.state, rest.left_s, rest.limit_left_s) == ("resting", 900.0, None)


@pytest.mark.parametrize(
    ("since_s", "state"), [(899.0, "resting"), (900.0, "ready"), (28_800.0, "ready"), (28_801.0, "overdue")]
)
def test_a_panel_is_ready_between_the_shortest_and_the_longest_rest(since_s: float, state: str) -> None:
    """Both bounds belong to ready."""
    assert hold(since_s, QUARTER_HOUR_S, EIGHT_HOURS_S).state == state


def test_an_overdue_panel_says_by_how_much() -> None:
    """The limit's remainder goes negative."""
    assert hold(EIGHT_HOURS_S + 60, QUARTER_HOUR_S, EIGHT_HOURS_S).limit_left_s == -60.0
