"""German pages have a decimal comma wherever a person reads a number; files, addresses and forms keep the point."""

import re
import shutil
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from sumlight.text.message import say
from sumlight_web import words
from sumlight_web.bench.view import bench_view
from sumlight_web.language import Reader, figure, written_for
from sumlight_web.link import Latest
from sumlight_web.texts import text_of
from tests.webui import fake_control as fake
from tests.webui.decimal_points import POINT, points_in
from tests.webui.lamp_book import live
from tests.webui.test_drift import fill
from tests.webui.test_language import PATHS
from tests.webui.test_panels import record

GERMAN = Reader("de")
ABOUT_FILES = {"/help/recipes", "/help/box", "/box/changes"}
"""Pages that quote numbers as files have them, with a point in every language."""


def test_a_point_would_be_seen() -> None:
    """In text, in a label that is read aloud, on a drawing; but not in a file, a version or an address."""
    assert points_in("<p>0.5 s</p>") == ["0.5 s"]
    assert points_in('<svg aria-label="to 1.25"><path d="M1.5 2.5"/><text>3.5</text></svg>') == ["to 1.25", "3.5"]
    assert points_in('<p>a <b lang="en">1.5</b> 2.5</p><p>3.5</p>') == ["2.5", "3.5"]
    assert points_in('<input value="0.5"><pre>a: 0.5</pre><code>0.5</code><p>127.0.0.1, 0.1.0, 1,5</p>') == []


@pytest.fixture(scope="module")
def long_used(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The logbook of a box with panels, weeks of drift and worn lamps behind it; written once for all pages."""
    path = tmp_path_factory.mktemp("long-used") / "logbook.sqlite"
    record(path)
    fill(path, last_warm_up_s=95.0)
    live(path, worn=True)
    return path


@pytest.mark.parametrize("path", sorted(set(PATHS) - ABOUT_FILES))
def test_no_number_of_a_german_page_has_a_decimal_point(
    client: FlaskClient, data: Path, long_used: Path, path: str
) -> None:
    """Whatever stands in the logbook."""
    shutil.copy(long_used, data / "logbook.sqlite")
    client.set_cookie("sumlight_language", "de")
    assert points_in(client.get(path).text) == []


def test_no_number_of_a_german_bench_has_a_decimal_point_under_light() -> None:
    """Through the pure view: what the live stream sends."""
    with written_for(GERMAN):
        view = bench_view(Latest(fake.lit(), 0.0, True, 1))  # type: ignore[arg-type]
    assert [text for text in view.texts.values() if POINT.search(text)] == []
    assert any(re.search(r"\d,\d", text) for text in view.texts.values())


def test_numbers_have_the_readers_decimal_mark() -> None:
    """German: 0,5 (outside check: DIN 1333 and everyday use). English keeps the point; texts about files do in both."""
    with written_for(GERMAN):
        assert words.number(0.5, 2) == "0,50"
        assert words.target(62.5) == "62,5"
        assert words.temperature(21.54) == "21,5 °C"
        assert words.thickness(38.5) == "38,5 µm"
        assert text_of(say("light_fell_away", bank="lower", before_mw_cm2=4.0, now_mw_cm2=0.25)).count(",") == 2
        assert text_of(say("from_to", low=0.02, high=1.0)) == "von 0,02 bis 1"
        assert text_of(say("from_to", low=1e-6, high=1e6)) == "von 0,000001 bis 1000000"
    with written_for(Reader("de", as_in_files=True)):
        assert text_of(say("from_to", low=0.02, high=1.0)) == "von 0.02 bis 1"
    assert words.number(0.5, 2) == "0.50"
    assert words.target(None) == words.number(None, 1) == "–"


def test_a_german_per_cent_sign_keeps_its_distance() -> None:
    """DIN 5008: 20 % with a space, which must not break; files and English have none."""
    with written_for(GERMAN):
        assert figure(0.2, ".0%") == "20\N{NO-BREAK SPACE}%"
        assert figure(0.085, ".1%") == "8,5\N{NO-BREAK SPACE}%"
    with written_for(Reader("de", as_in_files=True)):
        assert figure(0.2, ".0%") == "20%"
    assert figure(0.2, ".0%") == "20%"
