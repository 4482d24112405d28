"""What hardware/README.md tags *guest* and is typed while the services run, and what takes them away again."""

from pathlib import Path

import pytest

from tests.guest.inside.bench import START_LIMIT_S, until
from tests.guest.inside.installed import CONTROL, DATA, PAGE, Installed, main_pid
from tests.guest.inside.lines import RELAY, RESTS
from tests.guest.inside.typed import RUNNING, UNINSTALL, line_of_guide, lines_typed, type_line
from tests.hardware.guide import commands_for
from tests.userlands.booted import Typed

FROM_ANYWHERE, FROM_HERE = " 00000000:223D ", " 0100007F:223D "
"""0.0.0.0:8765 and 127.0.0.1:8765, as the kernel writes addresses."""


def listens(address: str) -> bool:
    """Whether somebody waits there for connections (state 0A, proc_pid_net(5))."""
    lines = Path("/proc/net/tcp").read_text().splitlines()
    return any(address in line and " 0A " in line for line in lines)


def test_as_installed_the_page_listens_on_this_computer_only(box: Installed) -> None:
    """Before the guide's drop-in for the network."""
    assert main_pid(PAGE)
    until(lambda: listens(FROM_HERE), "the page", START_LIMIT_S, look_s=0.5)
    assert not listens(FROM_ANYWHERE)
    assert not box.lights()


@pytest.mark.parametrize("typed", RUNNING, ids=lambda typed: typed.line)
def test_a_line_of_the_guide_does_what_it_says(box: Installed, typed: Typed) -> None:
    """None of them lights or ends control."""
    before = main_pid(CONTROL)
    type_line(typed)
    assert main_pid(CONTROL) == before
    assert not box.lights()


def test_the_guides_lines_let_the_network_reach_the_page(box: Installed) -> None:
    """Its file, read anew, and the page started anew."""
    until(lambda: listens(FROM_ANYWHERE), "the page, from everywhere", START_LIMIT_S, look_s=0.5)
    assert not listens(FROM_HERE)
    assert box.runs()


def test_uninstalling_ends_the_services_dark_and_keeps_what_is_the_persons(box: Installed) -> None:
    """Program and units go; box.yaml and records stay."""
    box.forget_client()
    type_line(line_of_guide(UNINSTALL))
    assert box.lines.level(RELAY) == RESTS
    units = Path("/etc/systemd/system")
    gone = (
        Path("/opt/sumlight"),
        units / f"{CONTROL}.service",
        units / f"{PAGE}.service",
        Path("/usr/local/bin/sumlight"),
    )
    assert [path for path in gone if path.exists()] == []
    assert Path("/etc/sumlight/box.yaml").exists()
    assert (DATA / "logbook.sqlite").exists()
    assert [path for path in Path("/proc").glob("[0-9]*/cmdline") if b"/opt/sumlight" in path.read_bytes()] == []


def test_every_line_that_the_guide_tags_guest_was_typed_here() -> None:
    """And did what it must."""
    assert lines_typed() == set(commands_for("guest"))
