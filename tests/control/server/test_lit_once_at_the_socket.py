"""A panel is lit once, also for a client that speaks to the socket by itself and knows every field.

Judged by the light that the simulated lamps really give.
"""

import hashlib
import json
from typing import Any

import pytest

from tests.control.bench_box import BenchBox, recipe_text
from tests.control.exposure.test_lit_once import TAKE_OUT, light_seen
from tests.control.server.socket_desk import Caller

SHA256 = hashlib.sha256(recipe_text().encode()).hexdigest()
"""Of the recipe `quick`, as anybody can work it out from its file."""


class Client:
    """Lines over the socket of a box that is stepped by hand."""

    def __init__(self, bench: BenchBox) -> None:
        self._bench = bench
        bench.daemon.serve(bench.data / "s")
        self._caller = Caller(bench.data / "s")
        self._number = 0

    def say(self, command: str, **fields: Any) -> dict[str, Any]:
        """Send one line; returns the reply to it."""
        self._number += 1
        self._caller.send(json.dumps({"id": self._number, "command": command, **fields}).encode() + b"\n")
        for _ in range(100):
            self._bench.step()
            for message in self._caller.take():
                if message.get("id") == self._number:
                    return message
        raise AssertionError(f"no answer to {command}")

    def light(self, command: str = "start", **fields: Any) -> dict[str, Any]:
        """Ask for light with all that was seen a moment ago."""
        state = self.say("state")["result"]
        first = "A" if command == "start" else "1"
        seen = {"state_number": state["state_number"], "recipe_sha256": SHA256, "side": first, "panel": "P1"}
        return self.say(command, recipe="quick", **seen, **fields)

    def close(self) -> None:
        """Hang up."""
        self._caller.link.close()


@pytest.mark.parametrize("end", ["done", "abandoned"])
def test_the_socket_lights_no_panel_twice(bench: BenchBox, end: str) -> None:
    """Start and series are refused with what to do until the lid was opened and shut; then it is lit."""
    bench.ready()
    client = Client(bench)
    assert client.light()["ok"] is True
    bench.until(bench.any_light)
    if end == "done":
        bench.until_state("done")
    else:
        assert client.say("abandon")["ok"] is True
    bench.until(lambda: not bench.any_light())
    bench.run(1.0)
    got = bench.truth.dose_mj_cm2()
    for again in (client.light(), client.light("series", kind="steady", seconds=3)):
        assert again["ok"] is False
        assert (again["error"]["code"], again["error"]["remedy"]) == ("refused", TAKE_OUT)
    assert not light_seen(bench)
    assert bench.truth.dose_mj_cm2() == got
    bench.open_lid()
    assert client.light()["ok"] is False
    assert not light_seen(bench, 3.0)
    bench.shut_lid()
    assert client.light()["ok"] is True
    assert light_seen(bench)
    client.close()
