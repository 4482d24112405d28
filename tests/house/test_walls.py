"""Nothing is imported that is not on the list, no circle, and no list names what nobody imports."""

import ast
import sys
from collections.abc import Iterable, Mapping
from graphlib import CycleError, TopologicalSorter

import grimp
import pytest

from tests.house.imports import PACKAGES, imported, imports, is_ours, modules
from tests.house.walls import OTHERS, OURS, PURE

LONELY = ("sumlight", "sumlight.control", "sumlight.store")
"""Packages around rooms: nothing to import."""


def package_of(name: str) -> str:
    """The package whose list holds for a module."""
    parts = name.split(".")
    return parts[0] if parts[0] == "sumlight_web" else ".".join(parts[:2])


def within(name: str, places: Iterable[str]) -> bool:
    """Whether a module is one of these, or lies within one."""
    return any(name == place or name.startswith(f"{place}.") for place in places)


def refused(name: str, others: Iterable[str]) -> list[str]:
    """What of these a module may not import."""
    home = package_of(name)
    wrong = []
    for other in others:
        top = other.split(".")[0]
        if is_ours(other):
            allowed = other == "sumlight" or within(other, (home, *OURS[home]))
        elif top in sys.stdlib_module_names:
            allowed = home not in ("sumlight.light", "sumlight.craft") or top in PURE
        else:
            allowed = top in OTHERS[home]
        wrong += [] if allowed else [f"{name} imports {other}"]
    return wrong


def circle(of: Mapping[str, Iterable[str]]) -> list[str]:
    """The names along a circle of imports, or nothing."""
    try:
        TopologicalSorter(of).prepare()
    except CycleError as error:
        return list(error.args[1])
    return []


def test_every_import_is_on_the_list() -> None:
    """Of every module, wherever in it the import stands."""
    assert [line for name, others in imports().items() if name not in LONELY for line in refused(name, others)] == []


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("sumlight_web.box.views", "from sumlight.control import systemd"),
        ("sumlight_web.box.views", "from sumlight.control.safety.permit import Permit"),
        ("sumlight_web.box.views", "from sumlight.box.lamps import LampBank"),
        ("sumlight_web.box.views", "import sumlight.store.logbook.writer"),
        ("sumlight_web.box.views", "from sumlight.store.logbook.logbook import Logbook"),
        ("sumlight_web.box.views", "from sumlight.store.maintenance import recovery"),
        ("sumlight_web.box.views", "from sumlight.twin.world import World"),
        ("sumlight_web.box.views", "import gpiozero"),
        ("sumlight.light.dose", "import time"),
        ("sumlight.light.dose", "from sumlight.clock import Clock"),
        ("sumlight.light.dose", "def late() -> None:\n    from pathlib import Path"),
        ("sumlight.craft.tablet", "from sumlight.light.dose import DoseMeter"),
        ("sumlight.protocol.client", "from sumlight.control.daemon import Daemon"),
        ("sumlight.box.lamps", "from sumlight.store.files import replace_file"),
        ("sumlight.store.files", "from ..control.safety import permit"),
        ("sumlight.twin.world", "from sumlight.control.loop import ControlLoop"),
        ("sumlight.control.loop", "from sumlight.twin.world import World"),
        ("sumlight.control.loop", "import flask"),
        ("sumlight.control.loop", "import sumlight_web.app"),
    ],
)
def test_what_is_on_no_list_is_refused(name: str, source: str) -> None:
    """One import that must not be, planted into each kind of place."""
    assert len(refused(name, imported(name, modules()[name], source))) == 1


def test_nothing_is_on_the_page_s_list_that_it_does_not_import() -> None:
    """A list that has grown old allows more than anybody needs."""
    used = {other for name, others in imports().items() if name.startswith("sumlight_web") for other in others}
    assert [place for place in OURS["sumlight_web"] if not any(within(other, [place]) for other in used)] == []


def test_no_circle_of_imports() -> None:
    """Among modules, imports for types alone included; and a circle would be found."""
    ours = {name: {other for other in others if is_ours(other)} for name, others in imports().items()}
    assert circle(ours) == []
    ours["sumlight.control.safety.permit"] = {"sumlight.control.daemon"}
    assert "sumlight.control.safety.permit" in circle(ours)


def test_nothing_is_imported_past_the_walls() -> None:
    """By a name that is made up while the program runs, where no list can see it."""
    found = []
    for name, path in modules().items():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            called = node.func if isinstance(node, ast.Call) else None
            word = getattr(called, "id", getattr(called, "attr", ""))
            found += [name] if word in ("__import__", "import_module", "exec", "eval") else []
    assert found == []


def test_another_reader_of_imports_sees_the_same() -> None:
    """grimp, which import-linter rests on, walks the same source by itself."""
    graph = grimp.build_graph(*PACKAGES)
    theirs = {(one, other) for one in graph.modules for other in graph.find_modules_directly_imported_by(one)}
    ours = {(one, other) for one, others in imports().items() for other in others if other in modules()}
    assert ours == theirs
