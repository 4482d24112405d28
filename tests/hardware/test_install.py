"""The install script, below a folder of its own: idempotent, careful with what is not its own, loud when it fails."""

import argparse
import os
import shutil
import stat
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from .conftest import ROOT

SCRIPT = ROOT / "hardware" / "install"
SHIPPED = ("install", "sumlight", "box.yaml", "check_pin_library.py", "systemd")
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
        program=$(readlink "$STUB_ROOT/opt/sumlight" || echo older)
        [ ! -e "$STUB_DIR/migrates" ] || { cp "$STUB_DIR/migrates" "$STUB_DATA.version-16"; echo new >"$STUB_DATA"; }
        rm -f "$STUB_DIR/migrates"
        only=$(cat "$STUB_DIR/starts" 2>/dev/null)
        [ -z "$only" ] || [ "$only" = "$program" ] || exit 1
        touch "$STUB_DIR/running"
        ;;
esac
case "$(basename "$0")" in
    useradd) echo "$last:x:990:990::/:/usr/sbin/nologin" >> "$STUB_ROOT/etc/passwd" ;;
    groupadd) echo "$last:x:990:" >> "$STUB_ROOT/etc/group" ;;
    userdel) sed -i "/^$last:/d" "$STUB_ROOT/etc/passwd" ;;
    groupdel) sed -i "/^$last:/d" "$STUB_ROOT/etc/group" ;;
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
            "STUB_ROOT": str(self.root),
            "STUB_DATA": str(self.data / "logbook.sqlite"),
            "SETTLE_S": "0",
        } | self.more
        command = [
            str(self.source / "hardware" / "install"),
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


@pytest.fixture
def bench(tmp_path: Path) -> Bench:
    """A Pi on which nothing of ours is yet."""
    root, stubs = tmp_path / "root", tmp_path / "stubs"
    (root / "etc").mkdir(parents=True)
    (root / "etc" / "passwd").write_text("root:x:0:0::/root:/bin/bash\n")
    (root / "etc" / "group").write_text("root:x:0:\ngpio:x:997:\ni2c:x:998:\n")
    (root / "boot" / "firmware").mkdir(parents=True)
    (stubs / "bin").mkdir(parents=True)
    for name in ("useradd", "groupadd", "usermod", "userdel", "groupdel", "systemctl"):
        _program(stubs / "bin" / name, TOOL)
    _program(stubs / "python", PYTHON)
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
    made = Bench(root, stubs, source)
    made.config.write_text("dtparam=audio=on\n[cm4]\notg_mode=1\n")
    return made


def _program(path: Path, text: str) -> None:
    path.write_text(text)
    path.chmod(path.stat().st_mode | stat.S_IXUSR)


def done(run: subprocess.CompletedProcess[str]) -> str:
    """Output of a run that succeeded."""
    assert run.returncode == 0, run.stdout + run.stderr
    return run.stdout


def test_shellcheck_finds_nothing() -> None:
    """The script is written for bash with -euo pipefail; the command that it places for any shell."""
    scripts = [str(SCRIPT), str(SCRIPT.with_name("sumlight"))]
    found = subprocess.run(["shellcheck", *scripts], capture_output=True, text=True, timeout=120)
    assert (found.returncode, found.stdout) == (0, "")


def test_a_first_installation_places_everything_and_starts_nothing(bench: Bench) -> None:
    """The caution comes first. The example's box is not the builder's, so the services are not switched on yet."""
    output = done(bench.install())
    assert output.startswith("DANGER: unplug the lamps while you install.")
    files = bench.files()
    for name in ("sumlight-control.service", "sumlight-page.service"):
        assert files[f"etc/systemd/system/{name}"] == (ROOT / "hardware" / "systemd" / name).read_bytes()
    assert files["etc/systemd/system.conf.d/sumlight-watchdog.conf"]
    assert files["etc/modules-load.d/sumlight.conf"] == b"i2c-dev\n"
    assert files["etc/sumlight/box.yaml"] == (ROOT / "hardware" / "box.yaml").read_bytes()
    settings = ["[all]", "dtparam=i2c_arm=on", "dtparam=watchdog=on", "dtparam=strict_gpiod"]
    assert bench.config.read_text().splitlines()[-5:-1] == settings
    assert stat.S_IMODE((bench.root / "var/lib/sumlight").stat().st_mode) == 0o750
    assert stat.S_IMODE((bench.root / "var/lib/sumlight/recipes").stat().st_mode) == 0o2770
    assert stat.S_IMODE((bench.root / "var/lib/sumlight/page").stat().st_mode) == 0o700
    calls = bench.calls()
    assert not [call for call in calls if call.startswith("systemctl")]
    assert any(call.startswith("usermod") and call.endswith("--groups sumlight sumlight-page") for call in calls)
    assert any(call.startswith("useradd") and "--shell /usr/sbin/nologin" in call for call in calls)
    assert any(call.startswith("usermod") and "--groups gpio,i2c" in call for call in calls)
    assert "box.yaml to your wiring" in output
    assert "Restart the Pi" in output


def test_the_second_run_changes_no_file_and_switches_the_services_on(bench: Bench) -> None:
    """Idempotent: the same bytes everywhere, no second user, no new environment."""
    done(bench.install())
    before = bench.files()
    bench.calls()
    output = done(bench.install())
    assert bench.files() == before
    assert "writing" not in output
    calls = bench.calls()
    assert not [call for call in calls if call.startswith(("useradd", "groupadd", "python -m venv"))]
    enabled = [call for call in calls if call.startswith("systemctl")]
    assert len(enabled) == 1
    assert "enable sumlight-control.service sumlight-page.service" in enabled[0]


def test_what_the_page_had_in_the_data_folder_moves_into_its_own(bench: Bench) -> None:
    """Operators stay operators; what lies there already wins over what an older version left."""
    data = bench.root / "var" / "lib" / "sumlight"
    (data / "page").mkdir(parents=True)
    (data / "operators.json").write_text("old")
    (data / "page-key").write_text("old key")
    (data / "page" / "page-key").write_text("new key")
    (data / "recipes").mkdir()
    (data / "recipes" / "mine.yaml").write_text("x")
    done(bench.install())
    assert (data / "page" / "operators.json").read_text() == "old"
    assert (data / "page" / "page-key").read_text() == "new key"
    assert not (data / "operators.json").exists()
    assert stat.S_IMODE((data / "recipes" / "mine.yaml").stat().st_mode) == 0o660


def test_a_box_yaml_that_is_there_is_kept(bench: Bench) -> None:
    """Also by an update."""
    box = bench.root / "etc" / "sumlight" / "box.yaml"
    box.parent.mkdir()
    box.write_text("name: mine\n")
    done(bench.install())
    assert box.read_text() == "name: mine\n"
    assert f"sumlight setup check --box {box}" in bench.calls()


def test_a_box_yaml_that_cannot_be_used_stops_before_the_services(bench: Bench) -> None:
    """Nothing is switched on for a box that cannot be described."""
    (bench.stubs / "bad-box").touch()
    run = bench.install()
    assert run.returncode == 1
    assert "correct it and run this again" in run.stderr
    assert "etc/systemd/system/sumlight-control.service" not in bench.files()


def test_up_to_python_3_12_the_pinned_package_comes_from_the_index(bench: Bench) -> None:
    """Without a ready-made package pip fails; it never builds or picks something else."""
    bench.version = "3 12"
    done(bench.install())
    calls = bench.calls()
    assert f"python -m venv --clear {bench.root}/opt/{bench.version_in_use}" in calls
    assert f"python -m pip install --quiet --only-binary lgpio {bench.source}[pi]" in calls
    assert "lgpio==" in (ROOT / "pyproject.toml").read_text()


def test_on_python_3_13_the_systems_own_library_is_used(bench: Bench) -> None:
    """Through an environment that sees system packages; the index is not asked for lgpio."""
    bench.version = "3 13"
    done(bench.install())
    calls = bench.calls()
    assert f"python -m venv --clear --system-site-packages {bench.root}/opt/{bench.version_in_use}" in calls
    (pip,) = [call for call in calls if "-m pip" in call]
    assert "lgpio" not in pip
    assert "[pi]" not in pip
    assert "adafruit-extended-bus" in pip


def test_python_3_13_without_the_systems_library_builds_one_in_its_own_environment(bench: Bench) -> None:
    """From the pinned release's source; nothing else is built."""
    bench.version = "3 13"
    for program in ("swig", "gcc"):
        _program(bench.stubs / "bin" / program, "#!/bin/sh\n")
    (bench.stubs / "Python.h").touch()
    (bench.stubs / "no-lgpio").touch()
    done(bench.install())
    calls = bench.calls()
    assert f"python -m venv --clear {bench.root}/opt/{bench.version_in_use}" in calls
    assert f"python -m pip install --quiet --no-binary lgpio {bench.source}[pi]" in calls


def test_python_3_13_that_can_have_no_pin_library_is_refused_at_once(bench: Bench) -> None:
    """Before anything is changed, with the commands that help."""
    bench.version = "3 13"
    (bench.stubs / "no-lgpio").touch()
    for program in ("swig", "gcc"):  # and python3-dev is missing
        _program(bench.stubs / "bin" / program, "#!/bin/sh\n")
    before = bench.files()
    run = bench.install()
    assert run.returncode == 1
    assert "sudo apt-get install python3-lgpio" in run.stderr
    assert "sudo apt-get install swig gcc python3-dev" in run.stderr
    assert bench.files() == before


def test_a_folder_of_packages_replaces_the_network(bench: Bench, tmp_path: Path) -> None:
    """Nothing is asked of an index, on any Python."""
    wheels = tmp_path / "wheels"
    wheels.mkdir()
    (wheels / "lgpio-0.2.2.0-cp313-cp313-linux_x86_64.whl").touch()
    bench.version = "3 13"
    (bench.stubs / "no-lgpio").touch()
    done(bench.install("--wheels", str(wheels)))
    (pip,) = [call for call in bench.calls() if "-m pip" in call]
    options = f"--no-index --find-links {wheels} --only-binary lgpio {bench.source}[pi]"
    assert pip == f"python -m pip install --quiet {options}"


def test_a_folder_without_packages_is_refused_with_the_command_that_makes_one(bench: Bench, tmp_path: Path) -> None:
    """Before anything is changed; a folder that is not there, too."""
    for folder in (tmp_path, tmp_path / "nowhere"):
        run = bench.install("--wheels", str(folder))
        assert run.returncode == 1
        assert f"--wheels {folder}: no package (*.whl) lies there" in run.stderr
        assert "python hardware/wheels.py DIR" in run.stderr


@pytest.mark.parametrize("library", [None, LGPIO.replace("0.2.2.0", "0.0.0.2")], ids=["missing", "ancient"])
def test_a_pin_library_that_does_not_work_fails_loudly(bench: Bench, library: str | None) -> None:
    """No service is placed and no other library is tried."""
    path = bench.stubs / "modules" / "lgpio.py"
    path.unlink()
    if library is not None:
        path.write_text(library)
    run = bench.install()
    assert run.returncode == 1
    assert "No other pin library is tried" in run.stderr
    assert "etc/systemd/system/sumlight-control.service" not in bench.files()
    assert not [call for call in bench.calls() if call.startswith("systemctl")]


def test_a_new_python_gets_a_new_environment(bench: Bench) -> None:
    """After an upgrade of the system the old environment would be half broken."""
    done(bench.install())
    bench.calls()
    bench.version = "3 13"
    done(bench.install())
    assert any("venv --clear --system-site-packages" in call for call in bench.calls())
    assert bench.versions == {bench.version_in_use}


def test_the_same_program_keeps_its_environment_unless_told_otherwise(bench: Bench) -> None:
    """Running it again after box.yaml was changed asks no network; `--anew` does, for newer libraries."""
    done(bench.install())
    first = bench.version_in_use
    bench.calls()
    assert "the program is the same as before" in done(bench.install())
    assert not [call for call in bench.calls() if "-m pip" in call or "-m venv" in call]
    done(bench.install("--anew"))
    assert [call for call in bench.calls() if "-m pip" in call]
    assert bench.versions == {bench.version_in_use} != {first}


def test_packages_that_cannot_be_had_change_nothing_on_a_box_that_runs(bench: Bench) -> None:
    """It was never stopped, and the half-made environment is gone."""
    done(bench.install())
    done(bench.install())
    bench.run_under_systemd()
    before = bench.files()
    bench.change_the_program()
    (bench.stubs / "no-packages").touch()
    bench.calls()
    run = bench.install()
    assert run.returncode == 1
    assert "nothing was changed: the box goes on with the version it has" in run.stderr
    assert bench.files() == before
    assert bench.running
    assert not [call for call in bench.calls() if call.startswith("systemctl")]


def test_an_update_is_made_beside_the_running_version_and_swapped_in(bench: Bench) -> None:
    """The services stop once all is ready, and only the new version is left."""
    done(bench.install())
    done(bench.install())
    old = bench.version_in_use
    bench.run_under_systemd()
    bench.change_the_program()
    bench.calls()
    output = done(bench.install())
    calls = [" ".join(call.split()) for call in bench.calls()]
    stop = next(at for at, call in enumerate(calls) if call.startswith("systemctl --quiet stop"))
    assert all("-m pip" not in call and "setup check" not in call for call in calls[stop:])
    assert bench.running
    assert "The services run again" in output
    assert bench.versions == {bench.version_in_use} != {old}


@pytest.mark.parametrize("trouble", ["refuses", "restarts"])
def test_a_version_that_does_not_start_gives_way_to_the_one_before(bench: Bench, trouble: str) -> None:
    """Whether it never comes up or crashes soon after: old program, old units, old logbook; it runs again."""
    done(bench.install())
    done(bench.install())
    old = bench.version_in_use
    logbook = bench.data / "logbook.sqlite"
    logbook.write_text("old")
    before = bench.files()
    bench.run_under_systemd()
    bench.change_the_program()
    with (bench.source / "hardware" / "systemd" / "sumlight-page.service").open("a") as file:
        file.write("# new\n")
    if trouble == "refuses":
        (bench.stubs / "starts").write_text(old)
        shutil.copy(logbook, bench.stubs / "migrates")
    else:
        bench.more["SETTLE_S"] = "1"
        (bench.stubs / "restarts").write_text("1\n")
    run = bench.install()
    assert run.returncode == 1
    assert "the new version does not start" in run.stderr
    assert "The version before runs again" in run.stderr
    assert bench.running
    assert bench.versions == {bench.version_in_use} == {old}
    aside = {
        "var/lib/sumlight/logbook.sqlite.not-started": b"new\n",
        "var/lib/sumlight/logbook.sqlite.version-16": b"old",
    }
    assert bench.files() == before | (aside if trouble == "refuses" else {})


def test_an_environment_of_an_older_installer_becomes_one_of_the_versions(bench: Bench) -> None:
    """It lay at the link's place; it is there to go back to, and goes when the new one has started."""
    old = bench.root / "opt" / "sumlight"
    (old / "bin").mkdir(parents=True)
    (old / ".made-by-sumlight-install").write_text("3.11 index\n")
    (old / "bin" / "sumlight").write_text("old")
    units = bench.root / "etc" / "systemd" / "system"
    units.mkdir(parents=True)
    (units / "sumlight-control.service").write_text("old")
    (bench.root / "etc" / "sumlight").mkdir()
    shutil.copy(ROOT / "hardware" / "box.yaml", bench.root / "etc" / "sumlight")
    bench.run_under_systemd()
    (bench.stubs / "starts").write_text("sumlight-versions/older")
    assert bench.install().returncode == 1
    assert (old / "bin" / "sumlight").read_text() == "old"
    assert (units / "sumlight-control.service").read_text() == "old"
    assert bench.running
    (bench.stubs / "starts").unlink()
    done(bench.install())
    assert bench.versions == {bench.version_in_use}
    assert (old / "bin" / "sumlight").read_text() != "old"


def test_what_an_interrupted_run_has_left_is_removed_by_the_next(bench: Bench) -> None:
    """A power cut while packages came."""
    done(bench.install())
    (bench.root / "opt" / "sumlight-versions" / "half-made" / "bin").mkdir(parents=True)
    done(bench.install())
    assert bench.versions == {bench.version_in_use}


def test_an_old_python_is_refused(bench: Bench) -> None:
    """With the version that is needed."""
    bench.version = "3 10"
    run = bench.install()
    assert run.returncode == 1
    assert "3.11 or newer is needed" in run.stderr


def test_a_dry_run_changes_nothing(bench: Bench) -> None:
    """It says what it would do."""
    before = bench.files()
    output = done(bench.install("--dry-run"))
    assert bench.files() == before
    assert "would run: useradd" in output
    assert "Nothing was done" in output
    assert not [call for call in bench.calls() if not call.startswith("python -c") and not call.startswith("python -")]


def test_uninstalling_leaves_box_recipes_and_records(bench: Bench) -> None:
    """And gives config.txt back as it was."""
    original = bench.config.read_text()
    done(bench.install())
    done(bench.install())
    record = bench.root / "var" / "lib" / "sumlight" / "logbook.sqlite"
    record.write_bytes(b"records")
    bench.calls()
    done(bench.install("--uninstall"))
    files = bench.files()
    assert bench.config.read_text() == original
    assert record.read_bytes() == b"records"
    assert "etc/sumlight/box.yaml" in files
    assert not [
        name for name in files if "systemd" in name or name.startswith(("opt/", "usr/")) or "modules-load" in name
    ]
    assert [call for call in bench.calls() if call.startswith("systemctl") and "disable" in call]
    assert "sumlight" in (bench.root / "etc" / "passwd").read_text()
    done(bench.install("--uninstall"))
    assert bench.files() == files


def test_purging_takes_records_and_account_too(bench: Bench) -> None:
    """What is left is what was there before the first installation; the system's groups stay."""
    before = bench.files()
    done(bench.install())
    output = done(bench.install("--uninstall", "--purge", typed="Exposure box\n"))
    assert "every record, for good" in output
    assert bench.files() == before
    assert not (bench.root / "var" / "lib" / "sumlight").exists()


@pytest.mark.parametrize("typed", ["", "\n", "yes\n", "exposure box\n", "purge\n"])
def test_purge_without_the_boxs_name_removes_nothing(bench: Bench, typed: str) -> None:
    """Not even the program."""
    done(bench.install())
    before = bench.files()
    bench.calls()
    run = bench.install("--uninstall", "--purge", typed=typed)
    assert run.returncode == 1
    assert f"'{typed.strip()}' is not 'Exposure box'; nothing was removed" in run.stderr
    assert bench.files() == before
    assert bench.calls() == []


@pytest.mark.parametrize(
    ("line", "name"), [("name: 'My box'", "My box"), ('name: "B" # 2nd', "B"), ("name: Box 2   # ours", "Box 2")]
)
def test_the_name_is_read_as_yaml_writes_it(bench: Bench, line: str, name: str) -> None:
    """Quotes and remarks are no part of it."""
    done(bench.install())
    box = bench.root / "etc" / "sumlight" / "box.yaml"
    box.write_text(f"# a box\n{line}\nbanks: []\n")
    done(bench.install("--uninstall", "--purge", typed=f"{name}\n"))
    assert not box.exists()


def test_a_box_without_a_name_is_purged_by_the_word(bench: Bench) -> None:
    """box.yaml is gone already."""
    done(bench.install())
    (bench.root / "etc" / "sumlight" / "box.yaml").unlink()
    assert bench.install("--uninstall", "--purge").returncode == 1
    done(bench.install("--uninstall", "--purge", typed="purge\n"))
    assert not (bench.root / "var" / "lib" / "sumlight").exists()


NEEDED = (
    "awk bash basename cat chmod cksum cmp cp cut df dirname env find getent grep head id install ln mkdir mktemp mv"
)
NEEDED += " readlink rm sed sh sha256sum sort stat tail touch uname xargs"


def without(bench: Bench, program: str) -> None:
    """A system that lacks this program, and has only what the script needs."""
    programs = bench.stubs / "programs"
    programs.mkdir()
    for name in NEEDED.split():
        found = shutil.which(name)
        assert found is not None
        (programs / name).symlink_to(found)
    (bench.stubs / "bin" / program).unlink()
    bench.path = str(programs)


def test_a_small_debian_without_account_tools_is_refused_in_words(bench: Bench) -> None:
    """Its package `passwd` may be missing, as in the trees of `tests.userlands`."""
    text = (bench.source / "hardware" / "install").read_text()
    (bench.source / "hardware" / "install").write_text(text.replace(":/usr/sbin:/sbin", ""))  # this computer's own
    without(bench, "useradd")
    before = bench.files()
    run = bench.install()
    assert run.returncode == 1
    assert "sudo apt-get install passwd" in run.stderr
    assert bench.files() == before


def test_without_systemd_it_installs_and_removes_all_the_same(bench: Bench) -> None:
    """In a container or another init: told that nothing starts by itself; what another systemctl linked goes, too."""
    without(bench, "systemctl")
    before = bench.files()
    done(bench.install())
    assert "no systemctl here, so nothing starts by itself" in done(bench.install())
    wants = bench.root / "etc" / "systemd" / "system" / "multi-user.target.wants"
    wants.mkdir()
    (wants / "sumlight-control.service").symlink_to("../sumlight-control.service")
    done(bench.install("--uninstall"))
    assert list(wants.iterdir()) == []
    done(bench.install("--uninstall", "--purge", typed="Exposure box\n"))
    assert bench.files() == before


def test_a_32_bit_python_is_refused_in_words(bench: Bench) -> None:
    """Its libraries have no ready-made packages."""
    bench.bits = 32
    before = bench.files()
    run = bench.install()
    assert run.returncode == 1
    assert "put the 64-bit Raspberry Pi OS on its card" in run.stderr
    assert bench.files() == before


def test_a_python_without_environments_is_refused_with_what_helps(bench: Bench) -> None:
    """Debian ships venv apart."""
    (bench.stubs / "no-venv").touch()
    run = bench.install()
    assert run.returncode == 1
    assert "sudo apt-get install python3-venv" in run.stderr


def test_a_full_card_is_refused_before_anything_is_written(bench: Bench) -> None:
    """With how much is needed."""
    _program(bench.stubs / "bin" / "df", "#!/bin/sh\nprintf 'Avail\\n  37\\n'\n")
    before = bench.files()
    run = bench.install()
    assert run.returncode == 1
    assert "37 MB left, and 400 MB are needed" in run.stderr
    assert bench.files() == before


@pytest.mark.parametrize(("kind", "told"), [("overlayfs", True), ("tmpfs", True), ("ext2/ext3", False)])
def test_a_system_in_ram_is_told(bench: Bench, kind: str, told: bool) -> None:
    """It works until the next start, so it is said and not refused."""
    _program(bench.stubs / "bin" / "stat", f"#!/bin/sh\necho {kind}\n")
    output = done(bench.install())
    assert (f"may be in RAM ({kind})" in output) is told


def test_a_read_only_system_is_refused(bench: Bench) -> None:
    """A folder below --root stands for it, whose /etc nobody may write to."""
    (bench.root / "etc").rename(bench.root / "was-etc")
    (bench.root / "etc").symlink_to("/there is/no such place")
    run = bench.install()
    assert run.returncode == 1
    assert "it is read-only" in run.stderr


def test_purge_alone_is_refused(bench: Bench) -> None:
    """It would destroy records of a box that goes on working."""
    run = bench.install("--purge")
    assert run.returncode == 1
    assert "goes with --uninstall" in run.stderr


def test_a_folder_that_is_not_ours_is_never_removed(bench: Bench) -> None:
    """Neither by installing nor by removing."""
    theirs = bench.root / "opt" / "sumlight" / "precious"
    theirs.parent.mkdir(parents=True)
    theirs.write_text("x")
    for options in ((), ("--uninstall",), ("--uninstall", "--purge")):
        assert bench.install(*options).returncode == 1
    assert theirs.read_text() == "x"


def test_without_a_config_txt_the_builder_is_told(bench: Bench) -> None:
    """Another board: I2C and watchdog are then the builder's to switch on."""
    bench.config.unlink()
    assert "no config.txt" in done(bench.install())


def test_an_unknown_option_is_refused(bench: Bench) -> None:
    """With the usage."""
    run = bench.install("--uninstal")
    assert run.returncode == 1
    assert "usage:" in run.stderr


def test_a_command_of_that_name_that_is_not_ours_stays(bench: Bench) -> None:
    """It is told, and neither replaced nor removed."""
    theirs = bench.root / "usr" / "local" / "bin" / "sumlight"
    theirs.parent.mkdir(parents=True)
    theirs.write_text("theirs")
    assert "it stays as it is" in done(bench.install())
    done(bench.install("--uninstall"))
    assert theirs.read_text() == "theirs"


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
    _program(programs / "id", f"#!/bin/sh\ncase $1 in {answers} ;; esac\n")
    _program(programs / "program", '#!/bin/sh\necho "program $*${SUMLIGHT_DATA:+, data $SUMLIGHT_DATA}"\n')
    _program(programs / "runuser", '#!/bin/sh\necho "runuser $*, data $SUMLIGHT_DATA"\n')
    _program(programs / "sudo", '#!/bin/sh\necho "sudo $*"\n')
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
