"""The install script makes a new version beside the old, and goes back where it does not start."""

import shutil

import pytest

from .conftest import ROOT
from .small_pi import Bench, done


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
