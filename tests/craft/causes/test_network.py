"""The network: exact sums, priors and counts, and what nothing says."""

import itertools
import math

import pytest
from scipy import stats

from sumlight.craft.causes import network
from sumlight.craft.causes.facts import Facts, rest_of
from sumlight.craft.causes.network import Item, Network, items_of, shares
from sumlight.craft.causes.signs import CAUSES, SIGNS
from sumlight.craft.causes.table import TABLE


def of(*signs: str, **facts: object) -> Network:
    """A network that saw these."""
    return Network(items_of(signs, Facts(**facts)), shares())  # type: ignore[arg-type]


def test_sets_add_up_to_one() -> None:
    """Whatever was seen."""
    assert math.fsum(of("scum", "pitted", etch_share=1.3).sets.values()) == pytest.approx(1)


def test_knowing_nothing_leaves_the_prior() -> None:
    """None, one and two causes as often as is said, and the single ones as their shares."""
    net = of()
    for number, share in enumerate(network.AT_WORK):
        assert math.fsum(value for causes, value in net.sets.items() if len(causes) == number) == pytest.approx(share)
    single = {causes[0]: value for causes, value in net.sets.items() if len(causes) == 1}
    assert single == pytest.approx({name: network.AT_WORK[1] * share for name, share in shares().items()})


def test_a_set_is_weighed_as_bayes_rule_says() -> None:
    """Worked again here from the definition of a noisy-or, for one sign and causes that show it or do not."""
    sign = "fizzes"
    net = of(sign)
    earlier = [name for name, station in SIGNS.items() if station in ("develop", "image", "etch") and name != sign]
    prior = shares()

    def likelihood(name: str) -> float:
        product = 1.0
        for other in (sign, *earlier):
            shown = 1 - (1 - network.LEAK) * (1 - TABLE[name].shows.get(other, 0))
            put_on = shown * (1 - network.OVERLOOKED) + (1 - shown) * network.STRAY
            product *= put_on if other == sign else 1 - put_on
        return product

    for one, other in itertools.pairwise(CAUSES):
        expected = prior[one] * likelihood(one) / (prior[other] * likelihood(other))
        assert net.sets[(one,)] / net.sets[(other,)] == pytest.approx(expected)


def test_counts_are_those_of_a_dirichlet_prior() -> None:
    """Against scipy: the mean of the Dirichlet distribution with the counts added (conjugate to what is counted)."""
    confirmed = {"fogged": 7, "poor_contact": 2}
    weights = [TABLE[name].weight for name in CAUSES]
    alpha = [
        network.TABLE_WORTH * weight / sum(weights) + confirmed.get(name, 0)
        for name, weight in zip(CAUSES, weights, strict=True)
    ]
    assert list(shares(confirmed).values()) == pytest.approx(list(stats.dirichlet(alpha).mean()))


def test_what_this_bench_confirmed_counts() -> None:
    """After twenty confirmed cases the same signs point to it."""
    seen = items_of(("scum", "clears_late"), Facts())
    before, after = Network(seen, shares()), Network(seen, shares({"fogged": 20}))
    assert next(iter(after.of_causes)) == "fogged"
    assert after.of_causes["fogged"] > 1.5 * before.of_causes["fogged"]


def test_a_count_below_zero_is_refused() -> None:
    """It would take back what was confirmed."""
    with pytest.raises(ValueError, match="at least 0"):
        shares({"fogged": -1})


def test_a_sign_that_is_not_on_the_list_is_refused() -> None:
    """The list is closed."""
    with pytest.raises(ValueError, match="no sign is called glows"):
        items_of(("glows",), Facts())


def test_signs_of_later_stations_say_nothing_yet() -> None:
    """Who stopped at the developer has not looked at the etchant."""
    names = {item.name for item in items_of(("scum",), Facts())}
    assert names == {name for name, station in SIGNS.items() if station == "develop"}


def test_two_faults_at_once_are_both_found() -> None:
    """Neither hides the other: their signs are set apart, not averaged."""
    found = list(of("faces_apart", "wall_step", "strips_badly", "stains", faces_off_um=170.0).of_causes)
    assert set(found[:2]) == {"films_shifted", "stripper_weak"}


def test_a_wrong_number_does_not_overrule_everything() -> None:
    """Somebody wrote 120 months for 12: the signs still count."""
    found = list(of("faces_apart", "wall_step", roll_months=120.0).of_causes)
    assert "films_shifted" in found[:2]


def test_a_number_far_off_speaks_for_nothing_by_much() -> None:
    """Six steps above the one wanted: somebody misread the tablet as likely as anything."""
    item = Item("measure", "held_off", value=6.0)
    assert item.likelihood(("overexposed",)) / item.likelihood(()) < 100


@pytest.mark.parametrize(
    ("rested_s", "hold_s", "limit_s", "found"),
    [(60, 900, None, "short"), (850, 900, None, "kept"), (9000, 900, 8000, "long"), (0, None, None, "kept")],
)
def test_a_rest_is_judged_by_the_recipe(
    rested_s: float, hold_s: float | None, limit_s: float | None, found: str
) -> None:
    """A tenth short is no matter."""
    assert rest_of(rested_s, hold_s, limit_s) == found
