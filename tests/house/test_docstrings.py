"""Public functions of the rooms that others build on say which errors they raise."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.house.imports import PACKAGES

ROOMS = ("light", "craft", "protocol", "store", "manual", "text", "box", "control")
MODULES = ("bounds", "checkedfile", "quantity", "language")


def public(tree: ast.AST) -> Iterator[ast.FunctionDef]:
    """Functions and methods that others may call."""
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
            yield node


def raised(function: ast.FunctionDef) -> set[str]:
    """Errors that a function makes itself."""
    made = (node.exc for node in ast.walk(function) if isinstance(node, ast.Raise))
    names = (call.func.id for call in made if isinstance(call, ast.Call) and isinstance(call.func, ast.Name))
    return {name for name in names if name.endswith("Error")}


def silent(code: str) -> list[str]:
    """Public functions that raise without saying so."""
    return [
        function.name
        for function in public(ast.parse(code))
        if raised(function) and "Raise" not in (ast.get_docstring(function) or "")
    ]


def files() -> Iterator[Path]:
    """Every module of these rooms."""
    root = PACKAGES["sumlight"]
    for room in ROOMS:
        yield from sorted((root / room).rglob("*.py"))
    yield from (root / f"{module}.py" for module in MODULES)


def test_what_a_public_function_raises_stands_in_its_docstring() -> None:
    """Whoever calls it has to know; a model's validators are called by nobody."""
    found = [f"{path.name}: {name}" for path in files() for name in silent(path.read_text(encoding="utf-8"))]
    assert found == []


@pytest.mark.parametrize(
    ("words", "expected"), [("Return a share.", ["share"]), ("Return a share. Raises ValueError.", [])]
)
def test_a_function_that_keeps_it_to_itself_is_found(words: str, expected: list[str]) -> None:
    """So that silence means something."""
    assert silent(f'def share(x):\n    """{words}"""\n    raise ValueError(x)\n') == expected
