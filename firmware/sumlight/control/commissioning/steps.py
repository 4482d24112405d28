"""The steps of commissioning: what the person does, what control looks at, and the limits. A table and nothing else."""

from dataclasses import dataclass
from typing import Literal

from sumlight.box.description import BoxDescription, Sight
from sumlight.box.lid import LidState
from sumlight.protocol.snapshot import LeftOut
from sumlight.text.message import NOTHING, Message, joined, say

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

SETTLE_S = 3.0
"""Light must have burnt for this long before anything is measured: the witness compares with what was before."""

TUBES_LIT_S = 60.0
"""How long the tubes burn for each look at them: most of their warming is over (common practice, no source)."""

COOL_FACTOR = 3.0
"""Between two looks they are dark for so many times as long: nobody takes out a hot tube, each look begins alike."""

Kind = Literal["reading", "rest", "watch", "lamps", "cut", "mirror", "alone", "killed", "leak", "tubes"]
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

    `tubes` lights `bank` with all of its tubes, without each in turn, and with all again, `lit_s` each time: whether
    the sensor sees them as `sight` says. It proves what the box may claim, not what keeps people safe, so a walk
    without it unlocks the box (`locks`).
    """

    name: str
    title: Message
    kind: Kind
    do: Message
    hint: Message
    undo: Message | None = None
    lid: LidState | None = None
    expects: str | None = None
    trigger: Trigger | None = None
    off_limit_s: float = LAMPS_OFF_LIMIT_S
    sees_fall: bool = False
    part: Message = NOTHING
    button: Message | None = None
    needs: tuple[str, ...] = ()
    bank: str = ""
    sight: Sight | None = None
    lit_s: float = SETTLE_S

    @property
    def locks(self) -> bool:
        """Whether a box that has not done it stays locked."""
        return self.kind != "tubes"

    @property
    def lights(self) -> bool:
        """Whether lamps burn in it."""
        return self.kind in ("lamps", "cut", "mirror", "killed", "leak", "tubes")


NO_LIGHT_HINT = say("no_light_hint")

PREPARE = say("prepare_for_light")

PREPARE_ALONE = say("prepare_for_k1")

FAULT_HINTS = {
    "no_light": NO_LIGHT_HINT,
    "k1_silent": say("k1_silent_hint"),
    "k1_welded": say("k1_welded_hint"),
}
"""Where to look when lamps do not light soundly, by fault."""


BY_ELECTRICIAN = say("by_electrician")

MIRROR = ("enable_pin", "signals.k1_mirror_pin")
STOP = "signals.emergency_stop_pin"
HEAT = "signals.over_temperature_pin"


def steps_for(box: BoxDescription) -> tuple[list[Step], list[LeftOut]]:
    """The steps for this box, and those left out."""
    here = {
        "enable_pin": box.enable_pin is not None,
        "signals.k1_mirror_pin": isinstance(box.signals.k1_mirror_pin, int),
        STOP: isinstance(box.signals.emergency_stop_pin, int),
        HEAT: isinstance(box.signals.over_temperature_pin, int),
    }
    steps = [*_dark_steps(), *_lit_steps(box), *_tube_steps(box)]
    missing = {step.name: [key for key in step.needs if not here[key]] for step in steps}
    left_out = [
        LeftOut(title=step.title, why=say("left_out_of_box_yaml", key=missing[step.name][0]))
        for step in steps
        if missing[step.name]
    ]
    return [step for step in steps if not missing[step.name]], left_out


def _dark_steps() -> list[Step]:
    swapped = say("lid_contacts_hint")
    held = say("lid_contact_of_its_own")
    return [
        Step("lid_shut", say("lid_shut_title"), "reading", say("shut_lid"), swapped, lid="shut"),
        Step(
            "k1_rest",
            say("k1_rest_title"),
            "rest",
            say("k1_rest_do"),
            say("k1_rest_hint"),
            needs=MIRROR,
        ),
        Step(
            "lid_open",
            say("lid_open_title"),
            "reading",
            say("open_lid_wide"),
            swapped,
            undo=say("shut_lid"),
            lid="open",
        ),
        Step(
            "shut_contact_held",
            say("shut_contact_held_title"),
            "watch",
            say("hold_shut_contact"),
            held,
            undo=say("let_contact_go"),
            expects="lid_mismatch",
        ),
        Step(
            "open_contact_held",
            say("open_contact_held_title"),
            "watch",
            say("hold_open_contact"),
            held,
            undo=say("let_contact_go"),
            expects="lid_mismatch",
        ),
        Step(
            "over_temperature",
            say("over_temperature_title"),
            "watch",
            say("open_s6"),
            say("over_temperature_hint"),
            undo=say("let_s6_go"),
            expects="too_hot",
            button=say("has_s6_a_button"),
            needs=(HEAT,),
        ),
    ]


def _alone_steps() -> list[Step]:
    """Each hard-wired contact alone must drop K1 while the heart beats on; see hardware/drawings/mains.svg."""
    hint = say("wire_in_series")
    return [
        Step(
            "lid_alone",
            say("lid_alone_title"),
            "alone",
            say("lift_lid_briskly"),
            hint,
            undo=say("shut_lid"),
            trigger="lid",
            part=say("lid_switch_s3"),
            needs=MIRROR,
        ),
        Step(
            "stop_alone",
            say("stop_alone_title"),
            "alone",
            say("press_stop"),
            hint,
            undo=say("release_stop"),
            expects="emergency_stop",
            trigger="stop",
            part=say("stop_contact_s2"),
            needs=(*MIRROR, STOP),
        ),
        Step(
            "cut_out_alone",
            say("cut_out_alone_title"),
            "alone",
            say("press_f3"),
            hint,
            undo=say("reset_f3"),
            expects="too_hot",
            part=say("cut_out_f3"),
            button=say("has_f3_a_button"),
            needs=MIRROR,
        ),
    ]


def _tube_steps(box: BoxDescription) -> list[Step]:
    """One for each bank of several tubes whose sensor says how it looks at them."""
    sights = [(bank, box.meter_of(bank).sight) for bank in box.banks if bank.lamps == "tubes"]
    return [
        Step(
            f"tubes_{bank.name}",
            say("tubes_title", bank=bank.name),
            "tubes",
            say("tubes_do", bank=bank.name),
            say("tubes_hint"),
            button=say("may_tubes_come_out", bank=bank.name, tubes=sight.tubes),
            bank=bank.name,
            sight=sight,
            lit_s=min(TUBES_LIT_S, 0.5 * box.limits.lit_limit_s),
        )
        for bank, sight in sights
        if sight is not None and sight.tubes > 1
    ]


def _lit_steps(box: BoxDescription) -> list[Step]:
    return [
        Step(
            "bank_relay",
            say("bank_relay_title"),
            "cut",
            say("light_ends_by_itself"),
            joined(NO_LIGHT_HINT, say("lamps_burn_on_hint")),
        ),
        Step(
            "k1_mirror",
            say("k1_mirror_title"),
            "mirror",
            say("permit_is_withdrawn"),
            say("k1_mirror_hint"),
            needs=MIRROR,
        ),
        *_alone_steps(),
        Step(
            "lid_under_light",
            say("lid_under_light_title"),
            "lamps",
            say("lift_lid_a_finger"),
            say("lid_under_light_hint"),
            undo=say("shut_lid"),
            trigger="lid",
            sees_fall=True,
        ),
        Step(
            "emergency_stop",
            say("emergency_stop_title"),
            "lamps",
            say("press_stop"),
            say("emergency_stop_hint"),
            undo=say("release_stop"),
            expects="emergency_stop",
            trigger="stop",
            sees_fall=True,
            needs=(STOP,),
        ),
        Step(
            "sensor_pulled",
            say("sensor_pulled_title"),
            "lamps",
            say("pull_sensor_plug"),
            say("sensor_pulled_hint"),
            undo=say("plug_sensor_in"),
            expects="meter_lost",
            trigger="silence",
            off_limit_s=box.limits.bridge_limit_s + LAMPS_OFF_LIMIT_S,
        ),
        Step(
            "light_blocked",
            say("light_blocked_title"),
            "lamps",
            say("push_card_in"),
            say("light_blocked_hint"),
            undo=say("take_card_out"),
            expects="light_lost",
            trigger="shade",
            off_limit_s=STEP_LIMIT_S,
        ),
        Step(
            "process_killed",
            say("process_killed_title"),
            "killed",
            say("kill_controller"),
            say("process_killed_hint"),
        ),
        Step(
            "light_leak",
            say("light_leak_title"),
            "leak",
            say("go_around_the_box"),
            say("light_leak_hint"),
        ),
    ]
