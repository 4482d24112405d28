"""`lamps.yaml` in the data folder: what page and command line judge lamps by. What is missing has its default."""

from pathlib import Path
from typing import Annotated

from pydantic import Field

from sumlight import checkedfile
from sumlight.light.ageing import REPLACE_LEVEL

FILE = "lamps.yaml"
LOWEST_PERCENT, HIGHEST_PERCENT = 30.0, 95.0


class LampSettings(checkedfile.Checked):
    """`replace_at_percent` of the seasoned light: lamps with less are to be changed."""

    replace_at_percent: Annotated[float, Field(ge=LOWEST_PERCENT, le=HIGHEST_PERCENT)] = 100 * REPLACE_LEVEL

    @property
    def level(self) -> float:
        """The same as a share."""
        return self.replace_at_percent / 100


def load(data: Path) -> LampSettings:
    """The settings of a data folder. Raises checkedfile.FileProblemsError for a file that cannot be used."""
    path = data / FILE
    return checkedfile.load(path, LampSettings) if path.exists() else LampSettings()


def as_text(settings: LampSettings) -> str:
    """The file that holds them; control writes it, so that nobody else needs to write in the data folder."""
    text = f"# Lamps with less than this percentage of their seasoned light are to be changed, {LOWEST_PERCENT:g} to "
    return text + f"{HIGHEST_PERCENT:g}.\nreplace_at_percent: {settings.replace_at_percent:g}\n"
