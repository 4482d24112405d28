"""What is done in a tree of Debian in which a real systemd runs, as process 1 of namespaces of its own: every command
that hardware/README.md tags *guest* or *fleet*, and an update that does not start.

Two things stand in, because this computer has no pins: control runs on the simulated box, and the pin library is not
tried. Units, sandbox, accounts and installer are those that are shipped. `tests.guest` has the pins and a kernel.
"""

import json
import subprocess
from dataclasses import dataclass
from pathlib import Path

BOTH = "sumlight-control sumlight-page"
CALLED_OFF = "invented: a version that does not start"
LIMIT_S = 1800
INSTALL = "hardware/install"
PUBLISHER = "sumlight-publisher"
SHOP = "sumlight-collector sumlight-shop"


@dataclass(frozen=True)
class Typed:
    """A line, the status that it must end with, what it must say; `tag` is that of the guide if it stands there so."""

    line: str
    says: tuple[str, ...] = ()
    status: int = 0
    tag: str = ""

    def kept(self, status: int, words: str) -> bool:
        """Whether it ended as it must and said what it must, as often as it is named."""
        return status == self.status and all(words.count(each) >= self.says.count(each) for each in self.says)


def guide(line: str, *says: str, tag: str = "guest") -> Typed:
    """A command of the guide."""
    return Typed(line, says, tag=tag)


def soon(condition: str) -> Typed:
    """It must hold within a minute or two, however slow the computer is."""
    return Typed(f"for each in {{1..150}}; do if {condition}; then exit 0; fi; sleep 1; done; exit 1")


FLEET = (
    guide("sudo hardware/install --fleet", "has no block 'fleet' yet", "The services run again", tag="fleet"),
    Typed(f"systemctl is-enabled {PUBLISHER}", ("disabled",), status=1),
    Typed("echo 'fleet: {box_id: bench-1, broker: localhost}' >>/etc/sumlight/box.yaml"),
    Typed(INSTALL, ("its environment stays",)),
    Typed(f"systemctl is-enabled {PUBLISHER}", ("enabled",)),
    # It read the logbook: by nothing else does it come to a bookmark.
    soon(f"systemctl is-active {PUBLISHER} >/dev/null && test -s /var/lib/sumlight/fleet/bookmark.json"),
    Typed("test $(stat -c %U /var/lib/sumlight/fleet/bookmark.json) = sumlight-fleet"),
    Typed(
        "runuser -u sumlight-fleet -- sh -c 'cd /var/lib/sumlight && test -r logbook.sqlite && ! touch logbook.sqlite"
        " && ! touch page/x && ! touch x && ! touch /etc/sumlight/box.yaml && touch fleet/x'"
    ),
    # The group may write recipes; what keeps the publisher from them is what the unit lets it see.
    Typed(
        f"nsenter --mount --root --target $(systemctl show --property MainPID --value {PUBLISHER}) runuser"
        " -u sumlight-fleet -- sh -c 'cd /var/lib/sumlight && ! touch recipes/x && touch fleet/x'",
        ("Read-only file system",),
    ),
)
"""With a box that runs. The publisher's broker is not there, which is nobody's trouble."""

SHOPS_OWN = (
    guide("sudo hardware/install-shop", "then run this again", tag="fleet"),
    Typed(f"systemctl is-enabled {SHOP}", ("disabled\ndisabled",), status=1),
    Typed(
        "sed -i -e 's/^BROKER=/&broker.example/' -e 's|^CA_FILE=.*|CA_FILE=/etc/ssl/certs/ca-certificates.crt|'"
        " /etc/sumlight-shop/shop.conf && echo word |"
        " install -m 640 -g sumlight-shop /dev/stdin /etc/sumlight-shop/collector.password"
    ),
    Typed("hardware/install-shop", ("Collector and page are installed",)),
    Typed('test "$(ls /opt/sumlight-shop-versions | wc -l)" = 1'),
    soon(
        "python3 -c 'import urllib.request as web; print(web.urlopen(\"http://127.0.0.1:8766/\").read())'"
        f" | grep 'Boxes of this shop' >/dev/null && systemctl is-active {SHOP} >/dev/null"
    ),
    Typed("test $(stat -c %U:%a /var/lib/sumlight-shop/fleet.sqlite) = sumlight-shop:640"),
    Typed("hardware/install-shop --uninstall", ("stay",)),
    Typed(f"! systemctl is-active {SHOP} && ! test -e /opt/sumlight-shop && test -e /etc/sumlight-shop/shop.conf"),
)
"""The shop's computer has no box; here it is the same one."""

TYPED = (
    guide("sudo hardware/install --dry-run", "Nothing was done"),
    Typed("! test -e /opt/sumlight && ! test -e /etc/sumlight && ! getent passwd sumlight"),
    guide("sudo hardware/install", "Sumlight is installed"),
    Typed(f"systemctl is-enabled {BOTH}", ("disabled\ndisabled",), status=1),
    guide("sudo hardware/install", "its environment stays"),
    Typed(f"systemctl is-enabled {BOTH}", ("enabled\nenabled",)),
    guide("sumlight setup check --box /etc/sumlight/box.yaml", "usable"),
    Typed(f"systemctl start {BOTH}"),
    soon("journalctl -u sumlight-page | grep '#code=' >/dev/null"),
    guide("systemctl status sumlight-control sumlight-page", "active (running)", "active (running)"),
    guide("journalctl -u sumlight-control", "Started sumlight-control"),
    guide("journalctl -u sumlight-page", "#code="),
    guide("sudo sumlight setup operators", "Set-up code"),
    Typed("journalctl -u sumlight-page | grep \"code=$(sumlight setup operators | grep -om1 '[0-9A-Z-]\\{14\\}')\""),
    guide("sudo sumlight lamps show", "lower: "),
    Typed("grep -i ' 0100007F:223D .* 0A ' /proc/net/tcp"),  # 127.0.0.1:8765 as the kernel writes it, listening
    guide(
        "sudo install -D -m 644 hardware/systemd/sumlight-page-network.conf "
        "/etc/systemd/system/sumlight-page.service.d/network.conf"
    ),
    guide("sudo systemctl daemon-reload"),
    guide("sudo systemctl restart sumlight-page"),
    soon("grep -i ' 00000000:223D .* 0A ' /proc/net/tcp"),
    *FLEET,
    *SHOPS_OWN,
    Typed("readlink /opt/sumlight >/was; systemctl show --property MainPID --value sumlight-control >/process"),
    Typed(
        "cd /newer && PIP_NO_COMPILE=1 hardware/install",
        (CALLED_OFF, "the new version does not start", "The version before runs again"),
        status=1,
    ),
    Typed('test "$(readlink /opt/sumlight)" = "$(cat /was)" && test "$(ls /opt/sumlight-versions | wc -l)" = 1'),
    Typed("! grep newer /etc/systemd/system/sumlight-page.service"),
    Typed(f"systemctl is-active {BOTH} {PUBLISHER}", ("active\nactive\nactive",)),
    Typed('test "$(systemctl show --property MainPID --value sumlight-control)" != "$(cat /process)"'),
    guide("sudo sumlight lamps show", "lower: "),
    Typed("systemctl show --property MainPID --value sumlight-control >/process"),
    guide("sudo systemctl kill -s KILL sumlight-control"),
    soon(
        'systemctl is-active sumlight-control >/dev/null && test "$(cat /process)" != '
        '"$(systemctl show --property MainPID --value sumlight-control)"'
    ),
    guide("sudo hardware/install --uninstall", "kept: "),
    Typed("! test -e /opt/sumlight && ! command -v sumlight && test -e /etc/sumlight/box.yaml"),
    Typed("test -e /var/lib/sumlight/logbook.sqlite && ! ls /etc/systemd/system/sumlight-*.service"),
    Typed(f"! systemctl is-active {BOTH}"),
    Typed(f"echo 'My box' | {INSTALL} --uninstall --purge", ("'My box' is not 'Exposure box'; nothing",), status=1),
    Typed("test -e /var/lib/sumlight/logbook.sqlite"),
    Typed(f"echo 'Exposure box' | {INSTALL} --uninstall --purge"),
    Typed("! test -e /var/lib/sumlight && ! test -e /etc/sumlight && ! grep ^sumlight /etc/passwd | grep -v -- -shop"),
)
"""In this order. `/newer` is a clone whose control ends at once, and whose units differ."""

STANDS_IN = """[Service]
ExecStart=
ExecStart=/opt/sumlight/bin/sumlight box control --twin --data /var/lib/sumlight
ExecStopPost=
WatchdogSec=60
TimeoutStartSec=infinity
"""

TYPIST = """import json, os, subprocess, time
environment = {"PATH": "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin", "HOME": "/root",
               "LANG": "C.UTF-8", "PIP_NO_INDEX": "1", "PIP_FIND_LINKS": "/wheels"}
for line in json.load(open("/lines.json")):
    began_s = time.monotonic()
    done = subprocess.run(["bash", "-c", line], cwd="/clone", env=environment, stdin=subprocess.DEVNULL,
                          stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True, errors="replace")
    with open("/said.jsonl", "a") as file:
        print(json.dumps([line, done.returncode, done.stdout, time.monotonic() - began_s]), file=file)
os.kill(1, 37)  # SIGRTMIN+3: systemd halts what it runs in
"""
"""Types the lines in the tree, with its own Python."""

UNIT = """[Unit]
DefaultDependencies=no
[Service]
Type=oneshot
TimeoutStartSec=infinity
ExecStart=/usr/bin/python3 /typist.py
"""

BOOT = """
mount --make-rprivate /
mount --bind "$1" "$1" && cd "$1"
mount -t proc proc proc
mount -t sysfs sysfs sys && mount -t cgroup2 cgroup2 sys/fs/cgroup
mount -t tmpfs -o mode=755 tmpfs run && mount -t tmpfs tmpfs tmp && mount -t tmpfs -o mode=755 tmpfs dev
mkdir dev/shm dev/pts && mount -t tmpfs tmpfs dev/shm
mount -t devpts -o newinstance,ptmxmode=666 devpts dev/pts && ln -s pts/ptmx dev/ptmx
for each in null:3 zero:5 full:7 random:8 urandom:9; do mknod -m 666 "dev/${each%:*}" c 1 "${each#*:}"; done
exec env -i container=other /usr/sbin/chroot . /lib/systemd/systemd --system --unit=typist.service --show-status=no
"""
"""systemd as process 1, with its own view of processes, mounts, network and control groups, and nobody else's."""


def furnish(tree: Path) -> None:
    """Put into a tree with a clone and a folder of packages what the lines need."""
    (tree / "clone" / "hardware" / "check_pin_library.py").write_text("print('this computer has no pins')\n")
    subprocess.run(["cp", "-a", str(tree / "clone"), str(tree / "newer")], check=True)
    with (tree / "newer" / "firmware" / "sumlight" / "cli" / "control.py").open("a") as file:
        file.write(f"\nraise RuntimeError({CALLED_OFF!r})\n")
    with (tree / "newer" / "hardware" / "systemd" / "sumlight-page.service").open("a") as file:
        file.write("# of the newer version\n")
    units = tree / "etc" / "systemd" / "system"
    (units / "sumlight-control.service.d").mkdir(parents=True)
    (units / "sumlight-control.service.d" / "no-pins.conf").write_text(STANDS_IN)
    (units / "typist.service").write_text(UNIT)
    (tree / "typist.py").write_text(TYPIST)
    (tree / "lines.json").write_text(json.dumps([typed.line for typed in TYPED]))
    sudo = tree / "usr" / "local" / "sbin" / "sudo"  # root types here, so it only passes on
    sudo.write_text('#!/bin/sh\nexec "$@"\n')
    sudo.chmod(0o755)


def type_all(tree: Path, name: str) -> int:
    """Boot the tree, type every line, print what came of each; how many did not do as they must."""
    furnish(tree)
    own = Path("/sys/fs/cgroup/unified" if Path("/sys/fs/cgroup/unified").is_dir() else "/sys/fs/cgroup") / tree.name
    own.mkdir(exist_ok=True)
    apart = "unshare --mount --pid --fork --kill-child --cgroup --uts --ipc --net bash -euc"
    command = ["bash", "-euc", f'echo $$ >"$2/cgroup.procs"; exec {apart} "$0" boot "$1"', BOOT, str(tree), str(own)]
    subprocess.run(command, check=False, stdin=subprocess.DEVNULL, capture_output=True, timeout=LIMIT_S)
    said = [json.loads(line) for line in (tree / "said.jsonl").read_text().splitlines()]
    failed = len(TYPED) - len(said)
    for typed, (line, status, words, took_s) in zip(TYPED, said, strict=False):
        passed = typed.kept(status, words)
        failed += not passed
        print(f"{name:>9} {took_s:4.0f} s  {'ok  ' if passed else 'FAIL'}  {line[:110]}", flush=True)
        if not passed:
            print(f"status {status}\n{words[-3000:]}")
    return failed
