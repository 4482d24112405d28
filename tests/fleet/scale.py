"""Write the chapter *Ten thousand boxes* from figures that were measured: `python -m tests.fleet.scale`.

What was measured is in tests/benchmarks/LAST.md (benchmark `fleet-load`, a full run); the rest is reckoned
here from constants of the code. The words are in scale_template.md.
"""

import re
import sys
from pathlib import Path

from sumlight import fleet
from sumlight.fleet.publisher import STATE_S, TELL_S
from sumlight.fleet.topics import BASE, COLLECTOR_ONLINE, READ_BY_BOX, WRITTEN_BY_BOX
from sumlight.fleet.window import WINDOW
from tests.benchmarks import keeping
from tests.benchmarks.fleet import BOXES as MEASURED_BOXES
from tests.benchmarks.fleet import DAY_S as SHORT_DAY_S
from tests.benchmarks.fleet_load import RECORDS_A_DAY

TEMPLATE = Path(__file__).with_name("scale_template.md")
TEXT = Path(str(fleet.__file__)).parent / "scale.md"
BOXES, SITES = 10_000, 100
DAYS_A_YEAR, DAY_S = 365, 86_400
LIT_SHARE = 0.02
"""Of a day under light: 20 panels of a minute and a half."""

PER_DAY = {"record": f"{RECORDS_A_DAY}", "state": f"{DAY_S / TELL_S:.0f} and more", "online": "a few"}
HOLDS = {
    "record": "a record of the logbook as it stands now",
    "state": f"what the box does; again every {TELL_S:g} s, under light every {STATE_S:g} s",
    "online": "whether it is there, with the name of its start; the broker says *no* for it",
    "ack": "how far the collector has its records",
    "dark": "somebody asks for dark",
    "dark_answer": "whether the controller took it",
}
RETAINED = ("state", "online", "ack")


def measured(benchmark: str, figure: str) -> float:
    """A figure of LAST.md by the beginning of its name. Raises LookupError for one that was never measured."""
    for row in keeping.from_text(keeping.PATH.read_text(encoding="utf-8")):
        if row.benchmark == benchmark and row.figure.startswith(figure):
            return float(re.split(r"\s", row.measured)[0])
    raise LookupError(f"LAST.md has no '{figure}' of {benchmark}: run the benchmark with --keep")


def _campaigns_records() -> int:
    """How many records the benchmark `fleet` counted; its name for the figure holds them."""
    for row in keeping.from_text(keeping.PATH.read_text(encoding="utf-8")):
        if row.benchmark == "fleet" and (found := re.fullmatch(r"records lost, of (\d+)", row.figure)):
            return int(found[1])
    raise LookupError("LAST.md has no campaign of fleet: run the benchmark with --keep")


def chapter() -> str:
    """The whole text."""
    records_per_s, states_per_s = BOXES * RECORDS_A_DAY / DAY_S, BOXES * (1 / TELL_S + LIT_SHARE / STATE_S)
    takes_records, takes_states = measured("fleet-load", "records taken"), measured("fleet-load", "states taken")
    record_b, state_b = measured("fleet-load", "a record on the wire"), measured("fleet-load", "a state on the wire")
    stored_b = measured("fleet-load", "database for each record")
    a_year = BOXES * RECORDS_A_DAY * DAYS_A_YEAR
    kbit_per_s = 8 * (records_per_s * record_b + states_per_s * state_b) / 1000
    topics = [
        f"| `{BASE}/box/BOX_ID/{what}` | {'box' if what in WRITTEN_BY_BOX else 'others'} |"
        f" {PER_DAY.get(what, 'as needed')} |"
        f" {'yes' if what in RETAINED else 'no'} | {HOLDS[what]} |"
        for what in dict.fromkeys((*WRITTEN_BY_BOX, *READ_BY_BOX))
    ]
    values = {
        "measured_boxes": MEASURED_BOXES,
        "kept_records": f"{_campaigns_records():,}",
        "lost": f"{measured('fleet', 'records lost'):.0f}",
        "doubled": f"{measured('fleet', 'records doubled'):.0f}",
        "short_day_s": f"{SHORT_DAY_S:g}",
        "offered_per_s": f"{MEASURED_BOXES * RECORDS_A_DAY / SHORT_DAY_S:.0f}",
        "times": f"{DAY_S / SHORT_DAY_S:,.0f}",
        "topics": "\n".join(topics),
        "collector_online": COLLECTOR_ONLINE,
        "boxes": f"{BOXES:,}",
        "a_day": RECORDS_A_DAY,
        "records_per_s": f"{records_per_s:.1f}",
        "takes_records": f"{takes_records:.0f}",
        "records_share": f"{100 * records_per_s / takes_records:.0f}",
        "tell_s": f"{TELL_S:g}",
        "state_s": f"{STATE_S:g}",
        "states_per_s": f"{states_per_s:.0f}",
        "takes_states": f"{takes_states:.0f}",
        "states_share": f"{100 * states_per_s / takes_states:.0f}",
        "mbit_per_s": f"{kbit_per_s / 1000:.1f}",
        "window": WINDOW,
        "records_a_day": f"{BOXES * RECORDS_A_DAY:,}",
        "catch_up_h": f"{BOXES * RECORDS_A_DAY / (takes_records - records_per_s) / 3600:.0f}",
        "million_a_year": f"{BOXES * RECORDS_A_DAY * DAYS_A_YEAR / 1e6:.0f}",
        "stored_b": f"{stored_b:.0f}",
        "gb_a_year": f"{a_year * stored_b / 1e9:.0f}",
        "million_a_month": f"{a_year / 12 / 1e6:.0f}",
        "sites": SITES,
        "boxes_a_site": BOXES // SITES,
        "base": BASE,
        "tb_a_year": f"{a_year * stored_b / 1e12:.1f}",
        "messages_per_s": f"{states_per_s + records_per_s:.0f}",
        "a_site_per_s": f"{(states_per_s + records_per_s) / SITES:.0f}",
        "thousand_at_most": f"{min(takes_states * TELL_S, takes_records * DAY_S / RECORDS_A_DAY) / 1000:.0f}",
    }
    return TEMPLATE.read_text(encoding="utf-8").format_map(values)


if __name__ == "__main__":
    TEXT.write_text(chapter(), encoding="utf-8")
    sys.stdout.write(f"{TEXT}\n")
