"""One catalogue of texts, a complete second language, and units as they are wished for."""

import ast
import re
from pathlib import Path

import pytest
from flask import Flask
from flask.testing import FlaskClient

from sumlight.cli.attend import Attending
from sumlight.control.exposure import state_machine
from sumlight.control.safety.faults import FAULTS
from sumlight.control.server import snapshot
from sumlight_web import language, words
from sumlight_web.bench.view import bench_view
from sumlight_web.language import LANGUAGES, LOCALE, Reader, written_for
from sumlight_web.link import Latest
from sumlight_web.spoken import said
from tests import catalogue
from tests.browser.test_look import PATHS as LOOKED_AT
from tests.control.bench_box import BenchBox
from tests.webui import fake_control as fake
from tests.webui.given import LIGHT, ORIGIN
from tests.webui.test_panels import record

GERMAN = Reader("de")
OTHERS = [code for code in LANGUAGES if code != "en"]

PATHS = (
    "/",
    "/recipes/",
    "/recipes/new",
    "/recipes/blue-38",
    "/recipes/blue-38/history",
    "/recipes/compare",
    "/recipes/import",
    "/panels/",
    "/panels/1",
    "/panels/1/traveller",
    "/panels/drift",
    "/lamps/",
    "/lamps/tubes",
    "/box/",
    "/box/first",
    "/box/changes",
    "/box/commissioning",
    "/access/",
    *LIGHT,
)


def test_no_page_is_left_out_here_or_where_the_look_is_tested(app: Flask) -> None:
    """A new page is looked for by its route; what is no page answers in another format."""
    routes = {rule.rule for rule in app.url_map.iter_rules() if "GET" in (rule.methods or ()) and not rule.arguments}
    pages = {rule for rule in routes if not rule.endswith((".json", ".csv", "/stream"))}
    assert pages - set(PATHS) == set()
    assert pages - {path.partition("?")[0] for path in LOOKED_AT} == set()


@pytest.mark.parametrize("code", OTHERS)
def test_translations_are_complete_and_compiled(code: str) -> None:
    """`python -m tests.catalogue` brings them up to date; every text has its translation."""
    now = catalogue.merged(code)
    assert catalogue.missing(now) == []
    assert catalogue.po_path(code).read_bytes() == catalogue.as_po(now), "run: python -m tests.catalogue"
    assert catalogue.po_path(code).with_suffix(".mo").read_bytes() == catalogue.as_mo(now)


@pytest.mark.parametrize("code", OTHERS)
def test_translations_keep_what_is_filled_in(code: str) -> None:
    """A lost or misspelt place would fail when the text is shown."""
    for message in catalogue.load(code):
        if not message.id:
            continue
        ids = [message.id] if isinstance(message.id, str) else list(message.id)
        strings = [message.string] if isinstance(message.string, str) else list(message.string or ())
        for text in strings:
            assert set(re.findall(r"\{\w+\}", text)) == set(re.findall(r"\{\w+\}", ids[-1])), text


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
    for path in LOCALE.parent.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            calls = [each for each in ast.walk(node) if isinstance(each, ast.Call)] if _is_formatted(node) else []
            for call in calls:
                name = call.func.id if isinstance(call.func, ast.Name) else ""
                assert name not in ("_", "n_") or not isinstance(call.args[0], ast.Constant), f"{path}:{call.lineno}"


def _is_formatted(node: ast.AST) -> bool:
    return isinstance(node, ast.JoinedStr)


def test_every_language_has_its_folder() -> None:
    """And the other way round."""
    assert sorted(path.name for path in LOCALE.iterdir()) == sorted(OTHERS)


def _sentences_of(module: object, *functions: str) -> list[str]:
    """Texts that end like a sentence in some functions of a module."""
    tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))  # type: ignore[attr-defined]
    found = []
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef) and node.name in functions:
            texts = [each for each in ast.walk(node) if isinstance(each, ast.Constant)]
            doc = ast.get_docstring(node)
            found += [t.value for t in texts if isinstance(t.value, str) and t.value.endswith(".") and t.value != doc]
    return [text.strip() for text in found]


def test_every_sentence_of_control_is_known() -> None:
    """They are taken from its code, so that a new one is missed here."""
    sentences = _sentences_of(snapshot, "sentence", "_turn_sentence", "_done_sentence")
    sentences += _sentences_of(state_machine, "next_step") + list(snapshot.PAUSE_WORDS.values())
    assert len(sentences) > 12
    with written_for(GERMAN):
        for text in sentences:
            whole = f"Side A {text}" if text.startswith("is done") else text
            if text == "The panel receives light.":
                continue
            assert said(whole) != whole, text


@pytest.mark.parametrize("leak_mw_cm2", [0.004, 0.5])
def test_what_commissioning_says_is_known(tmp_path: Path, leak_mw_cm2: float) -> None:
    """A whole run on the twin, passed or failed at the last step: steps, findings, what was measured."""
    box = BenchBox(tmp_path, hardwired_lid_switch=True)
    heard: set[str] = set()
    picture = Attending(box, leak_mw_cm2=leak_mw_cm2).run(tell=lambda line: heard.add(line.partition(": ")[2]))
    box.daemon.close()
    results = picture["run"]["results"]
    heard |= {result["title"] for result in results} | {words.sentence(result["found"]) for result in results}
    heard |= {words.sentence(measure["what"]) for result in results for measure in result["measures"]}
    assert len(heard) > 35
    with written_for(GERMAN):
        for text in heard:
            assert said(text) != text, text
            left = {"the", "is", "was", "light", "lamps", "again", "day"} & set(re.findall(r"\w+", said(text).lower()))
            assert not left, said(text)


def test_composed_sentences_are_taken_apart() -> None:
    """A fault with its remedy, a leg of a series, a pause with what to do."""
    with written_for(GERMAN):
        kind = FAULTS["meter_lost"]
        assert said(f"{kind.title}: {kind.remedy}").startswith("Der Lichtmesser ist verstummt: Prüfen Sie Kabel")
        leg = said("Leg 3 of 9 is done. Open the lid, slide the mask on by one strip, shut the lid.")
        assert leg.startswith("Abschnitt 3 von 9 ist fertig. Öffnen Sie den Deckel")
        paused = said("The lid was opened. The dose so far is kept. Continue or abandon it.")
        assert (
            paused
            == "Der Deckel wurde geöffnet. Die bisherige Dosis bleibt erhalten. Setzen Sie fort oder geben Sie auf."
        )
        assert said("Something new. And more {odd}.") == "Something new. And more {odd}."
    assert said("Leg 3 of 9 is done.") == "Leg 3 of 9 is done."


def test_no_english_is_left_on_a_german_page(client: FlaskClient, data: Path) -> None:
    """A text node that is the same in both languages must not be one that has another translation."""
    record(data / "logbook.sqlite")
    known = {m.id for m in catalogue.load("de") if isinstance(m.id, str) and m.id and m.id != m.string}
    for path in PATHS:
        client.set_cookie("sumlight_language", "de")
        page = client.get(path)
        assert '<html lang="de"' in page.text, path
        nodes = {node.strip() for node in re.findall(r">([^<>]+)<", page.text)}
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
