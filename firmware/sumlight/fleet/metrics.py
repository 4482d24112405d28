"""Figures for monitoring, as OpenMetrics: base units, labels that are bounded by the box itself, no name of a box.

Two processes of a box could tell them; the publisher does, which only reads. 1 mW/cm² is 10 W/m², 1 mJ/cm² is 10 J/m².
"""

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Protocol

from prometheus_client import CollectorRegistry, start_http_server
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from sumlight.fleet.publisher import Publisher
from sumlight.light.lampanswer import answer
from sumlight.protocol.snapshot import STATES, FaultName
from sumlight.store.logbook.database import LogbookError
from sumlight.store.logbook.reading import LogbookReader

PER_CM2 = 10.0
"""From mW/cm² to W/m², and from mJ/cm² to J/m²."""
LAMPS_S = 600.0
"""Lamps age slowly: asked of the logbook this often."""


class Line(Protocol):
    """What is told of the connection to the broker."""

    connected: bool
    dropped: int


class BoxMetrics(Collector):
    """Makes the figures when they are asked for, from what the publisher has seen last."""

    def __init__(self, box: Publisher, line: Line, shares: Callable[[], dict[str, float]]) -> None:
        self._box, self._line, self._shares = box, line, shares

    def collect(self) -> Iterator[Metric]:
        """One family after the other."""
        seen = self._box.snapshot
        yield _one("sumlight_control_reachable", "Whether the controller answers.", float(seen is not None))
        yield from self._of_sending()
        yield _by("sumlight_lamp_light_of_new_ratio", "Light of a bank, 1 for new.", "bank", self._shares(), "ratio")
        gap_s, name = self._box.longest_gap_s, "sumlight_tick_longest_gap_seconds"
        if gap_s is not None:
            yield _one(name, "Longest time between two ticks of control in the last minute.", gap_s, "seconds")
        if seen is not None:
            yield from _of_box(seen)
            yield from _of_banks(seen)

    def _of_sending(self) -> Iterator[Metric]:
        sent, line = self._box.sent, self._line
        yield _one("sumlight_broker_connected", "Whether the broker has taken us.", float(line.connected))
        yield _one("sumlight_unsent_records", "Records that the collector has not confirmed.", float(self._box.unsent))
        counted = {
            "sumlight_records_sent": ("Records sent, repeats included.", sent.records),
            "sumlight_records_acknowledged": ("Records that the collector has confirmed.", sent.acknowledged),
            "sumlight_messages_refused": ("Messages from outside that were not believed.", sent.refused),
            "sumlight_messages_dropped": ("Messages from outside for which there was no room.", line.dropped),
            "sumlight_name_taken_over": ("How often another computer took our name at the broker.", sent.name_taken),
            "sumlight_epochs_begun": ("How often records were numbered anew.", sent.epochs),
        }
        for name, (told, value) in counted.items():
            yield CounterMetricFamily(name, told, value=float(value))


def _of_box(seen: dict[str, Any]) -> Iterator[Metric]:
    standing = {str(fault["name"]) for fault in seen["faults"]}
    faults = {name.value: float(name.value in standing) for name in FaultName}
    yield _by("sumlight_fault", "Whether a fault stands.", "fault", faults)
    yield _by(
        "sumlight_state", "1 for the state that the box is in.", "state", {s: float(s == seen["state"]) for s in STATES}
    )
    exposure = seen["exposure"]
    doses = {} if exposure is None else {side["side"]: PER_CM2 * side["dose_mj_cm2"] for side in exposure["sides"]}
    name = "sumlight_dose_joules_per_square_meter"
    yield _by(name, "Dose of the panel at hand.", "side", doses, "joules_per_square_meter")
    ticks = seen["ticks"]
    for what, told in (("measured", "How often control ticks."), ("needed", "How often it must at least.")):
        if ticks[f"{what}_hz"] is not None:
            yield _one(f"sumlight_ticks_{what}_hertz", told, float(ticks[f"{what}_hz"]), "hertz")
    book = seen["logbook"]
    yield _one("sumlight_logbook_ok", "Whether records reach the disk.", float(book["ok"]))
    yield _one("sumlight_logbook_lag_seconds", "Age of the oldest record that waits.", float(book["lag_s"]), "seconds")


def _of_banks(seen: dict[str, Any]) -> Iterator[Metric]:
    banks = {bank["name"]: bank for bank in seen["banks"]}

    def of(told: str, name: str, value: Callable[[dict[str, Any]], float | None], unit: str = "") -> Metric:
        found = {bank: value(given) for bank, given in banks.items()}
        return _by(name, told, "bank", {bank: each for bank, each in found.items() if each is not None}, unit)

    def light(bank: dict[str, Any]) -> float | None:
        return None if bank["irradiance_mw_cm2"] is None else PER_CM2 * bank["irradiance_mw_cm2"]

    per_m2, lit = "sumlight_irradiance_watts_per_square_meter", "sumlight_lamp_lit_seconds"
    yield of("Light at the glass.", per_m2, light, "watts_per_square_meter")
    yield of("Whether lamps are told to burn.", "sumlight_lamps_commanded", lambda bank: float(bank["commanded"]))
    yield of("What the present lamps have burned.", lit, lambda bank: 3600 * bank["lamp_hours"], "seconds")
    yield of("Starts of the present lamps.", "sumlight_lamp_strikes", lambda bank: float(bank["strikes"]))
    yield of("Whether the light sensor is well.", "sumlight_meter_ok", lambda bank: float(bank["meter_ok"]))
    age = "sumlight_reading_age_seconds"
    yield of("Age of the last reading.", age, lambda bank: bank["reading_age_s"], "seconds")
    scales = seen["calibration"]
    due = {bank: float(scale["check_due"]) for bank, scale in scales.items()}
    yield _by("sumlight_calibration_due", "Whether a calibration should be checked.", "bank", due)
    widths = {bank: float(scale["expanded_relative"]) for bank, scale in scales.items() if not scale["relative"]}
    told = "Half-width (k = 2) of a dose by its calibration; none without an absolute scale."
    yield _by("sumlight_calibration_half_width_ratio", told, "bank", widths, "ratio")


def _one(name: str, told: str, value: float, unit: str = "") -> Metric:
    return GaugeMetricFamily(name, told, value=value, unit=unit)


def _by(name: str, told: str, label: str, values: dict[str, float], unit: str = "") -> Metric:
    family = GaugeMetricFamily(name, told, labels=[label], unit=unit)
    for of, value in sorted(values.items()):
        family.add_metric([of], value)
    return family


class LampShares:
    """The share of new that each bank's lamps give, asked of the logbook now and then."""

    def __init__(self, logbook: Path, mono_s: Callable[[], float]) -> None:
        self._logbook, self._mono_s = logbook, mono_s
        self._asked_s, self._known = -1e9, dict[str, float]()

    def __call__(self) -> dict[str, float]:
        """By bank; a bank of which nothing can be said yet is missing."""
        if self._mono_s() - self._asked_s >= LAMPS_S:
            self._asked_s = self._mono_s()
            try:
                self._known = self._read()
            except LogbookError:
                self._known = {}
        return self._known

    def _read(self) -> dict[str, float]:
        with LogbookReader.open_reader(self._logbook) as book:
            banks = [bank["bank"] for bank in book.lamps.banks()]
            shares = {bank: answer(book.lamps.lamp_history(bank)).share for bank in banks}
        return {bank: share[0] for bank, share in shares.items() if share is not None}


def registry(box: Publisher, line: Line, shares: Callable[[], dict[str, float]]) -> CollectorRegistry:
    """The figures of one box, and nothing of the process that tells them."""
    found = CollectorRegistry(auto_describe=False)
    found.register(BoxMetrics(box, line, shares))
    return found


def serve(of: CollectorRegistry, port: int) -> Callable[[], None]:
    """Tell them on this computer at /metrics; returns what ends it. Raises OSError for a port that is taken."""
    server, thread = start_http_server(port, "127.0.0.1", of)

    def end() -> None:
        server.shutdown()
        server.server_close()
        thread.join()

    return end
