"""A made-up Pi below a folder for tests of the installer: a few files, and programs that note what they are asked."""

import os
import shutil
import stat
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

ROOT = Path(__file__).parents[2]


SHIPPED = ("install", "install-shop", "sumlight", "box.yaml", "check_pin_library.py", "systemd")
"""What the script uses of hardware/."""


PYTHON = f"""#!/bin/sh
# Stands in for Python: notes what it is asked, makes environments of itself, runs code with a made-up lgpio.
here=$(dirname "$STUB_PYTHON")
echo "python $*" >> "$here/calls"
case "$1 $2" in
    "-c "*version_info*) echo "$STUB_VERSION" ;;
    "-c "*Python.h*) [ -e "$here/Python.h" ] ;;
    "-c import lgpio") [ ! -e "$here/no-lgpio" ] ;;
    "-c import ensurepip, venv") [ ! -e "$here/no-venv" ] ;;
    "-m venv")
        for last; do :; done
        mkdir -p "$last/bin"
        cp "$STUB_PYTHON" "$last/bin/python"
        ;;
    "-m pip")
        program=$(dirname "$0")/sumlight
        printf '#!/bin/sh\\necho sumlight "$@" >> %s/calls\\n[ ! -e %s/bad-box ]\\n' "$here" "$here" > "$program"
        chmod +x "$program"
        [ ! -e "$here/no-packages" ]
        ;;
    *) PYTHONPATH="$here/modules" exec {sys.executable} -S "$@" ;;
esac
"""


TOOL = """#!/bin/sh
# Stands in for an account tool or systemctl: notes the call and keeps the files below --prefix as the real one does.
echo "$(basename "$0") $*" >> "$STUB_DIR/calls"
for last; do :; done
case "$(basename "$0") $*" in
    "systemctl "*is-active*) [ -e "$STUB_DIR/running" ]; exit ;;
    "systemctl "*NRestarts*) cat "$STUB_DIR/restarts" 2>/dev/null || echo 0 ;;
    "systemctl "*" stop "*) rm -f "$STUB_DIR/running" ;;
    "systemctl "*" start "*)
        program=$(readlink "$STUB_REPO/opt/sumlight" || echo older)
        [ ! -e "$STUB_DIR/migrates" ] || { cp "$STUB_DIR/migrates" "$STUB_DATA.version-16"; echo new >"$STUB_DATA"; }
        rm -f "$STUB_DIR/migrates"
        only=$(cat "$STUB_DIR/starts" 2>/dev/null)
        [ -z "$only" ] || [ "$only" = "$program" ] || exit 1
        touch "$STUB_DIR/running"
        ;;
esac
case "$(basename "$0")" in
    useradd) echo "$last:x:990:990::/:/usr/sbin/nologin" >> "$STUB_REPO/etc/passwd" ;;
    groupadd) echo "$last:x:990:" >> "$STUB_REPO/etc/group" ;;
    userdel) sed -i "/^$last:/d" "$STUB_REPO/etc/passwd" ;;
    groupdel) sed -i "/^$last:/d" "$STUB_REPO/etc/group" ;;
esac
"""


LGPIO = "def get_module_version():\n    return 'lgpio.py_0.2.2.0'\n"


@dataclass
class Bench:
    """A made-up Pi below a folder, with programs that note what they are asked."""

    root: Path
    stubs: Path
    source: Path
    version: str = "3 11"
    bits: int = 64
    script: str = "install"
    path: str = field(default_factory=lambda: os.environ["PATH"])
    more: dict[str, str] = field(default_factory=dict)

    def install(self, *options: str, typed: str = "") -> subprocess.CompletedProcess[str]:
        """Run the script here."""
        python = self.stubs / "python"
        environment = {
            "PATH": f"{self.stubs / 'bin'}:{self.path}",
            "STUB_PYTHON": str(python),
            "STUB_VERSION": f"{self.version} {self.bits}",
            "STUB_DIR": str(self.stubs),
            "STUB_REPO": str(self.root),
            "STUB_DATA": str(self.data / "logbook.sqlite"),
            "SETTLE_S": "0",
        } | self.more
        command = [
            str(self.source / "hardware" / self.script),
            "--root",
            str(self.root),
            "--python",
            str(python),
            *options,
        ]
        return subprocess.run(command, capture_output=True, text=True, env=environment, timeout=120, input=typed)

    def calls(self) -> list[str]:
        """What was asked since last looked."""
        path = self.stubs / "calls"
        lines = path.read_text().splitlines() if path.exists() else []
        path.unlink(missing_ok=True)
        return lines

    def files(self) -> dict[str, bytes | str]:
        """Every file below the root with its content, links with their target."""
        found: dict[str, bytes | str] = {}
        for path in sorted(self.root.rglob("*")):
            if path.is_symlink():
                found[str(path.relative_to(self.root))] = os.readlink(path)
            elif path.is_file():
                found[str(path.relative_to(self.root))] = path.read_bytes()
        return found

    @property
    def data(self) -> Path:
        """The data folder."""
        return self.root / "var" / "lib" / "sumlight"

    @property
    def version_in_use(self) -> str:
        """What the link points to."""
        return os.readlink(self.root / "opt" / "sumlight")

    @property
    def versions(self) -> set[str]:
        """Every version that is there, as the link would name it."""
        return {f"sumlight-versions/{path.name}" for path in (self.root / "opt" / "sumlight-versions").glob("*/")}

    def change_the_program(self) -> None:
        """As an update of the clone does."""
        with (self.source / "firmware" / "sumlight" / "changes.md").open("a") as file:
            file.write("news\n")

    def run_under_systemd(self) -> None:
        """The services run, and the script may tell them what to do."""
        folder = self.stubs / "systemd-runs"
        folder.mkdir()
        self.more["SYSTEMD_RUNS"] = str(folder)
        (self.stubs / "running").touch()

    @property
    def running(self) -> bool:
        """Whether the services run."""
        return (self.stubs / "running").exists()

    @property
    def config(self) -> Path:
        """config.txt of the Pi."""
        return self.root / "boot" / "firmware" / "config.txt"


def made(tmp_path: Path) -> Bench:
    """A Pi on which nothing of ours is yet."""
    root, stubs = tmp_path / "root", tmp_path / "stubs"
    (root / "etc").mkdir(parents=True)
    (root / "etc" / "passwd").write_text("root:x:0:0::/root:/bin/bash\n")
    (root / "etc" / "group").write_text("root:x:0:\ngpio:x:997:\ni2c:x:998:\n")
    (root / "boot" / "firmware").mkdir(parents=True)
    (stubs / "bin").mkdir(parents=True)
    for name in ("useradd", "groupadd", "usermod", "userdel", "groupdel", "systemctl"):
        place_program(stubs / "bin" / name, TOOL)
    place_program(stubs / "python", PYTHON)
    modules = stubs / "modules"
    (modules / "gpiozero" / "pins").mkdir(parents=True)
    (modules / "gpiozero" / "__init__.py").write_text("")
    (modules / "gpiozero" / "pins" / "__init__.py").write_text("")
    (modules / "gpiozero" / "pins" / "lgpio.py").write_text("class LGPIOFactory: ...\n")
    (modules / "lgpio.py").write_text(LGPIO)
    source = tmp_path / "source"
    (source / "hardware").mkdir(parents=True)
    for name in SHIPPED:
        path = ROOT / "hardware" / name
        (shutil.copytree if path.is_dir() else shutil.copy)(path, source / "hardware" / name)
    shutil.copy(ROOT / "pyproject.toml", source)
    (source / "firmware" / "sumlight").mkdir(parents=True)
    (source / "webui").mkdir()
    (source / "firmware" / "sumlight" / "changes.md").write_text("old\n")
    bench = Bench(root, stubs, source)
    bench.config.write_text("dtparam=audio=on\n[cm4]\notg_mode=1\n")
    return bench


def place_program(path: Path, text: str) -> None:
    """Put a program there."""
    path.write_text(text)
    path.chmod(path.stat().st_mode | stat.S_IXUSR)


def done(run: subprocess.CompletedProcess[str]) -> str:
    """Output of a run that succeeded."""
    assert run.returncode == 0, run.stdout + run.stderr
    return run.stdout
