"""A code on paper that leads a phone to a panel's record (QR code, ISO/IEC 18004; made by the library segno)."""

import ipaddress
from urllib.parse import urlsplit

import segno
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


def leads_here_only(address: str) -> bool:
    """Whether `address` means the machine that opens it: a phone with the code would look for the box in itself."""
    host = urlsplit(address).hostname or ""
    try:
        return ipaddress.ip_address(host).is_loopback
    except ValueError:
        return host == "localhost" or host.endswith(".localhost")
