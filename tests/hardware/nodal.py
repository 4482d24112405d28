"""A solver for resistive circuits by Kirchhoff's current law; it knows nothing of the box.

Sources keep their voltage up to a current limit and give that current beyond it, as a switched supply does.
"""

from dataclasses import dataclass, field

import numpy as np

TINY_OHM, LEAK_S = 1e-3, 1e-9
"""A wire's resistance, and what keeps a loose node from having no voltage at all."""


@dataclass
class Circuit:
    """Resistors between named nodes and one source; `earth` is the node of 0 V."""

    earth: str
    resistors: list[tuple[str, str, float]] = field(default_factory=list)

    def join(self, one: str, other: str, ohm: float = TINY_OHM) -> None:
        """A resistor between two nodes."""
        self.resistors.append((one, other, ohm))

    def solve(self, plus: str, minus: str, source_v: float, limit_a: float) -> tuple[dict[str, float], float]:
        """Voltages of all nodes against earth, and the source's current in A."""
        voltages, current_a = self._solved(plus, minus, source_v / TINY_OHM, 1 / TINY_OHM)
        if current_a > limit_a:
            voltages, _ = self._solved(plus, minus, limit_a, 0.0)
            current_a = limit_a
        return voltages, current_a

    def _solved(self, plus: str, minus: str, push_a: float, inner_s: float) -> tuple[dict[str, float], float]:
        names = sorted({name for one, other, _ in self.resistors for name in (one, other)} | {plus, minus, self.earth})
        at = {name: index for index, name in enumerate(names)}
        matrix, right = np.eye(len(names)) * LEAK_S, np.zeros(len(names))
        for one, other, ohm in [*self.resistors, *([(plus, minus, 1 / inner_s)] if inner_s else [])]:
            i, j, siemens = at[one], at[other], 1 / ohm
            matrix[i, i] += siemens
            matrix[j, j] += siemens
            matrix[i, j] -= siemens
            matrix[j, i] -= siemens
        right[at[plus]] += push_a
        right[at[minus]] -= push_a
        matrix[at[self.earth], at[self.earth]] += 1e6
        found = np.linalg.solve(matrix, right)
        voltages = dict(zip(names, (float(value) for value in found), strict=True))
        return voltages, push_a - inner_s * (voltages[plus] - voltages[minus])
