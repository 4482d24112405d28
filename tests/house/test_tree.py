"""The tree in DEVELOPERS.md names every folder and module that is there, and none that is not."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.imports import PACKAGES, ROOT

LINE = re.compile(r"(?P<indent> *)(?P<folder>[\w/]+/) *(?P<rest>.*)")
LISTED = [*PACKAGES["sumlight"].rglob("__init__.py")]


def entries(text: str) -> dict[str, str]:
    """What the tree says of each folder, lines that go on put together."""
    block = re.search(r"```\n(firmware/sumlight/.*?)```", text, re.DOTALL)
    assert block is not None
    found: dict[str, str] = {}
    above: list[tuple[int, str]] = []
    for line in block[1].splitlines():
        match = LINE.fullmatch(line)
        if match is None:
            found[above[-1][1]] += f" {line.strip()}"
            continue
        indent = len(match["indent"])
        above = [(width, name) for width, name in above if width < indent]
        folder = (above[-1][1] if above else "") + match["folder"]
        above.append((indent, folder))
        found[folder] = match["rest"]
    return found


def modules_named(entry: str) -> list[str]:
    """The list before the dash."""
    return [word for word in re.split(r",\s*", re.split(r"(?:^|\s)–\s", entry)[0].strip()) if word]


TREE = entries((ROOT / "DEVELOPERS.md").read_text(encoding="utf-8"))


def folders() -> Iterator[str]:
    """Folders of the program that the tree must name, as it would."""
    for path in LISTED:
        folder = path.parent
        if any(module.stem != "__init__" for module in folder.glob("*.py")) or folder == PACKAGES["sumlight"]:
            yield f"{folder.relative_to(ROOT)}/"


@pytest.mark.parametrize("folder", sorted(folders()))
def test_the_tree_names_every_module_of_a_folder_and_no_other(folder: str) -> None:
    """Once each."""
    there = sorted(path.stem for path in (ROOT / folder).glob("*.py") if not path.stem.startswith("__"))
    assert sorted(modules_named(TREE[folder])) == there


@pytest.mark.parametrize("folder", sorted(TREE))
def test_every_folder_of_the_tree_is_there(folder: str) -> None:
    """And is a folder."""
    assert (ROOT / folder).is_dir()


def test_no_folder_of_tests_is_left_out() -> None:
    """Those that mirror a package need no line."""
    mirrored = {path.parent.name for package in PACKAGES.values() for path in package.glob("*/__init__.py")}
    mirrored |= {"webui", "hardware"}
    there = {path.parent.name for path in Path(ROOT / "tests").glob("*/__init__.py")}
    assert there - mirrored == {
        folder.split("/")[1] for folder in TREE if folder.startswith("tests/") and folder != "tests/"
    }


def test_a_tree_is_read_as_it_is_drawn() -> None:
    """By hand."""
    lines = [
        "firmware/sumlight/  one",
        "  a/   two, three,",
        "       four – and words, more",
        "    b/ – words",
        "webui/  – w",
    ]
    drawn = "\n".join(["```", *lines, "```"])
    found = entries(drawn)
    assert list(found) == ["firmware/sumlight/", "firmware/sumlight/a/", "firmware/sumlight/a/b/", "webui/"]
    assert [modules_named(entry) for entry in found.values()] == [["one"], ["two", "three", "four"], [], []]
