"""A simulated box that answers at its socket while a command runs at the terminal."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from sumlight.control.daemon import SOCKET
from tests.control.bench_box import BenchBox, recipe_text


@pytest.fixture
def box(tmp_path: Path) -> Iterator[BenchBox]:
    """A box that runs as long as a command at the terminal does."""
    bench = BenchBox(tmp_path).ready()
    bench.daemon.serve(tmp_path / SOCKET)
    bench.save("long", recipe_text(dose_mj_cm2=40))
    yield bench
    bench.daemon.close()


@pytest.fixture(autouse=True)
def english(monkeypatch: pytest.MonkeyPatch) -> None:
    """Commands speak English here, whoever runs the tests; another fixture says otherwise."""
    for name in ("LANGUAGE", "LC_ALL", "LC_MESSAGES", "LANG"):
        monkeypatch.delenv(name, raising=False)
