"""Whoever calls the pure rooms learns the unit of every number given, and every error, without reading their code."""

import ast
import re
from collections.abc import Iterator
from pathlib import Path

PACKAGE = Path(__file__).parents[2] / "firmware" / "sumlight"
ROOMS = ("craft", "light", "control/calibration")

UNITS = re.compile(
    r"(^|_)(s|ms|min|hours|h|d|seconds|hz|nm|um|mm|cm|m|mil|in|dm2|mm2|cm2|cm3|l|ml|litres|g|kg|mol|moles|c|k|bar|pa"
    r"|percent|baume|v|ma|w|counts|px|dpi|deg)$"
)
"""A name that ends in one of these says its unit."""

PURE = re.compile(
    r"(^|_)(share|factor|ratio|step|index|dof|parts|volumes|coverage|density|densities|gravity|modulus|transmission"
    r"|tolerance|load|etch)$|(^|_)ln(_|$)"
)
"""What ends in these has none: shares of 1 and factors, steps of a tablet, optical densities, the k of an interval."""


def functions(tree: ast.Module) -> Iterator[tuple[ast.FunctionDef, str]]:
    """Every public function and method, with what its docstring and its class's say."""
    holders: list[tuple[list[ast.stmt], str]] = [(tree.body, "")]
    for body, said in holders:
        for node in body:
            if isinstance(node, ast.ClassDef) and not node.name.startswith("_"):
                holders.append((node.body, ast.get_docstring(node) or ""))
            elif isinstance(node, ast.FunctionDef) and not node.name.startswith("_"):
                yield node, f"{ast.get_docstring(node) or ''}\n{said}"


def without_unit(of: ast.FunctionDef, said: str) -> list[str]:
    """Parameters that take a number of which neither name nor docstring says what it counts."""
    found = []
    for given in [*of.args.posonlyargs, *of.args.args, *of.args.kwonlyargs]:
        kind = "" if given.annotation is None else ast.unparse(given.annotation)
        says = UNITS.search(given.arg) or PURE.search(given.arg)
        told = says or re.search(rf"`[^`\n]*\b{given.arg}\b[^`\n]*`", said)
        if re.search(r"\bfloat\b", kind) and "Callable" not in kind and not told:
            found.append(given.arg)
    return found


def untold_errors(of: ast.FunctionDef, said: str) -> list[str]:
    """Errors that it raises itself and does not name."""
    raised = [node.exc for node in ast.walk(of) if isinstance(node, ast.Raise) and node.exc is not None]
    made = [error.func if isinstance(error, ast.Call) else error for error in raised]
    names = {error.id for error in made if isinstance(error, ast.Name) and error.id.endswith("Error")}
    return sorted(name for name in names if not re.search(rf"\b{name}\b", said))


def test_every_number_has_a_unit_and_every_error_a_name() -> None:
    """In the rooms whose arithmetic others build on."""
    found, looked = [], 0
    for room in ROOMS:
        for path in sorted((PACKAGE / room).rglob("*.py")):
            for of, said in functions(ast.parse(path.read_text(encoding="utf-8"))):
                looked += 1
                wrong = without_unit(of, said) + untold_errors(of, said)
                found += [f"{path.relative_to(PACKAGE)} {of.name}: {name}" for name in wrong]
    assert found == []
    assert looked > 400


def test_a_number_without_unit_and_an_untold_error_are_seen() -> None:
    """Silence above means something."""
    source = '''
class Public:
    """Takes `told`, in mm."""
    def method(self, told: float, untold: float, depth_um: float, name: str, values: list[float]) -> None:
        """Work it out."""
        raise ValueError("no")
    def says(self, untold: float) -> None:
        """Of `untold`, in mW/cm². Raises ValueError."""
        raise ValueError("no")
'''
    first, second = functions(ast.parse(source))
    assert without_unit(*first) == ["untold", "values"]
    assert untold_errors(*first) == ["ValueError"]
    assert without_unit(*second) + untold_errors(*second) == []
