"""Simulated lid with its two complementary contacts, which bounce and can stick."""

from random import Random

BOUNCE_S = 0.003
"""How long a contact chatters after a change (from memory: a few milliseconds for small switches)."""
SKEW_S = 0.004
"""The second contact follows the first after at most this long; the lever has some travel."""


class Contact:
    """One contact to ground. `closed` is what the wire sees now; `wanted` what the lid asks of it."""

    def __init__(self, closed: bool, rng: Random) -> None:
        self.closed = closed
        self.wanted = closed
        self.stuck = False
        self.token = 0
        self._rng = rng

    def move(self, closed: bool) -> list[tuple[float, bool]]:
        """Changes to come as (seconds from now, closed), the bounce included; none while it sticks.

        They replace any changes still to come: `token` tells those of the last movement from older ones.
        """
        self.wanted = closed
        if self.stuck:
            return []
        self.token += 1
        return [] if closed == self.closed else self._bounce(closed)

    def stick(self) -> None:
        """Stay as it is, whatever the lid does."""
        self.stuck = True
        self.token += 1

    def free(self) -> list[tuple[float, bool]]:
        """Follow the lid again; returns the changes to come."""
        self.stuck = False
        return self.move(self.wanted)

    def _bounce(self, closed: bool) -> list[tuple[float, bool]]:
        pairs = self._rng.randint(1, 3)
        moments = sorted(self._rng.uniform(0.0, BOUNCE_S) for _ in range(2 * pairs))
        changes = [(0.0, closed)]
        for index, moment_s in enumerate(moments):
            changes.append((moment_s, closed if index % 2 else not closed))
        return changes


class Lid:
    """The lid itself: `shut` is the truth, `contacts` what a controller can know of it."""

    def __init__(self, rng: Random) -> None:
        self.shut = True
        self.contacts = {"shut": Contact(True, rng), "open": Contact(False, rng)}
        self._rng = rng

    def move(self, shut: bool) -> list[tuple[float, str, bool]]:
        """Open or shut it; returns the changes of contacts to come as (seconds from now, contact, closed).

        The contact that opens goes first, as on a lever: for a moment neither is closed.
        """
        self.shut = shut
        first, second = ("open", "shut") if shut else ("shut", "open")
        lag_s = self._rng.uniform(0.0005, SKEW_S)
        changes = [(delay_s, first, closed) for delay_s, closed in self.contacts[first].move(False)]
        changes += [(lag_s + delay_s, second, closed) for delay_s, closed in self.contacts[second].move(True)]
        return changes
