"""What is taken for the etch factor before this bench has compared a coupon: a guess with its width, never a line."""

from dataclasses import dataclass

from sumlight.craft.etching.factor import etch_factor

GUESSED = (1.0, 2.0)
"""The 5th and the 95th per cent of what trays do (common practice, no source; craft reference A8)."""


@dataclass(frozen=True)
class FactorBand:
    """The etch factor's 5th per cent, which eats furthest, its middle and its 95th per cent. `guessed`: no coupon."""

    low: float
    middle: float
    high: float
    guessed: bool

    @property
    def factors(self) -> tuple[float, ...]:
        """Each different factor once, from the one that eats least."""
        return tuple(sorted({self.low, self.middle, self.high}, reverse=True))


def factor_band(measured: float | None) -> FactorBand:
    """The band of a coupon's factor, which has no width, or of the guess.

    An edge moves by reach over factor, so that the band of edges has its ends at those of the factor. Raises as
    `etch_factor` does.
    """
    if measured is None:
        low, high = GUESSED
        return FactorBand(low, (low * high) ** 0.5, high, guessed=True)
    factor = etch_factor(measured)
    return FactorBand(factor, factor, factor, guessed=False)
