"""The one door to dark: whatever ends light out of turn goes through it, from any thread, as often as it likes."""

import logging
import threading

from sumlight.box.assembly import Box
from sumlight.box.lamps import Failure
from sumlight.control.safety.permit import Permit

log = logging.getLogger(__name__)


class DarkDoor:
    """Takes every leave away and puts every output that could feed a lamp to rest.

    Fail-safe: one part that fails does not keep another lit; nothing is logged, and nothing waited for, before all
    were tried; it never raises. `reason` is why it was last gone through.
    """

    def __init__(self, permit: Permit, box: Box) -> None:
        self._permit = permit
        self._box = box
        self.reason = ""
        self.times = 0
        self._told = threading.local()

    def go_dark(self, reason: str) -> list[Failure]:
        """Dark now: permit withdrawn, every relay and the enable line to rest, `reason` noted, then logged.

        Returns the parts that could not be put to rest, with what they raised.
        """
        self._permit.withdraw()
        self.reason, self.times = reason, self.times + 1
        failed = self._box.dark()
        if getattr(self._told, "last", None) != (reason, bool(failed)):  # not ten times a second
            self._told.last = (reason, bool(failed))
            log.warning("dark: %s", reason)
            for part, error in failed:
                log.error("%s could not be put to rest: %s: %s", part, type(error).__name__, error)
        return failed
