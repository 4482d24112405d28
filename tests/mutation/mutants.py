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
    """One mistake: where, which, and the whole module with it; whether it is within a function."""

    module: str
    line: int
    before: str
    after: str
    source: str
    within: bool

    @property
    def name(self) -> str:
        """Names it in survivors.txt; keeps its name when lines move."""
        return f"{self.module}: {self.before} -> {self.after}"


@dataclass(frozen=True)
class _Piece:
    """A function or another simple statement of a module or class, or a class's head: parsed by itself, for it is
    parsed anew for each mutant."""

    before: str
    text: str
    after: str
    is_head: bool

    def whole(self) -> str:
        """What can be parsed."""
        return f"{self._outside()[0]}{self.text}{self._outside()[1]}"

    def without_outside(self, whole: str) -> str:
        """The text of a mutant of `whole`."""
        head, tail = self._outside()
        return whole.removeprefix(head).removesuffix(tail)

    def _outside(self) -> tuple[str, str]:
        indented = self.text[:1] in " \t"
        return "class Outer:\n" if indented else "", ("        pass\n" if self.is_head else "")


def mutants_of(module: str) -> Iterator[Mutant]:
    """Every different mutant of one of the targets."""
    for piece in _pieces(source_of(TARGETS[module]).read_text(encoding="utf-8")):
        source = piece.whole()
        plain, seen = outside_of_functions(source), {_program(source)}
        for mutated in (*_operated(source), *_left_out(source)):
            with contextlib.suppress(SyntaxError):
                program = _program(mutated)
                if program not in seen:
                    seen.add(program)
                    within = outside_of_functions(mutated) == plain
                    yield _mutant(module, piece, piece.without_outside(mutated), within=within)


def _pieces(source: str) -> Iterator[_Piece]:
    lines = source.splitlines(keepends=True)
    todo = list(ast.parse(source).body)
    while todo:
        node = todo.pop(0)
        first, last = _first_line(node) - 1, node.end_lineno
        if isinstance(node, ast.ClassDef):
            todo[:0] = node.body
            last = _first_line(node.body[0]) - 1
        before, text, after = "".join(lines[:first]), "".join(lines[first:last]), "".join(lines[last:])
        yield _Piece(before, text, after, isinstance(node, ast.ClassDef))


def _first_line(node: ast.stmt) -> int:
    """With its decorators."""
    decorators: list[ast.expr] = getattr(node, "decorator_list", [])
    return min([node.lineno, *(one.lineno for one in decorators)])


def _operated(source: str) -> Iterator[str]:
    """Cosmic-ray's mutants of a piece."""
    parsed, odd = get_ast(source), _odd_comparisons(source)
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
                if not _odd_comparisons(mutated) > odd:
                    yield mutated


def _places(node: Any, operator: Any) -> int:
    """How often an operator can be applied; looked up beforehand, since each try parses the piece anew."""
    here = len(list(operator.mutation_positions(node)))
    return here + sum(_places(child, operator) for child in getattr(node, "children", ()))


def _left_out(source: str) -> Iterator[str]:
    """Statements left out one by one, which cosmic-ray has no operator for."""
    lines = source.splitlines(keepends=True)
    for function in [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.FunctionDef)]:
        for node in ast.walk(function):
            if isinstance(node, ast.Assign | ast.AugAssign) or (
                isinstance(node, ast.Expr) and isinstance(node.value, ast.Call)
            ):
                first, last = node.lineno - 1, node.end_lineno or node.lineno
                indent = " " * node.col_offset
                yield "".join([*lines[:first], f"{indent}pass\n", *lines[last:]])


def _mutant(module: str, piece: _Piece, text: str, *, within: bool) -> Mutant:
    before, after = piece.text.splitlines(), text.splitlines()
    line = next(index for index, (old, new) in enumerate(zip(before, after, strict=False)) if old != new)
    number = piece.before.count("\n") + line + 1
    source = piece.before + text + piece.after
    return Mutant(module, number, before[line].strip(), after[line].strip(), source, within)


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
