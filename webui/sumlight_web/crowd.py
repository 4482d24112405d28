"""Work that only so many may ask for at once; the next is told to try again, and holds no thread meanwhile."""

import threading
from collections.abc import Callable
from functools import wraps
from typing import ParamSpec, TypeVar

from werkzeug.exceptions import TooManyRequests

from sumlight_web.language import _

Given = ParamSpec("Given")
Answer = TypeVar("Answer")

RETRY_S = 2


class AtMost:
    """Decorates views that share so many `places`. Raises TooManyRequests when all are taken."""

    def __init__(self, places: int) -> None:
        self._places = threading.BoundedSemaphore(places)

    def __call__(self, view: Callable[Given, Answer]) -> Callable[Given, Answer]:
        """The guarded view."""

        @wraps(view)
        def guarded(*given: Given.args, **named: Given.kwargs) -> Answer:
            if not self._places.acquire(blocking=False):
                message = _("Too many people ask for this at the same time. Nothing was done. Try again in a moment.")
                raise TooManyRequests(message, retry_after=RETRY_S)
            try:
                return view(*given, **named)
            finally:
                self._places.release()

        return guarded


log_ins = AtMost(3)
"""One password is checked at a time; two more may wait for it."""

imports = AtMost(2)
