"""What every answer and every command passes: right host, right origin, bounded size, strict headers."""

from io import BytesIO
from typing import IO
from urllib.parse import urlsplit

from flask import Flask, Request, Response, request
from werkzeug.exceptions import Forbidden

from sumlight_web.inpage import HOLD, STYLE, source
from sumlight_web.language import _

BODY_LIMIT = 64 * 1024

CONTENT_SECURITY_POLICY = "; ".join(
    (
        "default-src 'none'",
        f"script-src 'self' {source(HOLD)}",
        f"style-src 'self' {source(STYLE)}",
        "img-src 'self' data:",
        "connect-src 'self'",
        "manifest-src 'self'",
        "worker-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
)

HEADERS = {
    "Content-Security-Policy": CONTENT_SECURITY_POLICY,
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    # Not `no-referrer`: with that, browsers send `Origin: null` with a form, and the origin check would refuse it.
    "Referrer-Policy": "same-origin",
    "Cross-Origin-Resource-Policy": "same-origin",
}

SAFE_METHODS = ("GET", "HEAD", "OPTIONS")


class BoundedRequest(Request):
    """Keeps uploads, which no form here has, in memory: bodies are small, and no file is left open on the disk."""

    def _get_file_stream(
        self,
        total_content_length: int | None,
        content_type: str | None,
        filename: str | None = None,
        content_length: int | None = None,
    ) -> IO[bytes]:
        return BytesIO()


def install(app: Flask, trusted_hosts: tuple[str, ...]) -> None:
    """Guard every route of `app`; requests that name another host than `trusted_hosts` get 400."""
    app.request_class = BoundedRequest
    app.config["TRUSTED_HOSTS"] = list(trusted_hosts)
    app.config["MAX_CONTENT_LENGTH"] = BODY_LIMIT
    app.config["MAX_FORM_MEMORY_SIZE"] = BODY_LIMIT
    app.config["MAX_FORM_PARTS"] = 100
    app.before_request(refuse_foreign_origin)
    app.after_request(set_headers)


def refuse_foreign_origin() -> None:
    """Refuse a change that another site asks for: the Origin's host and port must be those the request went to."""
    host = request.host.lower()  # raises SecurityError for a host that is not trusted
    if request.method in SAFE_METHODS:
        return
    try:
        origin = urlsplit(request.headers.get("Origin", ""))
    except ValueError:
        origin = urlsplit("")
    if origin.scheme not in ("http", "https") or origin.netloc.lower() != host:
        raise Forbidden(_("This command did not come from this page. Open the page by its own address and try again."))


def wants_json() -> bool:
    """Whether a script asks (it says so), and not a browser's form."""
    return request.accept_mimetypes.best_match(["text/html", "application/json"], "text/html") == "application/json"


def set_headers(response: Response) -> Response:
    """Add the strict headers. Pages and states are never stored; style and script are checked for change."""
    for name, value in HEADERS.items():
        response.headers[name] = value
    static = request.endpoint == "static" and response.status_code in (200, 304)
    response.headers["Cache-Control"] = "no-cache" if static else "no-store"
    return response
