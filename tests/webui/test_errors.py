"""What a page says where something did not work: in the reader's language, and what whoever raised it had to say."""

import logging
from pathlib import Path

import pytest
from flask.testing import FlaskClient
from werkzeug.exceptions import HTTPException, default_exceptions

from sumlight_web.errors import SENTENCE, SENTENCES, TITLES, sentence, title
from sumlight_web.language import Reader, written_for
from tests.webui.fake_control import FakeControl
from tests.webui.given import ORIGIN


def heading(page: str) -> str:
    """Heading and sentence of an error's page."""
    return page.split("<h1>")[1].split("<p><a class")[0]


def test_a_page_that_is_not_there_says_so_in_the_readers_language(client: FlaskClient) -> None:
    """Neither the library's heading nor its sentence, which are English in every language."""
    assert "There is no such page." in heading(client.get("/nowhere").text)
    client.set_cookie("sumlight_language", "de")
    page = heading(client.get("/nowhere").text)
    assert page.startswith("Nicht gefunden</h1>")
    assert "Diese Seite gibt es nicht." in page
    assert "Keine Seite zum Öffnen" in heading(client.get("/bench/start").text)


def test_what_somebody_had_to_say_of_it_stays(client: FlaskClient) -> None:
    """Under the heading of its kind."""
    client.set_cookie("sumlight_language", "de")
    page = heading(client.get("/panels/99").text)
    assert "Nicht gefunden" in page
    assert "Im Logbuch gibt es keine Belichtung Nummer 99." in page


@pytest.mark.parametrize("code", sorted(default_exceptions))
def test_nothing_that_the_library_raises_speaks_english_on_a_german_page(code: int) -> None:
    """Every status that it knows, those that this page never gave, too."""
    error: HTTPException = default_exceptions[code]()
    with written_for(Reader("de")):
        assert sentence(error) not in (error.description, SENTENCES.get(code, SENTENCE))
        assert title(code) not in (error.name, TITLES.get(code))


def test_the_servers_log_is_english_whoever_asked(
    client: FlaskClient, control: FakeControl, data: Path, caplog: pytest.LogCaptureFixture
) -> None:
    """The reader's own words stand on the page; whoever looks after the box reads the log."""
    client.set_cookie("sumlight_language", "de")
    caplog.set_level(logging.WARNING, "sumlight_web")
    (data / "logbook.sqlite").write_bytes(b"no logbook at all")
    page = heading(client.get("/panels/1").text)
    assert "Das Logbuch lässt sich gerade nicht lesen." in page
    control.mute.set()
    page = heading(client.post("/lamps/level", data={"percent": "75"}, headers=ORIGIN).text)
    assert "Die Steuerung antwortet nicht." in page
    assert "Die Steuerung antwortet nicht." in heading(client.get("/jobs/panels/7/sheet").text)
    read, level, card = (record.getMessage() for record in caplog.records)
    assert read.startswith("GET /panels/1 answered with 503: LogbookError: ")
    assert level == "POST /lamps/level answered with 503: LinkDownError: The controller does not answer."
    assert card == "GET /jobs/panels/7/sheet answered with 503: Service Unavailable, raised in told_of"
    german = {"der", "die", "das", "nicht", "ist", "kann"}
    assert not german & set(f"{read} {level} {card}".lower().split())
