"""Names of MQTT topics, and who may write them. Pure.

A box's user name at the broker is its `box_id`, so that the broker's list of rights holds each box to its own topics.
"""

import re

BASE = "sumlight"
COLLECTOR = "collector"
"""The collector's user name; no box may be called so."""

BOX_ID = re.compile(r"[a-z][a-z0-9-]{0,31}")

WRITTEN_BY_BOX = ("state", "online", "record", "dark_answer")
READ_BY_BOX = ("ack", "dark", "online")
"""Its own sign of life, too: another computer that has its name gives itself away by that."""


def of_box(box_id: str, what: str) -> str:
    """The topic of a box. Raises ValueError for a name that is none."""
    if not BOX_ID.fullmatch(box_id):
        raise ValueError(f"box_id: {box_id!r} is no name of a box; use a-z, 0-9 and -, at most 32, a letter first")
    return f"{BASE}/box/{box_id}/{what}"


def box_of(topic: str, what: str) -> str | None:
    """The box that such a topic belongs to; None for any other topic."""
    parts = topic.split("/")
    if len(parts) != 4 or parts[:2] != [BASE, "box"] or parts[3] != what or not BOX_ID.fullmatch(parts[2]):
        return None
    return parts[2]


def of_all_boxes(what: str) -> str:
    """The filter for one topic of every box."""
    return f"{BASE}/box/+/{what}"


COLLECTOR_ONLINE = f"{BASE}/{COLLECTOR}/online"


def rights(discovery_prefix: str = "homeassistant", dark_senders: tuple[str, ...] = ()) -> str:
    """The broker's list of rights (mosquitto's `acl_file`): each box its own topics, the collector what it needs."""
    lines = ["# Everybody is held to what is named here.", f"pattern read {COLLECTOR_ONLINE}"]
    lines += [f"pattern write {BASE}/box/%u/{what}" for what in WRITTEN_BY_BOX]
    lines += [f"pattern read {BASE}/box/%u/{what}" for what in READ_BY_BOX]
    lines += [f"pattern write {discovery_prefix}/device/%u/sumlight/config"] if discovery_prefix else []
    lines += ["", f"user {COLLECTOR}", f"topic write {COLLECTOR_ONLINE}"]
    lines += [f"topic read {of_all_boxes(what)}" for what in ("state", "online", "record")]
    lines.append(f"topic write {of_all_boxes('ack')}")
    for sender in dark_senders:
        lines += ["", f"user {sender}", f"topic write {of_all_boxes('dark')}"]
        lines.append(f"topic read {of_all_boxes('dark_answer')}")
    return "\n".join(lines) + "\n"
