"""The install script takes away what is its own, records only by the box's name, and nothing of anybody else."""

import pytest

from .small_pi import Bench, done


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


def test_a_command_of_that_name_that_is_not_ours_stays(bench: Bench) -> None:
    """It is told, and neither replaced nor removed."""
    theirs = bench.root / "usr" / "local" / "bin" / "sumlight"
    theirs.parent.mkdir(parents=True)
    theirs.write_text("theirs")
    assert "it stays as it is" in done(bench.install())
    done(bench.install("--uninstall"))
    assert theirs.read_text() == "theirs"
