"""A panel with dry-film resist: exposed by a true dose, developed, and read as a person reads it.

The resist is hard where its effective dose reached the panel's threshold, washes out clean below a share of it, and
leaves a soft residue between. What is read is all that a user of the box ever learns of this.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from random import Random
from typing import Final, Literal

from sumlight.twin import optics

STEPS: Final = 21
STEP_DENSITY: Final = 0.15
FIRST_DENSITY: Final = 0.05
"""The usual tablet: 21 steps from 0.05 to 3.05 (reference values §5)."""

Place = Literal["held", "residue", "clean"]
"""What is left of the resist at one place: all of it, something soft, nothing."""


@dataclass(frozen=True)
class Resist:
    """A lot of resist, all figures invented.

    `threshold_mj_cm2` is the actinic dose at the resist that just holds, for lamps of `reference_mw_cm2`. Panels
    scatter about it by `panel_sigma` (relative), zones of one panel by `zone_sigma` more. Below `clean_share` of the
    threshold nothing is left. `reciprocity_p` is the exponent of E · t^p = const: 1 counts dose alone, below 1 weak
    light needs more dose. `peak_nm` and `fwhm_nm` are its sensitivity; other values than the ordinary ones make it
    see lamps otherwise than the actinic dose says.
    """

    threshold_mj_cm2: float = 6.5
    panel_sigma: float = 0.034
    zone_sigma: float = 0.013
    clean_share: float = 0.4
    reciprocity_p: float = 1.0
    reference_mw_cm2: float = optics.NOMINAL_MW_CM2
    peak_nm: float = optics.RESIST_PEAK_NM
    fwhm_nm: float = optics.RESIST_FWHM_NM

    def effective_mj_cm2(self, dose_mj_cm2: float, irradiance_mw_cm2: float | None = None) -> float:
        """The dose at the reference irradiance that hardens as much as this one did at `irradiance_mw_cm2`."""
        if irradiance_mw_cm2 is None or self.reciprocity_p == 1.0:
            return dose_mj_cm2
        return dose_mj_cm2 * math.pow(irradiance_mw_cm2 / self.reference_mw_cm2, 1 / self.reciprocity_p - 1)

    def seen_share(self, lamp_type: str, band: float = 1.0, lines: float = 1.0) -> float:
        """What the resist makes of a lamp's light over what the actinic dose says; 1 under ordinary seasoned lamps.

        `band` and `lines` are what is left of the lamp's nominal light (`Lamp.left`).
        """

        def over(lamp: str, band: float, lines: float) -> float:
            own, actinic = optics.resist_answer(lamp, self.peak_nm, self.fwhm_nm), optics.actinic(lamp)
            seen = own.phosphor * band + own.lines * lines
            return seen / (actinic.phosphor * band + actinic.lines * lines)

        return over(lamp_type, band, lines) / over("fluorescent", 1.0, 1.0)


@dataclass(frozen=True)
class Artwork:
    """Film with an image: optical density of its clear and of its black parts in the UV."""

    clear_density: float = 0.06
    opaque_density: float = 2.5


@dataclass(frozen=True)
class ArtworkRead:
    """What came out under the clear and under the black parts of an artwork; right is held and clean."""

    lines: Place
    blacks: Place


@dataclass(frozen=True)
class HeldStep:
    """A developed tablet as it is read.

    `step` is the last step fully held, "all_held" or "all_gone"; `half` says that the next one is more than half
    there. `first_clean` is the first step without any residue, None if there is none.
    """

    step: int | Literal["all_held", "all_gone"]
    half: bool
    first_clean: int | None

    @property
    def first_cleared(self) -> int | None:
        """The same reading by the other convention: first step with a loss of resist; None if all are held."""
        if self.step == "all_held":
            return None
        return 1 if self.step == "all_gone" else self.step + 1


def step_density(step: float) -> float:
    """Density of a step of the tablet, counted from 1."""
    return FIRST_DENSITY + STEP_DENSITY * (step - 1)


class Panel:
    """One laminated panel. The same `seed` gives the same panel; zones go by name, each with its own scatter."""

    def __init__(self, resist: Resist, seed: int | str) -> None:
        self.resist = resist
        self._seed = seed
        self.threshold_mj_cm2 = resist.threshold_mj_cm2 * self._scatter("panel", resist.panel_sigma)

    def zone_threshold_mj_cm2(self, zone: str = "1") -> float:
        """The true threshold in one zone."""
        return self.threshold_mj_cm2 * self._scatter(f"zone {zone}", self.resist.zone_sigma)

    def develop_place(self, dose_mj_cm2: float, irradiance_mw_cm2: float | None = None, zone: str = "1") -> Place:
        """What is left where the resist got this dose at this irradiance (None: the reference's)."""
        effective = self.resist.effective_mj_cm2(dose_mj_cm2, irradiance_mw_cm2)
        threshold = self.zone_threshold_mj_cm2(zone)
        if effective >= threshold:
            return "held"
        return "residue" if effective > self.resist.clean_share * threshold else "clean"

    def develop_tablet(self, dose_mj_cm2: float, irradiance_mw_cm2: float | None = None, zone: str = "1") -> HeldStep:
        """Read a tablet that lay on the resist; the dose is the true one above the tablet."""

        def behind(step: float) -> Place:
            return self._behind(step_density(step), dose_mj_cm2, irradiance_mw_cm2, zone)

        seen = [behind(step) for step in range(1, STEPS + 1)]
        held = seen.count("held")
        first_clean = seen.index("clean") + 1 if "clean" in seen else None
        if held in (0, STEPS):
            return HeldStep("all_held" if held else "all_gone", False, first_clean)
        return HeldStep(held, behind(held + 0.5) == "held", first_clean)

    def develop_strip(
        self, doses_mj_cm2: Sequence[float], irradiance_mw_cm2: float | None = None, zone: str = "1"
    ) -> list[Place]:
        """Read a test strip: what is left at each of its doses."""
        return [self.develop_place(dose, irradiance_mw_cm2, zone) for dose in doses_mj_cm2]

    def develop_artwork(
        self, dose_mj_cm2: float, artwork: Artwork, irradiance_mw_cm2: float | None = None, zone: str = "1"
    ) -> ArtworkRead:
        """Read an image; the dose is the true one above the artwork."""
        clear, black = (
            self._behind(density, dose_mj_cm2, irradiance_mw_cm2, zone)
            for density in (artwork.clear_density, artwork.opaque_density)
        )
        return ArtworkRead(clear, black)

    def _behind(self, density: float, dose_mj_cm2: float, irradiance_mw_cm2: float | None, zone: str) -> Place:
        passed = 10**-density
        weak = None if irradiance_mw_cm2 is None else irradiance_mw_cm2 * passed
        return self.develop_place(dose_mj_cm2 * passed, weak, zone)

    def _scatter(self, part: str, sigma: float) -> float:
        chance = Random(f"{self._seed} {part}")  # noqa: S311 - a simulation, no secret
        return math.exp(chance.gauss(0.0, sigma))
