"""Fixtures of the checks inside the guest: one bench for all of them, and figures that are printed at the end."""

import json
import os
import shutil
import statistics
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.guest.inside import installed
from tests.guest.inside.bench import DATA, Bench

ROUND = "installed" if "INVOCATION_ID" in os.environ else os.environ["SUMLIGHT_LIGHTS_WHEN"]
"""systemd names its invocations; the other rounds are named after the relay's polarity."""

RESULT = Path(f"/mnt/share/result-{ROUND}.json")

_notes: list[str] = []


class Notes:
    """What was measured, for the report."""

    def say(self, text: str) -> None:
        """One line."""
        _notes.append(text)

    def spread(self, what: str, values_s: list[float]) -> None:
        """How measured times are spread."""
        ordered = sorted(1000 * value for value in values_s)
        share = statistics.quantiles(ordered, n=20, method="inclusive")
        _notes.append(
            f"{what}: {len(ordered)} samples, least {ordered[0]:.1f}, median {share[9]:.1f}, "
            f"95 % within {share[18]:.1f}, most {ordered[-1]:.1f} ms"
        )


@pytest.fixture(scope="session")
def notes() -> Notes:
    """Takes down figures."""
    return Notes()


@pytest.fixture(scope="session")
def whole_bench() -> Iterator[Bench]:
    """The one bench of the session."""
    shutil.rmtree(DATA, ignore_errors=True)  # of the round before
    bench = Bench()
    yield bench
    bench.close()


@pytest.fixture
def bench(whole_bench: Bench) -> Iterator[Bench]:
    """The bench, with a new record of what the lines do. What the daemon says goes into a failing check's report."""
    whole_bench.bury()
    whole_bench.lines.forget()
    yield whole_bench
    print(whole_bench.said())


@pytest.fixture(scope="session")
def box() -> Iterator[installed.Installed]:
    """The box that was installed, started and unlocked. Whoever asks for it last takes its services away."""
    found = installed.Installed(installed.DATA)
    found.start()
    yield found
    found.forget_client()
    found.sensor.close()


def pytest_terminal_summary(terminalreporter: Any) -> None:
    """Print the figures and leave the counts for the host."""
    if _notes:
        terminalreporter.section("measured in the emulated machine")
        for note in _notes:
            terminalreporter.write_line(note)
    counts = {word: len(terminalreporter.stats.get(word, [])) for word in ("passed", "failed", "error", "skipped")}
    RESULT.write_text(json.dumps(counts))
