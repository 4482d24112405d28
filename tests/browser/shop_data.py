"""A shop's data behind the pages: what the tests of the look, the pictures of all pages and their measures share."""

from pathlib import Path

from sumlight.store.logbook.logbook import Logbook
from sumlight.text.message import as_written
from tests.store.logbook.test_weekly_statistics import MONDAY
from tests.webui import commission_told as told
from tests.webui.art_folder import compared_by_hand, made_by_hand
from tests.webui.lamp_book import live
from tests.webui.light_runs import keep
from tests.webui.test_drafts import panel
from tests.webui.test_drift import fill as fill_weeks
from tests.webui.test_panels import record

REPORT_NAME = "commissioning-20261125-080000.html"
RUNS = {
    "tablet": "/light/tablet/3",
    "teach": "/light/teach/4",
    "strip": "/light/strip/5",
    "compare": "/light/sheets/6",
    "field": "/light/field/7",
}
"""By kind of run the page that reads it; 1 is a doubtful panel, 2 a draft that nobody has judged."""


def lived_in(data: Path) -> None:
    """Put it beside the recipes that `tests.browser.conftest.fill` wrote: a doubtful panel with its signs, a draft, a
    run of each kind, drift over weeks, trouble of its own, worn lamps, a report, and an artwork with its comparison."""
    record(data / "logbook.sqlite")
    panel(data)
    for kind, path in RUNS.items():
        assert path.endswith(f"/{keep(data / 'logbook.sqlite', kind)}")
    fill_weeks(data / "logbook.sqlite", last_warm_up_s=95.0)
    with Logbook(data / "logbook.sqlite") as book:
        book.findings.put_findings(1, ["scum", "image_wide"], {"held_step": 9.0, "wanted_step": 8.0}, "Ada", MONDAY)
        book.note_maintenance(
            "saved", as_written("The logbook was damaged (invented). Taken over: 21 exposures."), MONDAY
        )
    assert told.report_kept(data).name == REPORT_NAME
    live(data / "logbook.sqlite", worn=True)
    compared_by_hand(made_by_hand(data))
