"""The command line as a whole: nouns with verbs, one screen of help each, old spellings, answers as JSON, bash."""

import json
import re
import subprocess
from pathlib import Path

import pytest

from sumlight.cli import main, parser
from sumlight.cli.commands import NOUNS
from sumlight.cli.completion import script
from sumlight.cli.oldspelling import renewed
from sumlight.twin import demo

VERBS = [(noun.name, verb.name) for noun in NOUNS for verb in noun.verbs]
RUN_ON = [
    ("box", "run"),
    ("box", "twin"),
    ("box", "control"),
    ("box", "rest"),
    ("box", "display"),
    ("fleet", "publish"),
    ("fleet", "collect"),
    ("fleet", "shop"),
    ("fleet", "demo"),
    ("fleet", "dark"),
    ("fleet", "rights"),
    ("setup", "completion"),
]
"""What answers nothing: they run until they are ended, act without a word, or print a script."""


def asked_for_help(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, *words: str) -> str:
    """On a terminal of 80 columns."""
    monkeypatch.setenv("COLUMNS", "80")
    with pytest.raises(SystemExit) as ended:
        main([*words, "--help"])
    assert ended.value.code == 0
    return capsys.readouterr().out


@pytest.mark.parametrize("words", [(), ("help",), *((noun.name,) for noun in NOUNS), *VERBS])
def test_help_fits_a_screen_and_ends_with_an_example(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...]
) -> None:
    """24 lines of 80 columns, the usual size of a terminal; the example names the command itself."""
    lines = asked_for_help(capsys, monkeypatch, *words).splitlines()
    assert len(lines) <= 24
    assert max(map(len, lines)) <= 80
    assert lines[-2] == "example:"
    assert lines[-1].startswith(f"  sumlight {' '.join(words)}".rstrip())


@pytest.mark.parametrize("words", VERBS)
def test_every_command_that_answers_has_json(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: tuple[str, str]
) -> None:
    """The others are few, and listed here by hand."""
    options = asked_for_help(capsys, monkeypatch, *words).split("\nexample:")[0]  # an example may name it, too
    assert ("--json" in options) == (words not in RUN_ON)


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("twin --speed 10", "box twin --speed 10"),
        ("run --box box.yaml", "box run --box box.yaml"),
        ("control --twin", "box control --twin"),
        ("rest --box box.yaml", "box rest --box box.yaml"),
        ("expose blue-38 --json", "panel expose blue-38 --json"),
        ("commission --twin", "setup commission --twin"),
        ("commission --override=why --who me", "setup override why --who me"),
        ("check --box box.yaml", "setup check --box box.yaml"),
        ("faults", "setup faults"),
        ("operators reset", "setup operators reset"),
        ("lamps", "lamps show"),
        ("lamps --level 75 --data d", "lamps show --level 75 --data d"),
        ("lamps --data d --new T8 --bank lower", "lamps new T8 --bank lower --data d"),
        ("lamps --fitted lower --places 1 2 --type T8", "lamps tubes lower --places 1 2 --type T8"),
        ("lamps --csv -", "records export lamps -"),
        ("logbook", "records show"),
        ("backup f", "records backup f"),
        ("restore f", "records restore f"),
        ("replay --exposure 1", "records replay --exposure 1"),
        ("tidy --older-than-days 400 --yes", "records tidy --older-than-days 400 --yes"),
        ("tidy --compact --data d", "records compact --data d"),
        ("export lamps f", "records export lamps f"),
        ("calibrate", "light calibration"),
        ("calibrate --recipe r", "light calibration r"),
        ("calibrate --recipe r --steady 60 --data d", "light steady r --seconds 60 --data d"),
        ("calibrate --radiometer 4 --uncertainty 0.1 --bank b", "light radiometer 4 --uncertainty 0.1 --bank b"),
        ("selfcheck --apply", "light self-check --apply"),
        ("tablet r --zones 1", "panel tablet r --zones 1"),
        ("teach r --seconds 5", "panel teach r --seconds 5"),
        ("strip r --first 5", "panel strip r --first 5"),
        ("transmission r", "light transmission r"),
        ("field r --place=0,0", "light field r --place=0,0"),
        ("contact --half-angle 30", "light contact --half-angle 30"),
        ("reciprocity --held 1,80", "light reciprocity --held 1,80"),
    ],
)
def test_old_spellings_are_understood_and_say_the_new_one(
    capsys: pytest.CaptureFixture[str], old: str, new: str
) -> None:
    """On standard error, so that what reads the answer is not disturbed."""
    assert renewed(old.split()) == new.split()
    told = capsys.readouterr()
    assert f"sumlight {new}\n" in told.err
    assert told.out == ""


@pytest.mark.parametrize("words", [*VERBS, ("lamps", "--help"), ("lamps", "-h"), ("nothing", "known")])
def test_new_spellings_are_left_alone(capsys: pytest.CaptureFixture[str], words: tuple[str, str]) -> None:
    """Without a word."""
    assert renewed([*words]) == [*words]
    assert capsys.readouterr().err == ""


def test_an_old_spelling_does_the_whole_work(capsys: pytest.CaptureFixture[str]) -> None:
    """By the way that people came."""
    assert main(["contact", "--half-angle", "30", "--gap", "50", "--json"]) == 0
    told = capsys.readouterr()
    assert round(json.loads(told.out)["layers"][0]["creep_um"], 1) == 28.9  # 50 tan 30°
    assert "sumlight light contact" in told.err


def test_json_has_standard_output_for_itself(capsys: pytest.CaptureFixture[str]) -> None:
    """A guided run tells people much on its way: on standard error then."""
    assert main(["light", "transmission", "--twin", "--seconds", "4", "--json"]) == 0
    told = capsys.readouterr()
    assert round(json.loads(told.out)["sheets"][0]["transmission"], 1) == 0.9  # the twin's own sheets
    assert "Each simulated sheet lets 90% through." in told.err


def test_recipes_are_listed_shown_and_checked(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A bad file stands among the good ones, with its first mistake; `show` gives the file's own text."""
    shelf = tmp_path / "recipes"
    assert main(["recipes", "list", "--data", str(tmp_path)]) == 2
    shelf.mkdir()
    text = (demo.RECIPES / "blue-38.yaml").read_text(encoding="utf-8")
    (shelf / "blue-38.yaml").write_text(text, encoding="utf-8")
    (shelf / "odd.yaml").write_text("resist: 3\n", encoding="utf-8")
    capsys.readouterr()
    assert main(["recipes", "list", "--data", str(tmp_path), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["recipes"]
    assert [(one["name"], one["usable"]) for one in found] == [("blue-38", True), ("odd", False)]
    assert main(["recipes", "list", "--data", str(tmp_path)]) == 0
    assert "odd: cannot be used; " in capsys.readouterr().out
    assert main(["recipes", "show", "blue-38", "--data", str(tmp_path)]) == 0
    assert capsys.readouterr().out == text
    assert main(["recipes", "show", "red-50", "--data", str(tmp_path)]) == 2
    assert "no recipe is called 'red-50'; there is blue-38" in capsys.readouterr().err
    for verb, left in (("put-away", ["odd"]), ("take-back", ["blue-38", "odd"])):
        assert main(["recipes", verb, "blue-38", "--data", str(tmp_path)]) == 0
        assert "blue-38 is " in capsys.readouterr().out
        assert main(["recipes", "list", "--data", str(tmp_path), "--json"]) == 0
        assert [one["name"] for one in json.loads(capsys.readouterr().out)["recipes"]] == left
    assert main(["recipes", "take-back", "blue-38", "--data", str(tmp_path)]) == 2
    assert "nothing to move" in capsys.readouterr().err
    assert main(["recipes", "list", "--put-away", "--data", str(tmp_path)]) == 0
    assert capsys.readouterr().out == "No recipe was put away.\n"
    files = [str(shelf / name) for name in ("blue-38.yaml", "odd.yaml")]
    assert main(["recipes", "check", files[0]]) == 0
    assert main(["recipes", "check", *files, "--json"]) == 1
    told = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert [one["usable"] for one in told["files"]] == [True, False]


@pytest.mark.parametrize(
    ("typed", "offered"),
    [
        ("", {"help", *(noun.name for noun in NOUNS)}),
        ("re", {"recipes", "records"}),
        ("--v", {"--version"}),
        ("lamps ", {"show", "new", "tubes"}),
        ("light self", {"self-check"}),
        ("panel expose --sp", {"--speed"}),
        ("panel expose blue-38 --sc", {"--scenario"}),
        ("records export w", {"weeks"}),
        ("setup operators ", {"list", "reset"}),
        ("records backup ", set()),
        ("help ba", {"baths"}),
    ],
)
def test_bash_completes(tmp_path: Path, typed: str, offered: set[str]) -> None:
    """Judged by bash itself; files, where nothing is offered, are bash's own (`complete -o default`)."""
    words = ["sumlight", *typed.split(" ")]
    ask = f"""{script(parser())}
COMP_WORDS=({" ".join(f"'{word}'" for word in words)}) COMP_CWORD={len(words) - 1}
_sumlight
printf '%s\\n' "${{COMPREPLY[@]}}"
"""
    done = subprocess.run(["bash", "-u", "-c", ask], capture_output=True, text=True, check=True)
    assert done.stderr == ""
    assert set(done.stdout.split()) == offered


def test_completion_prints_the_script(capsys: pytest.CaptureFixture[str]) -> None:
    """As it was tried above."""
    assert main(["setup", "completion"]) == 0
    assert capsys.readouterr().out == script(parser())
    assert re.search(r"^complete .* sumlight$", script(parser()), re.MULTILINE)
