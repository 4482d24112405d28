"""The mercury lines against a second published list."""

import pytest

from sumlight.light.lines import MERCURY_LINES_NM

# NIST Atomic Spectra Database, wavelengths in air of Hg I, as quoted in the project's reference values (§4).
# The handbook's values, which the package uses, are shorter by less than a picometre.
ASD_NM = {"i": 365.0158, "h": 404.6565, "g": 435.8335}


@pytest.mark.parametrize("line", ASD_NM)
def test_each_mercury_line_agrees_with_the_spectra_database(line: str) -> None:
    """Two published lists differ by no more than one picometre."""
    assert MERCURY_LINES_NM[line] == pytest.approx(ASD_NM[line], abs=0.001)


def test_there_are_exactly_the_three_lithography_lines() -> None:
    """No line is missing and none is added."""
    assert sorted(MERCURY_LINES_NM) == sorted(ASD_NM)
