"""`sumlight setup commission`: on the twin, and by a person at a terminal."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from sumlight.box.description import Sight
from sumlight.cli import commission, main
from sumlight.control.commissioning import steps
from sumlight.protocol.client import ControlGoneError
from sumlight.text.message import as_written
from sumlight.twin.attendant import DO, UNDO, tube_hands
from tests.control.bench_box import BenchBox, demo_box


def test_the_twin_is_commissioned_and_the_report_kept(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 0, every step told, a file in the data folder."""
    assert main(["setup", "commission", "--twin", "--data", str(tmp_path), "--who", "A. Nyone"]) == 0
    told = capsys.readouterr().out
    assert "17/17 No harmful light leaks out" in told
    assert told.count("passed  ") == 17
    (report,) = (tmp_path / "commissioning").glob("*.html")
    assert str(report) in told


@pytest.mark.parametrize(
    ("missing", "step", "words"),
    [
        ("hardwired_lid_switch: false", "The lid switch alone drops K1", "the lid switch S3 is missing"),
        ("hardwired_stop: false", "The emergency stop alone drops K1", "the emergency stop S2 is missing"),
        ("hardwired_cut_out: false", "The thermal cut-out alone drops K1", "the thermal cut-out F3 is missing"),
        ("k1_mirror_bridged: says_dropped", "The bank relays darken", "the mirror is bridged"),
        ("k1_mirror_bridged: says_closed", "K1's mirror shows it dropped at rest", "mirror's wire"),
    ],
)
def test_a_box_with_a_hard_wired_part_missing_fails_in_plain_words(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], missing: str, step: str, words: str
) -> None:
    """Lid, stop, cut-out and mirror, as hardware/drawings/mains.svg draws them: which part, and what to do."""
    scenario = tmp_path / "scenario.yaml"
    scenario.write_text(f"{missing}\n", encoding="utf-8")
    assert main(["setup", "commission", "--twin", "--scenario", str(scenario)]) == 1
    told = capsys.readouterr().out
    (failed,) = [line for line in told.splitlines() if line.startswith("FAILED")]
    assert step in failed
    assert words in failed
    assert "electrician" in failed
    assert "Commissioning failed." in told


def test_a_cut_out_without_a_button_is_left_to_the_electrician(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Nothing failed; report and terminal are headed incomplete, and nobody loosened a wire."""
    scenario = tmp_path / "scenario.yaml"
    scenario.write_text("cut_out_button: false\n", encoding="utf-8")
    assert main(["setup", "commission", "--twin", "--scenario", str(scenario), "--data", str(tmp_path / "data")]) == 0
    told = capsys.readouterr().out
    assert "not proved  The thermal cut-out alone drops K1: Not proved here: by the electrician, mains off" in told
    assert "Commissioning is INCOMPLETE" in told
    assert "Commissioning passed" not in told
    (report,) = (tmp_path / "data" / "commissioning").glob("*.html")
    text = report.read_text(encoding="utf-8")
    assert ": incomplete</h1>" in text
    assert '<p class="verdict">Incomplete.' in text


def test_a_leak_fails_it(capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 1; with --json one object."""
    assert main(["setup", "commission", "--twin", "--leak", "5", "--json"]) == 1
    picture = json.loads(capsys.readouterr().out)
    assert picture["run"]["outcome"] == "failed"
    assert "3 minutes a day" in picture["run"]["results"][-1]["found"]


def test_without_a_running_box_it_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Exit status 2."""
    assert main(["setup", "commission", "--data", str(tmp_path), "--who", "A"]) == 2
    assert "start it first" in capsys.readouterr().err


class Bench:
    """A bench behind the terminal's client; time passes with each question."""

    def __init__(self, bench: BenchBox) -> None:
        self.bench = bench
        self.gone = 0

    def __call__(self, _: Path) -> "Bench":
        """Connect; nobody answers while the box is away."""
        if self.gone:
            self.gone -= 1
            raise ControlGoneError("hung_up", as_written("away"), sent=True)
        return self

    def __enter__(self) -> "Bench":
        return self

    def __exit__(self, *_: object) -> None:
        """Nothing to hang up."""

    def ask(self, command: str, **values: Any) -> dict[str, Any]:
        """Carry it out, a tenth of a second later."""
        self.bench.run(0.1)
        run = self.bench.snapshot()["commissioning"]["run"]
        if command == "state" and run and run["phase"] == "act" and not run["waits_for_next"]:
            if run["step"] == "process_killed":
                self.bench.kill_control()
                self.gone = 3
            for do, fields in DO.get(run["step"], []):
                self.bench.happen(do, **fields)
        return self.bench.ask(command, **values)


@pytest.fixture
def person(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[tuple[BenchBox, list[str]]]:
    """A person at the terminal who does what is asked; the list holds what was typed."""
    bench = BenchBox(tmp_path, hardwired_lid_switch=True).ready()
    typed: list[str] = []

    def say(prompt: str = "") -> str:
        run = bench.snapshot()["commissioning"]["run"]
        hands = DO if run["phase"] == "act" else UNDO if run["phase"] == "undo" else {}
        for do, fields in hands.get(run["step"], []):
            bench.happen(do, **fields)
        bench.run(1.0)
        answer = {"leak_mw_cm2": "0.001", "answer": "yes", "button": "yes"}.get(run["asks"] or "", "")
        typed.append(f"{run['step']} {answer}".strip())
        return answer

    monkeypatch.setattr(commission, "ControlClient", Bench(bench))
    monkeypatch.setattr(commission, "LOOK_S", 0.0)
    monkeypatch.setattr("builtins.input", say)
    yield bench, typed
    bench.daemon.close()


def test_a_person_is_led_through_all_steps(
    person: tuple[BenchBox, list[str]], capsys: pytest.CaptureFixture[str]
) -> None:
    """Also over the kill, after which the terminal waits for the box to come back."""
    bench, typed = person
    answer = commission.TerminalOperator(bench.data, "A. Nyone").run()
    assert answer.status == 0
    assert "cut_out_alone yes" in typed
    assert "process_killed yes" in typed
    assert "light_leak 0.001" in typed
    assert "Commissioning passed." in answer.lines
    assert "Step 17 of 17: " in capsys.readouterr().out


def test_the_terminal_leads_through_the_tubes(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The question, which tube goes out and which back, and what was found, in words; hands move what is said."""
    monkeypatch.setattr(steps, "TUBES_LIT_S", 1.0)
    box = demo_box()
    sight = Sight(tubes=2, pitch_mm=50, height_mm=80, accepts_deg=63)
    sighted = box.model_copy(update={"meters": [box.meters[0].model_copy(update={"sight": sight})]})
    bench = BenchBox(tmp_path, box=sighted).ready()
    bench.ask("commission_begin", who="A")
    run = bench.daemon.commander.commissioning._run
    assert run is not None
    run.index = len(run.steps) - 1
    run._enter()

    def say(prompt: str = "") -> str:
        told = bench.snapshot()["commissioning"]["run"]
        for do, fields in tube_hands(**told["tubes"]) if told["phase"] == "prepare" else ():
            bench.happen(do, **fields)
        bench.run(4.0)
        return "yes" if told["asks"] == "button" else ""

    monkeypatch.setattr(commission, "ControlClient", Bench(bench))
    monkeypatch.setattr(commission, "LOOK_S", 0.0)
    monkeypatch.setattr("builtins.input", say)
    answer = commission.TerminalOperator(bench.data, "A").run()
    words = capsys.readouterr().out
    for each in (
        "Take out tube 1 of bank lower",
        "Put tube 1 of bank lower back and take out tube 2",
        "now all are in",
    ):
        assert each in words
    assert "sees 2 of 2 tubes" in "\n".join(answer.lines)
    bench.close()


@pytest.mark.parametrize(("typed", "kept"), [("Ada", "Ada (terminal)"), (" Ada ", "Ada (terminal)"), (" ", "")])
def test_the_record_says_that_a_name_was_typed_at_a_terminal(typed: str, kept: str) -> None:
    """No log-in stands behind it; a missing name stays missing, so that control asks for one."""
    assert commission.at_terminal(typed) == kept
