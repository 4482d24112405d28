"""The report of a commissioning as a file: one HTML page, in English, that prints well. Pure."""

import html

from sumlight.protocol.walk import Row, report_of
from sumlight.store.logbook.records import CommissioningRecord

STYLE = """
body { font: 11pt/1.45 sans-serif; color: #000; background: #fff; max-width: 46em; margin: 2em auto; padding: 0 1em; }
table { border-collapse: collapse; width: 100%; margin: 1em 0; }
th, td { border: 1px solid #777; padding: .3em .5em; text-align: left; vertical-align: top; }
.verdict { border: 2px solid #000; padding: .5em .8em; font-size: 13pt; font-weight: bold; }
.sign { margin-top: 3em; border-top: 1px solid #000; width: 22em; padding-top: .3em; }
@media print { body { margin: 0; max-width: none; } tr { break-inside: avoid; } }
"""


def report_html(record: CommissioningRecord) -> str:
    """The whole page. Raises ValueError for a record that cannot be read."""
    report = report_of(record)
    text = html.escape
    title = text(report.title)
    facts = "".join(f"<tr><th>{text(name)}</th><td>{text(value)}</td></tr>" for name, value in report.facts)
    pins = "".join(f"<tr><td>{text(place)}</td><td>GPIO{pin}</td></tr>" for place, pin in report.pins)
    eyes, not_covered = report.notes
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{title}'
        f"</title><style>{STYLE}</style></head>\n<body><h1>{title}</h1>\n"
        f'<p class="verdict">{text(report.verdict)}</p>\n'
        f"<table>{facts}</table>\n<h2>Steps</h2>\n<table><tr><th>No.</th><th>Step</th><th>Result</th><th>Found</th></tr>"
        f"{''.join(map(_row, report.rows))}</table>\n<p>{text(eyes)}</p>\n<p><strong>{text(not_covered)}</strong></p>\n"
        f"<h2>Pins at the time</h2>\n<table><tr><th>Signal</th><th>Pin</th></tr>{pins}</table>\n"
        f'<p class="sign">Date, signature</p>\n</body></html>\n'
    )


def _row(row: Row) -> str:
    number = "" if row.number is None else row.number
    found = "<br>".join(html.escape(line) for line in (row.found, *row.measures))
    return (
        f"<tr><td>{number}</td><td>{html.escape(row.title)}</td><td>{html.escape(row.result)}</td><td>{found}</td></tr>"
    )
