"""Light in German: its pages with results and mistakes on them, and what control says about light."""

import ast
import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from flask.testing import FlaskClient

from sumlight.control.calibration import measurements, series_results, step_tablets
from sumlight.control.calibration.registry import CalibrationBook
from sumlight.control.server import calibration_commands, lamp_commands
from sumlight.craft import contact, strip, tablet
from sumlight.craft.tablet import TabletReading, estimate_threshold
from sumlight.light import field, fingerprint, reciprocity, selfcheck, transmission
from sumlight.light.fingerprint import Fingerprint
from sumlight.protocol.errors import BadRequestError
from sumlight.protocol.messages import Request
from sumlight.protocol.run_parameters import checked
from sumlight.store.logbook.calibrations import LampsFitted, StoredCalibrations
from sumlight.text.message import AS_WRITTEN, Message
from sumlight_web.language import Reader, written_for
from sumlight_web.services import AppServices
from sumlight_web.texts import text_of
from sumlight_web.words import sentence
from tests.control.bench_box import BenchBox, demo_box
from tests.control.calibration.test_registry import TABLET, book
from tests.control.conftest import make_bench  # noqa: F401 - a fixture
from tests.control.tablet_person import tablet_run
from tests.protocol.examples import EXAMPLES
from tests.webui import commission_told as told
from tests.webui import fake_answers as answers
from tests.webui import fake_control as fake
from tests.webui.decimal_points import points_in
from tests.webui.fake_control import FakeControl, hear, wait_until
from tests.webui.given import ORIGIN
from tests.webui.light_runs import PLAN, READ
from tests.webui.test_language import PATHS
from tests.webui.test_panels import record

GERMAN = Reader("de")
ENGLISH = re.compile(
    r"\b(?:[Tt]he|[Tt]his|[Tt]hat|and|of|is|are|be|has|have|its|for|at|on|before|not|with|from|must|were|than|[Nn]o|it|to|by"
    r"|[Ee]xpose)\b"
)
"""Words that German has not."""
KEYS = re.compile(r"'\w+'|„\w+“")
"""Names of fields in quotes stay as they are."""


def english_in(text: str) -> list[str]:
    """English words in a text that should have none."""
    return ENGLISH.findall(KEYS.sub("", text))


def german(text: str) -> str:
    """What a German reader gets of a sentence of control."""
    with written_for(GERMAN):
        if isinstance(text, Message) and text.code != AS_WRITTEN:
            return sentence(text_of(text))
        return text_of(sentence(text))


def english_on(page: str) -> list[str]:
    """Text nodes of a German page in which English is left; what is marked as English, or is typed, may be."""
    page = re.sub(r'(?s)<(script|style|pre|textarea|code)\b.*?</\1>|<(span|div) lang="en">.*?</\2>', "", page)
    return [node for node in (unescape(n).strip() for n in re.findall(r">([^<>]+)<", page)) if english_in(node)]


def test_the_look_for_english_words_finds_some() -> None:
    """In every English sentence that the pages of Light show, so that silence means something."""
    assert english_in("Doses are counted by this from now on.") == ["are", "by", "this", "from", "on"]
    assert english_in("Die Dosis ist relativ, 4 % in der Hand; an der Lampe war es warm.") == []
    assert english_on(
        '<p>Gut</p><p>Not all is well</p><span lang="en">the rest</span><div lang="en"><p>of it</p></div>'
    ) == ["Not all is well"]


INVENTED = {"first of the day", "Scrub it with the green pad.", "No reading for 0.6 s."}
"""What the fake control says, and what somebody noted."""


@pytest.mark.parametrize("path", PATHS)
def test_no_page_has_an_english_sentence(client: FlaskClient, data: Path, path: str) -> None:
    """Of the whole page, not only of Light."""
    record(data / "logbook.sqlite")
    client.set_cookie("sumlight_language", "de")
    assert set(english_on(client.get(path).text)) <= INVENTED


# -- pages ------------------------------------------------------------------------------------------------------------

WORKED_OUT: tuple[tuple[str, dict[str, str]], ...] = (
    ("/light/tablet/plan", PLAN),
    ("/light/tablet/plan", {}),
    ("/light/tablet/{tablet}", READ),
    ("/light/tablet/{tablet}", {"step_1": "6.5", "target_step": "99"}),
    ("/light/tablet/{tablet}", READ | {"apply": "calibration"}),
    ("/light/teach/{teach}", {}),
    ("/light/teach", {"seconds": "x"}),
    ("/light/strip/plan", {"recipe": "blue-38", "first_mj_cm2": "10", "factor": "1.2", "zones": "3"}),
    ("/light/strip/{strip}", {"held": "2"}),
    ("/light/strip/{strip}", {"held": "77"}),
    ("/light/sheets/{compare}", {"covered": "2"}),
    ("/light/sheets/{compare}", {"covered": "two"}),
    ("/light/sheets/{compare}/recipe", {"key": "transmission.a", "sha256": "0"}),
    ("/light/field/plan", {"width_mm": "90", "depth_mm": "60", "columns": "4", "rows": "3", "seconds": "6"}),
    ("/light/field/{field}", {"places": "0, 0\n1, 1\n0, 0", "sensor": "0, 0", "panel": "-30, 30, -20, 20"}),
    ("/light/field/{field}", {"places": "nowhere"}),
    ("/light/radiometer/reading", {"bank": "lower", "mw_cm2": "5", "percent": "4"}),
    ("/light/radiometer/reading", {}),
    ("/light/window", {"clear": "80", "opaque": "1", "dose_mj_cm2": "60", "held_step": "8", "clean_step": "12"}),
    ("/light/contact", {"half_width_mm": "90", "distance_mm": "120", "gap_um": "50", "image": "up", "base_um": "100",
                        "cover_um": "25", "resist_um": "38"}),
    ("/light/contact", {"gap_um": "-1"}),
    ("/light/reciprocity", {"mw_cm2_1": "4", "dose_1": "60", "percent_1": "2", "mw_cm2_2": "2", "dose_2": "70",
                            "percent_2": "2"}),
    ("/light/reciprocity", {"mw_cm2_1": "4", "dose_1": "60", "percent_1": "2", "mw_cm2_2": "4", "dose_2": "70",
                            "percent_2": "2"}),
    ("/light/recipe", {"recipe": "blue-38", "key": "dose_mj_cm2", "value": "48", "sha256": "old"}),
    ("/light/recipe", {"recipe": "nobody", "key": "dose_mj_cm2", "value": "48"}),
    ("/light/recipe", {}),
)  # fmt: skip


@pytest.mark.parametrize(("path", "fields"), WORKED_OUT)
def test_results_and_mistakes_are_german(
    client: FlaskClient, control: FakeControl, runs: dict[str, int], path: str, fields: dict[str, str]
) -> None:
    """Every form of Light, worked out and with something wrong."""
    place = {"factor": 0.95, "standard": 0.01, "spread": 0.02}
    control.answers["field"] = lambda _r: answers.field(place)
    control.answers["tablet_readings"] = lambda r: answers.tablet(
        applied=r.get("apply") == "calibration", calibration=answers.calibration(), surprise=-4.0
    )
    client.set_cookie("sumlight_language", "de")
    page = client.post(path.format(**runs), data=fields, headers=ORIGIN)
    assert page.status_code in (200, 409, 422), page.location
    assert english_on(page.text) == []
    assert points_in(page.text) == []


@pytest.mark.parametrize("kind", ["tablet", "teach", "strip", "compare", "field"])
def test_the_page_that_reads_a_run_is_german(client: FlaskClient, runs: dict[str, int], kind: str) -> None:
    """Before anything is entered."""
    client.set_cookie("sumlight_language", "de")
    page = client.get(client.get(f"/light/series/{runs[kind]}").location)
    assert page.status_code == 200
    assert english_on(page.text) == []
    assert points_in(page.text) == []


def test_the_state_of_calibration_is_german(client: FlaskClient, runs: dict[str, int]) -> None:
    """With runs on it."""
    client.set_cookie("sumlight_language", "de")
    for path in ("/light/", "/light/dose"):
        page = client.get(path).text
        assert english_on(page) == []
        assert points_in(page) == []


@pytest.mark.parametrize("kind", ["tablet", "teach", "strip", "compare", "steady"])
def test_the_bench_leads_to_the_next_step_in_german(
    client: FlaskClient, control: FakeControl, services: AppServices, kind: str
) -> None:
    """After each kind of series, and to the reading in steady light."""
    done = fake.exposure(fake.side("1", state="done"), kind=kind, sides_mode="series", outcome="completed")
    control.say(fake.lit(exposure=done) if kind == "steady" else fake.snapshot(state="done", exposure=done))
    wait_until(lambda: fake.state_of(services.watch) != "idle")
    client.set_cookie("sumlight_language", "de")
    page = client.get("/").text
    assert 'id="next-step"' in page
    assert set(english_on(page)) <= INVENTED


@pytest.mark.parametrize("state", sorted(told.STATES))
@pytest.mark.parametrize("path", ["/", "/box/", "/box/commissioning"])
def test_every_state_of_commissioning_is_german(
    client: FlaskClient, control: FakeControl, services: AppServices, path: str, state: str
) -> None:
    """On the three pages that tell of it; a reason stays as somebody wrote it."""
    hear(services.watch, control, told.STATES[state])
    client.set_cookie("sumlight_language", "de")
    left = english_on(client.get(path).text)
    assert [node for node in left if told.UNLOCKED["reason"] not in node and node not in INVENTED] == []


# -- sentences of control ---------------------------------------------------------------------------------------------

RAISING: tuple[ModuleType, ...] = (
    step_tablets, measurements, calibration_commands, lamp_commands, series_results, field, transmission, reciprocity,
    tablet, strip,
)  # fmt: skip
ERRORS = {"BadRequestError", "RefusedError", "PlanError", "ValueError"}
NEVER_ON_THE_PAGE = (
    "tolerance must lie", "internal must lie", "n must be at least 1", "irradiances must be above 0 mW", "p must lie",
    "at least one reading", "zones must be at least 1", "ln_sigma must be", "low_mj_cm2 must be above 0 and",
)  # fmt: skip
"""What only a programmer can bring about."""


def _said_by(module: ModuleType) -> Iterator[str]:
    """Texts of the errors that a module raises, a 7 in each place."""
    tree = ast.parse(Path(str(module.__file__)).read_text(encoding="utf-8"))
    for call in ast.walk(tree):
        if isinstance(call, ast.Call) and isinstance(call.func, ast.Name) and call.func.id in ERRORS:
            for part in [*call.args, *(each.value for each in call.keywords)]:
                text = _filled(part)
                if " " in text and not text.startswith(NEVER_ON_THE_PAGE):
                    yield text


def _filled(node: ast.expr) -> str:
    if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id == "as_written":
        node = node.args[0]
    if isinstance(node, ast.JoinedStr):
        return "".join(str(p.value) if isinstance(p, ast.Constant) else "7" for p in node.values)
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else ""


@pytest.mark.parametrize("module", RAISING, ids=lambda module: module.__name__)
def test_no_refusal_about_light_is_a_plain_sentence(module: ModuleType) -> None:
    """A sentence without a code would stay English. Taken from the code, so that a new one is seen here."""
    assert list(_said_by(module)) == []


def test_refused_numbers_are_known() -> None:
    """What is said of a value of any field of any command that cannot be."""
    text_of = set()
    for command, example in EXAMPLES.items():
        for name in example:
            for wrong in (None, 1e307, -1e307, 1.5, "x" * 2000, {"x": 1}, [[1, 2], [3]]):
                try:
                    Request(1, command, example | {name: wrong})
                except BadRequestError as told:
                    text_of.add(told.message)
    assert len(text_of) > 100
    assert [text for text in sorted(text_of) if english_in(german(text))] == []


@pytest.mark.parametrize(
    ("kind", "given"),
    [
        ("tablet", []),
        ("tablet", {}),
        ("tablet", {"target_step": 21}),
        ("tablet", {"target_step": 8.5}),
        ("tablet", {"target_step": 9, "reference_mj_cm2": "many"}),
        ("tablet", {"lot": 1}),
        ("field", {"places": [[0, 0]]}),
        ("field", {"places": [[0, 0, 0]]}),
    ],
)
def test_refused_parameters_of_a_series_are_known(kind: str, given: object) -> None:
    """Whatever is wrong with them."""
    with pytest.raises(BadRequestError) as told:
        checked(kind, given, 2)
    assert german(told.value.message) != sentence(told.value.message)


def _calibration_sentences() -> Iterator[str]:
    fitted = {"lower": LampsFitted("lower", 1, "tubes", TABLET.made_utc)}
    taught = replace(TABLET, origin="teach")
    elsewhere = replace(TABLET, position="on the lid")
    wild = [replace(TABLET, lamp_hours=20.0 * n, ln_ratio=-0.7 + (-1) ** n * 0.15) for n in range(1, 6)]
    kept: tuple[list[Any], ...] = ([], [TABLET], [taught], [elsewhere], wild)
    for of in (book(calibrations=found) for found in kept):
        for hours, tolerance in ((100.0, 0.5), (300.0, 0.01)):
            yield of.check_due("lower", hours, tolerance).sentence
    yield CalibrationBook(demo_box(), StoredCalibrations(lamp_sets=fitted)).check_due("lower", 0.0).sentence


def _light_sentences() -> Iterator[str]:
    led = [1.0] * 4
    for now, lamp in ((1.0, None), (0.9, None), (1.1, None), (0.9, 1.0), (1.0, 0.8), (0.1, None)):
        yield selfcheck.judge([now] * 4, led, lamp).sentence
    yield selfcheck.judge([1.0, 0.8, 1.0, 1.0], led, None).sentence
    shares = (0.5, 0.2, 0.1, 0.1, 0.05, 0.05)
    for changed in (
        shares, (0.5, 0.2, 0.12, 0.12, 0.07, 0.07), (0.5, 0.2, 0.1, 0.1, 0.1, 0.2), (0.4, 0.3, 0.1, 0.1, 0.05, 0.05),
        (0.5, 0.2, 0.1, 0.1, 0.02, 0.05), (0.5, 0.2, 0.1, 0.1, 0.045, 0.05),
    ):  # fmt: skip
        yield fingerprint.compare(Fingerprint(changed, (1e-5,) * 6), Fingerprint(shares, (1e-5,) * 6)).sentence
    of = transmission.of
    for violet, clear in ((0.0, 0.0), (0.9, 0.4), (0.9, 0.7), (0.3, 0.3), (0.9, 0.9)):
        yield transmission.judge_sheet(of(violet, 0.001), of(clear, 0.001)).sentence
    for black in (1e-4, 0.02, 0.5):
        found = transmission.dose_window(of(0.8, 0.0), of(black, 0.0), dose_mj_cm2=60, held_step=8, clean_step=11)
        yield found.sentence
    for light in (0.5, 9.0):
        yield reciprocity.warning(light, 2.0) or ""
    for dose in (50.0, 60.0, 40.0):
        yield reciprocity.in_words(reciprocity.fit_exponent([(1.0, dose, 0.02), (3.0, 50.0, 0.02)]))


def _craft_sentences() -> Iterator[str]:
    for gap, down, resist in ((0, True, 0), (50, True, 0), (20, False, 0), (0, True, 90)):
        growth = contact.line_growth(30, gap_um=gap, image_towards_resist=down, resist_um=resist)
        yield growth.sentence
        yield from (layer.name + " " for layer in growth.layers)
    yield contact.line_growth(30, gap_um=1, image_towards_resist=True, cover_um=50).sentence
    for part in strip.strip(10, 1.2, 3).parts:
        yield part.sentence
    one = TabletReading(20.0, 8, "last_held", panel="1")
    for readings in ([one], [one, replace(one, step=9, convention="first_cleared")], [one, replace(one, step=12)]):
        yield estimate_threshold(readings).note


@pytest.mark.parametrize("told", [*_calibration_sentences(), *_light_sentences(), *_craft_sentences()])
def test_what_control_says_about_light_is_said_in_german(told: str) -> None:
    """From the functions that say it, with numbers in it."""
    assert english_in(german(told)) == []
    if told and not told.endswith(" "):
        assert german(told) != sentence(told)


def test_a_whole_tablet_run_speaks_german(make_bench: object) -> None:  # noqa: F811
    """On the real control: plan, readings by either convention, a surprise, the calibration that follows."""
    bench: BenchBox = make_bench(ageing="apart", lamp_hours=120.0)  # type: ignore[operator]
    told = [bench.ask("tablet_plan", recipe="quick", target_step=8)["sentence"]]
    told.append(tablet_run(bench, panel=3)["sentence"])
    again = {"exposure_id": bench.snapshot()["exposure"]["exposure_id"], "target_step": 8, "apply": "calibration"}
    readings = [{"zone": str(zone), "step": 3} for zone in (1, 2, 3, 4)]
    surprising = bench.ask("tablet_readings", convention="last_held", readings=readings, **again)
    assert abs(surprising["surprise"]) > 3
    told.append(surprising["sentence"])
    for step in ("all_held", "all_gone"):
        alike = [{"zone": "1", "step": step}]
        told.append(bench.ask("tablet_readings", convention="last_held", readings=alike, **again)["sentence"])
    told += bench.snapshot()["warnings"]
    told.append(bench.ask("new_lamps", bank="lower", lamp_type="invented")["sentence"])
    tubes = {"tubes": 6, "hours": 120.5, "strikes": 70, "lamp_type": "invented", "wavelength_class": "UV-A"}
    told.append(bench.ask("tubes_fitted", bank="lower", **tubes)["sentence"])
    told += bench.ready().snapshot()["warnings"]
    assert len(told) > 6
    assert {text: english_in(german(text)) for text in told if english_in(german(text))} == {}


def test_numbers_of_a_sentence_stay(client: FlaskClient) -> None:
    """Nothing is lost on the way, and a text that nobody knows stays as it was."""
    text = "Step 8 is just held at 48.6 mJ/cm² as counted now; 60 is known to do it."
    assert re.findall(r"\d+\.?\d*", german(text)) == re.findall(r"\d+\.?\d*", text)
    assert german("Something new happened.") == "Something new happened."
