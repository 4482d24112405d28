"""Nothing outside a box has checked its doses: nowhere do they pass for mJ/cm², on no page and by no command.

A whole box is walked, before and after it was calibrated, in both languages. What may be said in mJ/cm² all the same is
listed with the reason; the list is what there is to argue about.
"""

import html
import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest
from werkzeug.routing import Rule

from sumlight.cli import display, main, rigs
from sumlight.cli.commands import NOUNS
from sumlight_web.access import operators
from tests.webui.fake_control import wait_until
from tests.webui.light_runs import READ
from tests.webui.operating import QUICK_HASH
from tests.webui.test_language import FILES, NO_PAGES
from tests.webui.unchecked_box import RunningBox

UNIT = re.compile(r"mJ\s*/\s*cm(?:²|2|\^2)|mJ·cm⁻²|J\s*/\s*cm²")


@dataclass(frozen=True)
class Excuse:
    """Why a place may say mJ/cm²: `where` and `words` must both be found there."""

    why: str
    where: str
    words: str = ""


DATA_SHEET = "the dose of a data sheet, from outside, is in mJ/cm² whatever the box counts in"
FIELD = "keys, fields and files of recipes stay mJ/cm² (DEVELOPERS.md, Decisions); the list says the scale of each"
DENIED = "says that doses are not mJ/cm²"

EXCUSES = (
    Excuse(DATA_SHEET, r"page /light/tablet", r"known to just hold it|bekannt|title="),
    Excuse(DATA_SHEET, r"page /panels/\d+$", r"known to just hold it|bekannt"),
    Excuse("what a data sheet's dose makes of it", r"page /light/tablet/\d+$", r"What counts as 1|Was als 1 zählt"),
    Excuse(FIELD, r"page /recipes/(new|[^/]+|[^/]+/copy)$", r"Dose at the resist|Dosis am Resist|title="),
    Excuse(
        "what another box's file says, beside whether that box is calibrated",
        r"page /recipes/shared$",
        r"15 mJ/cm²|need not be|muss nicht",
    ),
    Excuse("the twin's truth, which no box counts", r"page /(\?recipe=.*)?$", r"True dose|Wahre Dosis"),
    Excuse(DENIED, r"", r"are not mJ/cm²|is not mJ/cm²|nicht mJ/cm²|kein(e)? mJ/cm²"),
    Excuse("says what is needed before they are", r"page /box/first$", r"need a calibration|Kalibrierung"),
    Excuse("tells of both scales, to readers of any box", r"page /help/"),
    Excuse("tells of all versions, to readers of any box", r"page /box/changes$"),
)

BY_COMMAND: dict[tuple[str, ...], str] = {
    ("panel", "expose"): "plain --panel C1",
    ("panel", "strip"): "plain --first 4 --zones 3",
    ("panel", "tablet"): "plain --zones 1 --convention last_held --apply recipe",
    ("panel", "teach"): "plain --seconds 4",
    ("recipes", "list"): "",
    ("recipes", "show"): "plain",
    ("recipes", "scales"): "",
    ("recipes", "results"): "plain",
    ("light", "calibration"): "plain",
    ("light", "self-check"): "",
    ("light", "transmission"): "plain --seconds 3",
    ("light", "reciprocity"): "--held 4,20 --held 2,24",
    ("lamps", "show"): "",
    ("job", "new"): "plain --artwork cog",
    ("job", "list"): "",
    ("job", "show"): "LABEL --all",
    ("stock", "list"): "",
    ("records", "show"): "",
    ("records", "faults"): "",
    ("records", "why"): "1",
    ("records", "replay"): "",
    ("records", "export"): "exposures -",
}
"""What is asked at the terminal, in this order."""

OF_NO_DOSE: dict[tuple[str, ...], str] = {
    **dict.fromkeys([("box", verb) for verb in ("run", "twin", "control", "rest")], "starts a box, or ends its light"),
    ("box", "display"): "its lines are put together from snapshots, all of which are read here",
    **dict.fromkeys([("recipes", verb) for verb in ("new", "put-away", "take-back", "adopt", "share")], "names a file"),
    ("recipes", "take-over"): "answers after a calibration only, or where the number in box.yaml has changed",
    ("recipes", "shared"): "compares files of several boxes, and says whether each is calibrated",
    ("recipes", "check"): "judges files",
    ("light", "steady"): "says when to read the radiometer",
    ("light", "radiometer"): "calibrates",
    ("light", "field"): "compares places",
    ("light", "contact"): "is about the edges of lines",
    ("lamps", "new"): "takes down what was fitted",
    ("lamps", "tubes"): "takes down what was fitted",
    **dict.fromkeys([("job", verb) for verb in ("step", "share", "adopt")], "names steps and files"),
    **dict.fromkeys([("stock", verb) for verb in ("roll", "metal", "stencil", "note", "end")], "is about the shelf"),
    **dict.fromkeys([(noun.name, verb.name) for noun in NOUNS for verb in noun.verbs if noun.name == "bath"], "baths"),
    **dict.fromkeys([(noun.name, verb.name) for noun in NOUNS for verb in noun.verbs if noun.name == "artwork"], "art"),
    **dict.fromkeys([(noun.name, verb.name) for noun in NOUNS for verb in noun.verbs if noun.name == "setup"], "setup"),
    **dict.fromkeys([(noun.name, verb.name) for noun in NOUNS for verb in noun.verbs if noun.name == "fleet"], "fleet"),
    **dict.fromkeys([("records", v) for v in ("backup", "restore", "tidy", "compact")], "cares for the logbook's file"),
    **dict.fromkeys([("records", verb) for verb in ("signs", "cause")], "takes down what was seen"),
}
"""Commands that say no dose that a box has counted."""


NOT_WALKED = {
    "box.commissioning_report": "there is none of this box; commissioning knows no doses",
    "light.series": "leads on to the page of its kind, which is read",
    "stock.thing": "nothing lies on the shelf",
    "inuse.bath": "no bath is in use",
}
"""Pages to which no link of this box leads."""


@dataclass
class Walk:
    """What was read, by place: pieces of text, each with the one before it."""

    read: dict[str, list[str]] = field(default_factory=dict)
    endpoints: set[str] = field(default_factory=set)

    def take(self, where: str, text: str) -> None:
        """Note what stands somewhere."""
        self.read.setdefault(where, []).extend(pieces(text) if where.startswith("page") else text.splitlines())

    def of(self, where: str) -> str:
        """All that was read there."""
        return "\n".join(self.read[where])

    def leaks(self) -> list[tuple[str, str]]:
        """Where mJ/cm² is said, and how."""
        return [(at, text) for at, texts in self.read.items() for text in texts if UNIT.search(text.split(" | ")[-1])]


def pieces(page: str) -> list[str]:
    """Each piece of text on a page with the one before it, and each attribute that says something."""
    page = re.sub(r"<script.*?</script>|<style.*?</style>", "", page, flags=re.DOTALL)
    said = [" ".join(html.unescape(text).split()) for text in re.split(r"<[^>]*>", page)]
    said = [text for text in said if text]
    attributes = re.findall(r'(?:title|aria-label|alt|placeholder|content|value|data-[a-z-]+)="[^"]*"', page)
    return [f"{before} | {text}" for before, text in zip(["", *said], said, strict=False)] + attributes


def excuse(where: str, text: str) -> Excuse | None:
    """What allows it, if anything does."""
    return next((each for each in EXCUSES if re.search(each.where, where) and re.search(each.words, text)), None)


def is_page(rule: Rule) -> bool:
    """Whether a route answers with a page."""
    return "GET" in (rule.methods or ()) and not str(rule.rule).endswith((*NO_PAGES, *FILES, "/<path:filename>"))


def hear_anew(box: RunningBox) -> None:
    """Until the page has heard of what was just done."""
    now, watch = box.state()["seq"], box.app.extensions["sumlight"].watch
    wait_until(lambda: watch.latest().snapshot["seq"] > now)


def walked(box: RunningBox, walk: Walk, begin: list[str], language: str) -> None:
    """Follow every link from some pages on."""
    address = box.app.url_map.bind("localhost")
    rules = [rule for rule in box.app.url_map.iter_rules() if "GET" in (rule.methods or ()) and not rule.arguments]
    todo = [*begin, *(rule.rule for rule in rules if rule.rule not in ("/stream", "/worker.js"))]
    known = set(todo)
    while todo:
        path = todo.pop(0)
        answer = box.get(path, language)
        if answer.status_code in (301, 302, 303):
            more = [answer.headers["Location"]]
        else:
            assert answer.status_code == 200, (path, answer.status_code)
            walk.endpoints.add(address.match(path.partition("?")[0])[0])
            text = answer.get_data(as_text=True)
            page = answer.mimetype == "text/html"
            walk.take(f"{'page' if page else 'file'} {path}", text)
            more = [html.unescape(to) for to in re.findall(r'href="([^"#]+)', text)] if page else []
        fresh = [to for to in more if to.startswith("/") and not to.startswith("/static") and to not in known]
        known |= set(fresh)
        todo += dict.fromkeys(fresh)


def forms_sent(box: RunningBox, walk: Walk, runs: dict[str, int], language: str) -> None:
    """What comes of the forms of Light."""
    zones = {"convention": READ["convention"], "step_1": "6", "half_1": "yes", "step_2": "7", "step_3": "8"}
    for path, fields in (
        ("/light/strip/plan", {"recipe": "plain", "first_mj_cm2": "4", "factor": "1.4", "zones": "4"}),
        ("/light/strip/plan", {"recipe": "plain", "first_mj_cm2": "9999", "factor": "1.4", "zones": "4"}),
        ("/light/tablet/plan", {"recipe": "plain", "target_step": "8", "reference_mj_cm2": "14", "zones": "4"}),
        (f"/light/strip/{runs['strip']}", {"held": "2"}),
        (f"/light/strip/{runs['strip']}", {"held": "none"}),
        (f"/light/tablet/{runs['tablet']}", {**zones, "target_step": "8", "reference_mj_cm2": "14"}),
        (f"/light/tablet/{runs['tablet']}", {**dict.fromkeys(("what_1", "what_2", "what_3"), "all_gone"), **zones}),
        (f"/light/teach/{runs['teach']}", {}),
        ("/light/window", {"clear": "90", "opaque": "1", "dose_mj_cm2": "20", "held_step": "7", "clean_step": "14"}),
        ("/light/window", {"clear": "90", "opaque": "1", "dose_mj_cm2": "9999", "held_step": "7", "clean_step": "14"}),
    ):
        answer = box.post(path, language, **fields)
        assert answer.status_code in (200, 422), (path, answer.status_code)
        walk.take(f"page {path}", answer.get_data(as_text=True))


def lit_once(box: RunningBox) -> dict[str, int]:
    """A panel, a draft, and a series of every kind; the guard of one panel runs out. Returns numbers of records."""
    runs = {"panel": box.light("plain", "P1"), "draft": box.light("draft", "D1")}
    runs["strip"] = box.light("plain", "S", "strip", doses_mj_cm2=[4, 3, 4])
    known = {"target_step": 8, "reference_mj_cm2": 14}
    runs["tablet"] = box.light("plain", "T", "tablet", doses_mj_cm2=[8, 10, 12], parameters=known)
    runs["teach"] = box.light("plain", "E", "teach", seconds=4)
    runs["compare"] = box.light("plain", "C", "compare", seconds=3, legs=3)
    places = [[0, 0], [50, 0], [0, 50], [50, 50], [0, 0]]
    runs["field"] = box.light("plain", "F", "field", seconds=3, legs=5, parameters={"places": places})
    return runs


def asked_at_the_terminal(
    box: RunningBox, walk: Walk, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every command that may say a dose; between rounds somebody's hands are on the lid."""

    def question(_bench: Any, text: str) -> str:
        if "Enter to go on" in text:
            return ""
        return "6" if "zone 1" in text else "2"

    monkeypatch.setattr(rigs.RunningBench, "question", question)
    box.attended.set()
    label = box.control.ask("job_new", recipe="plain")["labels"][0]
    while main(["job", "show", label, "--data", str(box.data)]) == 0 and "Expose" not in capsys.readouterr().out:
        assert main(["job", "step", label, "skip", "--data", str(box.data)]) == 0
    for words, more in BY_COMMAND.items():
        box.ready()
        capsys.readouterr()
        status = main([*words, *(label if word == "LABEL" else word for word in more.split()), "--data", str(box.data)])
        told = capsys.readouterr()
        assert status in (0, 1), (words, told.err)
        walk.take(f"command {' '.join(words)}", told.out + told.err)
    box.attended.clear()


@pytest.fixture
def box(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[RunningBox]:
    """A box that was never calibrated."""
    monkeypatch.setattr(operators, "HASH_METHOD", QUICK_HASH)
    with RunningBox(tmp_path) as running:
        yield running


def test_every_command_is_asked_or_says_no_dose() -> None:
    """A new command is asked here, or somebody says why not."""
    there = {(noun.name, verb.name) for noun in NOUNS for verb in noun.verbs}
    assert there == {*BY_COMMAND, *OF_NO_DOSE}
    assert not {*BY_COMMAND} & {*OF_NO_DOSE}


def test_an_unchecked_box_says_box_units_everywhere_and_a_calibrated_one_does_not(
    box: RunningBox, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pages, prints, files, forms, commands, and all that a snapshot says meanwhile."""
    walk, runs = Walk(), lit_once(box)
    job = box.control.ask("job_new", recipe="plain", artwork="gear")
    begin = [f"/light/series/{number}" for number in runs.values()]
    begin += [f"/jobs/panels/{panel}{more}" for panel in job["panel_ids"] for more in ("", "/sheet")]
    box.control.ask("findings", exposure_id=runs["panel"], held_step=7, wanted_step=9)
    for language in ("en", "de"):
        walked(box, walk, begin, language)
        forms_sent(box, walk, runs, language)
    asked_at_the_terminal(box, walk, capsys, monkeypatch)
    runs["short"] = box.light("short", "G")
    for path in ("/", "/panels/", "/box/faults", f"/panels/{runs['short']}", f"/panels/{runs['short']}/traveller"):
        walk.take(f"page {path}", box.get(path).get_data(as_text=True))
    walk.take("snapshot", "\n".join(sorted(box.heard)))
    walk.take("display", "\n".join(display.lines(box.state(), 40, 8)))

    found = walk.leaks()
    left = [leak for leak in found if excuse(*leak) is None]
    assert not left, "\n".join(f"{where}: {text}" for where, text in left)
    needed = {excuse(*leak) for leak in found}
    assert [each for each in EXCUSES if each not in needed] == []
    for where, words in (
        ("page /", "box units"),
        (f"page /panels/{runs['short']}", "of 40 box units"),
        (f"page /panels/{runs['draft']}", "A draft: lit for 8 s, measured"),
        (f"page /light/strip/{runs['strip']}", "7.0 box units"),
        (f"page /light/strip/{runs['strip']}", "7,0 Kasteneinheiten"),
        (f"page /light/tablet/{runs['tablet']}", "8.0 box units counted"),
        ("page /light/strip/plan", "It gets 4 box units more."),
        ("page /light/window", "from 0.1 to 5000 box units"),
        (f"page /jobs/panels/{job['panel_ids'][0]}", "plain, 12 box units."),
        (f"page /jobs/panels/{job['panel_ids'][0]}/sheet", "plain, 12 Kasteneinheiten"),
        ("page /recipes/plain/sheet", "12 box units"),
        ("page /recipes/plain/results", "box units"),
        ("command panel expose", "in units of this box"),
        ("command panel strip", "box units"),
        ("command panel tablet", "box units"),
        ("command job show", "12 box units"),
    ):
        assert words in walk.of(where), (where, words)
    assert {str(rule.endpoint) for rule in box.app.url_map.iter_rules() if is_page(rule)} - walk.endpoints == {
        *NOT_WALKED
    }
    calibrated(box, runs)


def calibrated(box: RunningBox, runs: dict[str, int]) -> None:
    """The tablet is read and believed: from then on the same places say mJ/cm²; what is past stays what it was."""
    assert "abandon" in box.state()["may"]
    box.control.ask("acknowledge")
    box.control.ask("abandon")
    box.ready()
    read = {"convention": "last_held", "step_1": "6", "half_1": "yes", "step_2": "7", "step_3": "8"}
    asked = {**read, "target_step": "8", "reference_mj_cm2": "14", "apply": "calibration", "sure": "yes"}
    assert "The calibration is set" in box.post(f"/light/tablet/{runs['tablet']}", **asked).get_data(as_text=True)
    box.until(lambda told: not told["calibration"]["lower"]["relative"])
    after = box.light("blue-38", "P2")
    card = box.control.ask("job_new", recipe="blue-38")["panel_ids"][0]
    hear_anew(box)
    plan = {"recipe": "blue-38", "first_mj_cm2": "4", "factor": "1.4", "zones": "4"}
    for path, fields, words in (
        ("/light/strip", {}, "Invented blue film 38, 60 mJ/cm²"),
        ("/light/strip/plan", plan, "It gets 4 mJ/cm² more."),
        ("/light/window", {}, "from 0.1 to 5000 mJ/cm²"),
        ("/recipes/blue-38/sheet", {}, "60 mJ/cm²"),
        (f"/jobs/panels/{card}", {}, "blue-38, 60 mJ/cm²."),
        (f"/panels/{after}", {}, "of 60 mJ/cm²"),
    ):
        answer = box.post(path, **fields) if fields else box.get(path)
        said = "\n".join(pieces(answer.get_data(as_text=True)))
        assert words in said, (path, words)
        assert path == "/light/strip" or "box units" not in said, path
    assert "of 12 box units" in box.get(f"/panels/{runs['panel']}").get_data(as_text=True)
