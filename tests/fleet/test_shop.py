"""What a shop sees: the answers, and the page that shows them. All boxes here are invented."""

import threading
import urllib.request
from datetime import timedelta
from typing import Any

import pytest
from scipy import stats
from sqlalchemy import Engine, insert

from sumlight.craft.tablet import TabletReading, threshold_interval
from sumlight.fleet.collector.intake import Intake
from sumlight.fleet.collector.tables import CURRENT, DELIVERIES
from sumlight.fleet.messages import BODIES, BoxState
from sumlight.fleet.publisher import state_of
from sumlight.fleet.shop import questions
from sumlight.fleet.shop.drift import compared
from sumlight.fleet.shop.page import Page, serve
from tests.fleet.air import NOW
from tests.ports import free_port

UTC = "2026-11-30T11:59:50.000000Z"


class Clock:
    """Stands still."""

    real_time = False

    def mono_s(self) -> float:
        """None of it."""
        return 0.0

    def utc(self) -> Any:
        """Noon."""
        return NOW

    def wait_until(self, mono_s: float) -> None:
        """At once."""


def put(engine: Engine, box_id: str, kind: str, *bodies: dict[str, Any]) -> None:
    """Records as the collector keeps them."""
    with engine.begin() as link:
        for body in bodies:
            BODIES[kind].model_validate(body)
            record = f"{abs(hash((box_id, kind, repr(body)))):016x}"[:16]
            at_utc = body.get("started_utc") or body.get("read_utc") or body.get("fitted_utc")
            row = {"box_id": box_id, "record": record, "kind": kind, "at_utc": at_utc, "body": body}
            link.execute(insert(CURRENT).values(row))


def exposure(
    number: int, verdict: str = "good", dose_mj_cm2: float = 60.0, wide_mj_cm2: float | None = 4.0, **changes: Any
) -> dict[str, Any]:
    """A finished panel."""
    side = {
        "side": "A", "bank": "lower", "target_mj_cm2": 60.0, "dose_mj_cm2": dose_mj_cm2, "lit_s": 12.0, "pauses": 0,
        "half_width_repeat_mj_cm2": None, "half_width_absolute_mj_cm2": wide_mj_cm2, "state": "done",
    }  # fmt: skip
    return {
        "exposure_id": number, "panel": f"P{number}", "what": "panel", "recipe": "blue-38", "recipe_sha256": "x",
        "started_utc": UTC, "ended_utc": UTC, "outcome": "completed", "doubtful": False, "utc_unsure": False,
        "verdict": verdict, "simulated": True, "sides": [side], **changes,
    }  # fmt: skip


def tablet(step: int, dose_mj_cm2: float, **changes: Any) -> dict[str, Any]:
    """A reading."""
    return {
        "exposure_id": 1, "recipe": "blue-38", "zone": "1", "dose_mj_cm2": dose_mj_cm2, "step": str(step),
        "half": False, "convention": "last_held", "lot": "L1", "read_utc": UTC, "simulated": True, "densities": [],
        **changes,
    }  # fmt: skip


def asked(engine: Engine, language: str = "en", path: str = "/", method: str = "GET") -> tuple[str, str]:
    """Status and page."""
    said: list[str] = []
    environ = {"PATH_INFO": path, "REQUEST_METHOD": method, "HTTP_ACCEPT_LANGUAGE": language}
    raw = b"".join(Page(engine, Clock())(environ, lambda status, _heads: said.append(status)))
    return said[0], raw.decode()


def test_an_empty_shop_says_so(database: Engine) -> None:
    """In both languages; nothing else is served, and nothing is taken."""
    assert "No box has been heard of yet." in asked(database)[1]
    assert "Noch hat sich kein Kasten gemeldet." in asked(database, "de-CH,fr")[1]
    assert asked(database, path="/dark")[0] == asked(database, method="POST")[0] == "404 Not Found"


def test_a_page_that_grows_is_sent_whole(database: Engine) -> None:
    """By a real server, which adds the length to the heads of each answer."""
    with serve(database, "127.0.0.1", free_port()) as server:
        for verdict in ("", "good"):
            if verdict:
                put(database, "one", "exposure", exposure(1, verdict))
            asker = threading.Thread(target=server.handle_request)
            asker.start()
            with urllib.request.urlopen(f"http://127.0.0.1:{server.server_port}/", timeout=30) as answer:
                assert answer.read().endswith(b"</html>")
            asker.join()


def test_the_same_recipe_is_counted_box_by_box(database: Engine) -> None:
    """Verdicts as people gave them; drafts of other kinds and panels that came to nothing do not count."""
    put(database, "one", "exposure", exposure(1), exposure(2, "too_little"), exposure(3, dose_mj_cm2=70.0))
    put(database, "one", "exposure", exposure(4, outcome="abandoned"), exposure(5, what="strip"))
    put(database, "two", "exposure", exposure(1, "too_much"), exposure(2, "", 99.0, doubtful=True))
    with database.connect() as link:
        one, two = questions.results(link)
    assert (one.panels, one.good, one.too_little, one.too_much, one.median_dose_mj_cm2) == (3, 2, 1, 0, 60.0)
    assert (two.panels, two.good, two.too_much, two.doubtful, two.median_dose_mj_cm2) == (2, 0, 1, 1, 60.0)
    assert "60,0 mJ/cm²" in asked(database, "de")[1]
    assert "Kasteneinheiten" not in asked(database, "de")[1]


def test_doses_of_a_box_that_nothing_has_checked_are_in_its_own_units(database: Engine) -> None:
    """Its doses of before a calibration do not mix with those of after it."""
    put(database, "one", "exposure", exposure(1, dose_mj_cm2=20.0, wide_mj_cm2=None))
    put(database, "two", "exposure", exposure(1, dose_mj_cm2=20.0, wide_mj_cm2=None), exposure(2))
    with database.connect() as link:
        one, two = questions.results(link)
    assert (one.median_dose_mj_cm2, one.relative) == (20.0, True)
    assert (two.median_dose_mj_cm2, two.relative) == (60.0, False)
    assert "20,0 Kasteneinheiten" in asked(database, "de")[1]


def test_tubes_that_have_burned_most_of_their_life_are_ordered(database: Engine) -> None:
    """1000 h of 1200 h are; 500 h are not, nor one that was taken out."""
    tube = {
        "bank": "lower", "position": 1, "lamp_type": "T8 15 W", "wavelength_class": "UV-A 365 nm",
        "expected_life_h": 1200.0, "fitted_utc": UTC, "hours_at_fitting": 0.0, "bank_total_lamp_hours": 200.0,
        "removed_utc": None, "hours_at_removal": None,
    }  # fmt: skip
    reading = {
        "bank": "lower", "read_utc": UTC, "irradiance_mw_cm2": 4.0, "lamp_hours": 1000.0, "total_lamp_hours": 1200.0,
        "strikes": 5, "warm_up_s": None, "air_c": None,
    }  # fmt: skip
    put(database, "one", "lamp_reading", reading)
    put(database, "one", "tube", tube, {**tube, "position": 2, "bank_total_lamp_hours": 700.0})
    put(database, "one", "tube", {**tube, "position": 3, "removed_utc": UTC, "hours_at_removal": 1000.0})
    with database.connect() as link:
        assert questions.orders(link) == [questions.Order("T8 15 W", "UV-A 365 nm", 1, ("one",))]


def test_what_runs_now_who_is_silent_and_who_is_there_twice(database: Engine) -> None:
    """A state that is two minutes old is no longer the present."""
    intake = Intake(database)
    state = state_of("one", "0" * 16, UTC, None, 0).model_dump() | {"reachable": True, "state": "light"}
    hostile = {"recipe": "<script>alert(1)</script>", "calibration_due": True, "left_s": 61.0, "faults": ["tube_out"]}
    newest = BoxState.model_validate(state | hostile)
    intake.put_states([BoxState.model_validate(state | {"left_s": 62.0}), newest], NOW)
    intake.put_states([BoxState.model_validate(state | {"box_id": "old"})], NOW - timedelta(minutes=3))
    with database.begin() as link:
        for epoch in "ab":
            row = {"box_id": "one", "epoch": epoch * 16, "seq": 1, "mark": "", "begun_utc": UTC, "last_utc": UTC}
            link.execute(insert(DELIVERIES).values(row))
    with database.connect() as link:
        found = {box.box_id: box for box in questions.now(link, NOW)}
    assert (found["one"].silent, found["one"].twice, found["old"].silent, found["old"].twice) == (
        False,
        True,
        True,
        False,
    )
    text = asked(database)[1]
    assert "<script>" not in text
    assert "1:01" in text
    assert "two computers have this name" in text
    assert "silent" in text
    assert "Eine Röhre" in asked(database, "de")[1]
    assert "no absolute scale" in text


def test_two_boxes_scales_are_compared_with_welchs_interval() -> None:
    """Against scipy.stats.ttest_ind(equal_var=False) on ln of the thresholds; degrees of freedom truncated (G.4.1)."""
    one = [TabletReading(dose, step, "last_held") for dose, step in ((60.0, 7), (80.0, 9), (40.0, 5), (120.0, 8))]
    other = [TabletReading(dose, step, "last_held") for dose, step in ((60.0, 6), (90.0, 9), (30.0, 4))]
    drift = compared(one, other)
    assert drift is not None
    import math

    logs = [[math.log(math.sqrt(math.prod(threshold_interval(each)))) for each in side] for side in (one, other)]
    judged = stats.ttest_ind(*logs, equal_var=False)
    half = (
        stats.t.ppf(0.97725, math.floor(judged.df))
        * (judged.confidence_interval(0.5).high - judged.confidence_interval(0.5).low)
        / 2
        / stats.t.ppf(0.75, judged.df)
    )
    assert math.log(drift.ratio) == pytest.approx(sum(logs[0]) / 4 - sum(logs[1]) / 3)
    assert math.log(drift.high / drift.low) / 2 == pytest.approx(half, rel=2e-3)


def test_boxes_that_differ_by_two_steps_are_told_and_by_less_than_one_are_not(database: Engine) -> None:
    """Two steps are a factor of two (0.15 a step, ISO 5 densities); one step is what a tablet resolves."""
    put(database, "one", "tablet_reading", *(tablet(7, dose) for dose in (60.0, 61.0, 62.0)))
    put(database, "two", "tablet_reading", *(tablet(5, dose) for dose in (60.0, 61.0, 62.0)))
    put(database, "three", "tablet_reading", *(tablet(7, dose) for dose in (63.0, 64.0, 65.0)))
    put(database, "four", "tablet_reading", tablet(7, 60.0), tablet(7, 61.0, lot="L2"), tablet(7, 62.0, recipe="other"))
    with database.connect() as link:
        found = {(each.one, each.other): each.drift for each in questions.drifts(link)}
    assert set(found) == {("one", "two"), ("one", "three"), ("three", "two")}
    assert found["one", "two"].ratio == pytest.approx(10**-0.3, rel=1e-6)
    assert found["one", "two"].differs
    assert not found["one", "three"].differs
    assert "they differ" in asked(database)[1]


def test_tablets_are_compared_by_the_densities_of_their_certificate(database: Engine) -> None:
    """Two boxes that are the same: what the dose is raised by is what the certificate says lies between the steps."""
    own = [0.05 + 0.15 * step + (0.1 if step > 5 else 0.0) for step in range(21)]  # a jump before step 7
    raised = 10 ** (own[6] - own[4])
    put(database, "one", "tablet_reading", *(tablet(5, dose, densities=own) for dose in (60.0, 61.0, 62.0)))
    put(database, "two", "tablet_reading", *(tablet(7, raised * dose, densities=own) for dose in (60.0, 61.0, 62.0)))
    with database.connect() as link:
        (found,) = questions.drifts(link)
    assert found.drift.ratio == pytest.approx(1.0)


def test_one_reading_of_a_box_compares_nothing() -> None:
    """Nor does one in which every step was held."""
    two = [TabletReading(60.0, 7, "last_held")] * 2
    assert compared(two[:1], two) is None
    assert compared([TabletReading(60.0, "all_held", "last_held"), two[0]], two) is None


def test_a_database_that_does_not_answer_is_told(database: Engine) -> None:
    """With its own status."""
    with database.begin() as link:
        link.exec_driver_sql("DROP TABLE boxes")
    assert asked(database)[0].startswith("503")
