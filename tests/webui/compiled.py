"""Compiles each template and each route once a process and not once a test: hundreds of tests build the whole page.

What is compiled is the page's own and the same each time; a test in `test_compiled.py` compares.
"""

from collections.abc import Callable, Iterable
from typing import Any

from flask import Flask
from jinja2 import BytecodeCache
from jinja2.bccache import Bucket
from werkzeug.routing import Rule


class Templates(BytecodeCache):
    """Jinja's own way to keep compiled templates, here in memory. A template that was changed is another one."""

    def __init__(self) -> None:
        self._known: dict[tuple[str, str], Any] = {}

    def load_bytecode(self, bucket: Bucket) -> None:
        """Give what was compiled before, if anything."""
        bucket.code = self._known.get((bucket.key, bucket.checksum))

    def dump_bytecode(self, bucket: Bucket) -> None:
        """Keep what was compiled."""
        self._known[bucket.key, bucket.checksum] = bucket.code


def once(compile_builder: Callable[[Rule, bool], Any]) -> Callable[[Rule, bool], Any]:
    """Of a route the function that writes its address: it depends on the rule alone, unless it has default values."""
    known: dict[tuple[object, ...], Any] = {}

    def builder(rule: Rule, append_unknown: bool = True) -> Any:
        if rule.defaults:
            return compile_builder(rule, append_unknown)
        key = (rule.rule, rule.merge_slashes, tuple(rule._trace), append_unknown)
        if key not in known:
            known[key] = compile_builder(rule, append_unknown)
        return known[key]

    return builder


def read_once(parse_rule: Callable[[Rule, str], Iterable[Any]]) -> Callable[[Rule, str], Iterable[Any]]:
    """Of a route what its text says: the parts to compare with, and what it notes of them at the rule."""
    known: dict[str, tuple[list[Any], list[tuple[bool, str]], dict[str, Any]]] = {}

    def parts(rule: Rule, text: str) -> Iterable[Any]:
        if text not in known:
            begin, before = len(rule._trace), set(rule._converters)
            found = list(parse_rule(rule, text))
            added = {name: kept for name, kept in rule._converters.items() if name not in before}  # in their order
            known[text] = (found, rule._trace[begin:], added)
            return found
        found, trace, converters = known[text]
        rule._trace.extend(trace)
        rule._converters.update(converters)
        rule.arguments.update(converters)
        return found

    return parts


plain_parser: Callable[[Rule, str], Iterable[Any]] = Rule._parse_rule
plain_builder: Callable[[Rule, bool], Any] = Rule._compile_builder


def compile_once() -> None:
    """From now on, in this process."""
    Flask.jinja_options = {"bytecode_cache": Templates()}
    Rule._parse_rule = read_once(plain_parser)  # type: ignore[method-assign, assignment]
    Rule._compile_builder = once(plain_builder)  # type: ignore[method-assign, assignment]
