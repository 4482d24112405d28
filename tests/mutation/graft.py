"""Gives the functions of an imported module other code, without importing anything anew."""

import ast
import functools
import sys
from collections.abc import Iterator
from types import CodeType, FunctionType
from typing import Any


def graft(module: str, source: str | ast.Module) -> bool:
    """Give the functions of an imported module the code they have in `source`; false if that cannot be done."""
    codes = dict(_codes(compile(source, f"<mutant of {module}>", "exec")))
    found = {function.__code__.co_qualname: function for function in _functions(vars(sys.modules[module]), module)}
    if codes.keys() != found.keys():
        return False
    try:
        for name, code in codes.items():
            found[name].__code__ = code
    except ValueError:  # one has another number of outer variables
        return False
    return True


def _codes(outer: CodeType) -> Iterator[tuple[str, CodeType]]:
    """Every function of a module and of its classes, by its name; not what is within functions."""
    for code in outer.co_consts:
        if isinstance(code, CodeType) and not code.co_name.startswith("<"):
            if code.co_flags & 0x1:  # a class has no optimized locals
                yield code.co_qualname, code
            else:
                yield from _codes(code)


def _functions(names: dict[str, Any], module: str) -> Iterator[FunctionType]:
    for thing in list(names.values()):
        if isinstance(thing, type) and thing.__module__ == module:
            yield from _functions(dict(vars(thing)), module)
            continue
        inner = _inner(thing)
        if isinstance(inner, FunctionType) and inner.__module__ == module and inner.__code__.co_filename[:1] == "/":
            yield inner


def _inner(thing: object) -> object:
    """What a person wrote, without what decorators have put around it; nothing is asked of other objects."""
    if isinstance(thing, property):
        thing = thing.fget
    elif isinstance(thing, functools.cached_property):
        thing = thing.func
    elif isinstance(thing, staticmethod | classmethod):
        thing = thing.__func__
    while isinstance(thing, FunctionType) and hasattr(thing, "__wrapped__"):
        thing = thing.__wrapped__
    return thing
