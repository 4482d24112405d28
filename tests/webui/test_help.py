"""The page Help: the manual in the reader's language, open to all, found by words, linked from questions."""

import re
from html import unescape

import pytest
from flask.testing import FlaskClient

from sumlight.manual.search import places
from sumlight.manual.topics import TOPICS, topics
from sumlight.protocol.snapshot import FaultName
from sumlight_web.help.manual import as_html, manual
from sumlight_web.language import LANGUAGES
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until

LINK = re.compile(r'href="([^"]+)"')


def read(client: FlaskClient, path: str, language: str = "en") -> str:
    """A page in a language."""
    client.set_cookie("sumlight_language", language)
    answer = client.get(path)
    assert answer.status_code == 200, path
    return answer.text


def main_of(page: str) -> str:
    """What stands between frame and foot."""
    return page.partition("<main")[2].partition("</main>")[0]


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_topic_is_a_page_with_all_its_entries(client: FlaskClient, language: str) -> None:
    """In the reader's language, every entry under its own anchor; the list leads to each."""
    index = main_of(read(client, "/help/", language))
    for one in manual(language):
        assert f'href="/help/{one.name}"' in index
        page = read(client, f"/help/{one.name}", language)
        assert f"<h1>{one.title}</h1>" in unescape(page)
        for entry in one.entries:
            assert page.count(f'id="{entry.name}"') == 1, entry.name


@pytest.mark.parametrize("language", LANGUAGES)
def test_every_link_of_the_manual_arrives(client: FlaskClient, language: str) -> None:
    """At a topic, or at an anchor that is on its page."""
    pages = {name: main_of(read(client, f"/help/{name}", language)) for name in TOPICS}
    links = [(name, link) for name, page in pages.items() for link in LINK.findall(page) if not link.startswith("/")]
    assert len(links) > 10
    for name, link in links:
        to, _, anchor = link.partition("#")
        assert (to or name) in pages, link
        assert not anchor or f'id="{anchor}"' in pages[to or name], link


def test_a_topic_that_is_none_is_not_found(client: FlaskClient) -> None:
    """As any other page."""
    assert client.get("/help/zebra").status_code == 404


def test_words_are_found_without_a_script(client: FlaskClient) -> None:
    """By a plain form; a thing by its name comes first, and what is nowhere says so."""
    found = main_of(read(client, "/help/?q=tube_out"))
    assert LINK.findall(found)[0] == "faults#tube_out"
    assert LINK.findall(main_of(read(client, "/help/?q=PASSWORT", "de")))[0].startswith("access#")
    nothing = main_of(read(client, "/help/?q=%3Cb%3Ezebra"))
    assert "&lt;b&gt;zebra" in nothing
    assert "<b>zebra" not in nothing
    assert len(LINK.findall(nothing)) == len(TOPICS)


def test_help_is_on_every_page_and_open_to_whoever_watches(client: FlaskClient) -> None:
    """At its foot, so that it costs no place among the pages of a phone."""
    for path in ("/", "/light/", "/access/", "/help/"):
        foot = read(client, path).partition("<footer")[2]
        assert 'href="/help/"' in foot


def test_a_fault_leads_to_its_explanation(client: FlaskClient, control: FakeControl) -> None:
    """On the Bench, while it stands."""
    control.say(fake.snapshot(faults=[fake.fault()]))
    name = fake.fault()["name"]
    assert name in set(FaultName)
    wait_until(lambda: f'href="/help/faults#{name}"' in client.get("/").text)


def test_html_in_the_manual_is_shown_and_not_obeyed() -> None:
    """Whoever writes it."""
    assert as_html("<script>x</script>") == "<p>&lt;script&gt;x&lt;/script&gt;</p>\n"
    assert as_html("[x](light.md#tablet)") == '<p><a href="light#tablet">x</a></p>\n'


def test_what_comes_from_the_programs_own_tables_is_put_into_the_readers_words(client: FlaskClient) -> None:
    """Faults, cautions, bounds of keys."""
    page = unescape(read(client, "/help/faults", "de"))
    assert "Eine Röhre ist vielleicht ausgegangen" in page
    assert "A tube may have gone out" not in page
    keys = unescape(read(client, "/help/recipes", "de"))
    assert "Erlaubt: von 1 bis 5000." in keys
    assert "Erlaubt: von 0.02 bis 1. Wenn es fehlt: 0.1." in keys  # as a file has it
    english = {place.text for place in places(topics("en"))}
    german = {place.text for place in places(manual("de"))}
    assert english & german == set()
