"""What is mutated, and the tests that must notice."""

from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

WHOLE = (
    *("control/test_dark_check.py", "control/test_guards.py", "control/test_events_of_the_box.py"),
    *("control/test_events_of_the_light.py", "control/test_events_of_the_chain.py", "control/test_restart.py"),
    *("control/exposure/test_series.py", "control/test_whole_exposures.py"),
)
"""What a mutant of control must get past as well: the same code within the whole of it."""

LOOP = (
    *("control/test_loop.py", "control/test_loop_light.py", "control/safety/test_dark.py", "control/test_comforts.py"),
    *("control/test_program_faults.py", "control/test_logbook_trouble.py", "control/records/test_lampsigns.py"),
    *("control/test_seen.py", "control/test_tick_rate.py", "control/test_pace_at_rest.py", "control/test_uv_box.py"),
    "control/test_both_sensors.py",
    *("control/commissioning/test_session.py", "control/commissioning/test_state_machine.py"),
    "control/frontpanel/test_go_and_stop.py",
    *WHOLE,
)

EXPOSURE = (
    *("control/exposure/test_state_machine.py", "control/exposure/test_state_machine_sides.py"),
    *("control/exposure/test_state_machine_limits.py", "control/exposure/test_every_state.py"),
    *("control/exposure/test_lit_once.py", "control/test_comforts.py", *WHOLE),
)


@dataclass(frozen=True)
class Target:
    """A module to be mutated. Tests are files below tests/; whatever their order, the quick ones are run first."""

    module: str
    tests: tuple[str, ...]


TARGETS = {
    "permit": Target(
        "sumlight.control.safety.permit",
        ("control/safety/test_permit.py", "control/safety/test_k1_alone.py", *WHOLE),
    ),
    "faults": Target("sumlight.control.safety.faults", ("control/safety/test_faults.py", *WHOLE)),
    "exposure": Target("sumlight.control.exposure.state_machine", EXPOSURE),
    "dark_check": Target("sumlight.control.exposure.dark_check", EXPOSURE),
    "dark": Target("sumlight.control.safety.dark", ("control/safety/test_dark.py",)),
    "lamps": Target(
        "sumlight.box.lamps", ("box/test_lamps.py", "control/safety/test_dark.py", "control/test_guards.py")
    ),
    "watch": Target(
        "sumlight.control.safety.watchdog",
        ("control/safety/test_watchdog.py", "control/safety/test_dark.py", "control/test_guards.py"),
    ),
    "loop": Target("sumlight.control.loop", LOOP),
    "bank": Target("sumlight.control.bank_monitor", LOOP),
    "chain": Target(
        "sumlight.control.safety.interlocks",
        ("control/safety/test_interlocks.py", "control/test_comforts.py", "control/test_events_of_the_chain.py"),
    ),
    "gate": Target(
        "sumlight_web.access.gate",
        (
            *("webui/test_gate.py", "webui/test_access.py", "webui/test_sessions.py"),
            *("webui/test_firstrun.py", "webui/test_guard.py", "webui/test_hosts.py"),
        ),
    ),
}


def source_of(target: Target) -> Path:
    """The file of a target."""
    root = "webui" if target.module.startswith("sumlight_web") else "firmware"
    return ROOT / root / f"{target.module.replace('.', '/')}.py"
