"""Lets the loop run before everything else on the computer, where the system allows it.

A usual thread that wakes up may have to wait some milliseconds until another one's turn is over, however low that one
stands: under light one tick in a thousand came a whole slot late. A thread of the real-time class does not wait
(sched(7)). The watch stands above the loop, so that a loop that never pauses cannot keep it from looking.
"""

import contextlib
import logging
import os
import sys
from collections.abc import Iterator

LOOP_PRIORITY, WATCH_PRIORITY = 1, 2
"""The lowest there are: any above those of usual threads will do. `LimitRTPRIO` in the unit allows them."""

FEWEST_PROCESSORS = 2
"""Every Raspberry Pi that is provided for has four."""

SWITCH_S = 0.0004
"""So long another thread may hold the interpreter while the loop waits for it; usually it is a whole slot, 5 ms."""

_log = logging.getLogger(__name__)


@contextlib.contextmanager
def precedence(watch_thread_id: int | None) -> Iterator[None]:
    """Give it to the calling thread and to the watch's; threads that they start stay usual ones.

    What is not allowed is logged and left out: the loop then ticks as well as the computer lets it. With one processor
    only it takes none: whatever else there is, such as a press of dark on its way from the page, would have to wait.
    """
    refused = _take(watch_thread_id)
    if refused is None:
        _log.info("the loop has real-time priority")
    else:
        _log.warning("no real-time priority (%s): on a busy computer ticks may come late", refused)
    usual_s = sys.getswitchinterval()
    sys.setswitchinterval(SWITCH_S)
    try:
        yield
    finally:
        sys.setswitchinterval(usual_s)
        with contextlib.suppress(OSError):
            os.sched_setscheduler(0, os.SCHED_OTHER | os.SCHED_RESET_ON_FORK, os.sched_param(0))


def _take(watch_thread_id: int | None) -> str | None:
    """Rank both threads; why not, where it cannot be."""
    if len(os.sched_getaffinity(0)) < FEWEST_PROCESSORS:
        return "one processor only"
    try:
        if watch_thread_id is not None:
            _rank(watch_thread_id, WATCH_PRIORITY)
        _rank(0, LOOP_PRIORITY)
    except OSError as error:
        return error.strerror
    return None


def _rank(thread_id: int, priority: int) -> None:
    os.sched_setscheduler(thread_id, os.SCHED_RR | os.SCHED_RESET_ON_FORK, os.sched_param(priority))
