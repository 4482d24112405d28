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

ALONE_LIMIT_S = 0.1
"""A hard-wired contact seen open to K1 dropped, by its mirror: a contactor takes 10 to 30 ms (from memory), the lid's
two switches open some way apart. The pump alone would hold K1 for longer than this after its last edge."""

STEP_LIMIT_S = 0.8
"""A covered sensor to relay pins at rest: the step must fill three windows, one of which it cuts."""

ACT_LIMIT_S = 120.0
"""How long the person may take for what is to be done under light."""

LIT_S = 180.0
LEAK_LIT_S = 900.0
"""How long the lamps burn at most in one step; going around the box with a radiometer takes longer."""

CUT_LIT_S = 8.0
"""Light of the step that ends by itself, with K1 still held."""

Kind = Literal["reading", "rest", "watch", "lamps", "cut", "mirror", "alone", "killed", "leak"]
Trigger = Literal["lid", "stop", "silence", "shade"]


@dataclass(frozen=True)
class Step:
    """One step.

    `do` is what the person does, `undo` how it is put right again. Kinds: `reading` compares the lid with `lid`;
    `rest` looks whether K1's mirror shows it dropped; `watch` waits for the fault `expects` without light; `lamps`
    lights them and measures what `trigger` brings about; `cut` lets the light end by itself while K1 is still held, so
    that the bank relays alone must darken; `mirror` lights them and withdraws the permit; `alone` holds K1 with all
    banks off and sees the one contact `part`, moved by the person, drop it; `killed` waits for the process to be
    killed; `leak` asks for a measured irradiance. `off_limit_s` is the longest time to relay pins at rest. `hint` says
    where to look when it fails. `button` asks first whether the part can be opened without touching a wire: if not,
    it is not proved here. `needs` are the keys of box.yaml without which the step cannot prove anything.
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
    part: str = ""
    button: str = ""
    needs: tuple[str, ...] = ()

    @property
    def lights(self) -> bool:
        """Whether lamps burn in it."""
        return self.kind in ("lamps", "cut", "mirror", "killed", "leak")


NO_LIGHT_HINT = (
    "Look at `lights_when` of the bank in box.yaml (the wrong level lights the lamps at rest instead), at relay_pin, "
    "K1, fuse and tubes, and at the sensor's place. Mains: only an electrician."
)

PREPARE = "Shut the lid and stand back. The lamps will light: nobody looks in. Go on when ready."

PREPARE_ALONE = (
    "Shut the lid and stand at the box, not over it. K1 will be held for at most 20 s, all lamps stay off. "
    "Go on when ready, and do the following as soon as the box says so, not before."
)

FAULT_HINTS = {
    "no_light": NO_LIGHT_HINT,
    "k1_silent": (
        "K1's mirror says dropped although K1 is held: the mirror is bridged or wired wrongly. Mains off, then an "
        "electrician looks at it."
    ),
    "k1_welded": (
        "K1's mirror says closed although nothing feeds its pump: K1 is welded, or the mirror's wire is off. Mains "
        "off, then an electrician looks at both."
    ),
}
"""Where to look when lamps do not light soundly, by fault."""


BY_ELECTRICIAN = "not proved here: by the electrician, mains off"

MIRROR = ("enable_pin", "signals.k1_mirror_pin")
STOP = "signals.emergency_stop_pin"
HEAT = "signals.over_temperature_pin"


def steps_for(box: BoxDescription) -> tuple[list[Step], list[tuple[str, str]]]:
    """The steps for this box, and those left out as (title, why)."""
    here = {
        "enable_pin": box.enable_pin is not None,
        "signals.k1_mirror_pin": isinstance(box.signals.k1_mirror_pin, int),
        STOP: isinstance(box.signals.emergency_stop_pin, int),
        HEAT: isinstance(box.signals.over_temperature_pin, int),
    }
    steps = [*_dark_steps(), *_lit_steps(box)]
    missing = {step.name: [key for key in step.needs if not here[key]] for step in steps}
    left_out = [
        (step.title, f"not proved here: box.yaml leaves out {missing[step.name][0]}")
        for step in steps
        if missing[step.name]
    ]
    return [step for step in steps if not missing[step.name]], left_out


def _dark_steps() -> list[Step]:
    swapped = "Look at both lid contacts: shut_pin and open_pin may be swapped, a contact may be stuck or bridged."
    held = "A contact is not what it should be: each lid contact must have a wire and a switch of its own."
    return [
        Step("lid_shut", "The lid reads shut", "reading", "Shut the lid.", swapped, lid="shut"),
        Step(
            "k1_rest",
            "K1's mirror shows it dropped at rest",
            "rest",
            "Nothing: lamps and heartbeat are off. Go on.",
            "Mains off, then an electrician looks at the mirror's wire (one that is off reads as closed) and at K1: if "
            "it is welded it must be replaced.",
            needs=MIRROR,
        ),
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
            "Open the over-temperature contact S6: press its test button, or turn its dial down.",
            "Look at over_temperature_pin and whether the contact is one that opens when hot.",
            undo="Let the button of S6 go, or turn its dial back.",
            expects="too_hot",
            button="Can the over-temperature contact S6 be opened by a test button or a dial, from outside? Never "
            "loosen a wire for it.",
            needs=(HEAT,),
        ),
    ]


def _alone_steps() -> list[Step]:
    """Each hard-wired contact alone must drop K1 while the heart beats on; see hardware/drawings/mains.svg."""
    hint = "Do not use the box: mains off, and an electrician wires it in series with K1's coil, as mains.svg shows."
    return [
        Step(
            "lid_alone",
            "The lid switch alone drops K1",
            "alone",
            "Lift the lid by a hand's width, briskly.",
            hint,
            undo="Shut the lid.",
            trigger="lid",
            part="the lid switch S3",
            needs=MIRROR,
        ),
        Step(
            "stop_alone",
            "The emergency stop alone drops K1",
            "alone",
            "Press the emergency stop.",
            hint,
            undo="Release the emergency stop.",
            expects="emergency_stop",
            trigger="stop",
            part="the contact of the emergency stop S2",
            needs=(*MIRROR, STOP),
        ),
        Step(
            "cut_out_alone",
            "The thermal cut-out alone drops K1",
            "alone",
            "Press the test button of the thermal cut-out F3.",
            hint,
            undo="Close the cut-out again with its reset button.",
            expects="too_hot",
            part="the thermal cut-out F3",
            button="Has the thermal cut-out F3 a test button, to be pressed from outside? Never loosen a wire for it.",
            needs=MIRROR,
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
            needs=MIRROR,
        ),
        *_alone_steps(),
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
            needs=(STOP,),
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
