"""The colour of the light: which lamp, how old, and what else shines in."""

import pytest

from sumlight.light.fingerprint import Comparison, Fingerprint, compare, fingerprint

# Basic counts over 415 nm made from channel curves of the datasheet and mercury lines; invented lamps, as in the twin.
PHOSPHOR = (0.063, 0.0034, 0.0034, 0.0034, 0.720, 0.0034)
LINES = (0.937, 0.792, 0.0161, 0.0004, 0.167, 0.0035)
DAYLIGHT = (0.60, 0.75, 0.90, 0.98, 1.41, 1.18)
"""For 1 mW/cm² of daylight."""


def seen(phosphor: float = 1.0, lines: float = 1.0, daylight: float = 0.0) -> list[float]:
    """Six channels under fluorescent tubes."""
    return [p * phosphor + li * lines + d * daylight for p, li, d in zip(PHOSPHOR, LINES, DAYLIGHT, strict=True)]


def print_of(counts: list[float]) -> Fingerprint:
    """With noise as at 7,900 counts: a count and a half, and 0.05 %."""
    return fingerprint(counts, [2e-4 + 5e-4 * c for c in counts])


def against_new(counts: list[float]) -> Comparison:
    """Compared with seasoned tubes."""
    return compare(print_of(counts), print_of(seen()))


def test_the_same_light_is_the_same() -> None:
    """Brighter or darker by temperature makes no difference."""
    found = against_new([0.8 * c for c in seen()])
    assert (found.verdict, found.fault) == ("same", False)
    assert found.distance < 0.01


@pytest.mark.parametrize("life", [0.3, 0.6, 1.0])
def test_ageing_is_drift_not_a_fault(life: float) -> None:
    """Phosphor down to 60 %, lines to 85 % in a life."""
    found = against_new(seen(1 - 0.4 * life, 1 - 0.15 * life))
    assert (found.verdict, found.fault) == ("drifting", False)


@pytest.mark.parametrize(
    "counts",
    [
        pytest.param([1.0, 1.137, 0.025, 0.136, 0.541, 0.0042], id="clear glass, other phosphor"),
        pytest.param([1.0, 0.202, 0.202, 0.202, 39.05, 0.202], id="LED 365 nm"),
        pytest.param([1.0, 0.0041, 0.0018, 0.0018, 0.593, 0.0018], id="LED 385 nm"),
        pytest.param([1.0, 0.0079, 0.0004, 0.0004, 0.154, 0.0004], id="LED 395 nm"),
        pytest.param([1.0, 0.0274, 0.0002, 0.0002, 0.0728, 0.0002], id="LED 405 nm"),
    ],
)
def test_another_kind_of_lamp_is_named_and_a_fault(counts: list[float]) -> None:
    """Each of the twin's other lamps."""
    found = against_new(counts)
    assert (found.verdict, found.fault) == ("other_lamp", True)


def test_new_tubes_of_the_same_kind_in_place_of_old_ones_are_noticed() -> None:
    """The clear channel never rises by ageing."""
    found = compare(print_of(seen()), print_of(seen(0.6, 0.85)))
    assert found.verdict == "other_lamp"


@pytest.mark.parametrize(("daylight", "fault"), [(0.01, False), (0.1, True), (0.3, True)])
def test_daylight_is_named_and_above_a_limit_a_fault(daylight: float, fault: bool) -> None:
    """It reaches the channels where the tubes give nothing."""
    found = against_new(seen(daylight=daylight))
    assert (found.verdict, found.fault) == ("foreign_light", fault)


def test_daylight_is_named_on_old_tubes_too() -> None:
    """Ageing and a leak at once: the leak is said first."""
    assert against_new(seen(0.6, 0.85, 0.1)).verdict == "foreign_light"


def test_a_green_line_alone_is_no_daylight() -> None:
    """Daylight reaches 480 nm and near infrared as well."""
    counts = seen()
    counts[3] += 0.03
    assert against_new(counts).verdict != "foreign_light"


def test_a_missing_filter_is_named() -> None:
    """Near infrared and clear rise, green hardly."""
    found = against_new([1.0, 0.845, 0.0219, 0.0053, 1.195, 0.0555])
    assert (found.verdict, found.fault) == ("filter_gone", True)


def test_noise_alone_names_nothing() -> None:
    """Weak light with much noise is no reason to stop."""
    noisy = fingerprint([c * 1.02 + 0.02 for c in seen()], [0.02] * 6)
    assert compare(noisy, print_of(seen())).verdict == "same"


@pytest.mark.parametrize(("counts", "sigmas"), [([1.0] * 5, [0.1] * 5), ([0.01] * 6, [0.1] * 6)])
def test_too_few_channels_or_too_little_light_is_refused(counts: list[float], sigmas: list[float]) -> None:
    """A fingerprint needs light."""
    with pytest.raises(ValueError, match=r"six channels|too little light"):
        fingerprint(counts, sigmas)
