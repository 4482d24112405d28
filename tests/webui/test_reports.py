"""The reports of commissioning on the page: listed, opened by their words alone, and nothing else of the disk."""

import re
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from sumlight.box.description import load_box
from sumlight.control.commissioning.report import report_html
from sumlight.store.logbook.records import CommissioningRecord
from sumlight.twin import demo
from sumlight_web.box import reports
from sumlight_web.guard import CONTENT_SECURITY_POLICY
from tests.webui import commission_told as told
from tests.webui.light_runs import BEGAN
from tests.webui.test_commission_page import HERE, NAME, page


@pytest.fixture
def report(data: Path) -> Path:
    """A folder with one report, and a secret beside it."""
    folder = data / "commissioning"
    folder.mkdir()
    (folder / NAME).write_text(told.REPORT, encoding="utf-8")
    (folder / "notes.html").write_text("<body><p>secret", encoding="utf-8")
    return folder / NAME


def test_reports_are_listed_with_date_and_verdict(client: FlaskClient, report: Path) -> None:
    """Only files that are named as control names them."""
    text = page(client)
    assert "Begun 2026-11-25 08:00 UTC" in text
    assert "Passed. Exposures are unlocked" in text
    assert "notes.html" not in text


def test_a_report_is_opened_in_the_colours_of_the_page(client: FlaskClient, report: Path) -> None:
    """Its words only: no style, script, picture or attribute of the file gets through, and the policy stays strict."""
    answer = client.get(f"{HERE}/reports/{NAME}")
    body = answer.text.partition('<section class="report" lang="en">')[2].partition("</section>")[0]
    assert "<h1>Commissioning of Demo box</h1>" in body
    assert "<th>Done by</th><td>A. Nyone &lt;b&gt;</td>" in body
    assert "<p>Signed<br>here" in body
    for never in ("alert", "evil", "onclick", "style", "background", "<img", "<script", "<title"):
        assert never not in body
    assert body.count("<table>") == body.count("</table></div>") == 1
    assert body.count("<p") == body.count("</p>")
    assert answer.headers["Content-Security-Policy"] == CONTENT_SECURITY_POLICY
    assert "print.js" in answer.text


def test_a_report_as_control_writes_it_loses_no_word(client: FlaskClient, report: Path) -> None:
    """Compared with the file itself, tags taken out."""
    results = '[{"title": "The lid reads \'shut\'", "passed": true, "found": "5 < 6 & so", "measures": []}]'
    record = CommissioningRecord(BEGAN, "0" * 64, "Box <1>", False, "A & B", 12, results, BEGAN, "failed")
    whole = report_html(record, [("Heat", "left out")], load_box(demo.BOX))
    report.write_text(whole, encoding="utf-8")
    shown = reports.as_markup(whole, "t")

    def bare(html: str) -> str:
        return re.sub(r"\s+", "", re.sub(r"<[^>]*>", " ", html).replace("&#39;", "'").replace("&#x27;", "'"))

    assert bare(shown) == bare(whole.partition("<body>")[2])


def test_the_file_itself_can_be_saved(client: FlaskClient, report: Path) -> None:
    """As an attachment, so that no browser opens it white beside resist."""
    answer = client.get(f"{HERE}/reports/{NAME}/file")
    assert answer.text == told.REPORT
    assert answer.headers["Content-Disposition"] == f'attachment; filename="{NAME}"'
    assert answer.headers["Content-Security-Policy"] == CONTENT_SECURITY_POLICY


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
    assert client.get(f"{HERE}/reports/{link.name}").status_code == 404
    report.write_text("<body>" + "x" * (reports.LONGEST_BYTES + 1), encoding="utf-8")
    assert client.get(f"{HERE}/reports/{NAME}").status_code == 404
    assert client.get(HERE).status_code == 200
