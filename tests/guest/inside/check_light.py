"""Light on a real kernel: the lines while it burns, and a dose that is met."""

import time
from itertools import pairwise

from sumlight.twin.optics import NOMINAL_MW_CM2
from tests.guest.inside.bench import SHORT_MJ_CM2, Bench, until
from tests.guest.inside.fixtures import Notes
from tests.guest.inside.lines import ENABLE

TRANSMISSION = 0.8
ATTEMPTS = 3
"""A host that has no time for the emulated machine makes the daemon go dark, rightly, but that is no use here."""


def test_an_exposure_lights_and_its_enable_line_beats(bench: Bench, notes: Notes) -> None:
    """Started by socket: the relay line goes to the level that lights, the enable line turns over once a tick."""
    for _ in range(ATTEMPTS):
        bench.shining()
        bench.lines.forget()
        began_s = time.monotonic()
        time.sleep(1.0)
        beats = bench.lines.moves(ENABLE)
        took_s = time.monotonic() - began_s
        if not bench.held_up():
            break
    assert bench.lights()
    levels = [level for _, level in beats]
    assert all(a != b for a, b in pairwise(levels))
    longest_s = max(b[0] - a[0] for a, b in pairwise(beats))
    notes.say(f"ticks while lit: {len(beats) / took_s:.0f} a second, longest gap {1000 * longest_s:.0f} ms")
    assert len(beats) / took_s > 190  # of 200; the sensor program's charge pump would stay open at 54
    assert longest_s < 0.015


def test_an_exposure_ends_at_its_dose(bench: Bench, notes: Notes) -> None:
    """The lamp follows the relay line, the sensor the lamp, and the daemon stops both at the recipe's dose."""
    for _ in range(ATTEMPTS):
        bench.idle()
        before_s = bench.sensor.lit_s()
        bench.ask("start", recipe="short", panel="P2")
        until(lambda: bench.state()["state"] in ("done", "faulted"), "the end of the exposure", 30, look_s=0.1)
        if not bench.held_up():
            break
    exposure = bench.state()["exposure"]
    measured = exposure["sides"][0]["dose_mj_cm2"]
    true = NOMINAL_MW_CM2 * TRANSMISSION * (bench.sensor.lit_s() - before_s)
    notes.say(f"dose: target {SHORT_MJ_CM2:g}, measured {measured:.2f}, true {true:.2f} mJ/cm²")
    assert exposure["outcome"] == "completed"
    assert not exposure["doubtful"]
    assert abs(measured / SHORT_MJ_CM2 - 1) < 0.03
    assert abs(true / SHORT_MJ_CM2 - 1) < 0.05
    assert not bench.lights()


def test_dark_by_command(bench: Bench) -> None:
    """The socket's `dark` needs no tick: the line is at rest before the reply."""
    bench.shining()
    bench.ask("dark")
    assert not bench.lights()
    assert bench.state()["state"] == "paused"
