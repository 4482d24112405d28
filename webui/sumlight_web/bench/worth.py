"""What a dose on the Bench is worth, and what the light and its calibration are like, in sentences. Pure."""

from sumlight.protocol.snapshot import Side, Snapshot
from sumlight.text.message import Message
from sumlight_web import words
from sumlight_web.language import _
from sumlight_web.texts import text_of


def worth_words(side: Side) -> str:
    """How far off the true dose may be, and apart from it how well this box repeats it."""
    wide, repeat = side["expanded_uncertainty_mj_cm2"], side["expanded_repeat_mj_cm2"]
    return words.worth(wide, repeat, relative=side["relative"])


def standing_advisories(snapshot: Snapshot) -> list[str]:
    """Per bank: the colour of the light, where it was compared, and what stands about the calibration."""
    found = []
    for bank in snapshot["banks"]:
        spectrum = bank["spectrum"]
        if spectrum is not None:
            found.append(_("Light of {bank}: {told}", bank=bank["name"], told=text_of(spectrum["sentence"])))
    warned = [told.values.get("told") for told in snapshot["warnings"] if isinstance(told, Message)]
    for name, block in snapshot["calibration"].items():
        if block["sentence"] not in warned:
            found.append(_("Calibration of {bank}: {told}", bank=name, told=text_of(block["sentence"])))
    return found
