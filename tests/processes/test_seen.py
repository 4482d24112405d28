"""Page and control as they really run: a page that is behind the box lights nothing, and no press counts twice."""

import http.client
import time
from pathlib import Path
from urllib.parse import urlencode

from sumlight.protocol.client import ControlClient
from tests.running import RunningTwin
from tests.webui.operating import PASSWORD, give_operator
from tests.webui.test_seen import hidden


class Phone:
    """A browser without script, logged in."""

    def __init__(self, twin: RunningTwin) -> None:
        self._twin = twin
        self._cookie = ""
        status, headers, _ = self._send("POST", "/access/login", {"name": "Ada", "password": PASSWORD})
        assert status == 303
        self._cookie = (headers["Set-Cookie"] or "").split(";")[0]

    def look(self, action: str) -> dict[str, str]:
        """What the form that posts to `action` carries now."""
        return hidden(self._send("GET", "/?recipe=blue-38")[2], action)

    def press(self, action: str, form: dict[str, str]) -> tuple[int, str]:
        """Send a form; status and page."""
        status, _, text = self._send("POST", action, form)
        return status, text

    def _send(
        self, method: str, path: str, form: dict[str, str] | None = None
    ) -> tuple[int, http.client.HTTPMessage, str]:
        connection = http.client.HTTPConnection("127.0.0.1", self._twin.port, timeout=60)
        try:
            headers = {"Origin": self._twin.url, "Cookie": self._cookie}
            headers["Content-Type"] = "application/x-www-form-urlencoded"
            connection.request(method, path, urlencode(form) if form else None, headers)
            answer = connection.getresponse()
            return answer.status, answer.headers, answer.read().decode()
        finally:
            connection.close()


def true_dose_mj_cm2(client: ControlClient) -> float:
    """What the simulated panel really got so far."""
    return float(sum(client.ask("state")["true_dose_mj_cm2"].values()))


def move_lid(client: ControlClient, act: str, until: str) -> None:
    """A hand at the simulated box."""
    client.ask("simulate", do=act)
    until_s = time.monotonic() + 60
    while client.ask("state")["lid"] != until:
        assert time.monotonic() < until_s
        time.sleep(0.02)


def seen_by(phone: Phone, action: str, client: ControlClient) -> dict[str, str]:
    """The form, once the page has heard of the present state."""
    until_s = time.monotonic() + 60
    while (form := phone.look(action)).get("state_number") != str(client.ask("state")["state_number"]):
        assert time.monotonic() < until_s
        time.sleep(0.05)
    return form


def test_a_page_from_before_the_lid_moved_and_a_second_press_light_nothing(tmp_path: Path) -> None:
    """Judged by the true dose of the simulated world."""
    give_operator(tmp_path, "scrypt:1024:8:1")
    with RunningTwin(tmp_path, speed=1.0) as twin, ControlClient(twin.socket) as client:
        twin.wait_until_ready(client, limit_s=60)
        one, two = Phone(twin), Phone(twin)
        typed = {"recipe": "blue-38", "panel": "P1"}
        old = seen_by(one, "/bench/start", client) | typed
        move_lid(client, "lid_opens", "open")
        move_lid(client, "lid_closes", "shut")
        status, text = one.press("/bench/start", old)
        assert status == 409
        assert "The box has moved on since you looked." in text
        time.sleep(1.5)
        assert true_dose_mj_cm2(client) == 0
        fresh = seen_by(one, "/bench/start", client) | typed
        assert one.press("/bench/start", fresh)[0] == 303
        until_s = time.monotonic() + 60
        while true_dose_mj_cm2(client) == 0:
            assert time.monotonic() < until_s
            time.sleep(0.05)
        assert two.press("/bench/dark", {})[0] == 303
        paused = seen_by(one, "/bench/go", client)
        assert paused["seen:side"] == "A"
        assert seen_by(two, "/bench/go", client) == paused
        assert one.press("/bench/go", paused)[0] == 303
        assert two.press("/bench/go", paused)[0] == 409
        client.ask("dark")
        time.sleep(0.5)
        dose_mj_cm2 = true_dose_mj_cm2(client)
        assert two.press("/bench/go", paused)[0] == 409
        time.sleep(1.5)
        assert true_dose_mj_cm2(client) == dose_mj_cm2
