"""Every way for the daemon to end or to stand still while lamps are on."""

import signal
import subprocess
import time
from pathlib import Path

import pytest

from tests.guest.inside.bench import KEEP_RELEASED, Bench, until
from tests.guest.inside.fixtures import Notes
from tests.guest.inside.lines import RELAY, RESTS

PUMP_S = 0.15
"""How long contactor K1's charge pump holds without a beat."""


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT, signal.SIGHUP])
def test_a_daemon_told_to_stop_darkens_first(bench: Bench, number: signal.Signals) -> None:
    """It sets the relay line to rest itself before it lets go, and ends with status 0."""
    bench.shining()
    began_s = bench.under_record()
    bench.send(number)
    assert bench.dark_after(began_s) < 0.5
    assert bench.lines.set_levels(RELAY)[-1][1] == RESTS
    assert bench.last_beat_after(began_s) < 0.5
    assert bench.ended() == 0, bench.said()


def test_a_daemon_standing_still_lets_k1_drop(bench: Bench, notes: Notes) -> None:
    """Stopped by SIGSTOP nothing can set the relay line to rest, but the enable line stops and the lamps go out.
    Going on, it stays dark until a person has acknowledged the fault."""
    bench.shining()
    began_s = bench.under_record()
    bench.send(signal.SIGSTOP)
    try:
        beat_s = bench.last_beat_after(began_s)
        relay = "rest" if bench.lines.level(RELAY) == RESTS else "lit"
        first_s = bench.sensor.lit_s()
        time.sleep(PUMP_S)
        assert bench.sensor.lit_s() == first_s
    finally:
        bench.send(signal.SIGCONT)
    notes.say(f"SIGSTOP: last move of the enable line after {1000 * beat_s:.0f} ms, relay line stays {relay}")
    assert beat_s < 0.25
    bench.dark_after(began_s)
    until(bench.faults, "a fault")
    assert not bench.lights()


@pytest.mark.parametrize(
    ("number", "kept"),
    [
        pytest.param(signal.SIGSEGV, False, id="SIGSEGV"),
        pytest.param(signal.SIGKILL, True, id="SIGKILL-kernel-keeps-released-outputs"),
    ],
)
def test_a_daemon_that_is_gone_leaves_no_light(bench: Bench, notes: Notes, number: signal.Signals, kept: bool) -> None:
    """The enable line stops, so K1 drops; whether the relay line goes to rest is up to the kernel.

    By default Raspberry Pi's kernels keep an output as it was when its owner dies (raspberrypi/linux pull request
    6117, dtparam strict_gpiod), other kernels let go of it: both are tried.
    """
    bench.shining()
    KEEP_RELEASED.write_text("1" if kept else "0")
    try:
        began_s = bench.under_record()
        bench.send(number)
        assert bench.ended() == -number
        beat_s = bench.last_beat_after(began_s)
        relay = "rest" if bench.lines.level(RELAY) == RESTS else "lit"
        first_s = bench.sensor.lit_s()
        time.sleep(PUMP_S)
        assert bench.sensor.lit_s() == first_s
    finally:
        KEEP_RELEASED.write_text("0")
        bench.lines.pull(RELAY, high=RESTS)
    what = "kept by the kernel" if kept else "let go by the kernel"
    notes.say(f"{number.name}: last move of the enable line after {1000 * beat_s:.0f} ms, relay line {what}: {relay}")
    assert beat_s < 0.25
    assert relay == ("lit" if kept else "rest")
    if number == signal.SIGSEGV:
        assert "Segmentation fault" in bench.said()


def test_what_was_exposed_before_a_kill_is_continued(bench: Bench) -> None:
    """The kernel, out of memory, ends the daemon. The next one offers the panel with its dose, dark until a person's
    word."""
    bench.shining()
    until(lambda: bench.state()["exposure"]["sides"][0]["lit_s"] > 2, "two seconds of light")
    known = bench.state()["exposure"]["sides"][0]["dose_mj_cm2"]
    Path(f"/proc/{bench.running().pid}/oom_score_adj").write_text("1000")
    Path("/proc/sysrq-trigger").write_text("f")
    assert bench.ended() == -signal.SIGKILL
    bench.lines.forget()
    bench.start()
    exposure = bench.state()["exposure"]
    assert exposure["pause_cause"] == "restart"
    assert exposure["sides"][0]["dose_mj_cm2"] >= known - 5.0 * 0.8 * 1.0  # one second of light at most
    assert all(level == RESTS for _, level in bench.lines.set_levels(RELAY))
    bench.shining()


def test_a_fully_loaded_processor_keeps_no_lamp_on(bench: Bench, notes: Notes) -> None:
    """Four programs take all the time they can get: an opened lid still darkens, or the daemon did so before."""
    bench.shining()
    hogs = [subprocess.Popen(["sh", "-c", "while :; do :; done"]) for _ in range(4)]
    try:
        began_s = bench.under_record()
        before = bench.lights()
        bench.open_lid()
        until(lambda: not bench.lights(), "the relay line at rest", 2)
        word = f"dark {1000 * bench.dark_after(began_s):.0f} ms after the lid" if before else "dark of itself"
        notes.say(f"four busy programs on two processors: {word}")
    finally:
        for hog in hogs:
            hog.kill()
            hog.wait()
    until(lambda: bench.state()["state"] in ("paused", "faulted"), "the daemon to say so")
