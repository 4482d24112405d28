"""The bench around the services that hardware/install has placed: shipped box.yaml, units, sandbox and accounts."""

import subprocess
from pathlib import Path

from tests.guest.inside.bench import START_LIMIT_S, Bench

DATA = Path("/var/lib/sumlight")
CONTROL, PAGE = "sumlight-control", "sumlight-page"


def systemctl(*words: str) -> str:
    """Standard output of systemctl, which must not fail."""
    done = subprocess.run(["systemctl", *words], capture_output=True, text=True, timeout=START_LIMIT_S)
    assert done.returncode == 0, f"systemctl {' '.join(words)}: {done.stderr}{journal()}"
    return done.stdout.strip()


def journal() -> str:
    """What the units said last."""
    return subprocess.run(
        ["journalctl", "--no-pager", "-n", "40", "-u", CONTROL, "-u", PAGE], capture_output=True, text=True, timeout=60
    ).stdout


def main_pid(unit: str) -> int:
    """The process of a unit; 0 if there is none."""
    return int(systemctl("show", "--property", "MainPID", "--value", unit))


class Installed(Bench):
    """The bench around the services."""

    light_limit_s, light_look_s = 120.0, 0.5
    """The shipped box pulls vacuum for a minute before each light: not to be asked fifty times a second, for here every
    answer takes the emulator longer than it seems."""

    def spawn(self) -> None:
        """Start both services."""
        systemctl("start", CONTROL, PAGE)

    def runs(self) -> bool:
        """Whether control answers."""
        return self.client is not None

    def _check_alive(self) -> None:
        assert systemctl("show", "--property", "ActiveState", "--value", CONTROL) != "failed", journal()

    def said(self) -> str:
        """From the journal."""
        return journal()

    def forget_client(self) -> None:
        """The connection is to a control that is gone."""
        if self.client is not None:
            self.client.close()
            self.client = None
