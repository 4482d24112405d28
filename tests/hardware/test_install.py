"""The install script, below a folder of its own: idempotent, careful with what is not its own, loud when it fails."""

import shutil
import stat
import subprocess
from pathlib import Path

import pytest

from .conftest import ROOT
from .small_pi import LGPIO, Bench, done, place_program

SCRIPT = ROOT / "hardware" / "install"


def test_shellcheck_finds_nothing() -> None:
    """The script is written for bash with -euo pipefail; the command that it places for any shell."""
    scripts = [str(SCRIPT.with_name(name)) for name in ("install", "install-shop", "sumlight")]
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
        place_program(bench.stubs / "bin" / program, "#!/bin/sh\n")
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
        place_program(bench.stubs / "bin" / program, "#!/bin/sh\n")
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
    place_program(bench.stubs / "bin" / "df", "#!/bin/sh\nprintf 'Avail\\n  37\\n'\n")
    before = bench.files()
    run = bench.install()
    assert run.returncode == 1
    assert "37 MB left, and 400 MB are needed" in run.stderr
    assert bench.files() == before


@pytest.mark.parametrize(("kind", "told"), [("overlayfs", True), ("tmpfs", True), ("ext2/ext3", False)])
def test_a_system_in_ram_is_told(bench: Bench, kind: str, told: bool) -> None:
    """It works until the next start, so it is said and not refused."""
    place_program(bench.stubs / "bin" / "stat", f"#!/bin/sh\necho {kind}\n")
    output = done(bench.install())
    assert (f"may be in RAM ({kind})" in output) is told


def test_a_read_only_system_is_refused(bench: Bench) -> None:
    """A folder below --root stands for it, whose /etc nobody may write to."""
    (bench.root / "etc").rename(bench.root / "was-etc")
    (bench.root / "etc").symlink_to("/there is/no such place")
    run = bench.install()
    assert run.returncode == 1
    assert "it is read-only" in run.stderr


def test_without_a_config_txt_the_builder_is_told(bench: Bench) -> None:
    """Another board: I2C and watchdog are then the builder's to switch on."""
    bench.config.unlink()
    assert "no config.txt" in done(bench.install())


def test_an_unknown_option_is_refused(bench: Bench) -> None:
    """With the usage."""
    run = bench.install("--uninstal")
    assert run.returncode == 1
    assert "usage:" in run.stderr
