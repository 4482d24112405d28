"""One measured figure and its goal."""

from dataclasses import asdict, dataclass
from typing import Any, Literal


@dataclass(frozen=True)
class Figure:
    """`measured` in `unit`, to be `at most` or `at least` the `limit`; without one it is only printed.

    A deadline measured on a machine that others kept busy is not `judged`: it neither passes nor fails.
    """

    name: str
    measured: float
    unit: str
    kind: Literal["at most", "at least", "for comparison"]
    limit: float | None = None
    judged: bool = True

    @property
    def passed(self) -> bool:
        """Whether no goal is missed."""
        if self.limit is None or not self.judged:
            return True
        return self.measured <= self.limit if self.kind == "at most" else self.measured >= self.limit

    @property
    def result(self) -> str:
        """The result in a word."""
        if not self.judged:
            return "not judged"
        return "pass" if self.passed else "FAIL"

    @property
    def goal(self) -> str:
        """The goal in words."""
        return self.kind if self.limit is None else f"{self.kind} {self.limit:g}"

    def as_json(self) -> dict[str, Any]:
        """As `--json` prints it."""
        kept = {key: value for key, value in asdict(self).items() if key in ("name", "measured", "unit")}
        return {**kept, "goal": self.goal, "pass": self.passed if self.judged else None}
