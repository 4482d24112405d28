"""The command `sumlight` that the installer puts on the path of a box."""

import argparse
import os
import subprocess
from pathlib import Path

import pytest

from .conftest import ROOT
from .small_pi import Bench, place_program

DATA, PROGRAM = "/var/lib/sumlight", "/opt/sumlight/bin/sumlight"


@pytest.mark.parametrize(
    ("who", "line", "told"),
    [
        # a user of the box who is in no group of ours: sudo calls the command again, as root
        ("pi", "lamps show", "sudo -- SELF lamps show"),
        ("pi", "setup operators", "sudo -- SELF setup operators"),
        ("pi", "artwork check gear.png", "program artwork check gear.png"),
        ("pi", "box twin", "program box twin"),
        ("pi", "panel expose blue --twin", "program panel expose blue --twin"),
        ("pi", "records show --data mine", "program records show --data mine"),
        ("pi", "lamps show --help", "program lamps show --help"),
        ("root", "lamps show", f"runuser -u sumlight -- {PROGRAM} lamps show, data {DATA}"),
        (
            "root",
            "records restore copy.sqlite",
            f"runuser -u sumlight -- {PROGRAM} records restore copy.sqlite, data {DATA}",
        ),
        ("root", "records backup copy.sqlite", f"program records backup copy.sqlite, data {DATA}"),
        ("root", "setup operators reset", f"program setup operators reset, data {DATA}"),
        ("member", "records backup copy.sqlite", f"program records backup copy.sqlite, data {DATA}"),
        ("member", "job list", f"program job list, data {DATA}"),
        ("member", "records compact", "sudo -- SELF records compact"),
        ("sumlight", "records compact", f"program records compact, data {DATA}"),
    ],
)
def test_the_command_finds_data_folder_and_account_by_itself(who: str, line: str, told: str, tmp_path: Path) -> None:
    """What belongs to the box is asked of the box's account; what belongs to the caller stays with the caller."""
    programs = tmp_path / "bin"
    programs.mkdir()
    script = tmp_path / "sumlight"
    script.write_text((ROOT / "hardware" / "sumlight").read_text().replace(f"program={PROGRAM}", "program=program"))
    script.chmod(0o755)
    groups = {"pi": "pi gpio", "root": "root", "member": "member sumlight", "sumlight": "sumlight gpio i2c"}[who]
    number = 0 if who == "root" else 1000
    answers = f"-u) echo {number} ;; -nG) echo {groups} ;; -un) echo {who}"
    place_program(programs / "id", f"#!/bin/sh\ncase $1 in {answers} ;; esac\n")
    place_program(programs / "program", '#!/bin/sh\necho "program $*${SUMLIGHT_DATA:+, data $SUMLIGHT_DATA}"\n')
    place_program(programs / "runuser", '#!/bin/sh\necho "runuser $*, data $SUMLIGHT_DATA"\n')
    place_program(programs / "sudo", '#!/bin/sh\necho "sudo $*"\n')
    environment = {"PATH": f"{programs}:{os.environ['PATH']}"}
    run = subprocess.run([str(script), *line.split()], capture_output=True, text=True, env=environment, timeout=60)
    assert run.stdout.strip() == told.replace("SELF", str(script)).replace(PROGRAM, "program")


def test_every_command_of_the_program_was_thought_of(bench: Bench) -> None:
    """A verb that has --data and no --twin works on a box's records: the command on the path must know it."""
    from sumlight.cli import commands

    text = (ROOT / "hardware" / "sumlight").read_text()
    missing = []
    for noun in commands.NOUNS:
        for verb in noun.verbs:
            parser = argparse.ArgumentParser()
            verb.declare(parser)
            takes = {word for action in parser._actions for word in action.option_strings}
            if "--data" not in takes or f"{noun.name} {verb.name}" in OWN_FOLDER:
                continue
            if f'"{noun.name} "*' not in text and f'"{noun.name} {verb.name}"' not in text:
                missing.append(f"{noun.name} {verb.name}")
    assert missing == []


OWN_FOLDER = {"box run", "box twin", "box control", "setup check"}
"""Runs beside an installed box only with a folder of its own, or looks at the box's by itself (`setup check`)."""


def test_the_program_takes_the_data_folder_from_the_command(monkeypatch: pytest.MonkeyPatch) -> None:
    """And never for a simulated box, whose records must not mix with real ones."""
    from sumlight.cli.options import default_data

    monkeypatch.setenv("SUMLIGHT_DATA", DATA)
    assert default_data(twin=False) == Path(DATA)
    assert default_data(twin=True) == Path.home() / ".local/share/sumlight-twin"
    monkeypatch.setenv("SUMLIGHT_DATA", "")
    assert default_data(twin=False) == Path.home() / ".local/share/sumlight"
