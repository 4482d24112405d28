"""The install script, below a folder of its own: idempotent, careful with what is not its own, loud when it fails."""

import os
import stat
import subprocess
import sys
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from .conftest import ROOT

SCRIPT = ROOT / "hardware" / "install"

PYTHON = f"""#!{sys.executable}
# Stands in for Python: notes what it is asked, makes environments of itself, runs code with a made-up lgpio.
import os, shutil, sys
here = os.path.dirname(os.path.realpath(os.environ["STUB_PYTHON"]))
with open(os.path.join(here, "calls"), "a") as calls:
    print("python", *sys.argv[1:], file=calls)
arguments = sys.argv[1:]
if arguments[:1] == ["-c"] and "version_info" in arguments[1]:
    print(os.environ["STUB_VERSION"])
elif arguments[:2] == ["-m", "venv"]:
    folder = os.path.join(arguments[-1], "bin")
    os.makedirs(folder, exist_ok=True)
    shutil.copy(os.environ["STUB_PYTHON"], os.path.join(folder, "python"))
elif arguments[:2] == ["-m", "pip"]:
    program = os.path.join(os.path.dirname(sys.argv[0]), "sumlight")
    with open(program, "w") as file:
        file.write("#!/bin/sh\\necho sumlight \\"$@\\" >> " + here + "/calls\\n[ ! -e " + here + "/bad-box ]\\n")
    os.chmod(program, 0o755)
else:
    environment = dict(os.environ, PYTHONPATH=os.path.join(here, "modules"))
    os.execve(sys.executable, [sys.executable, "-S", *arguments], environment)
"""

TOOL = """#!/bin/sh
# Stands in for an account tool or systemctl: notes the call and keeps the files below --prefix as the real one does.
echo "$(basename "$0") $*" >> "$STUB_DIR/calls"
for last; do :; done
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
    version: str = "3 11"
    bits: int = 64
    path: str = field(default_factory=lambda: os.environ["PATH"])

    def install(self, *options: str, typed: str = "") -> subprocess.CompletedProcess[str]:
        """Run the script here."""
        python = self.stubs / "python"
        environment = {
            "PATH": f"{self.stubs / 'bin'}:{self.path}",
            "STUB_PYTHON": str(python),
            "STUB_VERSION": f"{self.version} {self.bits}",
            "STUB_DIR": str(self.stubs),
            "STUB_ROOT": str(self.root),
        }
        command = [str(SCRIPT), "--root", str(self.root), "--python", str(python), *options]
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
    made = Bench(root, stubs)
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
    """The script is written for bash with -euo pipefail."""
    found = subprocess.run(["shellcheck", str(SCRIPT)], capture_output=True, text=True, timeout=120)
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
    assert f"python -m venv --clear {bench.root}/opt/sumlight" in calls
    assert f"python -m pip install --quiet --upgrade --only-binary lgpio {ROOT}[pi]" in calls
    assert "lgpio==" in (ROOT / "pyproject.toml").read_text()


def test_on_python_3_13_the_systems_own_library_is_used(bench: Bench) -> None:
    """Through an environment that sees system packages; the index is not asked for lgpio."""
    bench.version = "3 13"
    done(bench.install())
    calls = bench.calls()
    assert f"python -m venv --clear --system-site-packages {bench.root}/opt/sumlight" in calls
    (pip,) = [call for call in calls if "-m pip" in call]
    assert "lgpio" not in pip
    assert "[pi]" not in pip
    assert "adafruit-extended-bus" in pip


def test_python_3_13_without_the_systems_library_is_refused_at_once(bench: Bench) -> None:
    """Before anything is changed, with the command that helps."""
    bench.version = "3 13"
    (bench.stubs / "modules" / "lgpio.py").unlink()
    before = bench.files()
    run = bench.install()
    assert run.returncode == 1
    assert "sudo apt-get install python3-lgpio" in run.stderr
    assert bench.files() == before


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
    assert not [name for name in files if "systemd" in name or name.startswith("opt/") or "modules-load" in name]
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


def test_without_systemd_it_installs_and_removes_all_the_same(bench: Bench, tmp_path: Path) -> None:
    """In a container or another init: told that nothing starts by itself; what another systemctl linked goes, too."""
    programs = tmp_path / "programs"
    programs.mkdir()
    for folder in os.environ["PATH"].split(":"):
        for program in Path(folder).glob("*") if Path(folder).is_dir() else ():
            link = programs / program.name
            if program.name != "systemctl" and not link.is_symlink():
                link.symlink_to(program)
    (bench.stubs / "bin" / "systemctl").unlink()
    bench.path = str(programs)
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
    (bench.stubs / "modules" / "ensurepip.py").write_text("raise ImportError('as Debian without python3-venv')\n")
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
