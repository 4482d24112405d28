"""How far light creeps under the artwork."""

import pytest

from sumlight.craft.contact import creep_um, line_growth, source_half_angle_deg


@pytest.mark.parametrize(
    ("gap_um", "angle_deg", "one", "both"), [(100, 10, 17.63, 35.27), (175, 20, 63.69, 127.39), (50, 45, 50, 100)]
)
def test_a_gap_spreads_by_similar_triangles(gap_um: float, angle_deg: float, one: float, both: float) -> None:
    """Vectors of the reference values §6."""
    found = line_growth(angle_deg, gap_um=gap_um, image_towards_resist=True)
    assert (found.per_edge_um, found.per_line_um) == pytest.approx((one, both), abs=0.006)


def test_light_runs_steeper_inside_a_film() -> None:
    """n 1.5, 45°, 38 µm: 20.312 µm (Snell; reference values §6)."""
    assert creep_um(38.0, 45.0, 1.5) == pytest.approx(20.312, abs=5e-4)


def test_grazing_light_is_bounded_inside_polyester() -> None:
    """n 1.6 never passes 38.7°: 20 µm of cover at most 16 µm, 100 µm of base 80 µm (project's trade notes 1.2)."""
    assert creep_um(20.0, 89.99, 1.6) == pytest.approx(16.0, abs=0.05)
    assert creep_um(100.0, 89.99, 1.6) == pytest.approx(80.0, abs=0.1)


def test_a_gap_of_50_um_at_60_degrees_is_87_um() -> None:
    """Project's trade notes 1.2."""
    assert creep_um(50.0, 60.0) == pytest.approx(86.6, abs=0.05)


def test_film_the_wrong_way_round_is_named() -> None:
    """The base lies between image and resist."""
    found = line_growth(50, gap_um=5, image_towards_resist=False, cover_um=20)
    assert "turn the artwork" in found.sentence
    right = line_growth(50, gap_um=5, image_towards_resist=True, cover_um=20)
    assert found.per_edge_um > right.per_edge_um + 40


def test_a_gap_is_named_when_it_matters_most() -> None:
    """Vacuum or dust."""
    assert "vacuum" in line_growth(60, gap_um=50, image_towards_resist=True, cover_um=20, resist_um=38).sentence


def test_good_contact_is_said_to_be_good() -> None:
    """Nothing above 5 µm."""
    assert "contact is good" in line_growth(10, gap_um=5, image_towards_resist=True, cover_um=15).sentence


def test_a_wide_bank_close_by_shines_from_aside() -> None:
    """160 mm to the side at 80 mm: 63.4°."""
    assert source_half_angle_deg(160, 80) == pytest.approx(63.435, abs=1e-3)


@pytest.mark.parametrize(("thickness", "angle", "index"), [(-1, 45, 1), (10, 90, 1), (10, 45, 0.9)])
def test_impossible_layers_are_refused(thickness: float, angle: float, index: float) -> None:
    """The message says what is allowed."""
    with pytest.raises(ValueError, match="must"):
        creep_um(thickness, angle, index)
