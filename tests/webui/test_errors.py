"""What a page says where something did not work: in the reader's language, and what whoever raised it had to say."""

import pytest
from flask.testing import FlaskClient
from werkzeug.exceptions import HTTPException, default_exceptions

from sumlight_web.errors import SENTENCE, SENTENCES, TITLES, sentence, title
from sumlight_web.language import Reader, written_for


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
