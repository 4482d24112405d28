"""The 24 V circuit, read from the terminal plan and solved with faults: no single one keeps K1 in.

The plan is drawn from the same wires as control.svg. What each part is inside is written here anew; nothing of
sheets/ is imported. IEC 60204-1 clause 9.4.3 (earth faults must not start a machine or keep it from stopping), 4.3.3
and table 6, IEC 60947-4-1 (a DC contactor drops between 10 and 75 % of its voltage), IEC 60127-2: all from memory.
"""

import csv
import itertools
import re
from dataclasses import dataclass

import pytest

from .conftest import ROOT
from .nodal import Circuit

with (ROOT / "hardware" / "drawings" / "terminals.csv").open(encoding="utf-8", newline="") as _file:
    PLAN = [row for row in csv.DictReader(_file) if row["variant"] != "LEDs"]
with (ROOT / "hardware" / "parts.csv").open(encoding="utf-8", newline="") as _file:
    PARTS = {row["designator"]: row["rating"] for row in csv.DictReader(_file)}

Ends = tuple[str, str]
WIRES: dict[str, Ends] = {row["wire"]: (row["from"], row["to"]) for row in PLAN if row["wire"].startswith(("1", "3"))}
CONTROL = {number: ends for number, ends in WIRES.items() if number.startswith("1")}

COIL_OHM = 24.0**2 / 3
"""A 24 V DC coil of 3 W."""
SUPPLY_V, LIMIT_A = 24 * 1.05, 2.5 * 1.1
FAULT_OHM = 0.1
DROPS_V, PULLS_IN_V = 0.1 * 24, 0.85 * 24
"""Below the first every DC contactor has dropped, above the second every one has pulled in (IEC 60947-4-1)."""
INPUT_OHM, INPUT_OPEN_V = 2200.0, 5.0
"""An input of A3, and the voltage below which it surely reads open (IEC 61131-2, type 1: 0 to 5 V)."""

CUTS = {"F3": ("11", "12"), "S2": ("11", "12"), "S3": ("11", "12"), "K2": ("11", "14")}
INPUT_CONTACTS = {
    "S4": ("13", "14", "1"),
    "S5": ("13", "14", "2"),
    "K1": ("21", "22", "3"),
    "S2": ("21", "22", "4"),
    "S6": ("11", "12", "5"),
}
FUSES = {"F2": 0.5, "F4": 1.0, "F5": 0.5}


@dataclass(frozen=True)
class Solved:
    """What a state of the circuit gives."""

    coil_v: float
    relay_v: float
    input_v: dict[str, float]
    blown: frozenset[str]


def solved(
    wires: dict[str, Ends] = CONTROL,
    *,
    opened: frozenset[str] = frozenset(),
    contacts_open: frozenset[str] = frozenset(),
    driven: bool = False,
    faults: tuple[str, ...] = (),
    blown: frozenset[str] = frozenset(),
    link: bool = True,
) -> Solved:
    """Solve with these wires, cuts and input contacts open, and wires' ends earthed; fuses blow at 2.1 times."""
    circuit = Circuit("X1:PE")
    for start, end in wires.values():
        circuit.join(start, end)
    if link:
        circuit.join("X5:1", "X5:2")
    circuit.join("X5:2", "X1:PE")
    for part, (one, other) in CUTS.items():
        if part not in opened:
            circuit.join(f"{part}:{one}", f"{part}:{other}")
    for part, (one, other, _channel) in INPUT_CONTACTS.items():
        if part not in contacts_open:
            circuit.join(f"{part}:{one}", f"{part}:{other}")
    for _one, _other, channel in INPUT_CONTACTS.values():
        circuit.join(f"A3:{channel}", "A3:0", INPUT_OHM)
    for relay in ("K1", "K11"):
        circuit.join(f"{relay}:A1", f"{relay}:A2", COIL_OHM)
    if driven:
        circuit.join("A4:+", "A4:1")
    for fuse in FUSES.keys() - blown:
        circuit.join(f"{fuse}:1", f"{fuse}:2")
    for terminal in faults:
        circuit.join(terminal, "X1:PE", FAULT_OHM)
    volts, _current_a = circuit.solve("T3:+", "T3:-", SUPPLY_V, LIMIT_A)

    def across(one: str, other: str) -> float:
        return volts.get(one, 0.0) - volts.get(other, 0.0)

    more = {fuse for fuse in FUSES.keys() - blown if across(f"{fuse}:1", f"{fuse}:2") / 1e-3 > 2.1 * FUSES[fuse]}
    if more:
        return solved(
            wires, opened=opened, contacts_open=contacts_open, driven=driven, faults=faults, link=link,
            blown=blown | more,
        )  # fmt: skip
    inputs = {part: across(f"A3:{channel}", "A3:0") for part, (_, _, channel) in INPUT_CONTACTS.items()}
    return Solved(across("K1:A1", "K1:A2"), across("K11:A1", "K11:A2"), inputs, blown)


def without(number: str) -> dict[str, Ends]:
    """The control circuit with one wire broken."""
    return {other: ends for other, ends in CONTROL.items() if other != number}


def unearthed_chain() -> set[str]:
    """Numbers of the wires from F2 to K1's coil, found by walking; not from any list of the drawing."""
    found, at = set(), "F2:2"
    through = {**{f"{p}:{a}": f"{p}:{b}" for p, (a, b) in CUTS.items()}}
    while at != "K1:A1":
        (number, end), = [
            (n, (set(ends) - {at}).pop()) for n, ends in CONTROL.items() if at in ends and n not in found
        ]  # fmt: skip
        found.add(number)
        at = through.get(end, end)
    return found


def test_the_sound_circuit_pulls_k1_in_and_each_cut_drops_it() -> None:
    """Else the tests below would find darkness for the wrong reason."""
    assert solved().coil_v > PULLS_IN_V
    assert not solved().blown
    for cut in CUTS:
        assert abs(solved(opened=frozenset({cut})).coil_v) < DROPS_V, cut
    assert solved(driven=True).relay_v > PULLS_IN_V
    assert abs(solved().relay_v) < DROPS_V


@pytest.mark.parametrize("number", CONTROL)
@pytest.mark.parametrize("cut", CUTS)
def test_an_earth_fault_at_any_wire_never_bridges_a_cut(number: str, cut: str) -> None:
    """At either end of the wire, with that one contact open: K1 drops, or stays dropped."""
    for end in CONTROL[number]:
        assert abs(solved(opened=frozenset({cut}), faults=(end,)).coil_v) < DROPS_V


def test_an_earth_fault_anywhere_before_the_coil_ends_dark_and_blows_f2() -> None:
    """Detected at once, not left to wait for a second fault."""
    chain = unearthed_chain()
    assert len(chain) == 5
    for number in chain:
        for end in CONTROL[number]:
            found = solved(faults=(end,))
            assert abs(found.coil_v) < DROPS_V, number
            assert "F2" in found.blown, number


def test_an_earth_fault_of_24_v_itself_takes_it_from_everything() -> None:
    """Before the fuses the supply's own limit works: nothing pulls in."""
    for end in ("T3:+", "X3:1", "F2:1", "F4:1", "F5:1"):
        found = solved(faults=(end,), driven=True)
        assert abs(found.coil_v) < DROPS_V
        assert abs(found.relay_v) < DROPS_V


@pytest.mark.parametrize("number", CONTROL)
def test_with_any_wire_broken_every_cut_still_drops_k1(number: str) -> None:
    """A loose wire takes a function away; it never defeats one."""
    for cut in CUTS:
        assert abs(solved(without(number), opened=frozenset({cut})).coil_v) < DROPS_V


def test_a_broken_wire_of_the_coils_own_circuit_ends_dark() -> None:
    """From T3 through the chain and back."""
    back = {number for number, ends in CONTROL.items() if set(ends) in ({"K1:A2", "X3:2"}, {"X3:2", "T3:-"})}
    ahead = {number for number, ends in CONTROL.items() if set(ends) in ({"T3:+", "X3:1"}, {"X3:1", "F2:1"})}
    assert (len(back), len(ahead)) == (2, 2)
    for number in unearthed_chain() | back | ahead:
        assert abs(solved(without(number)).coil_v) < DROPS_V, number


@pytest.mark.parametrize("number", CONTROL)
def test_no_earth_fault_and_no_broken_wire_drives_a_bank_relay_or_closes_an_input(number: str) -> None:
    """With A4 dark K11 stays open; an open contact of the inputs reads open."""
    for found in (*(solved(faults=(end,)) for end in CONTROL[number]), solved(without(number))):
        assert abs(found.relay_v) < DROPS_V
    for part in INPUT_CONTACTS:
        for end in CONTROL[number]:
            found = solved(contacts_open=frozenset({part}), faults=(end,))
            assert abs(found.input_v[part]) < INPUT_OPEN_V, part


def test_a_coil_on_the_wrong_side_of_its_contacts_would_be_found() -> None:
    """The counter-example: contacts in the earthed conductor, where one earth fault bridges them all."""
    wrong = {**CONTROL}
    for number, ends in CONTROL.items():
        if set(ends) == {"F2:2", "F3:11"}:
            wrong[number] = ("F2:2", "K1:A1")
        elif set(ends) == {"K2:14", "K1:A1"}:
            wrong[number] = ("K2:14", "X3:2")
        elif set(ends) == {"K1:A2", "X3:2"}:
            wrong[number] = ("K1:A2", "F3:11")
    assert solved(wrong).coil_v > PULLS_IN_V
    assert solved(wrong, opened=frozenset({"S3"}), faults=("F3:11",)).coil_v > PULLS_IN_V


def test_two_earth_faults_without_the_link_could_bridge_a_cut() -> None:
    """Why X5 must be in its place: with it the first fault blows F2, without it nobody sees the first one."""
    two = ("S3:11", "S3:12")
    opened = frozenset({"S3"})
    assert solved(opened=opened, faults=two, link=False).coil_v > PULLS_IN_V
    assert abs(solved(opened=opened, faults=two).coil_v) < DROPS_V


def rated(designator: str, pattern: str) -> float:
    """A number of a part's rating."""
    found = re.search(pattern, PARTS[designator])
    assert found, (designator, pattern)
    return float(found.group(1))


def test_fuse_coil_and_wire_fit_each_other() -> None:
    """Load below fuse, fuse below the wire's current, supply strong enough to blow the chain's fuse in time.

    0.75 mm² carries 8.5 A in a duct (IEC 60204-1 table 6, B2); a quick-acting fuse opens within 2 s at 2.75 times its
    current (IEC 60127-2 sheet 1). From memory.
    """
    coil_a = rated("K1", r"coil of (\d+) W") / 24
    supply_a = rated("T3", r"; ([\d.]+) A")
    for fuse, amperes in FUSES.items():
        assert rated(fuse, r"^([\d.]+) A quick-acting") == amperes
        assert amperes <= 8.5
    assert 1.5 * coil_a <= FUSES["F2"]
    assert 2 * 1.5 * rated("K11", r"coil of (\d+) W") / 24 <= FUSES["F4"]
    assert 5 * 25.2 / rated("R51", r"^([\d.]+) kΩ") / 1000 <= FUSES["F5"] / 1.5
    assert supply_a >= 2.75 * FUSES["F2"]
    assert supply_a >= 2.5 * FUSES["F4"]
    for row in PLAN:
        if row["wire"][0] in "123":
            assert float(row["mm2"]) >= (0.75 if row["wire"].startswith("1") else 1.5)


def test_contacts_of_the_inputs_are_above_their_least_load() -> None:
    """17 V and 5 mA for a mirror contact (common figure of auxiliary contacts, from memory), at the weakest supply."""
    ohm = 1000 * rated("R51", r"^([\d.]+) kΩ")
    least_a = (24 * 0.95 - 1.4) / (ohm * 1.05)
    assert 24 * 0.95 >= rated("K1", r"from (\d+) V") == 17
    assert 1000 * least_a >= rated("K1", r"and (\d+) mA$") == 5
    most_w = (24 * 1.05) ** 2 / (ohm * 0.95)
    assert most_w <= rated("R51", r"; ([\d.]+) W")


def test_the_driver_switches_fully_and_loads_no_pin() -> None:
    """U11's diode gets 4 mA or more and the pin gives 8 mA at most; the gate lies between 10 and 20 V."""
    series, upper, lower = (rated(part, r"^([\d.]+)") for part in ("R21", "R31", "R41"))
    least_a, most_a = (3.2 - 1.4) / (series * 1.05), (3.4 - 1.1) / (series * 0.95)
    assert least_a >= 0.0039
    assert most_a <= 0.008
    for supply_v, share in itertools.product((24 * 0.95, 24 * 1.05), (0.95, 1.05)):
        gate_v = (supply_v - 0.3) * upper * share / (upper * share + lower)
        assert 10 <= gate_v <= 20
        assert (supply_v / (1000 * (upper + lower))) <= least_a
