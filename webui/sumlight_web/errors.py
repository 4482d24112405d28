"""One way to answer errors: JSON for scripts, a page in the reader's language for people."""

import logging
import traceback

from flask import Response, jsonify, make_response, render_template, request
from werkzeug.exceptions import HTTPException, SecurityError

from sumlight_web import guard
from sumlight_web.language import N_, _

log = logging.getLogger(__name__)

TITLE, SENTENCE = N_("That did not work"), N_("The request could not be carried out.")
"""For whatever is in none of the tables."""

TITLES = {
    400: N_("Not understood"),
    401: N_("Log in first"),
    403: N_("Not allowed"),
    404: N_("Not found"),
    405: N_("Not a page to open"),
    408: N_("Too slow"),
    409: N_("It has changed meanwhile"),
    413: N_("Too large"),
    415: N_("Not understood"),
    429: N_("Too many at once"),
    500: N_("Something went wrong"),
    503: N_("Not possible just now"),
}

SENTENCES = {
    400: N_("The page's server did not understand what was sent. Go back, load the page again and send it once more."),
    404: N_("There is no such page. The address may be misspelt or from an older version."),
    405: N_("This address only takes what a form sends. Go back to the page with the form."),
    408: N_("It took too long until all of it had arrived. Send it once more, closer to the box."),
    409: N_("Meanwhile it has changed. Go back, load the page again and look."),
    413: N_("What was sent is too large for this box."),
    415: N_("The page's server does not take this kind of file."),
    500: N_("The page's server made a mistake; it stands in its log. The lamps do not depend on it."),
    503: N_("The page's server cannot do this just now. Try it again in a minute."),
}
"""Said where nobody who raised the error had anything to say of it: the library's own words are English only."""


def title(code: int) -> str:
    """A heading for an HTTP status."""
    return _(TITLES.get(code, TITLE))


def sentence(error: HTTPException) -> str:
    """What went wrong, in the words of whoever raised the error, or in general."""
    if error.description and error.description != type(error).description:
        return error.description
    return _(SENTENCES.get(error.code or 500, SENTENCE))


def for_the_log(error: HTTPException) -> str:
    """What the server's log has of it, in English whoever asked: its cause, or where it was raised."""
    cause = getattr(error, "original_exception", None) or error.__cause__
    if cause is not None:
        return f"{type(cause).__name__}: {cause}"
    raised = traceback.extract_tb(error.__traceback__)
    return f"{error.name}, raised in {raised[-1].name}" if raised else error.name


def answer_error(error: HTTPException) -> Response:
    """Answer any error in the form that was asked for: JSON for scripts, a page for people."""
    code, message = error.code or 500, sentence(error)
    if code >= 500 and request.endpoint != "stream.stream":  # a full hall is ordinary
        log.warning("%s %s answered with %d: %s", request.method, request.path, code, for_the_log(error))
    if isinstance(error, SecurityError):
        # No page here: with a host that is not trusted, no addresses can be made.
        response = make_response("This address is not known to this box.\n", 400, {"Content-Type": "text/plain"})
    elif guard.wants_json():
        body = {"ok": False, "error": {"code": error.name, "field": None, "message": message, "remedy": None}}
        response = make_response(jsonify(body), code)
    else:
        response = make_response(render_template("error.html", code=code, name=title(code), message=message), code)
    for name, value in error.get_headers():
        if name not in ("Content-Type", "Content-Length"):
            response.headers[name] = value
    return response
