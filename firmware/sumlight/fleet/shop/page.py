"""The shop's page: one, read only, without a script. It shows what the collector has; it cannot reach a box at all."""

from collections.abc import Callable, Iterable, Sequence
from html import escape
from typing import Any
from wsgiref.simple_server import WSGIRequestHandler, WSGIServer, make_server

from sqlalchemy import Engine
from sqlalchemy.exc import SQLAlchemyError

from sumlight.clock import Clock, SystemClock
from sumlight.fleet.shop import questions
from sumlight.language import LANGUAGES, Reader, _, figure, named, text_of, written_for
from sumlight.text.doseunit import unit_of_dose

SECURITY = (
    ("Content-Type", "text/html; charset=utf-8"),
    ("Content-Security-Policy", "default-src 'none'; style-src 'unsafe-inline'"),
    ("X-Content-Type-Options", "nosniff"),
    ("Referrer-Policy", "no-referrer"),
    ("Cache-Control", "no-store"),
)
STYLE = (
    "body{background:#000;color:#f60;font:16px/1.5 sans-serif;margin:1rem auto;max-width:70rem;padding:0 1rem}"
    "table{border-collapse:collapse;width:100%;margin-bottom:2rem}th,td{text-align:left;padding:.3rem .6rem;"
    "border-bottom:1px solid #730}.bad{font-weight:bold;text-decoration:underline}.wide{overflow-x:auto}"
)
Row = Sequence[str]


class Page:
    """A WSGI application over the collector's database."""

    def __init__(self, engine: Engine, clock: Clock) -> None:
        self._engine, self._clock = engine, clock

    def __call__(self, environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        """Answer GET / in the language that the browser wants. A server adds to its heads: each answer has its own."""
        if environ.get("PATH_INFO") != "/" or environ.get("REQUEST_METHOD") not in ("GET", "HEAD"):
            start("404 Not Found", list(SECURITY))
            return [b"<!doctype html><title>404</title>404"]
        asked = str(environ.get("HTTP_ACCEPT_LANGUAGE", ""))
        language = next(
            (one for one in (part.strip()[:2].lower() for part in asked.split(",")) if one in LANGUAGES), "en"
        )
        with written_for(Reader(language)):
            try:
                text = self.text(language)
                start("200 OK", list(SECURITY))
            except SQLAlchemyError:
                text = _whole(language, _bad(_("The database does not answer.")))
                start("503 Service Unavailable", list(SECURITY))
        return [text.encode()]

    def text(self, language: str) -> str:
        """The page in the reader's words."""
        with self._engine.connect() as link:
            boxes = questions.now(link, self._clock.utc())
            results, orders, drifts = questions.results(link), questions.orders(link), questions.drifts(link)
        due = [box for box in boxes if box.state is not None and box.state.calibration_due]
        parts = [
            _table(
                _("What runs now"),
                (_("Box"), _("State"), _("Recipe"), _("Panel"), _("Left"), _("Faults"), _("To be sent")),
                [_now_row(box) for box in boxes],
                _("No box has been heard of yet."),
            ),
            _table(
                _("Calibrations that are due"),
                (_("Box"), _("± of a dose")),
                [(escape(box.box_id), _width(box)) for box in due],
                _("None."),
            ),
            _table(
                _("The same recipe on different boxes"),
                (_("Recipe"), _("Box"), _("Panels"), _("Good"), _("Too little"), _("Too much"), _("Median dose")),
                [_result_row(result) for result in results],
                _("No panel has been completed yet."),
            ),
            _table(
                _("Dose scales compared"),
                (_("Boxes"), _("Recipe"), _("Tablet lot"), _("Ratio, 95 %"), _("Verdict")),
                [_drift_row(each) for each in drifts],
                _("It takes two tablets of one lot, behind the same recipe, on each of two boxes."),
            ),
            _table(
                _("Lamps to order"),
                (_("Lamp"), _("Count"), _("Boxes")),
                [
                    (
                        escape(f"{each.lamp_type} {each.wavelength_class}"),
                        str(each.count),
                        escape(", ".join(each.boxes)),
                    )
                    for each in orders
                ],
                _("No tube has burned 80 % of its expected life."),
            ),
        ]
        note = _("Only what boxes have sent. What a box says itself holds.")
        return _whole(language, "".join(parts) + f"<p>{escape(note)}</p>")


def serve(engine: Engine, host: str, port: int) -> WSGIServer:
    """A server, ready to serve: one request after the other."""
    return make_server(host, port, Page(engine, SystemClock()), handler_class=_Quiet)


class _Quiet(WSGIRequestHandler):
    timeout = 5  # seconds that a silent client may hold the page

    def log_message(self, format: str, *args: Any) -> None:
        """Not a word of each request."""


def _whole(language: str, inner: str) -> str:
    title = escape(_("Boxes of this shop"))
    return (
        f'<!doctype html><html lang="{language}"><head><meta charset="utf-8"><title>{title}</title>'
        '<meta name="viewport" content="width=device-width"><meta http-equiv="refresh" content="10">'
        f"<style>{STYLE}</style></head><body><h1>{title}</h1>{inner}</body></html>"
    )


def _bad(words: str) -> str:
    return f"<span class=bad>{escape(words)}</span>"


def _table(title: str, heads: Sequence[str], rows: Sequence[Row], empty: str) -> str:
    """Cells are HTML already."""
    if not rows:
        return f"<h2>{escape(title)}</h2><p>{escape(empty)}</p>"
    head = "".join(f'<th scope="col">{escape(each)}</th>' for each in heads)
    body = "".join("<tr>" + "".join(f"<td>{cell}</td>" for cell in row) + "</tr>" for row in rows)
    inner = f"<table><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table>"
    return f"<h2>{escape(title)}</h2><div class=wide>{inner}</div>"


def _now_row(box: questions.Now) -> Row:
    state = box.state
    if state is None or not box.online or box.silent or not state.reachable:
        words = _("silent") if box.silent or not box.online or state is None else _("controller does not answer")
        return (escape(box.box_id), _bad(words), "", "", "", "", "")
    told = escape(named("state", state.state or ""))
    if box.twice:
        told += " " + _bad(_("two computers have this name"))
    if state.simulated:
        told += " – " + escape(_("simulated"))
    left = "" if state.left_s is None else f"{int(state.left_s) // 60}:{int(state.left_s) % 60:02d}"
    faults = ", ".join(named("fault", f"{fault}_title") for fault in state.faults)
    return (
        escape(box.box_id),
        told,
        escape(state.recipe or ""),
        escape(state.panel or ""),
        left,
        escape(faults),
        str(state.unsent_records),
    )


def _width(box: questions.Now) -> str:
    width = None if box.state is None else box.state.calibration_half_width
    return escape(_("no absolute scale")) if width is None else f"± {figure(100 * width, '.0f')} %"


def _result_row(result: questions.Result) -> Row:
    dose, unit = result.median_dose_mj_cm2, text_of(unit_of_dose(relative=result.relative))
    return (
        escape(result.recipe),
        escape(result.box_id),
        str(result.panels),
        str(result.good),
        str(result.too_little),
        str(result.too_much),
        "–" if dose is None else escape(f"{figure(dose, '.1f')} {unit}"),
    )


def _drift_row(each: questions.Compared) -> Row:
    drift = each.drift
    verdict = _("they differ") if drift.differs else _("no difference can be seen")
    interval = f"{figure(drift.ratio, '.2f')} ({figure(drift.low, '.2f')} … {figure(drift.high, '.2f')})"
    return (
        escape(f"{each.one} : {each.other}"),
        escape(each.recipe),
        escape(each.lot),
        interval,
        _bad(verdict) if drift.differs else escape(verdict),
    )
