"""The report of a commissioning as one HTML page that prints well. Pure."""

import html
import json
from typing import Any

from sumlight.box.description import BoxDescription
from sumlight.control.commissioning.history import not_proved
from sumlight.store.logbook.records import CommissioningRecord

STYLE = """
body { font: 11pt/1.45 sans-serif; color: #000; background: #fff; max-width: 46em; margin: 2em auto; padding: 0 1em; }
table { border-collapse: collapse; width: 100%; margin: 1em 0; }
th, td { border: 1px solid #777; padding: .3em .5em; text-align: left; vertical-align: top; }
.verdict { border: 2px solid #000; padding: .5em .8em; font-size: 13pt; font-weight: bold; }
.sign { margin-top: 3em; border-top: 1px solid #000; width: 22em; padding-top: .3em; }
@media print { body { margin: 0; max-width: none; } tr { break-inside: avoid; } }
"""

VERDICTS = {
    "passed": "Passed. Exposures are unlocked for the wiring below.",
    "incomplete": "Incomplete. Nothing failed and exposures are unlocked, but what the steps below call not proved is "
    "left to a licensed electrician, mains off.",
    "failed": "Failed. Do not use the box: put right what the last step names, then begin anew.",
}

NOT_COVERED = (
    "What this program cannot prove: that lid switch, stop and cut-out keep working after today, that the fuse fits, "
    "that the mains side follows the code of the place. A licensed electrician checks those. No certification to any "
    "safety standard is claimed."
)

EYES = (
    "Limits for eyes and skin: ICNIRP 2004 as taken over by Directive 2006/25/EC and IEC 62471:2006, for eight hours a "
    "day: 10 000 J/m² from 315 to 400 nm, and 30 J/m² weighted with S(λ). They do not protect people whom medicines or "
    "illness make sensitive to light, nor eyes after a cataract operation."
)


def report_html(record: CommissioningRecord, left_out: list[tuple[str, str]], box: BoxDescription) -> str:
    """The whole page."""
    ended = record.ended_utc or record.began_utc
    results = json.loads(record.results)
    incomplete = record.outcome == "passed" and not_proved(results, [title for title, _ in left_out])
    title = f"Commissioning of {record.box_name}" + (": incomplete" if incomplete else "")
    verdict = "incomplete" if incomplete else record.outcome or ""
    say = html.escape
    head = [
        ("Box", record.box_name + (" (simulated)" if record.simulated else "")),
        ("Done by", record.who),
        ("Begun", f"{record.began_utc:%Y-%m-%d %H:%M} UTC"),
        ("Ended", f"{ended:%Y-%m-%d %H:%M} UTC"),
        ("Wiring", record.wiring_sha256),
    ]
    rows = "".join(_row(number, result) for number, result in enumerate(results, 1))
    missing = "".join(
        f"<tr><td></td><td>{say(title)}</td><td>not proved</td><td>{say(why)}</td></tr>" for title, why in left_out
    )
    pins = "".join(
        f"<tr><td>{say('.'.join(str(part) for part in place))}</td><td>GPIO{pin}</td></tr>" for place, pin in box.pins()
    )
    facts = "".join(f"<tr><th>{say(name)}</th><td>{say(text)}</td></tr>" for name, text in head)
    return (
        f'<!doctype html>\n<html lang="en"><head><meta charset="utf-8"><title>{say(title)}'
        f"</title><style>{STYLE}</style></head>\n<body><h1>{say(title)}</h1>\n"
        f'<p class="verdict">{say(VERDICTS.get(verdict, "Not finished."))}</p>\n'
        f"<table>{facts}</table>\n<h2>Steps</h2>\n<table><tr><th>No.</th><th>Step</th><th>Result</th><th>Found</th></tr>"
        f"{rows}{missing}</table>\n<p>{say(EYES)}</p>\n<p><strong>{say(NOT_COVERED)}</strong></p>\n"
        f"<h2>Pins at the time</h2>\n<table><tr><th>Signal</th><th>Pin</th></tr>{pins}</table>\n"
        f'<p class="sign">Date, signature</p>\n</body></html>\n'
    )


def _row(number: int, result: dict[str, Any]) -> str:
    say = html.escape
    measures = "".join(
        f"<br>{say(measure['what'])}: {_value(measure['value'])} {say(measure['unit'])} "
        f"(limit {_value(measure['limit'])} {say(measure['unit'])}{'' if measure['kept'] else ', NOT KEPT'})"
        for measure in result["measures"]
    )
    word = "FAILED" if not result["passed"] else "passed" if result.get("proved", True) else "not proved"
    found = f"{say(result['found'])}{measures}"
    return f"<tr><td>{number}</td><td>{say(result['title'])}</td><td>{word}</td><td>{found}</td></tr>"


def _value(value: float) -> str:
    return f"{value:.3g}"
