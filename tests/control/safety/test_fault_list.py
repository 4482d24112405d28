"""The printed list of faults is made from the table and may not go stale."""

from pathlib import Path

import pytest

from sumlight.cli import main
from sumlight.cli.faultlist import fault_list
from sumlight.control.safety.faults import FAULTS
from sumlight.protocol.snapshot import FaultName

LIST = Path(__file__).resolve().parents[3] / "hardware" / "faults.md"


def test_the_list_in_hardware_is_what_the_command_writes(tmp_path: Path) -> None:
    """Stale? Run `sumlight setup faults --write hardware/faults.md`."""
    assert main(["setup", "faults", "--write", str(tmp_path / "faults.md")]) == 0
    assert LIST.read_text(encoding="utf-8") == (tmp_path / "faults.md").read_text(encoding="utf-8")


@pytest.mark.parametrize("name", FAULTS)
def test_each_fault_has_an_anchor_a_row_and_its_texts(name: FaultName) -> None:
    """Once each."""
    text, kind = fault_list(), FAULTS[name]
    assert text.count(f'<a id="{name}"></a>{kind.title}\n') == 1
    assert text.count(f"(#{name})") == 1
    section = text.split(f'<a id="{name}"></a>')[1].split("##")[0]
    assert f"*Seen:* {kind.seen}\n" in section
    assert f"*Do:* {kind.remedy}\n" in section
    assert ("Lamps dark at once" in section) == kind.stops


def test_the_list_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """Without a file."""
    assert main(["setup", "faults"]) == 0
    assert capsys.readouterr().out == fault_list()
