"""The steps of commissioning: what the person does, what control looks at, and the limits. A table and nothing else."""

from dataclasses import dataclass
from typing import Literal

from sumlight.box.description import BoxDescription
from sumlight.box.lid import LidState

LAMPS_OFF_LIMIT_S = 0.025
"""Contact seen open to relay pins at rest: the worst that the latency figure allows."""

FALL_LIMIT_S = 0.3
"""Contact seen open to less than half of the light: relay, tube afterglow and three windows of the meter."""

K1_LIMIT_S = 0.5
"""Enable line at rest to K1 dropped, by its mirror."""

STEP_LIMIT_S = 0.8
"""A covered sensor to relay pins at rest: the step must fill three windows, one of which it cuts."""

ACT_LIMIT_S = 120.0
"""How long the person may take for what is to be done under light."""

LIT_S = 180.0
LEAK_LIT_S = 900.0
"""How long the lamps burn at most in one step; going around the box with a radiometer takes longer."""

CUT_LIT_S = 8.0
"""Light of the step that ends by itself, with K1 still held."""

Kind = Literal["reading", "watch", "lamps", "cut", "mirror", "killed", "leak"]
Trigger = Literal["lid", "stop", "silence", "shade"]


@dataclass(frozen=True)
class Step:
    """One step.

    `do` is what the person does, `undo` how it is put right again. Kinds: `reading` compares the lid with `lid`;
    `watch` waits for the fault `expects` without light; `lamps` lights them and measures what `trigger` brings about;
    `cut` lets the light end by itself while K1 is still held, so that the bank relays alone must darken; `mirror`
    lights them and withdraws the permit; `killed` waits for the process to be killed; `leak` asks for a measured
    irradiance. `off_limit_s` is the longest time to relay pins at rest. `hint` says where to look when it fails.
    """

    name: str
    title: str
    kind: Kind
    do: str
    hint: str
    undo: str = ""
    lid: LidState | None = None
    expects: str | None = None
    trigger: Trigger | None = None
    off_limit_s: float = LAMPS_OFF_LIMIT_S
    sees_fall: bool = False

    @property
    def lights(self) -> bool:
        """Whether lamps burn in it."""
        return self.kind in ("lamps", "cut", "mirror", "killed", "leak")


NO_LIGHT_HINT = (
    "Look at `lights_when` of the bank in box.yaml (the wrong level lights the lamps at rest instead), at relay_pin, "
    "K1, fuse and tubes, and at the sensor's place. Mains: only an electrician."
)

PREPARE = "Shut the lid and stand back. The lamps will light: nobody looks in. Go on when ready."


def steps_for(box: BoxDescription) -> tuple[list[Step], list[tuple[str, str]]]:
    """The steps for this box, and those left out as (title, why)."""
    out = box.signals
    mirror = isinstance(out.k1_mirror_pin, int) and box.enable_pin is not None
    wanted = {
        "over_temperature": isinstance(out.over_temperature_pin, int),
        "k1_mirror": mirror,
        "emergency_stop": isinstance(out.emergency_stop_pin, int),
    }
    steps = _all_steps(box)
    left_out = [(step.title, "box.yaml leaves this signal out") for step in steps if not wanted.get(step.name, True)]
    return [step for step in steps if wanted.get(step.name, True)], left_out


def _all_steps(box: BoxDescription) -> list[Step]:
    return [*_dark_steps(), *_lit_steps(box)]


def _dark_steps() -> list[Step]:
    swapped = "Look at both lid contacts: shut_pin and open_pin may be swapped, a contact may be stuck or bridged."
    held = "A contact is not what it should be: each lid contact must have a wire and a switch of its own."
    return [
        Step("lid_shut", "The lid reads shut", "reading", "Shut the lid.", swapped, lid="shut"),
        Step(
            "lid_open",
            "The lid reads open",
            "reading",
            "Open the lid wide.",
            swapped,
            undo="Shut the lid.",
            lid="open",
        ),
        Step(
            "shut_contact_held",
            "A stuck 'shut' contact is noticed",
            "watch",
            "Hold the contact on shut_pin pressed as the lid does, and open the lid.",
            held,
            undo="Let the contact go and shut the lid.",
            expects="lid_mismatch",
        ),
        Step(
            "open_contact_held",
            "A stuck 'open' contact is noticed",
            "watch",
            "Hold the contact on open_pin as the shut lid does, and open the lid.",
            held,
            undo="Let the contact go and shut the lid.",
            expects="lid_mismatch",
        ),
        Step(
            "over_temperature",
            "Heat is noticed",
            "watch",
            "Take the wire off the over-temperature contact.",
            "Look at over_temperature_pin and whether the contact is one that opens when hot.",
            undo="Put the wire back.",
            expects="too_hot",
        ),
    ]


def _lit_steps(box: BoxDescription) -> list[Step]:
    return [
        Step(
            "bank_relay",
            "The bank relays darken by themselves",
            "cut",
            "Nothing: the light ends by itself, K1 is still held.",
            NO_LIGHT_HINT + " Lamps that burn on: the relay may be welded, or its board's own pull may be missing.",
        ),
        Step(
            "k1_mirror",
            "K1 drops and its mirror tells",
            "mirror",
            "Nothing: the permit is withdrawn by the controller.",
            "Look at k1_mirror_pin (a normally closed mirror contact), at the charge pump, and at K1 itself.",
        ),
        Step(
            "lid_under_light",
            "The lid darkens the lamps",
            "lamps",
            "Lift the lid by a finger's width. Do not look in.",
            "Look at the lid contacts and at the lid switch in K1's coil circuit.",
            undo="Shut the lid.",
            trigger="lid",
            sees_fall=True,
        ),
        Step(
            "emergency_stop",
            "The emergency stop darkens the lamps",
            "lamps",
            "Press the emergency stop.",
            "Look at emergency_stop_pin and at the stop's contact in K1's coil circuit.",
            undo="Release the emergency stop.",
            expects="emergency_stop",
            trigger="stop",
            sees_fall=True,
        ),
        Step(
            "sensor_pulled",
            "A lost sensor darkens the lamps",
            "lamps",
            "Pull the sensor's plug.",
            "The lamps must not burn without readings: look at limits.bridge_limit_s.",
            undo="Plug the sensor in again and wait until the page shows its readings.",
            expects="meter_lost",
            trigger="silence",
            off_limit_s=box.limits.bridge_limit_s + LAMPS_OFF_LIMIT_S,
        ),
        Step(
            "light_blocked",
            "A covered sensor darkens the lamps",
            "lamps",
            "Push a black card between lamps and sensor, through the sensor's slot and with the lid shut.",
            "Look whether the sensor sees this bank's lamps and nothing else.",
            undo="Take the card out.",
            expects="light_lost",
            trigger="shade",
            off_limit_s=STEP_LIMIT_S,
        ),
        Step(
            "process_killed",
            "The lamps go dark when the controller is killed",
            "killed",
            "Kill the controller: sudo systemctl kill -s KILL sumlight-control (or kill -9 its process). "
            "Watch the lamps, then wait for it to come back.",
            "The charge pump must let K1 drop when the enable line stands still: look at its parts and at K1.",
        ),
        Step(
            "light_leak",
            "No harmful light leaks out",
            "leak",
            "In a dark room and with UV glasses on, go around the shut box with a UV-A radiometer, at the distance of "
            "a face. Enter the highest reading in mW/cm².",
            "Seal lid, cable holes and seams with opaque material, then measure again.",
        ),
    ]
