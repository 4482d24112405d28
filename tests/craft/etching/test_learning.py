"""What is learned from comparisons: closed form where all is linear, a brute sum over all four unknowns where not."""

import numpy as np
import pytest

from sumlight.craft.etching.learning import (
    COMPARED_SD_UM,
    FILM_SD_UM,
    LIGHT_SD_UM,
    PANEL_SD_UM,
    TAIL,
    Seen,
    bath_um,
    learn,
    next_use,
)


def test_without_a_comparison_the_stated_guess_comes_back() -> None:
    """Etch factor 1 to 2 with its middle at the root of 2, biases about 0."""
    found = learn([], thickness_um=150)
    assert found.count == 0
    assert (found.factor.low, found.factor.middle, found.factor.high) == pytest.approx((1, 2**0.5, 2), rel=0.02)
    assert (found.over_etch.low, found.over_etch.high) == pytest.approx((1.03, 1.4), rel=0.02)
    assert (found.film_um.middle, found.film_um.high) == pytest.approx((0, TAIL * FILM_SD_UM))


def test_films_alone_are_a_weighted_mean() -> None:
    """Closed form: precisions add up (conjugate Gaussian; Gelman et al., Bayesian Data Analysis, §2.5)."""
    sd2 = COMPARED_SD_UM**2 + PANEL_SD_UM**2
    values = (12.0, 18.0, 9.0)
    found = learn([Seen("film", value) for value in values], thickness_um=150)
    precision = 1 / FILM_SD_UM**2 + len(values) / sd2
    assert found.film_um.middle == pytest.approx(sum(values) / sd2 / precision)
    assert found.film_um.high - found.film_um.middle == pytest.approx(TAIL / precision**0.5)
    assert (found.light_um.middle, found.light_um.high) == pytest.approx((0, TAIL * LIGHT_SD_UM))
    assert (found.factor.middle, found.count) == (pytest.approx(2**0.5, rel=0.02), 3)


def test_a_developed_panel_splits_between_film_and_light() -> None:
    """It shows their sum: each gets its share of the variance (conjugate Gaussians, as above), and the bath nothing."""
    sd2 = COMPARED_SD_UM**2 + PANEL_SD_UM**2
    total = FILM_SD_UM**2 + LIGHT_SD_UM**2 + sd2
    found = learn([Seen("panel", 30.0)], thickness_um=150)
    assert found.film_um.middle == pytest.approx(30 * FILM_SD_UM**2 / total)
    assert found.light_um.middle == pytest.approx(30 * LIGHT_SD_UM**2 / total)
    assert found.light_um.high - found.light_um.middle == pytest.approx(
        TAIL * LIGHT_SD_UM * (1 - LIGHT_SD_UM**2 / total) ** 0.5
    )
    assert found.factor.middle == pytest.approx(2**0.5, rel=0.02)


def test_what_the_next_films_would_use_says_reach_and_undercut() -> None:
    """R = k·T/2 and u = R/F (compensation), of the very numbers that are proposed."""
    told = next_use(learn([Seen("waist", 40.0, 200.0)], thickness_um=200), 200, "waist")
    factor, k = (float(told.values[name]) for name in ("factor", "k"))  # type: ignore[arg-type]
    assert told.values["reach"] == pytest.approx(k * 100)
    assert told.values["undercut"] == pytest.approx(k * 100 / factor)
    assert f"reaches {k * 100:.0f} µm and undercuts {k * 100 / factor:.0f} µm" in told


def test_a_part_splits_what_it_shows_as_a_brute_sum_does() -> None:
    """Two hundred thousand draws from the priors, weighted by how well they explain the same four comparisons."""
    seen = [Seen("film", 8.0), Seen("resist", -4.0), Seen("waist", 45.0, 150), Seen("surface", 62.0, 150)]
    found = learn(seen, thickness_um=150)
    chance = np.random.default_rng(5)
    film, light = chance.normal(0, FILM_SD_UM, 200_000), chance.normal(0, LIGHT_SD_UM, 200_000)
    ends = [(np.log(1.0), np.log(2.0)), (np.log(1.03), np.log(1.4))]
    factor, over = (np.exp(chance.normal((low + high) / 2, (high - low) / (2 * TAIL), 200_000)) for low, high in ends)
    allowed = (factor >= 0.8) & (factor <= 6) & (over > 1)
    film, light, factor, over = film[allowed], light[allowed], factor[allowed], over[allowed]
    surface = over * 75 / factor
    waist = np.sqrt(over**2 - 1) * 75 / factor
    off = (film - 8) ** 2 + (light + 4) ** 2 + (film + light + waist - 45) ** 2 + (film + light + surface - 62) ** 2
    weight = np.exp(-off / 2 / (COMPARED_SD_UM**2 + PANEL_SD_UM**2))
    for name, values in (("film_um", film), ("light_um", light), ("draw_um", film + light + waist)):
        mean = float(np.average(values, weights=weight))
        sd = float(np.sqrt(np.average((values - mean) ** 2, weights=weight)))
        belief = getattr(found, name)
        assert belief.middle == pytest.approx(mean, abs=0.5)
        assert belief.high - belief.middle == pytest.approx(TAIL * sd, rel=0.1)
    for name, values in (("factor", factor), ("over_etch", over)):
        assert getattr(found, name).middle == pytest.approx(
            float(np.exp(np.average(np.log(values), weights=weight))), rel=0.02
        )


def test_more_coupons_come_nearer_to_what_the_bath_does() -> None:
    """A bath of F 1.7 at k 1.25, film 6, light -3: what to draw closes in on the truth, and its band narrows."""
    chance = np.random.default_rng(2)
    true = {at: 6 - 3 + bath_um(at, 1.7, 1.25, 150) for at in ("waist", "surface")}
    bands = []
    for count in (1, 4, 16):
        seen = [Seen("film", 6 + chance.normal(0, 5)) for _ in range(count)]
        seen += [Seen(at, true[at] + chance.normal(0, 5), 150) for at in true for _ in range(count)]
        found = learn(seen, thickness_um=150)
        assert found.draw_um.low < true["waist"] < found.draw_um.high
        bands.append(found.draw_um.high - found.draw_um.low)
    assert bands[0] > 1.5 * bands[1] > 2 * bands[2]
    assert learn(seen, thickness_um=150) == learn(seen, thickness_um=150)


def test_the_bath_eats_as_compensation_says() -> None:
    """F 1: a sphere about each point of an opening, 60 µm wide after 60 µm, and sqrt(60² - 50²) at 50 µm deep."""
    assert bath_um("surface", 1.0, 1.2, 100) == pytest.approx(60)
    assert bath_um("waist", 1.0, 1.2, 100) == pytest.approx((60**2 - 50**2) ** 0.5)


@pytest.mark.parametrize(
    ("made", "told"),
    [
        (lambda: Seen("board", 3.0), "what"),
        (lambda: Seen("waist", 3.0), "thickness_um"),
        (lambda: Seen("film", 3e4), "growth_um"),
        (lambda: Seen("film", 3.0, sd_um=0), "sd_um"),
        (lambda: learn([], thickness_um=1), "thickness_um"),
        (lambda: learn([], thickness_um=100, wanted_at="foot"), "wanted_at"),
    ],
)
def test_what_cannot_be_is_refused_by_name(made: object, told: str) -> None:
    """With the field."""
    assert callable(made)
    with pytest.raises(ValueError, match=told):
        made()
