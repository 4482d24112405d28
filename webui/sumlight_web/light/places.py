"""Where the sensor lies in the walk that the box is on: its record tells, no snapshot does."""

from pathlib import Path

from sumlight.protocol.run_parameters import FieldParameters, recorded
from sumlight.protocol.snapshot import Snapshot
from sumlight.store.logbook.database import LogbookError
from sumlight.store.logbook.reading import LogbookReader
from sumlight_web.light.steps import Places


class PlacesKeeper:
    """The places of the walk that the box is on, read once from its record."""

    def __init__(self, logbook_path: Path) -> None:
        self._path = logbook_path
        self._known: tuple[int, Places] | None = None

    def of(self, snapshot: Snapshot | None) -> Places:
        """Where the sensor lies, leg by leg; nothing for another kind of series or while its record cannot be read."""
        exposure = snapshot["exposure"] if snapshot else None
        number = exposure["exposure_id"] if exposure and exposure["kind"] == "field" else None
        if number is None:
            return ()
        known = self._known
        if known is None or known[0] != number:
            places = self._read(number)
            if places is None:
                return ()
            self._known = known = (number, places)
        return known[1]

    def _read(self, number: int) -> Places | None:
        try:
            with LogbookReader.open_reader(self._path) as logbook:
                found = logbook.exposure(number)
        except LogbookError:
            return None
        if found is None:  # its beginning is still on the way to the disk
            return None
        told = recorded("field", found["parameters"])
        return told.places if isinstance(told, FieldParameters) else ()
