"""How a part of a tube's light falls with the hours of burning: five forms, none of them the estimator's alone."""

import math
from dataclasses import dataclass
from functools import cached_property
from typing import Literal

Form = Literal["power", "stretched", "two_rates", "late_fall", "straight"]
FORMS: tuple[Form, ...] = ("power", "stretched", "two_rates", "late_fall", "straight")


@dataclass(frozen=True)
class Decay:
    """A form that leaves `left` of the new light after `life_h` hours.

    `shape` bends it: hours from which a power law bites, exponent of a stretched exponential or of a late fall, share
    that fades four times as fast as the rest, nothing for a straight line. On top, `early` of the light goes with
    `early_h` hours as time constant.
    """

    form: Form
    left: float
    life_h: float
    shape: float
    early: float
    early_h: float

    def at(self, hours: float) -> float:
        """Share of the new light."""
        seasoning = 1 - self.early * -math.expm1(-hours / self.early_h)
        return seasoning * self._form(hours)

    @cached_property
    def _slow_left(self) -> float:
        """What the slow part has left at the end of life, so that both together leave `left`; by bisection."""
        low, high = 0.0, 1.0
        for _ in range(60):
            middle = (low + high) / 2
            less = self.shape * middle**4 + (1 - self.shape) * middle < self.left
            low, high = (middle, high) if less else (low, middle)
        return (low + high) / 2

    def _form(self, hours: float) -> float:
        share, loss = hours / self.life_h, -math.log(self.left)
        match self.form:
            case "power":
                return math.pow(1 + hours / self.shape, -loss / math.log1p(self.life_h / self.shape))
            case "stretched":
                return math.exp(-loss * math.pow(share, self.shape)) if hours > 0 else 1.0
            case "two_rates":
                slow = math.pow(self._slow_left, share)
                return self.shape * slow**4 + (1 - self.shape) * slow
            case "late_fall":
                return 1 / (1 + (1 / self.left - 1) * math.pow(share, self.shape))
            case "straight":
                return max(0.05 * self.left, 1 - (1 - self.left) * share)
