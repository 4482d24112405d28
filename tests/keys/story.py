"""One exposure on the simulated box, told by what can be seen of it from outside.

Nothing in it is a copy of a key: levels of pins, light, doses, states, faults and refusals only.
"""

from collections.abc import Generator, Iterator
from contextlib import closing
from copy import deepcopy
from functools import cache
from itertools import zip_longest
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import yaml

from sumlight.box.description import BoxDescription
from sumlight.protocol.errors import BadRequestError
from sumlight.twin import demo
from tests.control.bench_box import BenchBox, recipe_text

LOOK_S = 0.25
LASTS_S = 9.5
"""Ready after about one second, light until the eighth at most, the tail of K1 after that."""

Files = dict[str, Any]
Change = tuple[str, Any]
"""Dotted place in `box`, `recipe` or `scenario`, with numbers for items of lists, and what is written there."""


@cache
def _demo(path: Path) -> Any:
    return yaml.safe_load(path.read_text(encoding="utf-8"))


@cache
def _recipe(sides: str) -> Any:
    return yaml.safe_load(recipe_text(sides, dose_mj_cm2=12))


def files(*changes: Change, two_banks: bool = False) -> Files:
    """Box, recipe and scenario of a story. `wired` is how the box is built, whatever its box.yaml says."""
    box = deepcopy(_demo(demo.TWO_BANK_BOX if two_banks else demo.BOX))
    box["comforts"] = {"fan_pin": 13, "fan_run_on_s": 1.0, "pump_pin": 6, "pump_lead_s": 0.5, "beacon_pin": 19}
    recipe = deepcopy(_recipe("together" if two_banks else "one"))
    scenario = {"attendant_go_after_s": 0.2, "events": []}
    return changed({"box": box, "recipe": recipe, "scenario": scenario, "wired": deepcopy(box)}, *changes)


def changed(before: Files, *changes: Change) -> Files:
    """The same files with something else written at some places."""
    after = deepcopy(before)
    for place, value in changes:
        *way, last = place.split(".")
        block: Any = after
        for name in way:
            block = block.setdefault(name, {}) if isinstance(block, dict) else block[int(name)]
        block[int(last) if isinstance(block, list) else last] = value
    return after


def told(of: Files) -> list[Any]:
    """What happened, four times a second, and what it came to. Raises ValueError for files that no box runs with."""
    return list(_looks(of))


def is_told(of: Files, before: list[Any]) -> bool:
    """Whether these files make just this story; what would follow a difference is not lived through.

    Raises ValueError for files that no box runs with.
    """
    with closing(_looks(of)) as looks:
        return all(look == known for look, known in zip_longest(looks, before))


def _looks(of: Files) -> Generator[Any, None, None]:
    with TemporaryDirectory() as folder:
        bench = BenchBox(
            Path(folder),
            *of["scenario"]["events"],
            box=BoxDescription.model_validate(of["box"]),
            wiring=BoxDescription.model_validate(of["wired"]),
            **{key: value for key, value in of["scenario"].items() if key != "events"},
        )
        try:
            yield from _lived(bench, of)
        finally:
            bench.close()


def _lived(bench: BenchBox, of: Files) -> Iterator[Any]:
    bench.save("told", yaml.safe_dump(of["recipe"], allow_unicode=True))
    started = False
    began_s = bench.clock.now_s
    while bench.clock.now_s < began_s + LASTS_S:
        if not started and "start" in bench.exposure.may() and bench.sees_light():
            started = True
            try:
                bench.ask("start", recipe="told", panel="P1")
            except BadRequestError as refused:
                yield refused.code, refused.field
        bench.run(LOOK_S)
        bench.ask("acknowledge")
        yield _look(bench, of)
    yield _outcome(bench, began_s)


def _look(bench: BenchBox, of: Files) -> list[Any]:
    banks = [bank["name"] for bank in of["wired"]["banks"]]
    pins = sorted(bench.world.pin_factory.pins.values(), key=lambda pin: int(pin.number_bcm))
    return [
        bench.state,
        bench.loop.lid,
        [fault.kind.fault for fault in bench.loop.desk.standing()],
        [(bench.world.is_lit(name), bench.world.actinic_mw_cm2(name)) for name in banks],
        [watch.glass_mw_cm2 for watch in bench.loop.banks.values()],
        [
            (pin.number_bcm, pin.history[-1][1])
            for pin in pins
            if {True, False} <= {level for _, level in pin.history}  # one that is only claimed does nothing
            and pin.function == "output"
            and pin.number_bcm != of["wired"]["enable_pin"]  # its wave is judged by what K1 does
        ],
    ]


def _outcome(bench: BenchBox, began_s: float) -> list[Any]:
    picture = bench.snapshot()
    panel = picture["exposure"] or {"sides": []}
    return [
        list(bench.truth.dose_mj_cm2().items()),
        [(side["dose_mj_cm2"], side["lit_s"], side["expanded_uncertainty_mj_cm2"]) for side in panel["sides"]],
        [panel.get(key) for key in ("outcome", "doubtful", "hold_state")],
        picture["warnings"],
        [bank["strikes"] for bank in picture["banks"]],
        [(round(at_s - began_s, 6), said) for at_s, said in bench.world.log if "relay" in said or "K1" in said],
    ]
