"""The box as hardware/install leaves it: the shipped box.yaml, units, sandbox and accounts, under systemd."""

import json
import os
import pwd
import subprocess
import time
import urllib.request
from pathlib import Path

from tests.guest.inside.bench import KEEP_RELEASED, START_LIMIT_S, until
from tests.guest.inside.fixtures import Notes
from tests.guest.inside.installed import CONTROL, DATA, PAGE, Installed, main_pid, systemctl
from tests.guest.inside.lines import RELAY, RESTS
from tests.guest.inside.typed import KILL, line_of_guide, type_line

TAMPER = """
import json, os, shutil
from pathlib import Path
data, control = Path("/var/lib/sumlight"), int(os.environ["CONTROL_PID"])
def tried(what):
    try:
        what()
    except OSError as error:
        return type(error).__name__
    return "done"
acts = {"kill control": lambda: os.kill(control, 9), "new file": lambda: (data / "more").touch(),
        "box.yaml": lambda: Path("/etc/sumlight/box.yaml").open("ab"),
        "pins": lambda: Path("/dev/gpiochip0").open("rb"), "bus": lambda: Path("/dev/i2c-1").open("rb"),
        "program": lambda: Path("/opt/sumlight/more").touch(), "socket": lambda: (data / "control.sock").unlink()}
for name in ("logbook.sqlite", "logbook.sqlite-wal", "logbook.sqlite-shm"):
    path = data / name
    acts |= {f"write {name}": lambda path=path: path.open("r+b"),
             f"rename {name}": lambda path=path: path.rename(data / "x"),
             f"delete {name}": lambda path=path: path.unlink(), f"chmod {name}": lambda path=path: path.chmod(0o666),
             f"replace {name}": lambda path=path: shutil.copy("/etc/hostname", path)}
may = {"recipe": lambda: (data / "recipes" / "mine.yaml").write_text("x"),
       "own file": lambda: (data / "page" / "x").touch(),
       "read logbook": lambda: (data / "logbook.sqlite").read_bytes()}
print(json.dumps([{name: tried(act) for name, act in acts.items()}, {name: tried(act) for name, act in may.items()}]))
"""


def test_each_service_runs_under_its_own_account(box: Installed, notes: Notes) -> None:
    """As the kernel sees the processes."""
    accounts = {unit: pwd.getpwuid(os.stat(f"/proc/{main_pid(unit)}").st_uid).pw_name for unit in (CONTROL, PAGE)}
    assert accounts == {CONTROL: "sumlight", PAGE: "sumlight-page"}
    notes.say(f"box.yaml as shipped, lamps {'on' if box.lights() else 'off'} after the start")
    assert not box.lights()


def test_the_loop_goes_first_where_there_is_more_than_one_processor(box: Installed, notes: Notes) -> None:
    """Of control's threads the loop and its watch have real-time priority, as the kernel says, and no other has."""
    control = main_pid(CONTROL)

    def ranks() -> list[int]:
        return sorted(
            os.sched_getparam(int(each.name)).sched_priority for each in Path(f"/proc/{control}/task").iterdir()
        )

    several = len(os.sched_getaffinity(control)) > 1
    if several:
        until(lambda: max(ranks()) > 0, "real-time priority", START_LIMIT_S, look_s=0.5)
    notes.say(f"installed: real-time priorities of control's threads {ranks()}")
    assert [rank for rank in ranks() if rank] == ([1, 2] if several else [])
    assert os.sched_getparam(control).sched_priority == (1 if several else 0)


def test_the_page_answers_and_reads_the_logbook(box: Installed) -> None:
    """Through the socket of the group and files that it may only read."""

    def page(path: str) -> str:
        with urllib.request.urlopen(f"http://127.0.0.1:8765{path}", timeout=60) as answer:
            return str(answer.read().decode())

    def answers() -> bool:
        try:
            return "Sumlight" in page("/")
        except OSError:
            return False

    until(answers, "the page", START_LIMIT_S, look_s=0.5)
    records = page("/panels/")
    assert "cannot be read" not in records


def test_the_account_of_the_page_can_change_nothing_of_controls(box: Installed) -> None:
    """It tries to write, rename, delete and replace logbook, WAL, socket, settings and program, and to kill control."""
    before = (DATA / "logbook.sqlite").read_bytes()
    done = subprocess.run(
        ["runuser", "-u", "sumlight-page", "--", "/opt/sumlight/bin/python", "-c", TAMPER],
        capture_output=True,
        text=True,
        timeout=60,
        env={"CONTROL_PID": str(main_pid(CONTROL)), "PATH": "/usr/sbin:/sbin:/usr/bin:/bin"},
        cwd="/",
    )
    assert done.returncode == 0, done.stderr
    must_not, may = json.loads(done.stdout)
    assert {name: said for name, said in must_not.items() if said == "done"} == {}
    assert set(may.values()) == {"done"}, may
    assert (DATA / "logbook.sqlite").read_bytes() == before
    (DATA / "recipes" / "mine.yaml").unlink()


def test_light_on_the_shipped_box_and_a_lid_that_ends_it(box: Installed, notes: Notes) -> None:
    """Its relay closes on a high level."""
    box.shining()
    began_s = box.under_record()
    box.open_lid()
    notes.say(f"installed: lid to relay line at rest {1000 * box.dark_after(began_s):.0f} ms")


def test_a_killed_control_is_put_to_rest_and_comes_back_dark(box: Installed, notes: Notes) -> None:
    """By the line of the guide. The kernel keeps the relay line as a Pi's may; `sumlight box rest` darkens it, systemd
    starts control anew."""
    box.shining()
    KEEP_RELEASED.write_text("1")
    try:
        killed = main_pid(CONTROL)
        began_s = box.under_record()
        type_line(line_of_guide(KILL))
        until(lambda: not box.lights(), "the relay line at rest", 60, look_s=0.01)
        took_s = time.monotonic() - began_s
        notes.say(f"installed: the guide's line that kills to relay line at rest {took_s:.1f} s, K1 long before")
    finally:
        KEEP_RELEASED.write_text("0")
    box.forget_client()
    until(lambda: main_pid(CONTROL) not in (0, killed), "control to be started anew", START_LIMIT_S, look_s=0.5)
    box.meet()
    assert box.lines.level(RELAY) == RESTS
    assert box.state()["exposure"]["pause_cause"] == "restart"


def test_stopping_the_services_leaves_the_line_at_rest(box: Installed) -> None:
    """And no process."""
    box.shining()
    box.forget_client()
    systemctl("stop", CONTROL)
    assert box.lines.level(RELAY) == RESTS
    assert main_pid(CONTROL) == 0
    systemctl("start", CONTROL)
    box.meet()
