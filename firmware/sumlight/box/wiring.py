"""The wiring part of box.yaml as a fingerprint: it changes when, and only when, a wire or what hangs on it changes."""

import hashlib
import json
from typing import Any

from sumlight.box.description import BoxDescription


def wiring_of(box: BoxDescription) -> dict[str, Any]:
    """Every pin, level, bus and address, and which meter watches which bank; no calibration, no limits, no names."""
    return {
        "pin_library": box.pin_library,
        "banks": [
            {"side": bank.side, "relay_pin": bank.relay_pin, "lights_when": bank.lights_when, "meter": bank.meter}
            for bank in box.banks
        ],
        "lid": box.lid.model_dump(),
        "enable_pin": box.enable_pin,
        "signals": box.signals.model_dump(),
        "comforts": {} if box.comforts is None else _pins(box.comforts.model_dump()),
        "meters": [
            {"name": meter.name, "kind": meter.kind, "i2c_bus": meter.i2c_bus, "i2c_address": meter.i2c_address}
            | _pins(meter.model_dump())
            | ({} if meter.colour_i2c_address is None else {"colour_i2c_address": meter.colour_i2c_address})
            for meter in box.meters
        ],
    } | _where_declared(box)


def _where_declared(box: BoxDescription) -> dict[str, Any]:
    """Parts that boxes were without before: one that has none keeps the fingerprint that it always had."""
    found = {} if box.thermometer is None else {"thermometer": box.thermometer.model_dump()}
    return found if box.front_panel is None else found | {"front_panel": _pins(box.front_panel.model_dump())}


def wiring_sha256(box: BoxDescription) -> str:
    """The fingerprint, as hexadecimal text."""
    text = json.dumps(wiring_of(box), sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def _pins(fields: dict[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in fields.items() if name.endswith("_pin") and value is not None}
