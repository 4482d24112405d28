"""What is too small, and the rule that says so."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sumlight.craft.etching.limits import FEATURES, smallest


@pytest.mark.parametrize(
    ("feature", "thickness_um", "metal", "limit_um", "rule"),
    [
        ("hole", 150, "brass", 165, "hole at least 1.1 T"),  # reference values 60; craft reference S32 says the same
        ("hole", 300, "steel", 300, "hole at least 1 T"),
        ("hole", 300, "brass", 330, "hole at least 1.1 T"),
        ("hole", 50, "brass", 75, "hole at least 75 µm"),  # craft reference S32, below 0.125 mm
        ("slot", 80, "steel", 96, "slot at least 1.2 T"),
        ("line", 200, "brass", 160, "line at least 0.8 T"),
        ("line", 200, "steel", 200, "line at least 1 T"),
        ("line", 35, "copper", 50, "smallest that prints"),
        ("web", 200, "brass", 250, "web between slots at least 1.25 T"),  # craft reference S34
        ("inside-corner", 200, "brass", 200, "inside corner at least 1 T"),  # craft reference S33
        ("outside-corner", 200, "brass", 150, "outside corner at least 0.75 T"),
    ],
)
def test_published_rules(feature: str, thickness_um: float, metal: str, limit_um: float, rule: str) -> None:
    """As the makers print them; the largest holds and is named."""
    found = smallest(feature, thickness_um, metal)
    assert (found.smallest_um, found.rule) == (pytest.approx(limit_um), rule)
    assert found.source


def test_a_tab_keeps_its_thickness_after_the_undercut() -> None:
    """T 150, factor 1.5, over-etch 1.2: 150 + 2·90/1.5 (common practice, craft reference E 20)."""
    assert smallest("tab", 150, factor=1.5).smallest_um == pytest.approx(270)


def test_a_coarse_scan_sets_the_limit() -> None:
    """Five dots of 300 dpi are 423 µm."""
    found = smallest("hole", 150, scan_dpi=300)
    assert found.smallest_um == pytest.approx(5 * 25400 / 300)
    assert found.rule == "5 dots of the scan"


@given(feature=st.sampled_from(FEATURES), thickness_um=st.floats(5, 2400))
def test_thicker_sheet_is_never_finer(feature: str, thickness_um: float) -> None:
    """A quarter more bridges the small steps down where the makers' rules change."""
    assert smallest(feature, thickness_um * 1.25).smallest_um >= smallest(feature, thickness_um).smallest_um


def test_unknown_features_and_thicknesses_are_named() -> None:
    """With what is allowed."""
    with pytest.raises(ValueError, match="feature must be one of hole, slot"):
        smallest("fold", 150)
    with pytest.raises(ValueError, match="thickness_um must lie between 5 and 3000, not -1"):
        smallest("hole", -1)
