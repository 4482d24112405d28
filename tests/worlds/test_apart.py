"""The estimator and the worlds that judge it know nothing of each other: no import and no constant in common."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import sumlight
from tests import worlds

FIRMWARE = Path(sumlight.__file__).parent
ESTIMATOR = sorted(
    [
        *(FIRMWARE / "light").glob("*.py"),
        *(FIRMWARE / "craft").glob("*.py"),
        *(FIRMWARE / "craft" / "baths").glob("*.py"),
        *(FIRMWARE / "control" / "calibration").glob("*.py"),
    ]
)
WORLDS = sorted(path for path in Path(worlds.__file__).parent.glob("*.py") if not path.name.startswith("test_"))

FACTS = {
    0.05: "density of the first step of the usual 21-step tablet (from memory; trade notes)",
    0.15: "density from step to step of that tablet (published by its makers; trade notes)",
    21.0: "its number of steps (the same)",
    60.0: "seconds in a minute, and how late hands are at most (the issue)",
}
"""Facts of the trade that both sides know, each with its source."""

PLAIN = {0.0, 1.0, 2.0, 3.0, 4.0, 0.5, 6.0, 10.0, 12.0}
"""Counting, halves and signs: a number of pieces or of tubes is no assumption about nature."""


def named_numbers(source: str) -> Iterator[tuple[str, float]]:
    """Each number that stands under a name: constants, defaults, keyword and positional values of a call, by name."""
    for node in ast.walk(ast.parse(source)):
        match node:
            case ast.Assign(targets=[ast.Name(id=name), *_], value=value):
                yield from _numbers(name, value)
            case ast.AnnAssign(target=ast.Name(id=name), value=ast.expr() as value):
                yield from _numbers(name, value)
            case ast.keyword(arg=str(name), value=value):
                yield from _numbers(name, value)
            case ast.FunctionDef(name=function, args=given):
                defaults = [*given.defaults, *(value for value in given.kw_defaults if value is not None)]
                for value in defaults:
                    yield from _numbers(f"default of {function}", value)


def _numbers(name: str, value: ast.expr) -> Iterator[tuple[str, float]]:
    for node in ast.walk(value):
        if isinstance(node, ast.Constant) and isinstance(node.value, int | float) and not isinstance(node.value, bool):
            yield name, abs(float(node.value))


def imported(source: str) -> set[str]:
    """Top packages that a module imports."""
    found = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom):
            found.add((node.module or "").split(".")[0])
    return found


def shared(estimator: dict[str, str], world: dict[str, str]) -> list[str]:
    """Values under a name on both sides that are neither plain nor a listed fact, told by both names."""
    known: dict[float, str] = {}
    for module, source in estimator.items():
        for name, value in named_numbers(source):
            known.setdefault(value, f"{module}: {name}")
    return [
        f"{value:g}: {module}: {name} = {known[value]}"
        for module, source in world.items()
        for name, value in named_numbers(source)
        if value in known and value not in PLAIN and value not in FACTS
    ]


def _sources(paths: list[Path]) -> dict[str, str]:
    return {f"{path.parent.name}/{path.name}": path.read_text(encoding="utf-8") for path in paths}


def test_no_import_in_common() -> None:
    """Beyond the standard library: a world imports worlds, the estimator nothing of the tests."""
    for path in WORLDS:
        assert not imported(path.read_text()) & {"sumlight", "sumlight_web"}, path.name
        assert imported(path.read_text()) <= {
            "",
            "ast",
            "dataclasses",
            "functools",
            "math",
            "random",
            "tests",
            "typing",
        }, path.name
    for path in ESTIMATOR:
        assert "tests" not in imported(path.read_text()), path.name


def test_no_constant_in_common() -> None:
    """A constant on both sides would only show that the estimator knows itself."""
    assert len(ESTIMATOR) > 20
    assert len(WORLDS) > 4
    assert not shared(_sources(ESTIMATOR), _sources(WORLDS))


HOME = {
    "sources.py": ("EARLY_HOURS", "PHOSPHOR", "LINES"),
    "panel.py": ("panel_sigma", "zone_sigma"),
    "sight.py": ("LED_DIRECT_SHARE",),
}
"""What the twin, whose law is home, takes for nature where the estimator has a guess of its own, by file."""

OTHER_MEANING = {0.6: "what the phosphor has left at 1500 h; to the estimator a guess at how far panels scatter"}

DRIFT = ("calibration.py", "guess.py", "ageing.py", "lampuse.py", "selfcheck.py", "gains.py", "tablet.py", "readers.py")
"""Where the estimator's guesses about the same things stand."""


def test_home_has_constants_of_its_own() -> None:
    """The twin's lamps, panels and window do not follow the very numbers that the estimator expects."""
    guesses = [path for path in ESTIMATOR if path.name in DRIFT]
    known = {value: f"{name}" for path in guesses for name, value in named_numbers(path.read_text(encoding="utf-8"))}
    assert 0.03 in known  # the scatter of panels, as the estimator expects it
    seen: set[str] = set()
    for file, names in HOME.items():
        for name, value in named_numbers((FIRMWARE / "twin" / file).read_text(encoding="utf-8")):
            if name in names:
                seen.add(name)
                assert value in PLAIN or value in OTHER_MEANING or value not in known, (
                    f"{name} = {value:g} = {known[value]}"
                )
    assert seen == {name for names in HOME.values() for name in names}


@pytest.mark.parametrize(
    "world",
    [
        "TAU_H = 61.7",
        "law(tau_h=(61.7, 70.3))",
        "def f(a: float = -61.7) -> None: ...",
        "class A:\n    x: float = 61.7",
    ],
)
def test_a_shared_constant_is_told_by_both_names(world: str) -> None:
    """Wherever it stands."""
    found = shared({"light/a.py": "EARLY_H = 61.7"}, {"worlds/b.py": world})
    assert len(found) == 1
    assert "light/a.py: EARLY_H" in found[0]
    assert "worlds/b.py" in found[0]
