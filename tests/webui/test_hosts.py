"""Under which names and addresses the page may be asked for."""

import socket
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from sumlight_web import hosts
from sumlight_web.__main__ import main
from sumlight_web.app import create_app
from sumlight_web.services import AppServices, PageConfig


def test_listening_on_this_machine_only_trusts_only_its_local_names() -> None:
    """Nothing else can reach it anyway."""
    assert hosts.own_hosts("127.0.0.1") == hosts.LOCAL_HOSTS


def test_listening_on_all_addresses_trusts_the_machines_names_and_addresses() -> None:
    """The name with and without .local, every interface, and the names that were given."""
    found = hosts.own_hosts("0.0.0.0", ["box.shop.example"])
    short = socket.gethostname().lower().partition(".")[0]
    assert {short, f"{short}.local", "127.0.0.1", "box.shop.example"} <= set(found)
    assert "0.0.0.0" not in found
    assert "192.0.2.5" in hosts.own_hosts("192.0.2.5")


def test_a_name_that_no_browser_can_send_is_left_out() -> None:
    """The library would fail on it with every request."""
    assert hosts.own_hosts("127.0.0.1", ["x" * 64, "a b", "", "ok.example"]) == (*hosts.LOCAL_HOSTS, "ok.example")


def test_an_address_that_came_later_is_trusted_and_a_foreign_one_is_not(
    client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A router gave the box another address; no name is ever taken up so."""
    monkeypatch.setattr(hosts, "own_addresses", lambda: ["192.0.2.9"])
    assert client.get("/", headers={"Host": "192.0.2.9:8765"}).status_code != 400
    for foreign in ("192.0.2.10", "evil.example", "192.0.2.9.evil.example", "[2001:db8::10]:80"):
        assert client.get("/", headers={"Host": foreign}).status_code == 400, foreign


@pytest.mark.parametrize("address", ["nowhere", "300.1.1.1", "", "127.0.0.1:80"])
def test_what_is_no_address_is_refused_at_the_start(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], address: str
) -> None:
    """With what to give instead."""
    with pytest.raises(SystemExit) as ended:
        main(["--socket", str(tmp_path / "s"), "--data", str(tmp_path), "--listen", address])
    assert ended.value.code == 2
    assert "no address" in capsys.readouterr().err


def test_the_pages_own_hosts_reach_it(tmp_path: Path) -> None:
    """As the command line builds it."""
    app = create_app(PageConfig(tmp_path / "s", tmp_path, hosts.own_hosts("0.0.0.0", ["box.shop.example"])))
    services: AppServices = app.extensions["sumlight"]
    try:
        for name in ("box.shop.example", socket.gethostname().lower(), "127.0.0.1"):
            assert app.test_client().get("/access/", headers={"Host": f"{name}:8765"}).status_code == 200, name
        assert app.test_client().get("/access/", headers={"Host": "evil.example"}).status_code == 400
    finally:
        services.close()


def test_own_addresses_are_found_with_the_sockets_that_the_pages_unit_allows(monkeypatch: pytest.MonkeyPatch) -> None:
    """Under systemd it has no netlink socket: the page that a network was to reach did not even start."""

    def forbidden() -> list[tuple[int, str]]:
        raise OSError(97, "Address family not supported by protocol")

    monkeypatch.setattr(socket, "if_nameindex", forbidden)
    assert "127.0.0.1" in hosts.own_addresses()
