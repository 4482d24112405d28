"""The simulated coil circuit of K1: the hard-wired contacts in series, and the mirror that tells where K1 is."""

from collections.abc import Mapping

from sumlight.twin.scenario import MirrorBridge, Scenario

CONTACTS = ("S2", "S3", "F3")
"""Emergency stop, lid switch and thermal cut-out, as drawn in hardware/drawings/mains.svg; K2 is the fourth."""


class HardWired:
    """S2, S3 and F3 in series. One that is not wired in, or is bridged, stays closed whatever happens to its part."""

    def __init__(self, scenario: Scenario) -> None:
        self._in_circuit: Mapping[str, bool] = {
            "S2": scenario.hardwired_stop,
            "S3": scenario.hardwired_lid_switch,
            "F3": scenario.hardwired_cut_out,
        }
        self._open = dict.fromkeys(CONTACTS, False)

    def acts(self, contact: str, opens: bool) -> None:
        """The lid, the stop or the cut-out moves its contact."""
        self._open[contact] = opens

    def acted(self, contact: str) -> bool:
        """Whether the part itself stands open, wired in or not."""
        return self._open[contact]

    @property
    def closed(self) -> bool:
        """Whether current may flow past all of them."""
        return not any(self._open[name] and self._in_circuit[name] for name in CONTACTS)


class Mirror:
    """The auxiliary contact of K1 that is closed only while every main contact is open.

    `bridge` is what somebody made of it: `says_dropped` (a wire across it) or `says_closed` (its wire is off).
    """

    def __init__(self, bridge: MirrorBridge | None) -> None:
        self._bridge = bridge

    def closed(self, k1_closed: bool) -> bool:
        """Whether the input behind it sees it closed, which reads as 'K1 has dropped'."""
        if self._bridge is None:
            return not k1_closed
        return self._bridge == "says_dropped"
