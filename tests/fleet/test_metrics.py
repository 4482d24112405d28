"""Figures, alert rules, and what home automation is told; promtool and a broker of the distribution judge at length."""

import json
from pathlib import Path
from typing import Any

import pytest
from prometheus_client import generate_latest, make_wsgi_app
from prometheus_client.core import Metric
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from sumlight.cli.simulated import SimulatedBox, read_files
from sumlight.fleet import discovery, topics
from sumlight.fleet.messages import BoxState, read
from sumlight.fleet.metrics import LampShares, registry
from sumlight.fleet.publisher import Publisher
from tests.fleet.air import Air
from tests.store.filled import fill

UTC = "2026-11-30T12:00:00.000000Z"


class Told(Air):
    """The air, with the counts of a connection."""

    dropped = 3


@pytest.fixture(scope="module")
def snapshot(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """Of a simulated box under light, as control gives it."""
    box = SimulatedBox(
        *read_files(None, None), tmp_path_factory.mktemp("box"), speed=None, attended=False, threaded=False
    )
    for _ in range(400):  # until the sensor has answered
        box.step()
    box.press("start", recipe="blue-38")
    for _ in range(4000):
        box.step()
        found = box.daemon.commander.snapshot()
        if found["banks"][0]["irradiance_mw_cm2"] and found["exposure"]["sides"][0]["dose_mj_cm2"] > 1:
            break
    box.daemon.close()
    return found


def publisher(folder: Path, seen: dict[str, Any] | None, **more: Any) -> tuple[Publisher, Told]:
    """A box that has looked once."""
    air = Told()
    box = Publisher("bench-1", folder / "none", folder, air, lambda: seen, lambda: UTC, **more)
    box.step(0.0)
    return box, air


def scraped(box: Publisher, air: Told, shares: dict[str, float] | None = None) -> tuple[dict[str, str], str]:
    """Heads and text, as a scraper that knows OpenMetrics gets them."""
    heads: dict[str, str] = {}
    app = make_wsgi_app(registry(box, air, lambda: shares or {}))
    environ = {
        "REQUEST_METHOD": "GET", "PATH_INFO": "/metrics", "QUERY_STRING": "",
        "HTTP_ACCEPT": "application/openmetrics-text; version=1.0.0",
    }  # fmt: skip
    raw = b"".join(app(environ, lambda _status, given: heads.update(given)))
    return heads, raw.decode()


def read_strictly(text: str) -> list[Metric]:
    """As the library's own parser of OpenMetrics does."""
    return list(text_string_to_metric_families(text))  # type: ignore[no-untyped-call]


def test_a_late_tick_is_told_for_a_minute(tmp_path: Path, snapshot: dict[str, Any]) -> None:
    """Control tells only of the last seconds: a scrape once a minute must not miss it. At rest there is nothing."""
    seen = snapshot | {"ticks": {"measured_hz": 200.0, "needed_hz": 165.0, "longest_gap_s": 0.006}}
    air = Told()
    box = Publisher("bench-1", tmp_path / "none", tmp_path, air, lambda: seen, lambda: UTC)
    told = []
    for now_s, gap_s in ((0.0, 0.006), (4.0, 0.15), (8.0, 0.006), (62.0, None), (70.0, None)):
        seen["ticks"] = seen["ticks"] | {"longest_gap_s": gap_s}
        box.step(now_s)
        text = scraped(box, air)[1]
        told += [line.split()[1] for line in text.splitlines() if line.startswith("sumlight_tick_longest_gap_seconds ")]
    assert told == ["0.006", "0.15", "0.15", "0.15"]


def test_figures_are_openmetrics_in_base_units(tmp_path: Path, snapshot: dict[str, Any]) -> None:
    """Read by the library's own strict parser; 1 mW/cm² is 10 W/m² (SI)."""
    box, air = publisher(tmp_path, snapshot)
    heads, text = scraped(box, air, {"lower": 0.81})
    assert heads["Content-Type"].startswith("application/openmetrics-text; version=1.0.0")
    assert text.endswith("# EOF\n")
    families = {family.name: family for family in read_strictly(text)}
    samples = {sample.name: sample for family in families.values() for sample in family.samples}
    bank = snapshot["banks"][0]
    light = samples["sumlight_irradiance_watts_per_square_meter"]
    assert (light.labels, light.value) == ({"bank": bank["name"]}, pytest.approx(10 * bank["irradiance_mw_cm2"]))
    dose = samples["sumlight_dose_joules_per_square_meter"]
    sides = {side["side"]: side["dose_mj_cm2"] for side in snapshot["exposure"]["sides"]}
    assert dose.value == pytest.approx(10 * sides[dose.labels["side"]])
    assert families["sumlight_irradiance_watts_per_square_meter"].unit == "watts_per_square_meter"
    assert samples["sumlight_lamp_light_of_new_ratio"].value == 0.81
    assert samples["sumlight_messages_dropped_total"].value == 3
    states = {s.labels["state"]: s.value for s in families["sumlight_state"].samples}
    assert [state for state, value in states.items() if value] == [snapshot["state"]]


def test_labels_are_bounded_and_name_no_recipe_panel_or_box(tmp_path: Path, snapshot: dict[str, Any]) -> None:
    """Or a server would keep a series for each panel ever made."""
    box, air = publisher(tmp_path, snapshot)
    families = read_strictly(scraped(box, air)[1])
    labels = {(key, value) for family in families for sample in family.samples for key, value in sample.labels.items()}
    assert {key for key, _ in labels} == {"bank", "fault", "side", "state"}
    assert not {value for _, value in labels} & {"blue-38", snapshot["box"], "bench-1", snapshot["exposure"]["panel"]}
    assert sum(len(family.samples) for family in families) < 100
    assert not any(sample.name.endswith("_created") for family in families for sample in family.samples)


def test_a_box_out_of_reach_tells_what_is_known(tmp_path: Path) -> None:
    """And nothing that was true once."""
    box, air = publisher(tmp_path, None)
    text = generate_latest(registry(box, air, dict)).decode()
    assert "sumlight_control_reachable 0.0" in text
    assert "irradiance" not in text


def test_the_share_of_new_is_asked_of_the_logbook_now_and_then(tmp_path: Path) -> None:
    """A logbook without a light long enough says nothing; one that is not there neither."""
    now = [0.0]
    assert LampShares(tmp_path / "none", lambda: now[0])() == {}
    fill(tmp_path / "book", 3)
    assert LampShares(tmp_path / "book", lambda: now[0])() == {}


def test_home_automation_is_shown_sensors_and_nothing_to_switch(tmp_path: Path, snapshot: dict[str, Any]) -> None:
    """By the open convention: unique ids, a device with identifiers, an origin with its name, retained."""
    box, air = publisher(tmp_path, snapshot, discovery_prefix="home")
    found = [(topic, raw, kept) for topic, raw, kept in air.sent if topic.startswith("home/")]
    assert [(topic, kept) for topic, _, kept in found] == [("home/device/bench-1/sumlight/config", True)]
    told = json.loads(found[0][1])
    assert {part["platform"] for part in told["components"].values()} == set(discovery.COMPONENTS)
    assert not [key for part in (told, *told["components"].values()) for key in part if "command" in key]
    ids = [part["unique_id"] for part in told["components"].values()]
    assert len(ids) == len(set(ids))
    assert told["device"]["identifiers"]
    assert told["origin"]["name"] == "Sumlight"
    box.step(10.0)
    assert len([1 for topic, _, _ in air.sent if topic.startswith("home/")]) == 1
    air.connections += 1
    box.step(20.0)
    assert len([1 for topic, _, _ in air.sent if topic.startswith("home/")]) == 2


def test_each_template_reads_a_key_that_a_state_has(tmp_path: Path, snapshot: dict[str, Any]) -> None:
    """Drawn up with Jinja, as the convention's hub does."""
    from jinja2 import Environment, StrictUndefined

    _, air = publisher(tmp_path, snapshot, discovery_prefix="home")
    told = json.loads(next(raw for topic, raw, _ in air.sent if topic.startswith("home/")))
    state = next(raw for topic, raw, _ in air.sent if topic == topics.of_box("bench-1", "state"))
    assert read(state, BoxState).state == snapshot["state"]
    drawn = {
        name: Environment(undefined=StrictUndefined, autoescape=False)
        .from_string(part["value_template"])
        .render(value_json=json.loads(state))
        for name, part in told["components"].items()
    }
    assert drawn["state"] == snapshot["state"]
    assert float(drawn["light_0"]) == pytest.approx(10 * snapshot["banks"][0]["irradiance_mw_cm2"])


def test_a_state_holds_what_is_lit(snapshot: dict[str, Any], tmp_path: Path) -> None:
    """As seen under light."""
    _, air = publisher(tmp_path, snapshot)
    said = read(next(raw for topic, raw, _ in air.sent if topic.endswith("/state")), BoxState)
    assert (said.recipe, said.panel) == ("blue-38", snapshot["exposure"]["panel"])
    assert said.dose_mj_cm2 == pytest.approx(snapshot["exposure"]["sides"][0]["dose_mj_cm2"])
    assert said.banks[0].commanded
