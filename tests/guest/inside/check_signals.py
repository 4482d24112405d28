"""K1's mirror, the emergency stop and the over-temperature contact, moved in the simulated chip while lamps burn."""

import pytest

from tests.guest.inside.bench import Bench, until
from tests.guest.inside.check_lid import LIMIT_S
from tests.guest.inside.fixtures import Notes
from tests.guest.inside.lines import HEAT_CONTACT, K1_MIRROR, STOP_CONTACT


@pytest.mark.parametrize(
    ("contact", "fault"),
    [
        pytest.param(STOP_CONTACT, "emergency_stop", id="stop"),
        pytest.param(HEAT_CONTACT, "too_hot", id="heat"),
    ],
)
def test_an_opened_signal_contact_darkens(bench: Bench, notes: Notes, contact: int, fault: str) -> None:
    """A pressed stop, heat, or a broken wire of either: dark, with the fault of that name, which then clears."""
    bench.shining()
    began_s = bench.under_record()
    bench.lines.pull(contact, high=True)
    dark_s = bench.dark_after(began_s)
    notes.say(f"contact of {fault} to relay line at rest: {1000 * dark_s:.0f} ms")
    assert dark_s < LIMIT_S
    assert bench.last_beat_after(began_s) < LIMIT_S
    until(lambda: fault in bench.faults(), "the fault")
    bench.lines.pull(contact, high=False)
    bench.shining()


def test_the_mirror_follows_k1(bench: Bench) -> None:
    """High while K1 is held, low again once the pump has run dry; neither is a fault."""
    bench.shining()
    until(lambda: bench.lines.level(K1_MIRROR), "K1 to be seen closed")
    bench.ask("dark")
    until(lambda: not bench.lines.level(K1_MIRROR), "K1 to be seen dropped", 2)
    assert "k1_welded" not in bench.faults()
    assert "k1_silent" not in bench.faults()
