"""Events of the twin's scenarios at the safety chain: K1, emergency stop, heat, broken wires, the computer's supply.

The lid's own switch is left out of K1's coil circuit here, so what darkens is the software alone. Events that end
a trouble must not bring light back: that takes a person's word.
"""

import pytest

from tests.control.bench_box import BenchBox
from tests.control.conftest import MakeBench
from tests.control.events import REACTION_S, happens, stays_dark


def test_k1_welds_and_its_mirror_tells(bench: BenchBox) -> None:
    """Bank relays darken at the cut; half a second later the contactor that did not drop is a fault."""
    bench.happen("k1_welds")
    bench.start().until(lambda: bench.side().state == "done")
    assert not bench.any_light()
    bench.until(lambda: bool(bench.faults), 2.0)
    assert bench.faults == ["k1_welded"]
    stays_dark(bench)
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["k1_welded"]}
    assert bench.refused("start", recipe="quick").code == "refused"


def test_k1_frees_does_not_bring_light_back(bench: BenchBox) -> None:
    """Replaced by an electrician, acknowledged: then a new panel may be started."""
    bench.happen("k1_welds")
    bench.light_up()
    bench.ask("dark")
    bench.run(1.0)
    assert bench.faults == ["k1_welded"]
    bench.happen("k1_frees")
    stays_dark(bench)
    assert bench.ask("acknowledge") == {"cleared": ["k1_welded"], "standing": []}
    stays_dark(bench)
    assert bench.state == "paused"


def test_stop_pressed_darkens_within_two_ticks_by_software(make_bench: MakeBench) -> None:
    """Left out of K1's coil circuit here: the signal alone does it."""
    bench = make_bench(hardwired_stop=False).light_up()
    at_s = happens(bench, "stop_pressed")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert bench.faults == ["emergency_stop"]
    stays_dark(bench)
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["emergency_stop"]}


def test_stop_pressed_darkens_by_its_wire_alone(bench: BenchBox, monkeypatch: pytest.MonkeyPatch) -> None:
    """K1 drops, whatever the program does."""
    bench.light_up()
    monkeypatch.setattr(type(bench.loop), "_look_at_chain", lambda *_: None)
    at_s = happens(bench, "stop_pressed")
    bench.until(lambda: not bench.any_light(), 1.0)
    assert bench.clock.now_s - at_s <= 0.02 + 0.02


def test_stop_released_does_not_bring_light_back(bench: BenchBox) -> None:
    """Release alone restarts nothing (IEC 60204-1, from memory); acknowledge and go do."""
    bench.light_up(dose_mj_cm2=40)
    bench.happen("stop_pressed")
    bench.run(1.0)
    bench.happen("stop_released")
    stays_dark(bench)
    bench.ask("acknowledge")
    stays_dark(bench)
    bench.ask("go")
    bench.until_state("done")
    assert bench.true_dose() == pytest.approx(40, rel=0.01)


def test_cut_out_opens_darkens_by_its_wire_alone_and_is_told(bench: BenchBox) -> None:
    """The Pi has no wire to F3: K1 drops, the light is missed, and dark it stays."""
    bench.light_up()
    at_s = happens(bench, "cut_out_opens")
    bench.until(lambda: not bench.any_light(), 1.0)
    assert bench.clock.now_s - at_s <= 0.02 + 0.02
    bench.run(1.0)
    assert bench.faults
    stays_dark(bench)


def test_cut_out_reset_does_not_bring_light_back(bench: BenchBox) -> None:
    """A person looks first."""
    bench.light_up()
    bench.happen("cut_out_opens")
    bench.run(1.0)
    bench.happen("cut_out_reset")
    stays_dark(bench)
    bench.ask("acknowledge")
    stays_dark(bench)


def test_overheats_darkens_within_two_ticks(bench: BenchBox) -> None:
    """And cannot be acknowledged while it is hot."""
    bench.light_up()
    at_s = happens(bench, "overheats")
    bench.run(0.1)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert bench.faults == ["too_hot"]
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["too_hot"]}
    stays_dark(bench)


def test_cools_does_not_bring_light_back(bench: BenchBox) -> None:
    """A person looks first."""
    bench.light_up()
    bench.happen("overheats")
    bench.run(1.0)
    bench.happen("cools")
    stays_dark(bench)
    assert bench.ask("acknowledge") == {"cleared": ["too_hot"], "standing": []}
    stays_dark(bench)


WIRES = {
    "shut": (None, REACTION_S),
    "emergency_stop": ("emergency_stop", REACTION_S),
    "over_temperature": ("too_hot", REACTION_S),
}


@pytest.mark.parametrize("wire", WIRES)
def test_wire_breaks_darkens_within_two_ticks(bench: BenchBox, wire: str) -> None:
    """A broken wire reads as an opened contact."""
    fault, limit_s = WIRES[wire]
    bench.light_up()
    at_s = happens(bench, "wire_breaks", wire=wire)
    bench.run(1.0)
    assert bench.switched_off_after(at_s) <= limit_s
    assert bench.faults == [fault or "lid_mismatch"]
    stays_dark(bench)


def test_wire_breaks_at_the_mirror_is_seen_after_light(bench: BenchBox) -> None:
    """It then looks as if K1 were welded: no further light until it is mended."""
    bench.light_up()
    bench.happen("wire_breaks", wire="k1_mirror")
    bench.run(2.0)
    assert bench.state == "light"
    bench.ask("dark")
    bench.run(1.0)
    assert bench.faults == ["k1_welded"]


def test_wire_breaks_at_the_open_contact_is_seen_when_the_lid_is_opened(bench: BenchBox) -> None:
    """Shut it reads as before; open, neither contact says anything, which is never a shut lid."""
    bench.light_up()
    bench.happen("wire_breaks", wire="open")
    bench.run(1.0)
    assert bench.state == "light"
    at_s = happens(bench, "lid_opens")
    bench.run(1.0)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert bench.faults == ["lid_mismatch"]


def test_wire_mended_does_not_bring_light_back(bench: BenchBox) -> None:
    """Acknowledged, the panel waits for a go."""
    bench.light_up()
    bench.happen("wire_breaks", wire="emergency_stop")
    bench.run(1.0)
    bench.happen("wire_mended", wire="emergency_stop")
    stays_dark(bench)
    bench.ask("acknowledge")
    stays_dark(bench)
    assert bench.state == "paused"


def test_supply_sags_is_told_and_does_not_darken(bench: BenchBox) -> None:
    """The lamps have nothing to do with the computer's supply."""
    bench.light_up()
    bench.happen("supply_sags")
    bench.run(2.0)
    assert [fault["name"] for fault in bench.snapshot()["faults"]] == ["supply_low"]
    assert bench.state == "light"
    assert bench.any_light()
    assert bench.ask("acknowledge") == {"cleared": [], "standing": ["supply_low"]}


def test_supply_recovers_and_the_remark_can_be_acknowledged(bench: BenchBox) -> None:
    """Told until somebody has read it."""
    bench.light_up()
    bench.happen("supply_sags")
    bench.run(2.0)
    bench.happen("supply_recovers")
    bench.run(2.0)
    assert bench.ask("acknowledge") == {"cleared": ["supply_low"], "standing": []}
    assert bench.state == "light"


def test_field_supply_fails_darkens_within_two_ticks(bench: BenchBox) -> None:
    """Under one name only; test_comforts has the rest."""
    bench.light_up()
    at_s = happens(bench, "field_supply_fails")
    bench.run(1.0)
    assert bench.switched_off_after(at_s) <= REACTION_S
    assert bench.faults == ["inputs_unpowered"]
    stays_dark(bench)


def test_contacts_that_open_under_a_shut_lid_are_named_one_by_one(bench: BenchBox) -> None:
    """The lid's own contacts say that the supply is there, so each of the others means what it says."""
    bench.light_up()
    bench.happen("wire_breaks", wire="k1_mirror")
    bench.happen("stop_pressed")
    bench.happen("overheats")
    bench.run(1.0)
    assert {"emergency_stop", "too_hot"} <= set(bench.faults)
    assert "inputs_unpowered" not in bench.faults


def test_field_supply_returns_does_not_bring_light_back(bench: BenchBox) -> None:
    """Acknowledged and continued by a person only."""
    bench.light_up()
    bench.happen("field_supply_fails")
    bench.run(0.5)
    bench.happen("field_supply_returns")
    bench.run(1.0)
    assert not bench.any_light()
    bench.ask("acknowledge")
    bench.run(1.0)
    assert not bench.any_light()
    assert "go" in bench.snapshot()["may"]
