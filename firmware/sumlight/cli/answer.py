"""What a command that answers returns."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any


@dataclass(frozen=True)
class Answer:
    """What was found: `found` is printed as one object with --json, `lines` without; `status` is the exit status."""

    found: Mapping[str, Any]
    lines: Sequence[str] = ()
    status: int = 0
