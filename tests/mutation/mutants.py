"""The mistakes: cosmic-ray's operators, and statements left out one by one.

Mutants that differ only in annotations, or in how arguments may be passed, are no mutants: they run the same. Nor are
comparisons of words by their order or by identity, and of None by equality: nobody writes the first, the others are
the same.
"""

import ast
import contextlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from cosmic_ray import plugins
from cosmic_ray.ast import get_ast
from cosmic_ray.mutating import mutate_code

from tests.mutation.targets import TARGETS, source_of


@dataclass(frozen=True)
class Mutant:
    """One mistake: where, which, and the whole module with it."""

    module: str
    line: int
    before: str
    after: str
    source: str

    @property
    def name(self) -> str:
        """Names it in survivors.txt; keeps its name when lines move."""
        return f"{self.module}: {self.before} -> {self.after}"


def mutants_of(module: str) -> Iterator[Mutant]:
    """Every different mutant of one of the targets."""
    source = source_of(TARGETS[module]).read_text(encoding="utf-8")
    seen = {_program(source)}
    parsed = get_ast(source)
    odd = _odd_comparisons(source)
    for name in plugins.operator_names():
        operator_class = plugins.get_operator(name)
        if operator_class.arguments():  # those put one named variable for another: nothing to do here
            continue
        operator = operator_class()
        for occurrence in range(_places(parsed, operator)):
            mutated = mutate_code(source, operator, occurrence)
            if mutated is None:
                break
            with contextlib.suppress(SyntaxError):
                program = _program(mutated)
                if program not in seen and not _odd_comparisons(mutated) > odd:
                    seen.add(program)
                    yield _mutant(module, source, mutated)
    yield from _left_out(module, source, seen)


def _places(node: Any, operator: Any) -> int:
    """How often an operator can be applied; looked up beforehand, since each try parses the module anew."""
    here = sum(1 for _ in operator.mutation_positions(node))
    return here + sum(_places(child, operator) for child in getattr(node, "children", ()))


def _left_out(module: str, source: str, seen: set[str]) -> Iterator[Mutant]:
    """Statements left out one by one, which cosmic-ray has no operator for."""
    tree = ast.parse(source)
    lines = source.splitlines(keepends=True)
    for function in ast.walk(tree):
        if not isinstance(function, ast.FunctionDef):
            continue
        for node in ast.walk(function):
            if isinstance(node, ast.Assign | ast.AugAssign) or (
                isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
            ):
                first, last = node.lineno - 1, node.end_lineno or node.lineno
                indent = " " * node.col_offset
                mutated = "".join([*lines[:first], f"{indent}pass\n", *lines[last:]])
                program = _program(mutated)
                if program not in seen:
                    seen.add(program)
                    yield _mutant(module, source, mutated)


def _mutant(module: str, source: str, mutated: str) -> Mutant:
    before, after = source.splitlines(), mutated.splitlines()
    line = next(index for index, (old, new) in enumerate(zip(before, after, strict=False)) if old != new)
    return Mutant(module, line + 1, before[line].strip(), after[line].strip(), mutated)


def _program(source: str) -> str:
    """The module without what does nothing when it runs: annotations, and how arguments may be passed."""
    tree = ast.parse(source)
    nothing = ast.Constant(None)
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            node.returns = None
        elif isinstance(node, ast.arg):
            node.annotation = None
        elif isinstance(node, ast.arguments):
            node.args = [*node.posonlyargs, *node.args, *node.kwonlyargs]
            node.defaults = [*node.defaults, *(default for default in node.kw_defaults if default is not None)]
            node.posonlyargs, node.kwonlyargs, node.kw_defaults = [], [], []
        elif isinstance(node, ast.AnnAssign):
            node.annotation = nothing
    return ast.dump(tree)


def outside_of_functions(source: str) -> str:
    """All of a module but what its functions do."""
    tree = ast.parse(source)
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            node.body = [ast.Pass()]
    return ast.dump(tree)


def _odd_comparisons(source: str) -> int:
    """How many comparisons a module has that order words, or take identity for equality or the reverse."""
    found = 0
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Compare):
            for operator, right in zip(node.ops, node.comparators, strict=True):
                value = right.value if isinstance(right, ast.Constant) else ...
                of_words = isinstance(value, str) and not isinstance(operator, ast.Eq | ast.NotEq | ast.In | ast.NotIn)
                of_none = value is None and not isinstance(operator, ast.Is | ast.IsNot)
                found += of_words or of_none
    return found
