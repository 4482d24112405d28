"""The reports of commissioning on the page: listed and shown from the record, and nothing else of the disk."""

import html
import re
from dataclasses import replace
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from sumlight.store.logbook.logbook import Logbook
from sumlight_web.box import reports
from tests.protocol.test_walk import OLD
from tests.webui import commission_told as told
from tests.webui.test_commission_page import HERE, NAME, page


@pytest.fixture
def report(data: Path) -> Path:
    """One run on record with its file, and a secret beside it."""
    file = told.report_kept(data)
    file.with_name("notes.html").write_text("<body><p>secret", encoding="utf-8")
    assert file.name == NAME
    return file


def shown(client: FlaskClient, language: str = "en", name: str = NAME) -> str:
    """The report on the page, tags taken out and spaces made even."""
    answer = client.get(f"{HERE}/reports/{name}", headers={"Accept-Language": language})
    assert answer.status_code == 200
    return bare(answer.text.partition('<section class="report">')[2].partition("</section>")[0])


def bare(markup: str) -> str:
    """Its words."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]*>", " ", markup)))


@pytest.mark.usefixtures("report")
def test_reports_are_listed_with_date_and_verdict(client: FlaskClient) -> None:
    """In the reader's language; only runs that passed or failed."""
    text = page(client)
    assert "Begun 2026-11-25 08:00 UTC" in text
    assert "Incomplete. Nothing failed and exposures are unlocked" in text
    client.set_cookie("sumlight_language", "de")
    assert "Unvollständig. Nichts ist durchgefallen" in page(client)


def test_a_run_that_was_given_up_has_no_report(client: FlaskClient, data: Path) -> None:
    """Nor has one that is under way."""
    with Logbook(data / "logbook.sqlite") as book:
        book.put_commissioning(replace(told.RECORD, outcome="aborted"))
    assert "None yet." in page(client)
    assert client.get(f"{HERE}/reports/{NAME}").status_code == 404


def test_page_and_file_are_two_views_of_one_record(client: FlaskClient, report: Path) -> None:
    """Every cell and every sentence of the file stands on the page, and a name with a tag in it stays words."""
    body = report.read_text(encoding="utf-8").partition("<body>")[2]
    words = [bare(part).strip() for part in re.findall(r"<(?:h1|h2|p|td|th)[^>]*>(.*?)</(?:h1|h2|p|td|th)>", body)]
    assert len(words) > 30
    text = shown(client)
    for part in words:
        assert part in text, part
    assert "Done by A. Nyone <b>" in text
    assert "Lamps told to go dark: 0.0123 s (limit 0.025 s)" in text


@pytest.mark.usefixtures("report")
def test_a_report_is_read_in_german_too(client: FlaskClient) -> None:
    """The record holds codes."""
    text = shown(client, "de")
    for words in (
        "Abnahme von Demo box: unvollständig",
        "Rechtzeitig dunkel.",
        "Lampen abgeschaltet: 0,0123 s (Grenze 0,025 s)",
        "Hier nicht nachgewiesen: In box.yaml fehlt signals.over_temperature_pin.",
        "nicht nachgewiesen",
        "GPIO5",
    ):
        assert words in text, words
    for english in ("limit", "proved", "Found", "Step", "the"):
        assert not re.search(rf"\b{english}\b", text), english


def test_a_record_of_an_earlier_version_is_shown_in_its_own_words(client: FlaskClient, data: Path) -> None:
    """Plain English, as it was stored, its numbers in the reader's way; the file written then can still be saved."""
    told.report_kept(data, replace(told.RECORD, results=OLD))
    for language, time in (("en", "0.0412 s"), ("de", "0,0412 s")):
        text = shown(client, language)
        assert "dark in time, K1 still held" in text
        assert time in text
    assert f"{HERE}/reports/{NAME}/file" in client.get(f"{HERE}/reports/{NAME}").text


def test_a_record_without_its_file_is_shown_all_the_same(client: FlaskClient, report: Path) -> None:
    """Only there is nothing to save."""
    report.unlink()
    assert "Incomplete." in shown(client)
    assert "/file" not in client.get(f"{HERE}/reports/{NAME}").text


def test_a_record_that_cannot_be_read_is_said_to(client: FlaskClient, data: Path) -> None:
    """The others stay."""
    told.report_kept(data)
    with Logbook(data / "logbook.sqlite") as book:
        later = told.RECORD.began_utc.replace(hour=9)
        book.put_commissioning(replace(told.RECORD, began_utc=later, results='{"a": 1}'))
    text = page(client)
    assert "This record cannot be read." in text
    assert "Incomplete. Nothing failed" in text
    assert client.get(f"{HERE}/reports/commissioning-20261125-090000.html").status_code == 404


def test_a_box_whose_logbook_is_broken_can_be_walked_through(client: FlaskClient, data: Path) -> None:
    """The page of commissioning stays; in place of the reports it says why there are none."""
    (data / "logbook.sqlite").write_bytes(b"no logbook" * 1000)
    answer = client.get(HERE)
    assert answer.status_code == 200
    assert "The logbook cannot be read just now." in answer.text


def test_the_file_itself_can_be_saved(client: FlaskClient, report: Path) -> None:
    """As an attachment, so that no browser opens it white beside resist."""
    answer = client.get(f"{HERE}/reports/{NAME}/file")
    assert answer.text == report.read_text(encoding="utf-8")
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{NAME}"'


@pytest.mark.usefixtures("report")
@pytest.mark.parametrize(
    "name",
    [
        "notes.html",
        "commissioning-20261125-080001.html",
        "..%2Flogbook.sqlite",
        "..%2f..%2fetc%2fpasswd",
        "%2e%2e",
        NAME + "%0a",
        NAME + "%00",
        "x" + NAME,
        "commissioning-٢٠٢٦١١٢٥-080000.html",
    ],
)
@pytest.mark.parametrize("tail", ["", "/file"])
def test_nothing_else_of_the_disk_is_served(client: FlaskClient, name: str, tail: str) -> None:
    """No other file of the folder, and none outside."""
    assert client.get(f"{HERE}/reports/{name}{tail}").status_code == 404


def test_links_and_endless_files_are_no_reports(client: FlaskClient, report: Path, tmp_path: Path) -> None:
    """Whoever can write into the folder cannot make the page show another file."""
    secret = tmp_path / "secret"
    secret.write_text("<body><p>secret", encoding="utf-8")
    link = report.with_name("commissioning-20261125-090000.html")
    link.symlink_to(secret)
    assert client.get(f"{HERE}/reports/{link.name}/file").status_code == 404
    report.write_text("<body>" + "x" * (reports.LONGEST_BYTES + 1), encoding="utf-8")
    assert client.get(f"{HERE}/reports/{NAME}/file").status_code == 404
    assert client.get(HERE).status_code == 200
