"""What boxes and collector say to each other: JSON objects, checked on both sides. Pure.

Units stand in the names; times are ISO 8601 in UTC. Names of people, notes and samples stay on the box.
"""

import json
from typing import Annotated, Any, Literal, TypeVar

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from sumlight.fleet.topics import BOX_ID

M = TypeVar("M", bound="Part")
LARGEST_BYTES = 48 * 1024
"""Of one message; the broker is told 65,536."""
LARGEST_SEQ = 2**53 - 1
LONGEST_WORD = 200
"""Characters; whoever sends a longer one cuts it."""

BoxId = Annotated[str, Field(pattern=f"^{BOX_ID.pattern}$")]
Mark = Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]
Epoch = Annotated[str, Field(pattern=r"^[0-9a-f]{16}$")]
Seq = Annotated[int, Field(ge=0, le=LARGEST_SEQ)]
Word = Annotated[str, Field(max_length=LONGEST_WORD)]
Utc = Annotated[str, Field(pattern=r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{6}Z$")]
Kind = Literal["exposure", "fault", "lamp_reading", "tube", "calibration", "tablet_reading", "job_panel", "bath"]


class FleetMessageError(ValueError):
    """A message that is not as it should be; says where."""


class Part(BaseModel):
    """Base of whatever is sent: nothing unknown, nothing converted, no infinities."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class FleetMessage(Part):
    """A whole message; `version` is that of its shape."""

    version: Literal[1] = 1


class Record(FleetMessage):
    """A record of the logbook as it stood when it was sent. QoS 1, not retained.

    `seq` counts what was begun or changed on this card since `epoch` began, `previous_seq` is the number before it in
    the logbook. `record` names the record for good, `mark` this change of it: the same mark is
    the same change, whatever epoch it comes in. `body` is as its kind has it; null: it was taken back.
    """

    box_id: BoxId
    epoch: Epoch
    seq: Annotated[int, Field(ge=1, le=LARGEST_SEQ)]
    previous_seq: Seq
    record: Mark
    mark: Mark
    kind: Kind
    at_utc: Utc | None
    body: dict[str, Any] | None


class Acknowledgement(FleetMessage):
    """What the collector has on its disk of a box: all up to `seq`, which had this `mark`. QoS 1, retained.

    `send_from_here`: something was missing, and all after `seq` has to be sent again.
    """

    box_id: BoxId
    epoch: Epoch
    seq: Seq
    mark: Annotated[str, Field(pattern=r"^([0-9a-f]{16})?$")]
    send_from_here: bool = False


class CollectorOnline(FleetMessage):
    """Whether the collector takes records; `run` is drawn anew at each of its starts. QoS 1, retained, and its will."""

    online: bool
    run: Mark


class BoxOnline(FleetMessage):
    """Whether a box is connected; `boot` is new at each start of its publisher. QoS 1, retained, and its will."""

    box_id: BoxId
    online: bool
    boot: Mark


class DarkOrder(FleetMessage):
    """Somebody asks for *dark* over the network. QoS 1, never retained, with a message expiry of at most 5 s.

    `signature` is HMAC-SHA256 (RFC 2104) by the shared key over the lines that `dark.signed` names, as hexadecimal.
    It only ever ends light, and it is no emergency stop: nobody's safety may rest on it.
    """

    box_id: BoxId
    sender: Annotated[str, Field(max_length=60, pattern=r"^[^\x00-\x1f]*[^\x00-\x20][^\x00-\x1f]*$")]
    nonce: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
    issued_utc: Utc
    signature: Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class DarkAnswer(FleetMessage):
    """What became of one that was rightly signed. QoS 1, not retained. `done`: the controller has taken it."""

    box_id: BoxId
    nonce: Annotated[str, Field(pattern=r"^[0-9a-f]{32}$")]
    done: bool


class BankState(Part):
    """Lamps switched together: what was asked of them, and what the sensor sees."""

    bank: Word
    side: Word
    commanded: bool
    irradiance_mw_cm2: float | None
    lamp_hours: float
    meter_ok: bool


class BoxState(FleetMessage):
    """What a box is doing. QoS 1, retained; sent when it changes, else every 30 s. To look at: nobody acts by it."""

    box_id: BoxId
    boot: Mark
    at_utc: Utc
    box_name: Word
    simulated: bool
    reachable: bool
    """Whether control answered."""
    state: Word | None
    lid: Word | None
    recipe: Word | None
    panel: Word | None
    dose_mj_cm2: float | None
    left_s: float | None
    banks: list[BankState]
    faults: list[Word]
    calibration_due: bool | None
    calibration_half_width: float | None
    """Of the worst bank: the relative half-width (k = 2) of a dose, 0.08 for ± 8 %; null for doses without a scale."""
    unsent_records: Annotated[int, Field(ge=0)]


class SideBody(Part):
    """One side of an exposure; `half_width_absolute_mj_cm2` is null for a dose that nothing outside the box checked."""

    side: Word
    bank: Word
    target_mj_cm2: float | None
    dose_mj_cm2: float
    half_width_repeat_mj_cm2: float | None
    half_width_absolute_mj_cm2: float | None
    lit_s: float
    pauses: int
    state: Word


class ExposureBody(Part):
    """An exposure: a panel, a strip, a tablet run, a measurement."""

    exposure_id: int
    panel: Word
    what: Word
    recipe: Word
    recipe_sha256: Word
    started_utc: Utc
    ended_utc: Utc | None
    outcome: Word | None
    doubtful: bool
    utc_unsure: bool
    verdict: Word
    simulated: bool
    sides: list[SideBody]


class FaultBody(Part):
    """A fault that stood."""

    name: Word
    exposure_id: int | None
    raised_utc: Utc
    cleared_utc: Utc | None


class LampReadingBody(Part):
    """The settled light of a bank during one exposure."""

    bank: Word
    read_utc: Utc
    irradiance_mw_cm2: float
    lamp_hours: float
    total_lamp_hours: float | None
    """Of the bank since it was built; `lamp_hours` begins anew with new lamps."""
    strikes: int
    warm_up_s: float | None
    air_c: float | None


class TubeBody(Part):
    """A tube in its place."""

    bank: Word
    position: int
    lamp_type: Word
    wavelength_class: Word
    expected_life_h: float | None
    fitted_utc: Utc
    hours_at_fitting: float
    bank_total_lamp_hours: float
    """Of its bank when it was fitted."""
    removed_utc: Utc | None
    hours_at_removal: float | None


class CalibrationBody(Part):
    """What a count was found to be worth; `ln_sigma` is the standard uncertainty of its logarithm."""

    origin: Word
    bank: Word
    lamp_set: int
    ln_sigma: float
    common_ln_sigma: float
    lamp_hours: float
    made_utc: Utc


class TabletReadingBody(Part):
    """The step that a tablet held after a dose."""

    exposure_id: int
    recipe: Word
    zone: Word
    dose_mj_cm2: float
    step: Word
    half: bool
    convention: Word
    lot: Word
    read_utc: Utc
    simulated: bool
    densities: list[float]
    """Of steps 1 to 21, by the tablet's own certificate; empty for a usual tablet."""


class StepBody(Part):
    """A step of a card."""

    step_id: int
    state: Word
    began_utc: Utc | None
    ended_utc: Utc | None


class JobPanelBody(Part):
    """A panel on its way over the bench."""

    panel: Word
    artwork: Word
    made_utc: Utc
    ended_utc: Utc | None
    outcome: Word | None
    steps: list[StepBody]


class BathBody(Part):
    """A bath, and how many panels it has had."""

    bath: Word
    mixed_utc: Utc
    waste_utc: Utc | None
    panels: int


BODIES: dict[str, type[Part]] = {
    "exposure": ExposureBody,
    "fault": FaultBody,
    "lamp_reading": LampReadingBody,
    "tube": TubeBody,
    "calibration": CalibrationBody,
    "tablet_reading": TabletReadingBody,
    "job_panel": JobPanelBody,
    "bath": BathBody,
}


def sound(kind: str, body: dict[str, Any]) -> bool:
    """Whether a body is as its kind has it."""
    try:
        BODIES[kind].model_validate(body)
    except ValidationError:
        return False
    return True


def packed(message: Part) -> bytes:
    """A message ready to send."""
    return message.model_dump_json().encode()


def read(raw: bytes, model: type[M]) -> M:
    """A message that came over the wire. Raises FleetMessageError; nothing of it is believed before."""
    if len(raw) > LARGEST_BYTES:
        raise FleetMessageError(f"{len(raw)} bytes are more than the {LARGEST_BYTES} that are taken")
    try:
        data = json.loads(raw)
        if "\0" in json.dumps(data, ensure_ascii=False).encode().decode() or b"\\u0000" in raw:
            raise FleetMessageError("it holds a character that no database keeps")
        return model.model_validate(data)
    except ValidationError as error:
        first = error.errors(include_url=False, include_input=False)[0]
        place = ".".join(map(str, first["loc"])) or "the whole"
        raise FleetMessageError(f"{place}: {first['msg']}") from error
    except FleetMessageError:
        raise
    except (ValueError, RecursionError) as error:
        raise FleetMessageError("it is no JSON, or no text") from error
