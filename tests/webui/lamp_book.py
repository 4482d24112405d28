"""Invented lives of lamps in a logbook, for the tests of the page Lamps."""

import math
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random

from sumlight.store.logbook.lamps import NewTube
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.records import LampReading
from sumlight_web.services import AppServices
from tests.store.making import new_exposure
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, wait_until

HOURS_A_DAY = 2.0
STRENGTH_MW_CM2 = 5.2


def live(
    path: Path,
    days: int = 240,
    *,
    bank: str = "lower",
    until: datetime | None = None,
    per_h: float = 6e-4,
    strength_mw_cm2: float = STRENGTH_MW_CM2,
    worn: bool = False,
    factor_from: tuple[int, float] = (10**9, 1.0),
) -> None:
    """Six new tubes, so many days of use until now, one reading a day. `worn`: the last ones strike slowly and flicker.

    `factor_from` is a day and what is left of the light from it on.
    """
    until = datetime.now(UTC) if until is None else until
    begin, chance = until - timedelta(days=days), Random(11)
    with Logbook(path, durable=False) as book:
        begun = book.begin(new_exposure(sides="A"))
        side_id = begun.side_ids["A"]
        tubes = [NewTube(p, "T8 15 W (invented)", "UV-A 368 nm", f"No {p}", 0.0, 0, 2000.0) for p in range(1, 7)]
        book.lamps.fit_tubes(bank, tubes, begin, whole=True)
        for day in range(days):
            hours = HOURS_A_DAY * (day + 1)
            book.lamps.add_lamp_use(bank, 3600 * HOURS_A_DAY, 9)
            early = 1 + 0.08 * math.exp(-hours / 35)
            left = factor_from[1] if day >= factor_from[0] else 1.0
            light = strength_mw_cm2 * left * early * math.exp(-per_h * hours + chance.gauss(0, 0.008))
            late = worn and day > days - 12
            book.lamps.add_lamp_reading(
                LampReading(
                    bank,
                    side_id,
                    begin + timedelta(days=day + 0.9),
                    light,
                    62.0 + chance.gauss(0, 2),
                    (1.7 if late else 0.9) + chance.gauss(0, 0.03),
                    300.0,
                    flicker=(0.06 if late else 0.004) * (1 + chance.gauss(0, 0.05)),
                )
            )
        book.finish(begun.exposure_id, "completed", False, until)


def two_banks(control: FakeControl, services: AppServices) -> None:
    """Let the box say that it has an upper bank too, and wait until the page has heard it."""
    control.say(fake.snapshot(banks=[fake.bank(), fake.bank("upper", "B")]))
    wait_until(lambda: len((services.watch.latest().snapshot or {"banks": []})["banks"]) == 2)
