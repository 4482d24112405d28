"""What has changed from version to version, as the box itself tells it."""

from dataclasses import dataclass, field
from functools import cache
from importlib.resources import files

SECTION, GROUP, POINT = "## ", "### ", "- "


@dataclass
class Group:
    """Changes of one kind."""

    title: str
    points: list[str] = field(default_factory=list)


@dataclass
class Version:
    """One version with what is different in it."""

    title: str
    groups: list[Group] = field(default_factory=list)


@cache
def versions(language: str) -> tuple[Version, ...]:
    """All versions of the changelog that came with this program, newest first; in English if there is no other."""
    own = files("sumlight").joinpath(f"changes.{language}.md")
    found = own if own.is_file() else files("sumlight").joinpath("changes.md")
    return read(found.read_text(encoding="utf-8"))


def read(text: str) -> tuple[Version, ...]:
    """Versions of a changelog: `##` a version, `###` a group, `-` a point that may go on over indented lines.

    Raises ValueError for a line that belongs nowhere.
    """
    found: list[Version] = []
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith(GROUP) and found:
            found[-1].groups.append(Group(line.removeprefix(GROUP)))
        elif line.startswith(SECTION):
            found.append(Version(line.removeprefix(SECTION)))
        elif line.startswith(POINT) and found and found[-1].groups:
            found[-1].groups[-1].points.append(line.removeprefix(POINT))
        elif line.startswith("  ") and found and found[-1].groups and found[-1].groups[-1].points:
            found[-1].groups[-1].points[-1] += " " + line.strip()
        elif line and found:
            raise ValueError(f"changes.md, line {number}: no version, group or point: {line}")
    return tuple(found)
