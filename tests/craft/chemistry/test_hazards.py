"""Every refusal: metals, pairs, waste, strengths."""

from itertools import combinations

import pytest

from sumlight.craft.checks import RefusedError
from sumlight.craft.chemistry.hazards import (
    CAUTIONS,
    KINDS,
    LIQUIDS,
    METALS,
    NAMES,
    check_peroxide_bath,
    check_peroxide_stock,
    container,
    groups_apart,
    refuse_meeting,
    refuse_metal,
    refuse_waste,
    why_apart,
)


@pytest.mark.parametrize(
    ("metal", "bath"),
    [
        *(("aluminium", bath) for bath in ("peroxide", "iron", "stripper", "caustic", "cupric", "persulfate")),
        *((metal, bath) for metal in ("zinc", "tin-lead") for bath in ("stripper", "caustic")),
    ],
)
def test_a_metal_that_runs_away_is_refused(metal: str, bath: str) -> None:
    """Aluminium in every etchant and in lye; zinc and tin-lead in lye."""
    with pytest.raises(RefusedError, match=f"Refused: {NAMES[metal]} does not go into {NAMES[bath]}"):
        refuse_metal(metal, bath)


@pytest.mark.parametrize("metal", ["copper", "brass", "bronze", "steel"])
@pytest.mark.parametrize("bath", ["iron", "developer", "stripper"])
def test_metals_of_the_bench_go_into_its_baths(metal: str, bath: str) -> None:
    """Or nobody could work."""
    refuse_metal(metal, bath)


ALKALIS, ETCHANTS = ("developer", "stripper", "caustic"), ("iron", "persulfate", "peroxide", "cupric")
APART = [
    *(("iron", "peroxide"), ("iron", "peroxide-stock"), ("cupric", "peroxide-stock")),
    *(("persulfate", "iron"), ("persulfate", "peroxide"), ("persulfate", "peroxide-stock"), ("persulfate", "acid")),
    *(("acid", "caustic"), ("acid", "stripper"), ("acid", "developer"), ("acid", "peroxide-stock"), ("acid", "bleach")),
    *(("iron", "bleach"), ("persulfate", "bleach"), ("peroxide", "bleach"), ("cupric", "bleach")),
    *(("peroxide-stock", "bleach"), ("peroxide-stock", "stripper"), ("peroxide-stock", "caustic")),
    *(("peroxide-stock", "developer"), ("peroxide-stock", "peroxide"), ("acid", "peroxide"), ("persulfate", "cupric")),
    *((alkali, etchant) for alkali in ALKALIS for etchant in ETCHANTS),
]
"""The issue's list (iron with peroxide, persulfate with iron, acid with caustic and bleach, developer or stripper with
etchant), and beside it what gives off chlorine or makes peroxide fall apart (textbook chemistry)."""


ALKALINE, ACIDIC = ALKALIS, (*ETCHANTS, "acid")
OXIDISERS, STRONG_ACID = ("persulfate", "peroxide", "peroxide-stock", "bleach"), "acid"
"""Our liquids in the groups of 40 CFR 265, appendix V (examples of potentially incompatible waste): 1-A alkaline
liquids and cleaners, 1-B etching acids and acids; 6-A hypochlorites, peroxides and other strong oxidisers, 6-B
concentrated mineral acids (the sixth from memory). Group 2-A holds aluminium."""


@pytest.mark.parametrize("alkaline", ALKALINE)
@pytest.mark.parametrize("acidic", ACIDIC)
def test_what_the_law_lists_as_heat_and_violent_reaction_is_refused(alkaline: str, acidic: str) -> None:
    """Groups 1-A and 1-B."""
    assert why_apart(alkaline, acidic)


@pytest.mark.parametrize("oxidiser", OXIDISERS)
def test_what_the_law_lists_as_fire_and_explosion_is_refused(oxidiser: str) -> None:
    """Groups 6-A and 6-B."""
    assert why_apart(oxidiser, STRONG_ACID)


@pytest.mark.parametrize("bath", ["stripper", "caustic", *ETCHANTS])
def test_the_law_s_reactive_metal_goes_into_no_alkali_and_no_etching_acid(bath: str) -> None:
    """Groups 2-A and 2-B. A developer is left out: its soda is thin, and aluminium is developed (common practice)."""
    with pytest.raises(RefusedError, match="gives off hydrogen"):
        refuse_metal("aluminium", bath)


CONTENTS = {
    "developer": {"alkali"},
    "stripper": {"alkali"},
    "caustic": {"alkali"},
    "iron": {"acid", "iron"},
    "persulfate": {"acid", "persulfate"},
    "peroxide": {"acid", "chloride acid", "peroxide"},
    "cupric": {"acid", "chloride acid", "copper"},
    "acid": {"acid", "chloride acid"},
    "peroxide-stock": {"peroxide"},
    "bleach": {"bleach"},
}
REACTS = [
    *({"acid", "alkali"}, {"acid", "bleach"}, {"chloride acid", "persulfate"}, {"peroxide", "alkali"}),
    *({"peroxide", "bleach"}, {"peroxide", "iron"}, {"peroxide", "copper"}, {"peroxide", "persulfate"}),
    *({"peroxide", "chloride acid"}, {"persulfate", "iron"}),
]
"""What is in each liquid, and what of it reacts (textbook chemistry, from memory)."""
OF_ONE_KIND = {frozenset(("peroxide", "cupric"))}
"""The peroxide bath turns into copper chloride as it is used: it holds both from its first panel on."""


@pytest.mark.parametrize(("one", "other"), list(combinations(CONTENTS, 2)))
def test_a_pair_is_apart_just_when_something_in_one_reacts_with_something_in_the_other(one: str, other: str) -> None:
    """Neither forgotten nor refused without need."""
    reacts = any({a, b} in REACTS for a in CONTENTS[one] for b in CONTENTS[other])
    assert (why_apart(one, other) is not None) == (reacts and frozenset((one, other)) not in OF_ONE_KIND)


def test_the_table_holds_these_pairs_and_no_other() -> None:
    """A pair that is refused without need teaches people to pass over refusals."""
    apart = {frozenset(pair) for pair in combinations(LIQUIDS, 2) if why_apart(*pair)}
    assert apart == {frozenset(pair) for pair in APART}


@pytest.mark.parametrize(("one", "other"), APART)
def test_pairs_that_must_not_meet_are_refused_from_either_side(one: str, other: str) -> None:
    """Whichever is named first."""
    for pair in ((one, other), (other, one)):
        assert why_apart(*pair)
        with pytest.raises(RefusedError, match=f"Refused: {NAMES[pair[0]]} and {NAMES[pair[1]]} must not meet: "):
            refuse_meeting(*pair)


@pytest.mark.parametrize("liquid", LIQUIDS)
def test_a_liquid_may_meet_itself(liquid: str) -> None:
    """A bath is topped up with its own kind."""
    refuse_meeting(liquid, liquid)


def test_chlorine_is_named_where_it_comes() -> None:
    """By the pair."""
    for pair in (("acid", "bleach"), ("acid", "peroxide-stock"), ("cupric", "peroxide-stock")):
        assert "chlorine" in str(why_apart(*pair))


@pytest.mark.parametrize(("kind", "container_kind"), list(combinations(KINDS, 2)))
def test_waste_goes_into_the_container_of_its_kind_only(kind: str, container_kind: str) -> None:
    """Both ways; and the danger is told first where there is one."""
    refuse_waste(kind, kind)
    for pair in ((kind, container_kind), (container_kind, kind)):
        with pytest.raises(RefusedError) as refused:
            refuse_waste(*pair)
        assert ("must not meet" in str(refused.value)) == (why_apart(*pair) is not None)


@pytest.mark.parametrize("kind", KINDS)
def test_a_container_is_plastic_with_a_vented_cap_and_says_who_decides(kind: str) -> None:
    """Its label carries the bath's own cautions."""
    found = container(kind)
    assert "plastic" in found.vessel
    assert "vented cap" in found.vessel
    label = " ".join(found.label)
    assert "Never a tight lid" in label
    assert "waste authority decides" in label
    assert "never goes into the drain" in label
    assert all(caution in found.label for caution in CAUTIONS[kind])


def test_gassing_baths_warn_of_lids_and_lye_of_its_burns() -> None:
    """Where the danger is."""
    assert all("never a tight lid" in " ".join(CAUTIONS[kind]) for kind in ("peroxide", "persulfate", "cupric"))
    assert all("do not hurt at first" in " ".join(CAUTIONS[kind]) for kind in ("stripper", "caustic"))
    assert all("no metal tools" in " ".join(CAUTIONS[kind]) for kind in ("iron", "persulfate", "peroxide", "cupric"))


def test_strengths_at_the_limit_pass_and_just_above_are_refused() -> None:
    """12 wt% of stock; 2.5 and 12 wt% in the bath."""
    check_peroxide_stock(12)
    check_peroxide_bath(2.5, 12)
    for refused in (lambda: check_peroxide_stock(12.01), lambda: check_peroxide_bath(2.51, 1)):
        with pytest.raises(RefusedError):
            refused()  # type: ignore[no-untyped-call]
    with pytest.raises(RefusedError, match="hydrochloric acid"):
        check_peroxide_bath(1, 12.01)


def test_unknown_words_are_no_permission() -> None:
    """A metal, a bath or a liquid that nobody knows is an error, not a yes."""
    for ask in (
        lambda: refuse_metal("magnesium", "iron"),
        lambda: refuse_metal("brass", "vinegar"),
        lambda: refuse_meeting("acid", "vinegar"),
        lambda: refuse_waste("vinegar", "iron"),
    ):
        with pytest.raises(ValueError, match="must be one of"):
            ask()  # type: ignore[no-untyped-call]
    assert "magnesium" not in METALS


def test_pairs_put_together_say_neither_more_nor_less_than_each_alone() -> None:
    """Every two liquids are asked for by themselves; each pair stands in one group only, with its own reason."""
    told = [(frozenset((one, other)), why) for ones, others, why in groups_apart() for one in ones for other in others]
    alone = {
        (frozenset((one, other)), why_apart(one, other))
        for one, other in combinations(LIQUIDS, 2)
        if why_apart(one, other)
    }
    assert set(told) == alone
    assert len(told) == len(alone)
