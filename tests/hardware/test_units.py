"""The services: sound for systemd, started as the program understands, shut in, and quick to give up the lamps."""

import configparser
import ipaddress
import re
import shlex
import subprocess
from pathlib import Path

import pytest

from sumlight import cli
from sumlight.artwork import worker
from sumlight.cli.trial import TRIAL_S, TRIES
from sumlight.control.precedence import LOOP_PRIORITY, WATCH_PRIORITY
from sumlight_web.__main__ import _parser as page_parser
from sumlight_web.services import OWN_FOLDER
from tests.benchmarks.latency import PAGE_NICE

from .conftest import ROOT

UNITS = ROOT / "hardware" / "systemd"
CONTROL, PAGE, PUBLISHER = "sumlight-control.service", "sumlight-page.service", "sumlight-publisher.service"
COLLECTOR, SHOP = "sumlight-collector.service", "sumlight-shop.service"
EVERY = (CONTROL, PAGE, PUBLISHER, COLLECTOR, SHOP)
MOST_EXPOSURE = 2.0
"""On systemd's own scale from 0 (shut in) to 10."""


class Unit(configparser.RawConfigParser):
    """A unit file; the last of several equal keys wins, which is enough here."""

    def __init__(self, name: str) -> None:
        super().__init__(strict=False)
        self.optionxform = str  # type: ignore[assignment, method-assign]
        self.read_string((UNITS / name).read_text(encoding="utf-8"))


@pytest.fixture
def placed(tmp_path: Path) -> Path:
    """The units with programs that exist on this machine, which is all that `verify` asks of them."""
    for name in EVERY:
        text = (UNITS / name).read_text(encoding="utf-8")
        for program in ("/opt/sumlight/bin/sumlight", "/opt/sumlight/bin/python", "/opt/sumlight-shop/bin/sumlight"):
            text = re.sub(f"^(ExecStart|ExecStopPost)={program} ", r"\1=/bin/true ", text, flags=re.MULTILINE)
        (tmp_path / name).write_text(text, encoding="utf-8")
    return tmp_path


def test_systemd_finds_nothing_wrong(placed: Path) -> None:
    """`systemd-analyze verify` says nothing at all."""
    files = [str(placed / name) for name in EVERY]
    done = subprocess.run(["systemd-analyze", "verify", *files], capture_output=True, text=True, timeout=120)
    assert (done.returncode, done.stdout + done.stderr) == (0, "")


def test_systemd_would_find_a_misspelt_setting(placed: Path) -> None:
    """The check above is worth something."""
    path = placed / CONTROL
    path.write_text(path.read_text(encoding="utf-8").replace("WatchdogSec=", "WatchDogSec="), encoding="utf-8")
    done = subprocess.run(["systemd-analyze", "verify", str(path)], capture_output=True, text=True, timeout=120)
    assert "WatchDogSec" in done.stderr


NETWORK = "sumlight-page-network.conf"


def test_the_drop_in_for_the_network_is_complete(placed: Path) -> None:
    """The shipped command line, which it replaces, and an address; systemd finds nothing wrong with both together."""
    (placed / f"{PAGE}.d").mkdir()
    text = (UNITS / NETWORK).read_text(encoding="utf-8")
    (placed / f"{PAGE}.d" / "network.conf").write_text(text.replace("/opt/sumlight/bin/python ", "/bin/true "))
    done = subprocess.run(
        ["systemd-analyze", "verify", str(placed / PAGE)], capture_output=True, text=True, timeout=120
    )
    assert (done.returncode, done.stdout + done.stderr) == (0, "")
    assert "\nExecStart=\nExecStart=" in text  # without the empty line systemd would refuse a second command
    words = shlex.split(Unit(NETWORK)["Service"]["ExecStart"])
    assert words == [*shlex.split(Unit(PAGE)["Service"]["ExecStart"]), "--listen", "0.0.0.0"]
    assert page_parser().parse_args(words[3:]).listen == "0.0.0.0"
    assert ipaddress.ip_network(Unit(NETWORK)["Service"]["IPAddressAllow"]).is_private


@pytest.mark.parametrize("language", ["en", "de"])
def test_the_manual_has_the_same_drop_in(language: str) -> None:
    """For whoever has only the page."""
    manual = (ROOT / "firmware" / "sumlight" / "manual" / language / "access.md").read_text(encoding="utf-8")
    assert (UNITS / NETWORK).read_text(encoding="utf-8").split("\n", 1)[1] in manual


@pytest.mark.parametrize("name", EVERY)
def test_the_services_are_shut_in(placed: Path, name: str) -> None:
    """`systemd-analyze security`: overall exposure, threshold in tenths."""
    limit = f"--threshold={round(MOST_EXPOSURE * 10)}"
    command = ["systemd-analyze", "security", "--offline=true", limit, str(placed / name)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120)
    assert done.returncode == 0, done.stdout[-300:]


def test_control_is_started_as_its_command_line_understands() -> None:
    """Parsed by the real command line."""
    words = shlex.split(Unit(CONTROL)["Service"]["ExecStart"])
    assert words[0] == "/opt/sumlight/bin/sumlight"
    options = cli.parser().parse_args(words[1:])
    assert (options.noun, options.verb, str(options.box), str(options.data)) == (
        "box",
        "control",
        "/etc/sumlight/box.yaml",
        "/var/lib/sumlight",
    )


def test_the_page_is_started_at_controls_socket() -> None:
    """Parsed by the page's own command line; the socket is where control puts it."""
    from sumlight.control.daemon import SOCKET

    words = shlex.split(Unit(PAGE)["Service"]["ExecStart"])
    assert words[:3] == ["/opt/sumlight/bin/python", "-m", "sumlight_web"]
    options = page_parser().parse_args(words[3:])
    assert (str(options.socket), str(options.data)) == (f"/var/lib/sumlight/{SOCKET}", "/var/lib/sumlight")


def test_control_is_watched_and_gives_up_after_a_few_crashes() -> None:
    """A stalled loop is killed; a box that keeps crashing stays dark."""
    unit = Unit(CONTROL)
    service = unit["Service"]
    assert service["Type"] == "notify"
    assert 0 < float(service["WatchdogSec"]) <= 5
    assert service["Restart"] == "on-failure"
    assert int(unit["Unit"]["StartLimitBurst"]) <= 5
    assert int(unit["Unit"]["StartLimitIntervalSec"]) >= 60


def test_a_start_may_take_as_long_as_it_does_on_the_slowest_model() -> None:
    """The trial takes its time on any computer; all else took 0.8 CPU seconds here, some 13 times that on a Zero 2 W
    (estimate from the CPU time of a tick, no real board), four times that with a cold card at boot (a guess)."""
    assert int(Unit(CONTROL)["Service"]["TimeoutStartSec"]) >= TRIES * TRIAL_S + 4 * 13 * 0.8


def test_the_page_stands_back_behind_control_as_the_latency_was_measured() -> None:
    """Whatever the page has to do, the processor is control's first."""
    control, page = (int(Unit(name)["Service"]["Nice"]) for name in (CONTROL, PAGE))
    assert page - control == PAGE_NICE


def test_work_on_artwork_may_bound_itself_and_its_end_is_not_the_pages() -> None:
    """Of systemd's own list of @resources, which the page is refused, those that `bound` asks the kernel for.

    By default systemd stops a service when the kernel ends one of its processes for want of memory (OOMPolicy in
    systemd.service(5); from memory).
    """
    text = (UNITS / PAGE).read_text(encoding="utf-8")
    _before, refused, after = text.partition("SystemCallFilter=~@privileged @resources\n")
    assert refused
    again = set(" ".join(re.findall(r"^SystemCallFilter=([^~].*)$", after, re.MULTILINE)).split())
    command = ["systemd-analyze", "syscall-filter", "@resources"]
    listed = subprocess.run(command, capture_output=True, text=True, check=True, timeout=120).stdout.split()
    assert again & set(listed) == {"setpriority", "setrlimit"}
    assert "prlimit64" in again  # by which the C library sets limits: prlimit(2); elsewhere in systemd's lists
    assert Unit(PAGE)["Service"]["OOMPolicy"] == "continue"
    assert int(Unit(PAGE)["Service"]["MemoryMax"].removesuffix("M")) * 2**20 > worker.MEMORY_BYTES


def test_the_unit_lets_the_loop_and_its_watch_go_first() -> None:
    """And no higher than that; the kernel's word on it is asked for in the emulated machine."""
    control, page = Unit(CONTROL)["Service"], Unit(PAGE)["Service"]
    assert int(control["LimitRTPRIO"]) == WATCH_PRIORITY > LOOP_PRIORITY > 0
    assert "RestrictRealtime" not in control
    assert page["RestrictRealtime"] == "yes"


def test_control_may_use_pins_and_buses_and_the_page_no_device() -> None:
    """Whoever breaks into the page still cannot touch a lamp's pin."""
    control, page = Unit(CONTROL)["Service"], Unit(PAGE)["Service"]
    assert control["User"] == "sumlight"
    assert control["SupplementaryGroups"].split() == ["gpio", "i2c"]
    assert control["DevicePolicy"] == "closed"
    assert page["DevicePolicy"] == "closed"
    assert page["PrivateDevices"] == "yes"
    assert control["RestrictAddressFamilies"] == "AF_UNIX"


def test_the_page_runs_under_an_account_of_its_own_that_may_write_recipes_and_its_own_folder_only() -> None:
    """In control's group, which opens the socket and shows the logbook, but not its user: it cannot stop control."""
    control, page = Unit(CONTROL)["Service"], Unit(PAGE)["Service"]
    assert page["User"] == page["Group"] == "sumlight-page"
    assert page["SupplementaryGroups"].split() == [control["Group"]]
    data = control["StateDirectory"]
    assert page["ReadWritePaths"].split() == [f"/var/lib/{data}/recipes", f"/var/lib/{data}/{OWN_FOLDER}"]
    assert page["ProtectSystem"] == control["ProtectSystem"] == "strict"
    assert "StateDirectory" not in page  # systemd would hand the folder over to the page
    assert int(control["UMask"], 8) == 0o027  # the group reads the logbook and cannot write it


def test_the_hardware_watchdog_is_asked_for_less_than_it_can_count() -> None:
    """The Pi's counts to about 15 s (from memory)."""
    text = Unit("sumlight-watchdog.conf")["Manager"]["RuntimeWatchdogSec"]
    assert 2 <= int(text.removesuffix("s")) <= 15


def test_after_control_has_ended_the_relays_are_put_to_rest() -> None:
    """Parsed by the real command line."""
    words = shlex.split(Unit(CONTROL)["Service"]["ExecStopPost"])
    options = cli.parser().parse_args(words[1:])
    assert (options.noun, options.verb, str(options.box)) == ("box", "rest", "/etc/sumlight/box.yaml")
