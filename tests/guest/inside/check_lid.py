"""The lid's two contacts, pulled in the simulated chip, against the lamps."""

import time
from random import Random

from tests.guest.inside.bench import Bench, until
from tests.guest.inside.fixtures import Notes
from tests.guest.inside.lines import ENABLE, LIGHTS, OPEN_CONTACT, RELAY, SHUT_CONTACT

SAMPLES = 20 if LIGHTS else 50
"""Fewer in the second round, where only the level of one line is another."""

LIMIT_S = 0.25
"""Bound under emulation, where Python is ten times slower; nothing tighter is asserted here."""


APART_S = 0.6
"""Between two openings: a lid that opens more often counts as a bouncing one."""


def test_an_opened_lid_darkens(bench: Bench, notes: Notes) -> None:
    """Many times, at odd moments: the relay line goes to rest and the enable line stops."""
    relay_s: list[float] = []
    enable_s: list[float] = []
    moments = Random(5)
    spoilt, began_s = 0, 0.0
    while len(relay_s) < SAMPLES:
        bench.lit()
        bench.lines.forget()
        time.sleep(max(0.0, began_s + APART_S - time.monotonic()) + moments.uniform(0.02, 0.06))
        if not bench.lights():
            assert bench.held_up(), bench.faults()
            spoilt += 1
            assert spoilt < SAMPLES, "this host is too busy"
            continue
        began_s = bench.open_lid()
        relay_s.append(bench.dark_after(began_s))
        if len(relay_s) % 10 == 0:
            enable_s.append(bench.last_beat_after(began_s))
    notes.spread("lid contact to relay line at rest", relay_s)
    notes.spread("lid contact to last move of the enable line", enable_s)
    if spoilt:
        notes.say(f"{spoilt} more samples were spoilt: the host held the emulated machine up")
    assert min(relay_s) > 0
    assert max(relay_s) < LIMIT_S
    assert max(enable_s) < LIMIT_S
    state = bench.state()
    assert state["lid"] == "open"
    assert state["state"] == "paused"
    assert state["exposure"]["pause_cause"] == "lid"


def test_contradicting_contacts_darken(bench: Bench) -> None:
    """Both closed, as by a short: dark at once, and a fault when it lasts longer than the box allows."""
    bench.shining()
    began_s = bench.under_record()
    bench.lines.pull(OPEN_CONTACT, high=False)
    assert bench.dark_after(began_s) < LIMIT_S
    until(lambda: "lid_mismatch" in bench.faults(), "the fault")
    assert not bench.lights()


def test_a_broken_wire_darkens(bench: Bench) -> None:
    """Both contacts read high."""
    bench.shining()
    began_s = bench.under_record()
    bench.lines.pull(SHUT_CONTACT, high=True)
    assert bench.dark_after(began_s) < LIMIT_S


def test_a_shut_lid_alone_brings_no_light(bench: Bench) -> None:
    """Only a person's word does."""
    bench.lit()
    bench.open_lid()
    until(lambda: bench.state()["lid"] == "open", "the lid to read open")
    bench.shut_lid()
    bench.until_may("go")
    bench.lines.forget()
    time.sleep(0.5)
    assert bench.lines.moves(RELAY) == []
    assert bench.lines.moves(ENABLE) == []
