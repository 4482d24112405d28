"""What home automation is told of a box by its open MQTT convention: sensors and binary sensors, and nothing to switch.

One retained message for the device, `<prefix>/device/<box_id>/sumlight/config`; its shape is from memory. A light,
switch, number, select or button would invite somebody to work lamps from afar: there is none, and `COMPONENTS` is all
that there ever may be.
"""

import json
from typing import Any

from sumlight.fleet import topics

COMPONENTS = ("sensor", "binary_sensor")


def topic(prefix: str, box_id: str) -> str:
    """Where the device is described."""
    return f"{prefix}/device/{box_id}/sumlight/config"


def device(box_id: str, box_name: str, banks: list[str], version: str) -> bytes:
    """The description of one box; entities are unique by its `box_id`."""
    state, online = topics.of_box(box_id, "state"), topics.of_box(box_id, "online")
    parts: dict[str, dict[str, Any]] = {}

    def add(name: str, kind: str, title: str, template: str, **more: Any) -> None:
        parts[name] = {
            "platform": kind,
            "unique_id": f"sumlight_{box_id}_{name}",
            "name": title,
            "value_template": template,
            **more,
        }

    add("state", "sensor", "State", "{{ value_json.state or 'unknown' }}", icon="mdi:state-machine")
    add("recipe", "sensor", "Recipe", "{{ value_json.recipe or '' }}")
    add("left", "sensor", "Time left", "{{ value_json.left_s }}", unit_of_measurement="s", device_class="duration")
    add("faults", "sensor", "Faults", "{{ value_json.faults | join(', ') }}")
    add("unsent", "sensor", "Records waiting", "{{ value_json.unsent_records }}", state_class="measurement")
    reachable = "{{ 'ON' if value_json.reachable else 'OFF' }}"
    add("controller", "binary_sensor", "Controller", reachable, device_class="connectivity")
    trouble = "{{ 'ON' if value_json.faults else 'OFF' }}"
    add("trouble", "binary_sensor", "Fault", trouble, device_class="problem")
    due = "{{ 'ON' if value_json.calibration_due else 'OFF' }}"
    add("calibration", "binary_sensor", "Calibration due", due, device_class="problem")
    for number, bank in enumerate(banks):
        at = f"value_json.banks[{number}]"
        light = f"{{{{ 10 * {at}.irradiance_mw_cm2 if {at}.irradiance_mw_cm2 is not none else 0 }}}}"
        add(
            f"light_{number}",
            "sensor",
            f"Light {bank}",
            light,
            unit_of_measurement="W/m²",
            device_class="irradiance",
            state_class="measurement",
        )
        hours = f"{{{{ {at}.lamp_hours }}}}"
        add(f"hours_{number}", "sensor", f"Lamp hours {bank}", hours, unit_of_measurement="h", device_class="duration")
    told = {
        "device": {"identifiers": [f"sumlight_{box_id}"], "name": box_name or box_id, "model": "UV exposure box"},
        "origin": {"name": "Sumlight", "sw_version": version},
        "state_topic": state,
        "availability": [
            {"topic": online, "value_template": "{{ 'online' if value_json.online else 'offline' }}"},
        ],
        "components": parts,
    }
    return json.dumps(told, ensure_ascii=False).encode()
