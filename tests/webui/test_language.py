"""One catalogue of texts, a complete second language, and units as they are wished for."""

import ast
import re
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.checkedfile import FileProblemsError
from sumlight.cli.simulated_operator import SimulatedOperator
from sumlight.language import LOCALE
from sumlight.manual.topics import TOPICS
from sumlight.store.recipes import recipe_from_text
from sumlight.text.message import AS_WRITTEN, Message, as_written, joined, say
from sumlight_web import language, words
from sumlight_web.bench.view import bench_view
from sumlight_web.language import LANGUAGES, Reader, written_for
from sumlight_web.link import Latest
from sumlight_web.texts import language_of, text_of
from tests import catalogue
from tests.browser.test_look import PATHS as LOOKED_AT
from tests.control.bench_box import BenchBox
from tests.store.making import RECIPE_TEXT
from tests.webui import fake_control as fake
from tests.webui.given import ARTWORK, BATHS, JOBS, LIGHT, ORIGIN, STOCK
from tests.webui.test_panels import record
from tests.wording import to_read

GERMAN = Reader("de")
OTHERS = [code for code in LANGUAGES if code != "en"]

PATHS = (
    "/",
    "/recipes/",
    "/recipes/new",
    "/recipes/blue-38",
    "/recipes/blue-38/history",
    "/recipes/blue-38/results",
    "/recipes/blue-38/sheet",
    "/recipes/compare",
    "/recipes/import",
    "/recipes/shared",
    "/panels/",
    "/panels/1",
    "/panels/1/traveller",
    "/panels/1/why",
    "/panels/drift",
    "/lamps/",
    "/lamps/tubes",
    "/box/",
    "/box/faults",
    "/box/first",
    "/box/changes",
    "/box/commissioning",
    "/access/",
    "/offline",
    "/help/",
    "/help/?q=xyzzy",
    *(f"/help/{topic}" for topic in TOPICS),
    *LIGHT,
    *JOBS,
    *BATHS,
    *STOCK,
    *ARTWORK,
)


NO_PAGES = (".json", ".csv", "/stream", "/worker.js", ".webmanifest")
FILES = ("/<path:filename>", ".yaml", ".jpg", "/file", "/artwork/<kind>/<name>")
"""Ends of routes that answer in another format."""


def test_no_page_is_left_out_here_or_where_the_look_is_tested(app: Flask) -> None:
    """A new page is looked for by its route; what is no page answers in another format."""
    routes = {rule.rule for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ()) and not rule.arguments}
    pages = {rule for rule in routes if not rule.endswith(NO_PAGES)}
    assert pages - set(PATHS) == set()
    assert pages - {path.partition("?")[0] for path in LOOKED_AT} == set()


def test_no_page_of_a_number_or_name_is_left_out_where_the_look_is_tested(app: Flask) -> None:
    """The page of one recipe, of one run: each is looked at with some number or name."""
    address = app.url_map.bind("localhost")
    looked_at = {address.match(path.partition("?")[0])[0] for path in LOOKED_AT if path != "/nowhere"}
    named = [rule for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ()) and rule.arguments]
    pages = {str(rule.endpoint) for rule in named if not str(rule.rule).endswith((*NO_PAGES, *FILES))}
    assert len(pages) > 15
    assert pages - looked_at == {"light.series"}  # leads on to the page of its kind


@pytest.mark.parametrize("code", OTHERS)
def test_translations_are_complete_and_compiled(code: str) -> None:
    """`python -m tests.catalogue` brings them up to date; every text has its translation."""
    now = catalogue.merged(code)
    assert catalogue.missing(now) == []
    same = catalogue.po_path(code).read_bytes() == catalogue.as_po(now)
    assert same, "run: python -m tests.catalogue"  # pytest would look for the differences for minutes
    same = catalogue.po_path(code).with_suffix(".mo").read_bytes() == catalogue.as_mo(now)
    assert same, "run: python -m tests.catalogue"


@pytest.mark.parametrize("code", OTHERS)
def test_translations_keep_what_is_filled_in(code: str) -> None:
    """A lost or misspelt place would fail when the text is shown."""
    for message in catalogue.load(code):
        if not message.id:
            continue
        ids = [message.id] if isinstance(message.id, str) else list(message.id)
        strings = [message.string] if isinstance(message.string, str) else list(message.string or ())
        for text in strings:
            assert set(re.findall(r"\{[^}]+\}", text)) == set(re.findall(r"\{[^}]+\}", ids[-1])), text


def test_a_new_text_would_be_missed(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """So that silence of the check means something."""
    real = catalogue.gathered

    def more() -> catalogue.Catalog:  # type: ignore[name-defined]
        found = real()
        found.add("A text that nobody has translated.")
        return found

    monkeypatch.setattr(catalogue, "gathered", more)
    assert catalogue.missing(catalogue.merged("de")) == ["A text that nobody has translated."]


def test_no_text_hides_in_a_formatted_string() -> None:
    """The tool that gathers texts does not look into f-strings; a text there would stay English unnoticed."""
    for path in (path for root in catalogue.SPEAKING for path in root.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            calls = [each for each in ast.walk(node) if isinstance(each, ast.Call)] if _is_formatted(node) else []
            for call in calls:
                name = call.func.id if isinstance(call.func, ast.Name) else ""
                assert name not in ("_", "n_") or not isinstance(call.args[0], ast.Constant), f"{path}:{call.lineno}"


def test_every_marked_text_is_in_the_catalogue() -> None:
    """The tool that gathers texts does not look into the arguments of another call: what stands there stays English."""
    known = {text for message in catalogue.load("de") for text in _ids(message.id)}
    for path in (path for root in catalogue.SPEAKING for path in root.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            marks = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in ("_", "N_")
            text = node.args[0] if marks and isinstance(node, ast.Call) and node.args else None
            if isinstance(text, ast.Constant) and text.value:
                assert text.value in known, f"{path}:{text.lineno}"


def _ids(message_id: str | tuple[str, ...] | list[str]) -> tuple[str, ...]:
    return (message_id,) if isinstance(message_id, str) else tuple(message_id)


def _is_formatted(node: ast.AST) -> bool:
    return isinstance(node, ast.JoinedStr)


def test_every_language_has_its_folder() -> None:
    """And the other way round."""
    assert sorted(path.name for path in LOCALE.iterdir()) == sorted(OTHERS)


def test_a_message_is_said_in_the_readers_language() -> None:
    """By its code: its English is not looked at. Messages within it are said too; a name stays as it is."""
    told = say("fault_standing", title=as_written("UV"), remedy=say("pulling_vacuum", seconds=41.6))
    with written_for(GERMAN):
        assert text_of(told) == "UV: Vakuum wird gezogen, noch 42 s. Dann gehen die Lampen an."
    assert text_of(told) == told


def test_what_has_no_code_is_marked_as_english_for_whoever_reads_aloud() -> None:
    """A screen reader would else pronounce it as German."""
    with written_for(GERMAN):
        assert language_of(say("dose_is_kept")) == "de"
        assert language_of(as_written("disk I/O error")) == "en"
        assert language_of("disk I/O error") == "en"


@pytest.mark.parametrize("leak_mw_cm2", [0.004, 0.5])
def test_what_commissioning_says_is_known(tmp_path: Path, leak_mw_cm2: float) -> None:
    """A whole run on the twin, passed or failed at the last step: steps, findings, what was measured."""
    box = BenchBox(tmp_path, hardwired_lid_switch=True)
    heard: list[Message] = []
    attending = SimulatedOperator(box, leak_mw_cm2=leak_mw_cm2)
    picture = attending.run(tell=lambda _line: heard.append(box.daemon.commander.commissioning.picture()["run"]["do"]))
    box.daemon.close()
    results = picture["run"]["results"]
    heard += [result[part] for result in results for part in ("title", "found")]
    heard += [measure["what"] for result in results for measure in result["measures"]]
    assert len(set(heard)) > 35
    with written_for(GERMAN):
        for message in heard:
            assert message.code != AS_WRITTEN, message
            told = text_of(message)
            assert told != message
            left = {"the", "is", "was", "light", "lamps", "again", "day"} & set(re.findall(r"\w+", told.lower()))
            assert not left, told


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("dose_mj_cm2: 60", "dose_mj_cm2: 0"),
        ("dose_mj_cm2: 60", "dose_mj_cm2: 60,5"),
        ("dose_mj_cm2: 60", "dose_mj_cm2: 060"),
        ("dose_mj_cm2: 60", "dosis: 60"),
        ("thickness_um: 38", "thickness_um: 1001"),
        ("sides: turned", "sides: both"),
        ("resist: Invented film", "resist: ''"),
        ("hold_limit_s: 86400", "hold_limit_s: 8"),
        ("  b: 0.81", ""),
        ("forgiven: 2", "forgiven: 1.5"),
        ("note: example, invented", "note: a: b"),
        ("note: example, invented", "note: !x y"),
        ("note: example, invented", "sides: one"),
    ],
)
def test_mistakes_of_a_recipe_are_told_in_german(old: str, new: str) -> None:
    """Whatever is wrong with a file that somebody imports; only the words of YAML and of Python stay as they are."""
    assert old in RECIPE_TEXT
    with pytest.raises(FileProblemsError) as caught:
        recipe_from_text(RECIPE_TEXT.replace(old, new, 1), "mine")
    with written_for(GERMAN):
        for problem in caught.value.problems:
            told = text_of(problem.message)
            assert problem.message.code != AS_WRITTEN
            assert told != problem.message
            assert not {"is", "must", "should", "missing", "key", "given", "than"} & set(re.findall(r"\w+", told)), told


def test_joined_sentences_are_each_said() -> None:
    """A leg of a series with what to do next; what has no code stays as it was written."""
    with written_for(GERMAN):
        leg = text_of(joined(say("leg_done", number=3, count=9), say("slide_the_mask"), as_written("New {odd}.")))
        assert leg.startswith("Abschnitt 3 von 9 ist fertig. Öffnen Sie den Deckel")
        assert leg.endswith("schließen Sie den Deckel. New {odd}.")


def test_no_english_is_left_on_a_german_page(client: FlaskClient, data: Path) -> None:
    """A text node that is the same in both languages must not be one that has another translation."""
    record(data / "logbook.sqlite")
    known = {m.id for m in catalogue.load("de") if isinstance(m.id, str) and m.id and m.id != m.string}
    for path in PATHS:
        client.set_cookie("sumlight_language", "de")
        page = client.get(path)
        assert '<html lang="de"' in page.text, path
        nodes = {node.strip() for node in re.findall(r"(?<!<code)>([^<>]+)<", page.text)}  # what is typed stays
        assert nodes & known == set(), path


def test_the_browsers_language_is_taken_and_a_choice_is_remembered(client: FlaskClient) -> None:
    """What is not there falls back to English."""
    assert "Deckel" in client.get("/", headers={"Accept-Language": "fr, de-CH;q=0.9, en;q=0.5"}).text
    assert "Lid" in client.get("/", headers={"Accept-Language": "fr"}).text
    client.post("/choice", data={"language": "de", "back": "/box/"}, headers=ORIGIN)
    assert "Deckel" in client.get("/").text
    client.post("/choice", data={"language": "xx"}, headers=ORIGIN)
    assert "Lid" in client.get("/").text


def test_two_viewers_read_the_same_moment_in_their_own_languages(app: Flask) -> None:
    """What is computed once and shared is shared only among readers of one language."""
    german, english = app.test_client(), app.test_client()
    for _ in range(2):
        one = german.get("/state.json", headers={"Accept-Language": "de"}).json
        two = english.get("/state.json", headers={"Accept-Language": "en"}).json
        assert one is not None
        assert two is not None
        assert (one["texts"]["headline"], two["texts"]["headline"]) == ("Bereit", "Ready")
        assert ("Lampen A" in one["parts"]["lamps"]["html"], "Lamps A" in two["parts"]["lamps"]["html"]) == (True, True)


def test_a_mistake_in_a_form_is_said_in_german_too(client: FlaskClient) -> None:
    """Beside its field."""
    answer = client.post("/bench/start", data={}, headers=ORIGIN | {"Accept-Language": "de"})
    assert "Wählen Sie ein Rezept." in answer.text


def test_views_in_german_name_states_and_percentages() -> None:
    """Through the pure view, without a server."""
    with written_for(GERMAN):
        view = bench_view(Latest(fake.lit(), 0.0, True, 1))  # type: ignore[arg-type]
    assert view.texts["headline"] == "Belichtung läuft"
    assert view.texts["side.A.target"] == "von 60 mJ/cm²"


def test_german_nouns_keep_their_capitals(client: FlaskClient) -> None:
    """Also where a text begins a line."""
    client.set_cookie("sumlight_language", "de")
    assert "Zwei Seiten, Platte von Hand gewendet" in client.get("/recipes/new").text
    assert words.capital("zwei Seiten") == "Zwei Seiten"


def test_units_are_a_choice(client: FlaskClient) -> None:
    """1 mil is 25.4 µm and 100 °C are 212 °F (outside check: the definitions)."""
    assert "38 µm" in client.get("/recipes/").text
    client.post("/choice", data={"units": "inch"}, headers=ORIGIN)
    assert "1.5 mil (38 µm)" in client.get("/recipes/").text
    with written_for(Reader(units="inch")):
        assert words.temperature(100) == "212 °F"
        assert words.length(25.4) == "1 in"
        assert words.thickness(25.4) == "1 mil (25.4 µm)"
    assert words.temperature(21.54) == "21.5 °C"
    assert words.temperature(None) == "–"
    assert language.reader() == Reader()


RETIRED = {
    r"\bMesser\b": "Lichtmesser: ein Messer schneidet",
    r"Einbrennzeit": "Aufwärmzeit",
    r"\bFassung(en)?\b": "Version: in einer Fassung steckt eine Röhre",
    r"\bLesung(en)?\b": "Messwert, am Stufenkeil Ablesung",
    r"statt dessen": "stattdessen",
    r"\bEin Fehler\b|\bFehler (kam|steht|löschen|quittieren)": "Störung: Fehler macht ein Mensch",
    r"\bDiffusor": "Streuscheibe",
    r"\b(Box|Geräte?s?)\b": "Kasten",
    r"\bBefinden\b": "Zustand",
    r"[Gg]eduldet": "zulässig",
    r"\bduldet\b": "verzeiht",
    r"±[^.]* weiter\.": "größer: ein ± ist kein Weg",
    r"\b[Gg]elöscht \{when\}|\b[Ll]öschen Sie sie zuerst": "quittieren, was eine Störung ist",
    r"\b[Ll]ernen Sie [^.;]*\ban[.;]": "einlernen: angelernt werden Leute",
    r"\bwelches Soda\b": "welche Soda",
    r"\b[Ss](k|c)ript\b(?!, das)": "JavaScript",
    r"Leer gelassen|[Ll]eer: \d\.\d": "Leer:, und ein Komma",
    r"\bGegebene Dosis": "abgegebene Dosis",
    r"(%|Prozent|\}) von neu\b": "% des Neuwerts",
    r"\b[Ee]inlesen\b": "importieren",
    r"hat ihre (Dosis|Zeit)": "hat seine: eine Seite der Platte gilt dem Werker als der Platz unter dem Licht",
    r"\bTelefon": "Handy",
    r"Inbetriebnahme": "Abnahme",
    r"Steuerprogramm": "Steuerung",
    r"Selbsttest": "Selbstprüfung",
    r"\bAnmerkung(en)?\b": "Kommentar",
    r"Massen?-%": "Gew.-%",
    r"\bPlatz (\{\w|des Sensors|wechselt)|\bjeden Platz\b|dessen Platz\b": "Röhrenplatz, Lage: Platz ist eine Seite",
    r"±\d+([.,]\d+)?%": "±2 %: mit Abstand",
}
"""German words that were wrong, mixed or stilted (read by a native reader), each with what is said instead."""


def test_no_german_text_uses_a_retired_word() -> None:
    """The whole catalogue of page and command line, the manual, and what has changed."""
    texts = [*to_read("de").values()]
    for message in catalogue.load("de"):
        texts += (
            [message.string] if isinstance(message.string, str) else list(message.string or ()) if message.id else []
        )
    found = [(word, line) for text in texts for line in text.splitlines() for word in RETIRED if re.search(word, line)]
    assert found == []
