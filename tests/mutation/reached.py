"""Which statements a test comes to: a test that never comes to a mutant's statement cannot notice the mutant.

A copy of the module gets a mark before every statement within its functions. A test that starts threads is seen there
too, which a trace function of one thread would miss.
"""

import ast
from collections.abc import Callable

MARK = "__reached__"


def marked(source: str) -> ast.Module:
    """The module, whose functions call `__reached__(line)` before each statement."""
    tree = ast.parse(source)
    for function in [node for node in ast.walk(tree) if isinstance(node, ast.FunctionDef)]:
        for node in list(ast.walk(function)):
            for field in ("body", "orelse", "finalbody"):
                block = getattr(node, field, None)
                if isinstance(block, list) and not (block and _is_mark(block[0])):
                    setattr(node, field, [step for statement in block for step in (_mark(statement), statement)])
    return ast.fix_missing_locations(tree)


def _mark(statement: ast.stmt) -> ast.stmt:
    call = ast.Call(ast.Name(MARK, ast.Load()), [ast.Constant(statement.lineno)], [])
    return ast.copy_location(ast.Expr(call), statement)


def _is_mark(node: ast.AST) -> bool:
    return (
        isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Call)
        and isinstance(node.value.func, ast.Name)
        and node.value.func.id == MARK
    )


def statement_of(source: str) -> Callable[[int], int]:
    """Gives the first line of the innermost statement that a line belongs to.

    What is mutated in the head of a compound statement belongs to the whole of it: whoever comes to it counts.
    """
    places = [node for node in ast.walk(ast.parse(source)) if isinstance(node, ast.stmt)]

    def first(line: int) -> int:
        around = [node for node in places if node.lineno <= line <= (node.end_lineno or node.lineno)]
        return min(around, key=lambda node: ((node.end_lineno or node.lineno) - node.lineno, -node.lineno)).lineno

    return first
