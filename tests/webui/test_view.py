"""The state of the box in words: pure, snapshot in, view out."""

from typing import Any, cast

import pytest

from sumlight.protocol.snapshot import STATES, Snapshot
from sumlight_web import words
from sumlight_web.bench.view import BenchView, bench_view, live_points
from sumlight_web.link import STALE_AFTER_S, Latest
from tests.webui import fake_control as fake


def view_of(said: dict[str, Any], age_s: float = 0.1, *, connected: bool = True) -> BenchView:
    """The view of one snapshot."""
    return bench_view(Latest(cast(Snapshot, said), age_s, connected, 1))


@pytest.mark.parametrize("state", STATES)
def test_every_state_has_a_headline_of_its_own(state: str) -> None:
    """No state is shown by a code word."""
    headline = view_of(fake.snapshot(state=state)).texts["headline"]
    assert headline
    assert "_" not in headline


def test_asked_and_measured_are_shown_apart() -> None:
    """Lamps that were switched on but give no light are not called lit."""
    view = view_of(fake.lit(banks=[fake.bank(commanded=True, irradiance_mw_cm2=0.0)]))
    assert view.texts["bank.lower.asked"] == "Switched on"
    assert view.texts["bank.lower.seen"] == "0.00 mW/cm²"


@pytest.mark.parametrize("changed", [{"meter_ok": False}, {"irradiance_mw_cm2": None}])
def test_a_meter_without_a_reading_shows_no_number(changed: dict[str, Any]) -> None:
    """A failed reading is never shown as zero."""
    view = view_of(fake.lit(banks=[fake.bank(**changed)]))
    assert view.texts["bank.lower.seen"] == "Not reading"
    assert view.marks["bank.lower.meter"] == "lost"
    assert "no reading" in view.texts["bank.lower.note"]


@pytest.mark.parametrize(("age_s", "connected"), [(STALE_AFTER_S + 0.1, True), (0.1, False)])
def test_an_old_snapshot_is_never_shown_as_live(age_s: float, connected: bool) -> None:
    """Light, lid, lamps and time to go vanish; the dose stays, called last known; nothing can be started."""
    said = fake.lit(may=["start", "go", "dark"])
    view = view_of(said, age_s, connected=connected)
    shown = " ".join(view.texts.values())
    assert view.shows["stale"]
    assert "No word from the box" in view.texts["headline"]
    for live in ("4.93", "4.10", "Shut", "Switched", "7 s", "Exposing"):
        assert live not in shown
    assert view.texts["side.A.dose"] == "31.2"
    assert view.texts["side.A.state"] == "last known dose"
    assert not view.shows["may_start"]
    assert {view.marks[key] for key in ("state", "lid", "bank.lower.lamps", "side.A")} == {"unknown"}
    assert live_points(Latest(cast(Snapshot, said), age_s, connected, 1)) == []


def test_without_any_snapshot_the_page_says_that_control_is_not_reached() -> None:
    """The first seconds after start, or a wrong socket."""
    view = bench_view(Latest(None, 0.0, False, 0))
    assert "cannot be reached" in view.texts["stale"]
    assert not view.shows["start_form"]


def test_dose_target_worth_and_finish_stand_together() -> None:
    """A dose is shown with what it is worth; 6.9 s after 08:00:00 is 08:00:06 (outside check: plain addition)."""
    texts = view_of(fake.lit()).texts
    assert (texts["side.A.dose"], texts["side.A.target"]) == ("31.2", "of 60 mJ/cm²")
    assert texts["side.A.worth"] == "± 5.1; between doses of this box ± 0.60"
    assert texts["side.A.still"] == "0:07"
    assert texts["side.A.left"] == f"left, until about {words.local_time('2026-11-25T08:00:06Z')}"
    assert view_of(fake.lit()).values["side.A"] == 52.0


def test_an_unknown_uncertainty_is_called_unknown() -> None:
    """Never a bare number."""
    said = fake.lit(exposure=fake.exposure(fake.side(expanded_uncertainty_mj_cm2=None)))
    assert view_of(said).texts["side.A.worth"] == "uncertainty not known"


def test_a_begun_side_of_a_paused_panel_waits_below_its_dose() -> None:
    """A half-lit side is not said to receive light while the lamps are off."""
    said = fake.lit(state="paused", may=["go", "abandon", "dark"])
    view = view_of(said)
    assert view.texts["side.A.state"] == "waits, below its dose"
    assert view.texts["side.A.still"] == words.NOTHING
    assert view.plan is not None
    assert view.plan["sides"][0]["left_s"] is None


def test_the_hold_counts_down_and_then_frees_the_panel() -> None:
    """After the light the panel rests; the page says how long."""
    done = fake.rising(20.0)
    assert view_of(done).texts["hold"].startswith("Develop in 15 min, from")
    done["exposure"]["hold_left_s"] = 0.0
    assert view_of(done).texts["hold"] == "The panel may be developed."
    done["exposure"]["hold_state"] = "overdue"
    assert "Test a corner" in view_of(done).texts["hold"]
    done["exposure"]["outcome"] = "abandoned"
    assert not view_of(done).shows["hold"]


def test_a_doubtful_panel_says_why() -> None:
    """Doubt is never hidden behind a sign."""
    said = fake.lit(exposure=fake.exposure(doubtful=True, doubtful_why="three pauses, two are forgiven"))
    assert view_of(said).texts["doubtful"] == "This panel is doubtful: three pauses, two are forgiven"


@pytest.mark.parametrize(
    "change",
    [
        {"faults": [fake.fault()]},
        {"warnings": ["w"]},
        {"logbook": {"ok": False, "message": "The disk is full.", "lag_s": 2.0, "keep_traces_days": None}},
        {"may": ["abandon"]},
        {"state": "paused"},
        {"banks": [fake.bank(), fake.bank("upper", "B")]},
        {"exposure": fake.exposure(fake.side("A"), fake.side("B"))},
    ],
)
def test_what_changes_the_markup_changes_a_key(change: dict[str, Any]) -> None:
    """Otherwise an open page would not draw it."""
    assert view_of(fake.lit(**change)).keys != view_of(fake.lit()).keys


def test_numbers_alone_change_no_key() -> None:
    """Ten times a second only texts change; no part is drawn anew under someone's finger."""
    assert view_of(fake.rising(1.0)).keys == view_of(fake.rising(2.0)).keys


def test_points_of_the_curve_come_from_lit_sides_only() -> None:
    """A waiting side adds nothing."""
    said = fake.lit(exposure=fake.exposure(fake.side("A"), fake.side("B", state="waiting")))
    assert live_points(Latest(cast(Snapshot, said), 0.1, True, 1)) == [[1000.0, "A", 4.1, 31.2]]


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [(None, "–"), (-3, "0 s"), (6.9, "7 s"), (60, "1 min"), (875, "14 min 35 s"), (3600, "1 h"), (5400, "1 h 30 min")],
)
def test_durations_read_as_people_say_them(seconds: float | None, expected: str) -> None:
    """Seconds only where they matter."""
    assert words.duration(seconds) == expected


@pytest.mark.parametrize(
    ("seconds", "expected"), [(None, "–"), (-3, "0:00"), (6.9, "0:07"), (875, "14:35"), (3600, "1:00:00")]
)
def test_a_clock_counts_down(seconds: float | None, expected: str) -> None:
    """As on any timer."""
    assert words.clock(seconds) == expected


def test_no_time_left_is_told_before_two_seconds_of_light() -> None:
    """Lamps that have only just been lit say nothing of how long it takes."""
    for lit_s, expected in ((1.9, "–"), (2.0, "0:07")):
        view = view_of(fake.lit(exposure=fake.exposure(fake.side(lit_s=lit_s))))
        assert view.texts["side.A.still"] == expected
        assert (view.texts["bar.left"] == "–") == (expected == "–")
        assert view.plan is not None
        assert (view.plan["sides"][0]["left_s"] is None) == (expected == "–")


def test_nought_has_no_sign() -> None:
    """A reading a hair below nought is nought, what is truly below it stays so."""
    for seen, light in ((-0.003, "0.00 mW/cm²"), (-0.02, "-0.02 mW/cm²")):
        lit = fake.side(irradiance_at_resist_mw_cm2=seen, dose_mj_cm2=-0.003)
        view = view_of(fake.lit(banks=[fake.bank(irradiance_mw_cm2=seen)], exposure=fake.exposure(lit)))
        assert view.texts["side.A.light"] == light
        assert light in [text for key, text in view.texts.items() if key.endswith(".seen")]
        assert not view.texts["side.A.dose"].startswith("-")


def test_a_panel_that_was_given_up_is_not_called_done() -> None:
    """Neither on the Bench nor in the bar."""
    done = fake.rising(20.0)
    done["exposure"]["outcome"] = "abandoned"
    texts = view_of(done).texts
    assert (texts["headline"], texts["bar.state"]) == ("Given up, lamps off", "Given up")


@pytest.mark.parametrize("utc", [None, "", "yesterday", "9999-12-31T23:59:59Z", "0001-01-01T00:00:00Z"])
def test_a_time_that_makes_no_sense_is_no_failure(utc: str | None) -> None:
    """A box without a clock battery may say anything."""
    assert words.local_time(utc, 10.0)


def test_a_relative_dose_says_so_and_shows_what_repeats() -> None:
    """Without a calibration the absolute uncertainty means nothing, so the curve's band shows the other.

    Its unit is the box's own wherever the number stands: beside it, on the curve's scale, in a draft and in a series.
    """
    side = fake.side(relative=True, expanded_repeat_mj_cm2=0.4, k=2.0)
    view = view_of(fake.lit(exposure=fake.exposure(side)))
    assert view.plan is not None
    assert (view.plan["sides"][0]["worth"], view.plan["sides"][0]["unit"]) == (0.0128, "box units")
    assert (view.texts["side.A.dose"], view.texts["side.A.target"]) == ("31.2", "of 60 box units")
    timed: dict[str, Any] = {"target_mj_cm2": None, "lit_for_s": 8.0, "relative": True}
    texts = view_of(fake.lit(exposure=fake.exposure(fake.side("A", **timed), fake.side("B", **timed)))).texts
    assert texts["side.A.target"] == "box units in 7 s of 8 s"
    assert texts["side.B.target"] == "box units, gets what side A got"
    assert "mJ/cm²" not in " ".join(texts.values())


def test_a_pause_counts_down_what_the_recipe_forgives_and_then_says_what_follows() -> None:
    """Rounded down, so that nobody comes a fraction of a second late; an old state counts nothing down."""
    paused = {"state": "paused", "lid": "open", "may": ["abandon", "dark"]}

    def told(left_s: float | None, age_s: float = 0.1) -> tuple[bool, str]:
        said = fake.snapshot(exposure=fake.exposure(pause_cause="lid", forgiven_left_s=left_s), **paused)
        view = view_of(said, age_s)
        return view.shows["forgiven"], view.texts["forgiven"]

    assert told(75.9) == (True, "Light it again within 1 min 15 s; after that it counts as doubtful.")
    assert told(0.4)[1] == "Dark for longer than the recipe forgives: lit again, the panel counts as doubtful."
    assert told(None) == told(75.9, STALE_AFTER_S + 1) == (False, "")
