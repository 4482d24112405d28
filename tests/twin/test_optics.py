"""Spectra and channel responses of the twin against published figures."""

import pytest

from sumlight.twin import optics

# Datasheet DS000504 v3-00 of the sensor, as quoted in the project's reference values (§4).
PUBLISHED_NM = {
    "F1": (415, 26),
    "F2": (445, 30),
    "F3": (480, 36),
    "F4": (515, 39),
    "F5": (555, 39),
    "F6": (590, 40),
    "F7": (630, 50),
    "F8": (680, 52),
}


def test_channels_stand_where_the_datasheet_has_them() -> None:
    """Peaks and widths, number by number."""
    assert PUBLISHED_NM == optics.CHANNELS


@pytest.mark.parametrize("channel", PUBLISHED_NM)
def test_a_channel_is_half_as_sensitive_half_its_width_away(channel: str) -> None:
    """That is what full width at half maximum means."""
    peak_nm, fwhm_nm = PUBLISHED_NM[channel]
    for side in (-0.5, 0.5):
        assert optics.channel_response(channel, peak_nm + side * fwhm_nm) == pytest.approx(0.5, abs=0.001)


@pytest.mark.parametrize(
    ("channel", "wavelength_nm", "response"),
    [
        ("F1", 365.0, 3.5e-5),
        ("F1", 404.7, 0.647),
        ("F1", 435.8, 0.170),
        ("F2", 435.8, 0.770),
    ],
)
def test_channels_answer_to_the_mercury_lines_as_tabulated(channel: str, wavelength_nm: float, response: float) -> None:
    """Gaussian responses of the reference values (§4, rounded wavelengths), over the floor that filters leak."""
    found = optics.channel_response(channel, wavelength_nm) - optics.OUT_OF_BAND
    assert found == pytest.approx(response, abs=0.0005 if response > 0.01 else 5e-7)


def test_the_violet_channel_follows_the_lines_not_the_ultraviolet() -> None:
    """Under a UV-A tube F1 is a proxy: most of its counts come from the lines, most of the dose does not."""
    f1, dose = optics.counts("F1"), optics.actinic()
    assert f1.lines > 10 * f1.phosphor
    assert dose.phosphor > 10 * dose.lines


def test_a_nominal_bank_gives_five_milliwatts_and_eight_thousand_counts() -> None:
    """5 mW/cm² at gain 16 and 50 ms fill some 44 % of the 18000 counts."""
    dose, f1 = optics.actinic(), optics.counts("F1")
    assert dose.phosphor + dose.lines == pytest.approx(5.0)
    assert (f1.phosphor + f1.lines) * 16 * 0.050 == pytest.approx(8000, rel=0.02)


def test_no_channel_outruns_the_violet_one_under_the_lamps() -> None:
    """So F1 decides the gain; the near infrared sees almost nothing of the lamps."""
    f1 = optics.counts("F1")
    for channel in ("F2", "F3", "F4", "CLEAR"):
        other = optics.counts(channel)
        assert other.phosphor + other.lines < f1.phosphor + f1.lines
    nir = optics.counts("NIR")
    assert nir.phosphor + nir.lines < 0.01 * (f1.phosphor + f1.lines)


def test_daylight_shows_in_the_near_infrared() -> None:
    """That is how it can be told from the lamps; a little of it exposes the resist."""
    assert optics.counts("NIR").daylight > optics.counts("F1").daylight
    assert 0.005 < optics.actinic().daylight < 0.1


@pytest.mark.parametrize("lamp", ["fluorescent", "led_385"])
def test_a_clear_sheet_passes_all_light_alike(lamp: str) -> None:
    """Its true transmission is its visible one, whatever the lamps' age."""
    assert optics.sheet_transmission(optics.Sheet(0.918), lamp, band=0.6, lines=0.85) == pytest.approx(0.918)


def test_a_sheet_that_blocks_uv_fools_the_violet_channel_but_not_the_clear_one() -> None:
    """F1 sees most of the mercury light behind it, the resist next to nothing; Clear, which has some UV, tells."""
    sheet = optics.Sheet(1.0, blocks_uv=True)
    assert optics.sheet_transmission(sheet) < 0.02
    seen = {}
    for channel in ("F1", "CLEAR"):
        behind, bare = optics.counts(channel, uv_blocked=True), optics.counts(channel)
        seen[channel] = (behind.phosphor + behind.lines) / (bare.phosphor + bare.lines)
    assert seen["F1"] > 0.75
    assert seen["CLEAR"] < 0.2
    assert sheet.at(450.0) == pytest.approx(1.0, abs=1e-4)
    assert sheet.at(398.0) == pytest.approx(0.5)


def test_without_the_filter_glass_the_near_infrared_comes_through() -> None:
    """Ten times the near infrared and half as much again of Clear over F1, but F1 itself barely a fifth more."""
    with_glass, without = (
        {
            channel: optics.counts(channel, filter_fitted=fitted).phosphor
            + optics.counts(channel, filter_fitted=fitted).lines
            for channel in ("F1", "CLEAR", "NIR")
        }
        for fitted in (True, False)
    )
    assert without["NIR"] > 8 * with_glass["NIR"]
    assert 1.1 < without["F1"] / with_glass["F1"] < 1.3
    assert without["CLEAR"] / without["F1"] > 1.3 * with_glass["CLEAR"] / with_glass["F1"]
    assert optics.counts("NIR", filter_fitted=False).daylight > 10 * optics.counts("NIR").daylight
