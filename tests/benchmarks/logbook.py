"""Ten years of logbook: its size, and how soon the first screen of every page and export is there."""

import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from datetime import datetime, timedelta
from itertools import islice
from pathlib import Path
from random import Random

from sumlight.light.lampanswer import answer, compare
from sumlight.store.logbook.export import WHATS, rows
from sumlight.store.logbook.logbook import Logbook
from sumlight.store.logbook.weekly_statistics import courses
from sumlight.store.maintenance.backup import back_up
from sumlight.store.maintenance.integrity import check
from sumlight_web.app import create_app
from sumlight_web.services import PageConfig
from tests.benchmarks import decade
from tests.benchmarks.figure import Figure

QUICK_SIDES = 3650
LIMIT_MS = 150
LIMIT_GB = 2.0
REPEATS = 7
RECORDS = 6
SCREEN = 50


def measure(quick: bool) -> list[Figure]:
    """Fill, then ask. The quick form fills half a year; its size is scaled up, its times are those of half a year."""
    sides = QUICK_SIDES if quick else decade.SIDES
    span = f"{sides} sides" + (", a twentieth of ten years" if quick else ", ten years")
    with tempfile.TemporaryDirectory() as folder:
        data = Path(folder)
        path = data / "logbook.sqlite"
        samples = decade.fill(path, sides)
        size = path.stat().st_size
        pages = _pages(data, sides)
        questions = _questions(path)
        with Logbook.open_reader(path) as book:
            last = datetime.fromisoformat(str(book.recent(1)[0]["started_utc"]))
        began_s = time.monotonic()
        looked = check(path, thorough=False)
        check_s = time.monotonic() - began_s
        began_s = time.monotonic()
        back_up(path, data / "copy.sqlite")
        copy_s = time.monotonic() - began_s
        if looked.problems or last - decade.FIRST_UTC < timedelta(days=365 * decade.YEARS - 30):
            raise RuntimeError(f"the generator did not fill ten years: {looked.problems}, last {last}")
    gigabytes = size / sides * decade.SIDES / 1e9
    usual_ms = 1000 * min(pages.values())
    scaled = " (scaled up)" if quick else ""
    slowest_page, slowest = max(pages, key=lambda name: pages[name]), max(questions, key=lambda name: questions[name])
    size_name = f"logbook: size of {decade.SIDES} sides{scaled}"
    return [
        Figure(size_name, gigabytes, "GB", "at most", LIMIT_GB),
        Figure("logbook: conversions of 50 ms a side, mean", samples / sides, "", "for comparison"),
        Figure(f"logbook: slowest page, {slowest_page}", 1000 * pages[slowest_page], "ms", "at most", LIMIT_MS),
        Figure("logbook: the other pages", usual_ms, "ms", "at most", LIMIT_MS),
        Figure(f"logbook: slowest question, {slowest}", 1000 * questions[slowest], "ms", "at most", LIMIT_MS),
        Figure(f"logbook: looking through {span}", check_s, "s", "for comparison"),
        Figure(f"logbook: backup of {span}", copy_s, "s", "for comparison"),
    ]


def _pages(data: Path, sides: int) -> dict[str, float]:
    """Seconds to the whole answer of each page over the real application, best of some askings."""
    app = create_app(PageConfig(data / "nobody.sock", data))
    exposures = sides // 2
    chance = Random(5)
    asked = ["/lamps/", "/panels/", "/panels/drift", f"/panels/?before={exposures // 2}", "/panels/?before=25"]
    asked += [f"/panels/{chance.randint(1, exposures)}" for _ in range(RECORDS)]
    found: dict[str, float] = {}
    with closing(app.extensions["sumlight"]):
        client = app.test_client()
        for address in asked:

            def ask(address: str = address) -> None:
                status = client.get(address).status_code
                if status != 200:
                    raise RuntimeError(f"{address} answered {status}")

            kind = "a record" if address.removeprefix("/panels/").isdigit() else "a list"
            kind = "lamps" if address == "/lamps/" else kind
            found[kind] = max(found.get(kind, 0.0), _best_s(ask))
    return found


def _questions(path: Path) -> dict[str, float]:
    """Seconds of every other question a page or an export asks, opening of the logbook included, best of some."""

    def with_book(ask: Callable[[Logbook], object]) -> float:
        def once() -> None:
            with Logbook.open_reader(path) as book:
                ask(book)

        return _best_s(once)

    def lamps(book: Logbook) -> object:
        usual = book.lamps.usual_recipe()
        return compare(
            [answer(book.lamps.lamp_history(bank["bank"]), usual) for bank in book.lamps.banks()]
        ), book.lamps.tubes()

    def charts(book: Logbook) -> object:
        return [course.chart for course in courses(book)]

    found = {"lamps": with_book(lamps), "charts of two years": with_book(charts)}
    found["at the start of control"] = with_book(lambda book: (book.interrupted(), book.bank_state("lower")))
    for what in WHATS:

        def screen(book: Logbook, what: str = what) -> object:
            return list(islice(rows(book, what), SCREEN))  # type: ignore[arg-type]

        found[f"export of {what}, first {SCREEN} rows"] = with_book(screen)
    return found


def _best_s(ask: Callable[[], object]) -> float:
    """What it takes when nothing else wants the processor; other work on the machine would be measured else."""
    times = []
    for _ in range(REPEATS):
        began_s = time.perf_counter()
        ask()
        times.append(time.perf_counter() - began_s)
    return min(times)
