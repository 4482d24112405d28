"""Which statements are reached, judged by the interpreter's own trace; and children that hang, die or leave others."""

import os
import sys
import threading
import time
from collections.abc import Callable
from types import FrameType
from typing import Any

import pytest

from tests.mutation.children import Say, heard_from
from tests.mutation.reached import MARK, marked, statement_of

SOURCE = '''
def outer(values, deep=True):
    """Say nothing."""
    total = 0
    def add(value):
        nonlocal total
        total += (value
                  if value > 1 else
                  2)
        return total
    for value in values:
        if value == 0:
            continue
        elif value < 0:
            try:
                total += 1 / (value + 1)
            except ZeroDivisionError:
                total += 100
            else:
                total += 7
            finally:
                total += 1000
        else:
            add(value)
        while total > 5000:
            total -= 3000
            break
    else:
        total += 1
    match total:
        case 0:
            return "none"
        case _:
            pass
    if deep:
        later = [lambda: add(3)]
        with open("/dev/null") as nothing:
            total += len(nothing.read())
        return later[0]()
    return total
'''
CALLS: list[Any] = [([],), ([0], False), ([1, 2],), ([-1], False), ([-2, 0],), ([6000], False), ([], False)]


def traced(call: tuple[Any, ...]) -> tuple[object, set[int]]:
    """What the function returns, and the lines that the interpreter says it was at."""
    names: dict[str, Any] = {}
    exec(compile(SOURCE, "<traced>", "exec"), names)
    lines: set[int] = set()

    def trace(frame: FrameType, event: str, _: object) -> Callable[..., Any] | None:
        if frame.f_code.co_filename != "<traced>":
            return None
        if event == "line":
            lines.add(frame.f_lineno)
        return trace

    before = sys.gettrace()
    sys.settrace(trace)
    try:
        found = names["outer"](*call)
    finally:
        sys.settrace(before)
    return found, lines


@pytest.mark.parametrize("call", CALLS, ids=str)
def test_statements_reached_are_those_the_interpreter_was_at(call: tuple[Any, ...]) -> None:
    """No more and no fewer, and the function gives the same."""
    reached: set[int] = set()
    names: dict[str, Any] = {MARK: reached.add}
    exec(compile(marked(SOURCE), "<marked>", "exec"), names)
    found, lines = traced(call)
    assert names["outer"](*call) == found
    first = statement_of(SOURCE)
    docstring, declaration = 3, 6  # nothing that the interpreter runs
    assert reached - {docstring, declaration} == {first(line) for line in lines}


def test_what_a_thread_comes_to_is_seen() -> None:
    """A trace function is set for one thread only."""
    reached: set[int] = set()
    names: dict[str, Any] = {MARK: reached.add}
    exec(compile(marked(SOURCE), "<marked>", "exec"), names)
    thread = threading.Thread(target=names["outer"], args=([],))
    thread.start()
    thread.join()
    assert {4, 11} <= reached


def test_a_line_within_a_statement_of_several_belongs_to_its_first() -> None:
    """And the head of an exception's handler to the whole of what is tried."""
    first = statement_of(SOURCE)
    lines = SOURCE.splitlines()
    assert [first(8), first(9)] == [7, 7]
    assert lines[first(1 + lines.index("            except ZeroDivisionError:")) - 1].strip() == "try:"


def hangs(say: Say) -> None:
    """In its second step."""
    say(0)
    say(1)
    time.sleep(60)


def dies(say: Say) -> None:
    """In its first step."""
    say(0)
    os._exit(3)


def leaves_one_behind(say: Say) -> None:
    """That holds on to the pipe."""
    say(0)
    if os.fork() == 0:
        time.sleep(60)
        os._exit(0)


@pytest.mark.parametrize(("act", "at", "hung"), [(hangs, 1, True), (dies, 0, False), (leaves_one_behind, 0, False)])
def test_a_child_without_last_words_is_found_where_it_was(act: Callable[[Say], None], at: int, hung: bool) -> None:
    """Soon: long before what it waits for."""
    began_s = time.monotonic()
    said = heard_from(act, [30.0, 0.2])
    assert (said.at, said.words, said.hung) == (at, None, hung)
    assert time.monotonic() - began_s < 25.0


def test_last_words_are_heard_whole() -> None:
    """However long they are."""
    words = {"found": ["x" * 100] * 5000}

    def act(say: Say) -> None:
        say(0)
        say(words)

    assert heard_from(act, [30.0]).words == words
