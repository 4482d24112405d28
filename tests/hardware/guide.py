"""The builder's guide, hardware/README.md, and the commands in it, each with the place that it is marked for."""

import re
from pathlib import Path

TEXT = (Path(__file__).parents[2] / "hardware" / "README.md").read_text(encoding="utf-8")

PLACES = ("tree", "guest", "fleet", "box")
COMMAND = r"(?:sudo|python3?|pip|PYPI=1|sumlight|hardware/install|systemctl|journalctl)\s"
NAME_ONLY = re.compile(r"sumlight \w+ \w+")
"""Speaks of a command of the program and is no line to type."""


def commands(text: str = TEXT) -> list[tuple[str, str]]:
    """Every command of the guide with the place it is marked for, or nothing."""
    found = []
    for match in re.finditer(rf"`({COMMAND}[^`]+)`(?:\s\*\((\w+)\)\*)?", text):
        line = " ".join(match[1].split())
        if not NAME_ONLY.fullmatch(line):
            found.append((line, match[2] or ""))
    for match in re.finditer(rf"^ {{4}}({COMMAND}[^`\n]+)$", text, re.MULTILINE):
        line, _, remark = match[1].partition("#")
        found.append((line.strip(), remark.partition(":")[0].strip()))
    return found


def commands_for(place: str) -> list[str]:
    """Those marked for one place, in the order of the guide."""
    return [line for line, marked in commands() if marked == place]
