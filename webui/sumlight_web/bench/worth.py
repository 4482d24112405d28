"""What a dose on the Bench is worth, and what the light and its calibration are like, in sentences. Pure."""

from sumlight.protocol.snapshot import Side, Snapshot
from sumlight_web import words
from sumlight_web.language import _
from sumlight_web.spoken import said


def worth_words(side: Side) -> str:
    """How far off the true dose may be, and apart from it how well this box repeats it."""
    wide, repeat = side["expanded_uncertainty_mj_cm2"], side["expanded_repeat_mj_cm2"]
    return words.worth(wide, repeat, relative=side["relative"])


def standing_remarks(snapshot: Snapshot) -> list[str]:
    """Per bank: the colour of the light, where it was compared, and what stands about the calibration."""
    found = []
    for bank in snapshot["banks"]:
        spectrum = bank["spectrum"]
        if spectrum is not None:
            found.append(_("Light of {bank}: {told}", bank=bank["name"], told=said(spectrum["sentence"])))
    for name, block in snapshot["calibration"].items():
        if not any(block["sentence"] in warning for warning in snapshot["warnings"]):
            found.append(_("Calibration of {bank}: {told}", bank=name, told=said(block["sentence"])))
    return found
