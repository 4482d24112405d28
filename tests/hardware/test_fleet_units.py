"""The services of several boxes: a publisher beside the box, collector and page on the shop's computer."""

import shlex
from pathlib import Path

import pytest

from sumlight import cli
from sumlight.fleet.run import FOLDER

from .conftest import ROOT
from .small_pi import Bench, done
from .test_units import COLLECTOR, CONTROL, PAGE, PUBLISHER, SHOP, UNITS, Unit

CONF = UNITS / "shop.conf"
BLOCK = "fleet: {box_id: bench-1, broker: localhost}\n"


def settings(text: str) -> dict[str, str]:
    """As systemd reads an EnvironmentFile that quotes nothing (systemd.exec(5); from memory)."""
    lines = [line for line in text.splitlines() if line and not line.startswith("#")]
    return {name: value for name, _, value in (line.partition("=") for line in lines)}


def test_the_publisher_is_started_as_its_command_line_understands() -> None:
    """Parsed by the real command line, with the box and the folder that control has."""
    words = shlex.split(Unit(PUBLISHER)["Service"]["ExecStart"])
    options, control = cli.parser().parse_args(words[1:]), shlex.split(Unit(CONTROL)["Service"]["ExecStart"])
    assert words[0] == control[0]
    assert (options.noun, options.verb) == ("fleet", "publish")
    assert [str(options.box), str(options.data)] == [control[control.index(name) + 1] for name in ("--box", "--data")]


def test_the_publisher_reads_by_the_group_and_writes_its_own_folder_only() -> None:
    """No file of control's or the page's is its own, and nothing on the network comes near a pin."""
    control, page, publisher = (Unit(name)["Service"] for name in (CONTROL, PAGE, PUBLISHER))
    assert publisher["User"] == publisher["Group"] not in (control["User"], page["User"])
    assert publisher["SupplementaryGroups"].split() == [control["Group"]]
    assert publisher["ReadWritePaths"] == f"/var/lib/{control['StateDirectory']}/{FOLDER}"
    assert publisher["ProtectSystem"] == "strict"
    assert publisher["PrivateDevices"] == "yes"
    assert "StateDirectory" not in publisher
    assert "ProcSubset" not in publisher  # the board's number, by which a copied card is noticed


def test_nothing_of_the_box_waits_for_the_publisher_and_it_yields_to_all() -> None:
    """Neither named by the others, nor before them for the processor or for memory."""
    control, page, publisher = (Unit(name)["Service"] for name in (CONTROL, PAGE, PUBLISHER))
    for name in (CONTROL, PAGE):
        assert "publisher" not in (UNITS / name).read_text(encoding="utf-8")
    assert int(control["Nice"]) < int(page["Nice"]) < int(publisher["Nice"])
    assert int(control["OOMScoreAdjust"]) < int(page["OOMScoreAdjust"]) < int(publisher["OOMScoreAdjust"])


@pytest.mark.parametrize("name", [COLLECTOR, SHOP])
def test_the_shops_services_are_started_with_what_its_file_names(name: str) -> None:
    """Parsed by the real command line, once every word of the file is in its place."""
    service, given = Unit(name)["Service"], settings(CONF.read_text(encoding="utf-8")) | {"BROKER": "broker.example"}
    line = service["ExecStart"]
    for word, value in given.items():
        line = line.replace(f"${{{word}}}", value)
    assert "$" not in line
    options = cli.parser().parse_args(shlex.split(line)[1:])
    assert options.noun == "fleet"
    assert options.database == f"sqlite:////var/lib/{service['StateDirectory']}/fleet.sqlite"
    if name == COLLECTOR:
        assert (options.verb, options.broker, options.port) == ("collect", "broker.example", 8883)
        assert Path(service["EnvironmentFile"]).parent == options.ca_file.parent == options.password_file.parent
    else:
        assert (options.verb, options.listen) == ("shop", "127.0.0.1")


def test_collector_and_page_share_the_database_of_an_account_without_a_box() -> None:
    """Neither is in a group of the box's."""
    collector, shop = (Unit(name)["Service"] for name in (COLLECTOR, SHOP))
    for key in ("User", "Group", "StateDirectory", "EnvironmentFile"):
        assert collector[key] == shop[key]
    assert "SupplementaryGroups" not in collector
    assert "SupplementaryGroups" not in shop


def publishers(bench: Bench) -> list[str]:
    """What systemctl was asked about it since last looked."""
    asked = [" ".join(call.split()) for call in bench.calls() if call.startswith("systemctl")]
    return [call.split(" ", 2)[-1].removeprefix(f"--root={bench.root} ") for call in asked if "publisher" in call]


def test_a_single_box_gets_nothing_of_it(bench: Bench) -> None:
    """No unit, no account, no folder, and only the packages of a box."""
    done(bench.install())
    done(bench.install())
    assert not [name for name in bench.files() if "publisher" in name]
    assert not (bench.data / FOLDER).exists()
    assert "sumlight-fleet" not in (bench.root / "etc" / "passwd").read_text()
    assert not [call for call in bench.calls() if "fleet" in call]


def test_asked_for_it_gets_account_folder_packages_and_a_service_once_the_block_is_there(bench: Bench) -> None:
    """Before that it stays off, and says why; the next run, without the option, keeps it."""
    done(bench.install())
    assert "has no block 'fleet' yet" in done(bench.install("--fleet"))
    calls = bench.calls()
    assert any(call.endswith(f"{bench.source}[pi,fleet]") for call in calls)
    assert any(call.startswith("usermod") and call.endswith("--groups sumlight sumlight-fleet") for call in calls)
    assert bench.files()[f"etc/systemd/system/{PUBLISHER}"] == (UNITS / PUBLISHER).read_bytes()
    assert (bench.data / FOLDER).stat().st_mode & 0o777 == 0o700
    with (bench.root / "etc" / "sumlight" / "box.yaml").open("a") as file:
        file.write(BLOCK)
    before = bench.files()
    assert "its environment stays" in done(bench.install())
    assert bench.files() == before
    assert publishers(bench) == [f"enable {PUBLISHER}"]


def test_a_box_that_runs_gets_a_publisher_that_runs_and_loses_it_with_the_block(bench: Bench) -> None:
    """Control and page are not asked about it."""
    done(bench.install())
    with (bench.root / "etc" / "sumlight" / "box.yaml").open("a") as file:
        file.write(BLOCK)
    done(bench.install())
    bench.run_under_systemd()
    bench.calls()
    output = done(bench.install("--fleet"))
    assert "The services run again" in output
    assert publishers(bench) == [f"enable {PUBLISHER}", f"restart {PUBLISHER}"]
    box = bench.root / "etc" / "sumlight" / "box.yaml"
    box.write_text(box.read_text().replace(BLOCK, ""))
    done(bench.install())
    assert publishers(bench) == [f"stop {PUBLISHER}", f"disable {PUBLISHER}"]


def test_a_version_with_a_publisher_that_does_not_start_leaves_none(bench: Bench) -> None:
    """The version before has no packages for it. Its account stays, for the next try."""
    done(bench.install())
    done(bench.install())
    bench.run_under_systemd()
    accounts = ("etc/passwd", "etc/group")
    before = {name: text for name, text in bench.files().items() if name not in accounts}
    (bench.stubs / "starts").write_text(bench.version_in_use)
    run = bench.install("--fleet")
    assert run.returncode == 1
    assert "The version before runs again" in run.stderr
    assert {name: text for name, text in bench.files().items() if name not in accounts} == before


def test_uninstalling_and_purging_take_the_publisher_too(bench: Bench) -> None:
    """What is left is what was there before."""
    before = bench.files()
    done(bench.install("--fleet"))
    done(bench.install("--uninstall"))
    assert not [name for name in bench.files() if "publisher" in name]
    done(bench.install("--uninstall", "--purge", typed="Exposure box\n"))
    assert bench.files() == before


def test_the_shops_computer_gets_collector_and_page_once_it_is_said_where_the_broker_is(bench: Bench) -> None:
    """Settings are kept by later runs and by uninstalling; only the newest version stays."""
    bench.script = "install-shop"
    before = bench.files()
    assert "then run this again" in done(bench.install())
    conf = bench.root / "etc" / "sumlight-shop" / "shop.conf"
    assert conf.read_bytes() == CONF.read_bytes()
    for name in (COLLECTOR, SHOP):
        assert bench.files()[f"etc/systemd/system/{name}"] == (UNITS / name).read_bytes()
    calls = bench.calls()
    assert [call for call in calls if call.startswith("useradd") and call.endswith(" sumlight-shop")]
    assert [call for call in calls if call.endswith(f"{bench.source}[fleet]")]
    assert not [call for call in calls if call.startswith("systemctl")]
    conf.write_text(mine := CONF.read_text().replace("BROKER=", "BROKER=broker.example"))
    assert "Collector and page are installed" in done(bench.install())
    calls = bench.calls()
    assert [call for call in calls if call.startswith("systemctl") and call.endswith(f"enable {COLLECTOR} {SHOP}")]
    assert not [call for call in calls if call.startswith(("useradd", "groupadd"))]
    assert conf.read_text() == mine
    assert len(list((bench.root / "opt" / "sumlight-shop-versions").glob("*/"))) == 1
    done(bench.install("--uninstall"))
    left = {name for name in bench.files() if name not in before}
    assert left == {"etc/sumlight-shop/shop.conf"}


def test_the_shops_installer_leaves_alone_what_is_not_its_own_and_changes_nothing_without_packages(
    bench: Bench,
) -> None:
    """Neither a folder of somebody's, nor the version that works."""
    bench.script = "install-shop"
    theirs = bench.root / "opt" / "sumlight-shop" / "precious"
    theirs.parent.mkdir(parents=True)
    theirs.write_text("x")
    for options in ((), ("--uninstall",)):
        run = bench.install(*options)
        assert run.returncode == 1
        assert "was not made by this script" in run.stderr
    theirs.unlink()
    theirs.parent.rmdir()
    done(bench.install())
    before = bench.files()
    (bench.stubs / "no-packages").touch()
    run = bench.install()
    assert run.returncode == 1
    assert "nothing was changed" in run.stderr
    assert bench.files() == before


@pytest.mark.parametrize("script", ["install", "install-shop"])
def test_both_scripts_are_programs(script: str) -> None:
    """A clone keeps that."""
    assert (ROOT / "hardware" / script).stat().st_mode & 0o111 == 0o111
