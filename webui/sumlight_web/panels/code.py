"""A code on paper that leads a phone to a panel's record or to a recipe (QR code, ISO/IEC 18004; drawn by segno)."""

import ipaddress
from typing import Any
from urllib.parse import urlsplit

import segno
from flask import request, url_for
from markupsafe import Markup

QUIET_ZONE = 4
"""Empty modules around the code (ISO/IEC 18004 asks for four)."""


def code_svg(address: str, label: str) -> Markup:
    """The code for `address` as an SVG drawing with `label` for those who do not see it.

    A quarter of it may be smudged (error correction Q): the sheet lies beside wet panels.
    """
    drawn = segno.make_qr(address, error="q").svg_inline(
        border=QUIET_ZONE, omitsize=True, svgclass="code", lineclass="modules", title=label
    )
    return Markup(drawn)  # noqa: S704 - the library escapes the title, the rest is its own


def address_of(endpoint: str, **values: Any) -> str:
    """The address of a page as the browser that prints it knows it; whether it is HTTPS is the proxy's word, and who
    lies there misleads himself."""
    safe = request.headers.get("X-Forwarded-Proto", "").lower() == "https"
    return url_for(endpoint, _external=True, _scheme="https" if safe else request.scheme, **values)


def leads_here_only(address: str) -> bool:
    """Whether `address` means the machine that opens it: a phone with the code would look for the box in itself."""
    host = urlsplit(address).hostname or ""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost" or host.endswith(".localhost")
