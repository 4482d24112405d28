"""The unit of a dose in words: mJ/cm², or the box's own while nothing outside it has checked what its doses are."""

from sumlight.text.message import Message, as_written, say


def unit_of_dose(*, relative: bool) -> Message:
    """What stands behind a dose; `relative` as the calibration says under which it was counted."""
    return say("unit_relative") if relative else as_written("mJ/cm²")
