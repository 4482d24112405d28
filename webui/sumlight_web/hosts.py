"""The names and addresses under which this machine may be asked for the page.

An IPv6 address in figures is not among them, for the library that checks the Host header cannot take one; a name that
leads to such an address is.
"""

import fcntl
import ipaddress
import os
import re
import socket
import struct
from collections.abc import Iterable
from typing import Any
from wsgiref.types import StartResponse, WSGIApplication, WSGIEnvironment

from flask import Flask

LOCAL_HOSTS = ("127.0.0.1", "localhost")
NAME_RULE = re.compile(r"(?=.{1,253}\Z)[a-z0-9-]{1,63}(\.[a-z0-9-]{1,63})*\Z")
SIOCGIFADDR = 0x8915
"""Linux's question for the IPv4 address of an interface."""

INTERFACES = "/sys/class/net"
"""Where Linux names them."""


def is_loopback(address: str) -> bool:
    """Whether only this machine can reach `address`. Raises ValueError for what is no address."""
    return ipaddress.ip_address(address).is_loopback


def own_hosts(listen: str, names: Iterable[str] = ()) -> tuple[str, ...]:
    """What a browser may call this machine when the page listens on `listen`: names, addresses, and `names`."""
    hosts = [*LOCAL_HOSTS, *(name.lower() for name in names)]
    if not is_loopback(listen):
        name = socket.gethostname().lower()
        short = name.partition(".")[0]
        hosts += [name, short, f"{short}.local", *own_addresses()]
        hosts.append(listen)
    unspecified = ("0.0.0.0", "::")  # noqa: S104 - left out, not bound
    return tuple(dict.fromkeys(host for host in hosts if NAME_RULE.match(host) and host not in unspecified))


def bracketed(address: str) -> str:
    """An address as it stands in a URL."""
    return f"[{address}]" if ":" in address else address


def reachable(listen: str) -> str:
    """An address that a person can open when the page listens on `listen`."""
    if not ipaddress.ip_address(listen).is_unspecified:
        return listen
    return next((address for address in own_addresses() if not is_loopback(address)), LOCAL_HOSTS[0])


def own_addresses() -> list[str]:
    """The IPv4 addresses of this machine's interfaces."""
    found = []
    # Not `socket.if_nameindex`: it asks by a kind of socket that the page's unit forbids.
    names = os.listdir(INTERFACES) if os.path.isdir(INTERFACES) else []
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        for name in names:
            try:
                answer = fcntl.ioctl(probe, SIOCGIFADDR, struct.pack("256s", name.encode()[:15]))
            except OSError:  # an interface without an address
                continue
            found.append(socket.inet_ntoa(answer[20:24]))
    return found


class FreshAddresses:
    """Looks for new addresses when one is asked for that is not known: a router may have given another since start.

    An address in figures cannot be made to point here by another site, so looking anew opens nothing.
    """

    def __init__(self, app: Flask, inner: WSGIApplication) -> None:
        self._app = app
        self._inner = inner

    def __call__(self, environ: WSGIEnvironment, start_response: StartResponse) -> Any:
        """Pass the request on; its own guard judges the host."""
        host = re.sub(r":\d+\Z", "", str(environ.get("HTTP_HOST", "")))
        trusted = self._app.config["TRUSTED_HOSTS"]
        if host not in trusted and is_address(host) and host in own_addresses():
            trusted.append(host)
        return self._inner(environ, start_response)


def is_address(host: str) -> bool:
    """Whether a host is written in figures."""
    try:
        ipaddress.IPv4Address(host)
    except ValueError:
        return False
    return True
