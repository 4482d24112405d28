"""The settings of the lamps: defaults, a round trip, and mistakes named by file, line and field."""

from pathlib import Path

import pytest

from sumlight.checkedfile import FileProblemsError
from sumlight.store import lamp_settings
from sumlight.store.lamp_settings import LampSettings


def test_without_a_file_lamps_are_replaced_at_70_percent(tmp_path: Path) -> None:
    """As the trade has it (trade notes L8)."""
    assert lamp_settings.load(tmp_path).level == 0.7


def test_what_is_written_is_loaded_and_says_what_is_allowed(tmp_path: Path) -> None:
    """For those who edit it by hand."""
    text = lamp_settings.as_text(LampSettings(replace_at_percent=62.5))
    (tmp_path / lamp_settings.FILE).write_text(text, encoding="utf-8")
    assert lamp_settings.load(tmp_path).level == 0.625
    assert "30 to 95" in text


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("replace_at_percent: 20\n", "line 1: replace_at_percent: input should be greater than or equal to 30"),
        ("# note\nreplace_at_percent: 0.7\n", "line 2: replace_at_percent: input should be greater than"),
        ("replace_at: 70\n", "unknown key; known here: replace_at_percent"),
        ("replace_at_percent: bright\n", "line 1: replace_at_percent"),
    ],
)
def test_a_mistake_is_named(tmp_path: Path, text: str, where: str) -> None:
    """With what is allowed."""
    (tmp_path / lamp_settings.FILE).write_text(text, encoding="utf-8")
    with pytest.raises(FileProblemsError, match=r"lamps\.yaml") as caught:
        lamp_settings.load(tmp_path)
    assert where in str(caught.value)
