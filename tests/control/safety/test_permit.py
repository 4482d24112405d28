"""Leave to light: from all conditions at once, renewed every tick, run out by itself."""

import pytest

from sumlight.control.safety.permit import (
    ALL_MET,
    K1_ALL_MET,
    K1_ALONE_S,
    REFUSALS,
    VALID_S,
    Conditions,
    K1Leave,
    Permit,
)

NAMES = list(Conditions._fields)


def test_a_new_permit_grants_nothing() -> None:
    """The value at the start is the safe one."""
    assert not Permit().granted(0.0)
    assert Permit().conditions == Conditions()


def test_a_permit_renewed_with_all_conditions_met_is_granted() -> None:
    """At once and until it runs out."""
    permit = Permit()
    assert permit.renew(10.0, ALL_MET) is True
    assert permit.granted(10.0)
    assert permit.granted(10.0 + VALID_S)


def test_a_permit_that_is_not_renewed_runs_out() -> None:
    """After a tenth of a second, twenty ticks."""
    permit = Permit()
    permit.renew(10.0, ALL_MET)
    assert not permit.granted(10.0 + VALID_S + 0.001)
    assert VALID_S <= 0.15, "K1's pump holds for 0.15 s; the permit must not outlast it"


def test_a_withdrawn_permit_is_gone_at_once() -> None:
    """Before its time."""
    permit = Permit()
    permit.renew(10.0, ALL_MET)
    permit.withdraw()
    assert not permit.granted(10.0)


@pytest.mark.parametrize("name", NAMES)
def test_each_condition_refuses_alone(name: str) -> None:
    """One that is not met takes back what was granted, and says so in words."""
    permit = Permit()
    permit.renew(10.0, ALL_MET)
    conditions = ALL_MET._replace(**{name: False})
    assert permit.renew(10.005, conditions) is False
    assert not permit.granted(10.005)
    assert permit.conditions.refusals() == (REFUSALS[name],)


def test_a_condition_that_nobody_looked_at_is_not_met() -> None:
    """Every default refuses, and each has its words."""
    assert len(Conditions().refusals()) == len(NAMES)
    assert set(REFUSALS) == set(NAMES)
    assert ALL_MET.refusals() == ()


def test_conditions_cannot_be_changed_after_they_were_found() -> None:
    """What one tick saw is not touched up by another."""
    with pytest.raises(AttributeError):
        ALL_MET.lid_shut = False  # type: ignore[misc]


@pytest.mark.parametrize(
    ("unmet", "why"),
    [
        ({"wanted"}, "no exposure asks for light"),
        ({"lid_shut"}, "the lid is not shut"),
        ({"lid_shut", "wanted"}, "the lid is not shut"),
        ({"lid_shut", "no_fault"}, "the lid is not shut, a fault is standing"),
        ({"lid_shut", "no_fault", "wanted"}, "the lid is not shut, a fault is standing"),
        (set(), ""),
    ],
)
def test_why_there_is_no_leave_is_said_without_what_only_follows(unmet: set[str], why: str) -> None:
    """An opened lid ends the wish for light as well; that nothing is wished for is the reason only when alone."""
    assert ALL_MET._replace(**dict.fromkeys(unmet, False)).why_not() == why


@pytest.mark.parametrize("late_s", [0.0, 0.003, 5.0])
def test_k1_alone_has_ended_for_good_once_its_time_is_over(late_s: float) -> None:
    """Also where no tick came at the very moment: it is not lent any more."""
    leave = K1Leave()
    leave.lend(100.0)
    assert leave.renew(100.0 + K1_ALONE_S - 0.01, K1_ALL_MET)
    assert not leave.renew(100.0 + K1_ALONE_S + late_s, K1_ALL_MET)
    assert not leave.lent


def test_k1_lent_anew_counts_only_from_its_own_first_renewal() -> None:
    """What was left of the leave before is over."""
    leave = K1Leave()
    leave.lend(100.0)
    assert leave.renew(100.0, K1_ALL_MET)
    leave.withdraw()
    leave.lend(100.01)
    assert not leave.granted(100.01)


def test_lending_k1_takes_the_leave_to_light_away_for_good() -> None:
    """It does not come back when K1's own leave ends within the same tenth of a second."""
    permit = Permit()
    assert permit.renew(100.0, ALL_MET)
    permit.lend_k1(100.0)
    permit.k1.withdraw()
    assert not permit.granted(100.01)


def test_leave_to_light_is_none_while_k1_is_lent_whatever_is_left_of_it() -> None:
    """Even where nobody has taken it away: banks ask at any moment, from any thread."""
    permit = Permit()
    assert permit.renew(10.0, ALL_MET)
    permit.k1.lend(10.0)
    assert not permit.granted(10.0)
