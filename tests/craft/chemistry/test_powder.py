"""Which soda powder it is."""

import pytest
from molmass import Formula

from sumlight.craft.chemistry.powder import ANSWERS, SHARES, powder_of, powder_of_oven


def test_four_answers_and_no_more() -> None:
    """Two are used at once; two ask for the oven first."""
    assert [powder_of(answer).share for answer in ANSWERS] == [1.0, pytest.approx(0.3704, abs=1e-4), None, None]
    assert all("Oven check" in powder_of(answer).sentence for answer in ("white-and-crumbly", "unknown"))
    assert "bicarbonate" in powder_of("dry-powder").sentence
    with pytest.raises(ValueError, match=r"powder must be one of dry-powder, .*, not 'washing powder'"):
        powder_of("washing powder")


@pytest.mark.parametrize(
    ("kind", "wet", "dry_moles"),
    [("crystals", "Na2CO3(H2O)10", 1), ("monohydrate", "Na2CO3(H2O)", 1), ("bicarbonate", "NaHCO3", 0.5)],
)
def test_what_the_oven_leaves_is_stoichiometry(kind: str, wet: str, dry_moles: float) -> None:
    """37, 85 and 63 %, by molmass."""
    assert SHARES[kind] == pytest.approx(dry_moles * Formula("Na2CO3").mass / Formula(wet).mass, rel=1e-4)


@pytest.mark.parametrize(
    ("after_g", "kind", "share"),
    [
        (3.7, "crystals", 0.37),
        (8.5, "monohydrate", 0.85),
        (10.0, "anhydrous", 1.0),
        (10.04, "anhydrous", 1.0),
        (5.0, "between", 0.5),
        (7.5, "between", 0.75),
        (6.3, "bicarbonate", None),
        (6.1, "bicarbonate", None),
        (1.0, "unknown", None),
    ],
)
def test_the_oven_check_is_read(after_g: float, kind: str, share: float | None) -> None:
    """Of 10 g. Near 63 % nothing is used as it is: half-dried crystals and kitchen soda look the same there."""
    found = powder_of_oven(10.0, after_g)
    assert (found.kind, found.share) == (kind, share if share is None else pytest.approx(share))
    assert f"{10 * after_g:.0f} % is left" in found.sentence


def test_published_exchange_of_powders() -> None:
    """52.5 g of monohydrate are 121 g of crystals; 45 g dry are 52.6 g of monohydrate (cinematography.com 60060)."""
    assert 52.5 * SHARES["monohydrate"] / SHARES["crystals"] == pytest.approx(121, abs=0.5)
    assert 45 / SHARES["monohydrate"] == pytest.approx(52.6, abs=0.1)


@pytest.mark.parametrize(("before_g", "after_g"), [(10, 10.2), (10, -1), (0, 0), (-5, -4), (0.5, 0.2)])
def test_weights_that_cannot_be_are_refused(before_g: float, after_g: float) -> None:
    """A powder does not gain."""
    with pytest.raises(ValueError, match="_g must"):
        powder_of_oven(before_g, after_g)
