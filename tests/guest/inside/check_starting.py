"""How the daemon starts on a real kernel, and how it refuses to."""

import subprocess
from pathlib import Path

import pytest

from sumlight.protocol.errors import BadRequestError
from tests.guest.inside.bench import BOX, LIMIT_S, START_LIMIT_S, Bench, control_command, environment, mask_file, until
from tests.guest.inside.fixtures import Notes
from tests.guest.inside.lines import ENABLE, RELAY, RESTS


@pytest.fixture(scope="module")
def refusals(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[int, str]]:
    """Exit status and words of daemons that find something missing; all are started at once to save time."""
    folder = tmp_path_factory.mktemp("refusals")
    (folder / "lgpio.py").write_text("raise ImportError('no such library on this machine')\n")
    for name, old, new in (("twin", "lgpio", "twin"), ("bus", "i2c_bus: 1", "i2c_bus: 7")):
        (folder / f"{name}.yaml").write_text(BOX.read_text().replace(old, new, 1))
    attempts = {
        "library": (control_command(), environment(PYTHONPATH=f"{folder}:{environment()['PYTHONPATH']}")),
        "chip": (mask_file("/dev/gpiochip0", control_command()), environment()),
        "twin": (control_command(_box(folder, "twin")), environment()),
        "bus": (control_command(_box(folder, "bus")), environment()),
    }
    running = {
        name: subprocess.Popen(
            command, env=env, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, cwd="/run"
        )
        for name, (command, env) in attempts.items()
    }
    found = {}
    for name, process in running.items():
        words, _ = process.communicate(timeout=START_LIMIT_S)
        found[name] = (process.returncode, words)
    return found


def _box(folder: Path, name: str) -> Path:
    return folder / f"{name}.yaml"


@pytest.mark.parametrize(
    ("missing", "words"),
    [
        ("library", "pin library 'lgpio' cannot be opened"),
        ("chip", "pin library 'lgpio' cannot be opened"),
        ("twin", "pin_library 'twin' cannot drive a real box; box.yaml must say 'lgpio'"),
        ("bus", "i2c-7"),
    ],
)
def test_nothing_is_fallen_back_to(refusals: dict[str, tuple[int, str]], missing: str, words: str) -> None:
    """Without the pin library, its chip or the bus: exit status 2, one clear line, no other library tried."""
    status, said = refusals[missing]
    assert status == 2, said
    assert words in said
    assert "Traceback" not in said
    assert "allback" not in said


def test_lines_rest_from_the_first_moment_on(bench: Bench) -> None:
    """From before the process to its first command no program sets the relay line to the level that lights,
    not even for a microsecond: the kernel's own record says so. Nor does the enable line move."""
    bench.stop()
    bench.sensor.become("absent")
    bench.lines.forget()
    assert bench.lines.level(RELAY) == RESTS
    bench.start()
    until(lambda: bench.state()["lid"] == "shut", "the lid to settle")
    assert {level for _, level in bench.lines.set_levels(RELAY)} == {RESTS}
    assert {level for _, level in bench.lines.set_levels(ENABLE)} == {False}
    assert bench.lines.level(RELAY) == RESTS


def test_without_its_sensor_the_daemon_runs_but_refuses_to_light(bench: Bench, notes: Notes) -> None:
    """The refusal names the meter; once the sensor answers, the unmodified driver reads it over /dev/i2c-1."""
    bench.idle()
    bench.sensor.become("absent")
    until(lambda: not bench.state()["banks"][0]["meter_ok"], "the loss to be seen")
    assert "does not answer" in bench.state()["banks"][0]["meter_message"]
    with pytest.raises(BadRequestError, match="gives no reading") as refused:
        bench.ask("start", recipe="long", panel="P1")
    assert refused.value.code == "refused"
    assert not bench.lights()
    bench.sensor.become("present")
    took_s = until(lambda: bench.state()["banks"][0]["meter_ok"], "readings", LIMIT_S)
    notes.say(f"readings {took_s:.1f} s after the sensor was plugged in")
    assert bench.state()["banks"][0]["irradiance_mw_cm2"] < 0.1
