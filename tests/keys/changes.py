"""For each key of box.yaml, recipes and scenarios another value, and what must go on for it to show."""

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

from tests.cli.test_check import (
    test_check_refuses_a_pin_that_is_dangerous_before_the_program_runs,
    test_check_takes_a_second_bus_with_its_pins_and_sees_them_used_twice,
    test_check_tells_which_tubes_the_sensor_sees,
)
from tests.cli.test_commission import test_a_cut_out_without_a_button_is_left_to_the_electrician
from tests.cli.test_logbook import test_lamps_keeps_to_the_level_that_was_set_unless_told_another
from tests.control.frontpanel.test_go_and_stop import test_a_go_that_would_begin_nothing_says_so
from tests.control.jobs.test_baths import test_the_etching_rate_of_a_recipe_times_its_cards
from tests.control.jobs.test_jobbook import test_the_break_point_of_a_recipe_sets_the_dwell_of_its_cards
from tests.control.records.test_air import test_it_is_asked_where_box_yaml_says
from tests.control.records.test_retention import test_the_night_watch_begins_it_only_on_a_sound_logbook
from tests.control.server.test_calibration_commands import (
    test_what_was_taught_before_the_meter_moved_is_relative_and_calibrates_nothing,
)
from tests.control.test_both_sensors import test_other_lamps_are_found_without_any_calibration
from tests.control.test_led_swaps import test_leds_that_are_not_said_to_be_built_in_may_be_others_at_any_time
from tests.fleet.test_publishing import test_a_publisher_does_what_box_yaml_says
from tests.keys.story import Change

AT_S = 2.0
"""After first light: in the middle of the exposure."""


@dataclass(frozen=True)
class Try:
    """A key and another value, `with_` what has to be written elsewhere as well. `given` holds before and after.

    `refused_with`: the box does not even start, and says this, which names the key in a person's words. Any other
    refusal is no proof: a slip in the value would give one too.
    """

    key: str
    value: Any
    given: tuple[Change, ...] = ()
    with_: tuple[Change, ...] = ()
    two_banks: bool = False
    refused_with: str = ""


def event(do: str, at_s: float = AT_S, **values: Any) -> dict[str, Any]:
    """One line of `events`."""
    return {"at_s": at_s, "since": "light", "do": do, **values}


def happening(*events: dict[str, Any]) -> tuple[Change, ...]:
    """A scenario with these events."""
    return (("scenario.events", list(events)),)


LID_PAUSE = happening(event("lid_opens", 1.0), event("lid_closes", 2.0))
BLIND_TO_LID = happening(
    event("contact_sticks", 1.0, contact="shut"), event("contact_sticks", 1.0, contact="open"), event("lid_opens")
)
STOP_LEFT_OUT = (("box.signals.emergency_stop_pin", "left_out"),)

PANEL = {"go_pin": 5, "stop_pin": 26, "buzzer_pin": 21, "light_pin": 4, "go_recipe": "told"}


def with_panel(*events: dict[str, Any], **changes: Any) -> tuple[Change, ...]:
    """A front panel, and what is done at it."""
    panel = {**PANEL, **changes}
    return (("box.front_panel", panel), ("wired.front_panel", dict(panel)), *happening(*events))


DISPLAY = (("box.front_panel", {"display_sda_pin": 9, "display_scl_pin": 11}),)
THERMOMETER = (("box.thermometer.i2c_bus", 1), ("box.thermometer.i2c_address", 0x18))

BOX = (
    Try("box.banks.0.side", "B", with_=(("box.banks.1.side", "A"),), given=(("recipe.sides", "one"),), two_banks=True),
    Try("box.banks.0.relay_pin", 18),
    Try("box.banks.0.lights_when", "high"),
    Try("box.banks.0.meter", "above", with_=(("box.banks.1.meter", "below"),), two_banks=True),
    Try("box.banks.0.release_s", 0.3),
    Try("box.banks.0.lamps", "led"),
    Try("box.banks.0.lamp_hours", 2000.0),
    Try("box.lid.shut_pin", 22),
    Try("box.lid.open_pin", 22, given=LID_PAUSE),
    Try("box.lid.disagreement_limit_s", 2.0, given=happening(event("wire_breaks", wire="shut"))),
    Try("box.enable_pin", None),
    Try("box.signals.k1_mirror_pin", 22),
    Try("box.signals.emergency_stop_pin", 22),
    Try("box.signals.over_temperature_pin", 22),
    Try("box.comforts.fan_pin", 22),
    Try("box.comforts.fan_run_on_s", 0.0),
    Try("box.comforts.pump_pin", 22),
    Try("box.comforts.pump_lead_s", 2.0),
    Try("box.comforts.beacon_pin", 22),
    Try("box.meters.0.kind", "as7331", with_=(("box.meters.0.i2c_address", 0x74),)),
    Try("box.meters.0.i2c_bus", 3, refused_with="there is nothing on I2C bus 3"),
    Try("box.meters.0.i2c_address", 0x38),
    Try("box.meters.0.mw_cm2_per_basic_count", 0.7),
    Try("box.meters.0.calibration_uncertainty", 0.45),
    Try("box.thermometer.i2c_bus", 3, given=THERMOMETER, refused_with="there is no light sensor on bus 3"),
    Try("box.front_panel.go_pin", 22, given=with_panel({"at_s": 2.5, "do": "go_tapped"}, press_to_light=True)),
    Try("box.front_panel.stop_pin", 22, given=with_panel(event("stop_tapped"))),
    Try("box.front_panel.buzzer_pin", 22, given=with_panel(event("stop_tapped"))),
    Try("box.front_panel.light_pin", 22, given=with_panel()),
    Try("box.front_panel.display_sda_pin", 17, given=DISPLAY, refused_with="GPIO 17 already serves"),
    Try("box.front_panel.display_scl_pin", 17, given=DISPLAY, refused_with="GPIO 17 already serves"),
    Try("box.front_panel.press_to_light", True, given=with_panel()),
    Try("box.limits.strike_limit_s", 0.3),
    Try("box.limits.lit_limit_s", 1.5),
    Try("box.limits.bridge_limit_s", 1.5, given=happening(event("meter_hangs"))),
    Try(
        "box.limits.dark_limit_mw_cm2",
        5.0,
        given=(("scenario.events", [{"at_s": 0, "do": "daylight_enters", "level_mw_cm2": 1.0}]),),
    ),
    Try("box.limits.drop_limit", 0.5, given=happening(event("tube_fails"))),
)

DRAFT = (("recipe.dose_mj_cm2", None), ("recipe.draft_lit_s", 5.0))

RECIPE = (
    Try("recipe.sides", "turned"),
    Try("recipe.dose_mj_cm2", 6.0),
    Try("recipe.draft_lit_s", 4.0, given=(*DRAFT, ("box.limits.strike_limit_s", 3.5))),
    Try("recipe.dose_unknown", True, with_=(("recipe.dose_mj_cm2", None),)),
    Try("recipe.transmission.a", 0.6),
    Try("recipe.transmission.b", 0.6, two_banks=True),
    Try("recipe.time_guard_s", 1.5),
    Try("recipe.hold_s", 0.0),
    Try("recipe.hold_limit_s", 0.1, given=(("recipe.hold_s", 0.0),)),
    Try("recipe.interruptions.forgiven", 0, given=LID_PAUSE),
    Try("recipe.interruptions.longest_gap_s", 0.5, given=LID_PAUSE),
    Try("recipe.tolerance", 0.5),
    Try("recipe.found_at_mw_cm2", 0.3),
    Try("recipe.reciprocity_p", 1.3, given=(("recipe.found_at_mw_cm2", 1.0),)),
)

SCENARIO = (
    Try("scenario.seed", 2),
    Try("scenario.lamp_hours", 2000.0),
    Try("scenario.strikes", 500),
    Try("scenario.lamp_type", "led_365"),
    Try("scenario.ageing", "alike", given=(("scenario.lamp_hours", 3000.0),)),
    Try("scenario.room_c", 5.0),
    Try("scenario.mains_factor", 0.9),
    Try("scenario.ripple_hz", 120),
    Try("scenario.ripple_depth", 0.1),
    Try("scenario.hardwired_lid_switch", True, given=BLIND_TO_LID),
    Try("scenario.hardwired_stop", False, given=(*STOP_LEFT_OUT, *happening(event("stop_pressed")))),
    Try("scenario.hardwired_cut_out", False, given=happening(event("cut_out_opens"))),
    Try("scenario.k1_mirror_bridged", "says_closed"),
    Try("scenario.attendant_go_after_s", None, given=LID_PAUSE),
    Try("scenario.relay_release_s", 0.1),
    Try("scenario.relay_pull_in_s", 0.1),
    Try("scenario.release_jitter_s", 0.02),
    Try("scenario.pump_parts", "weakest"),
    Try("scenario.gain_errors", True, given=(("scenario.diffuser_transmission", 0.05),)),
    Try("scenario.sensor_drift_per_k", 0.005),
    Try("scenario.chip_clock_error", 0.02),
    Try("scenario.diffuser_transmission", 0.8),
)


@dataclass(frozen=True)
class Happens:
    """An event that changes what goes on after `first`, and other values of its own fields."""

    do: str
    first: tuple[dict[str, Any], ...] = ()
    values: dict[str, Any] = field(default_factory=dict)
    others: dict[str, Any] = field(default_factory=dict)
    then: tuple[dict[str, Any], ...] = ()


def before(do: str, **values: Any) -> tuple[dict[str, Any], ...]:
    """What has gone wrong when it is put right."""
    return (event(do, 1.0, **values),)


BANK, METER = {"bank": "upper"}, {"meter": "above"}
"""These are tried on the box with two of each."""

EVENTS = (
    Happens("lid_opens", others={"at_s": 3.0, "since": "start"}),
    Happens("lid_closes", before("lid_opens")),
    Happens(
        "contact_sticks",
        values={"contact": "shut"},
        others={"contact": "open"},
        then=(event("lid_opens", 2.5), event("contact_frees", 3.0, contact="shut")),
    ),
    Happens(
        "contact_frees",
        (*before("contact_sticks", contact="shut"), event("lid_opens", 1.5)),
        {"contact": "shut"},
        {"contact": "open"},
    ),
    Happens("tube_fails", others={"tubes": 6, **BANK}),
    Happens("tube_flickers", others={"depth": 1.0, "hz": 1.0, **BANK}),
    Happens("tube_taken_out", others={"place": 3, **BANK}),
    Happens(
        "tube_put_in",
        (*before("tube_taken_out", place=1), *before("tube_taken_out", place=3)),
        {"place": 1},
        {"place": 3, **BANK},
    ),
    Happens("relay_welds", others=BANK),
    Happens("relay_frees", before("relay_welds"), others=BANK),
    Happens("k1_welds"),
    Happens("k1_frees", before("k1_welds")),
    Happens("stop_pressed"),
    Happens("stop_released", before("stop_pressed")),
    Happens("cut_out_opens"),
    Happens("cut_out_reset", before("cut_out_opens")),
    Happens("overheats"),
    Happens("cools", before("overheats")),
    Happens("wire_breaks", values={"wire": "shut"}, others={"wire": "open"}),
    Happens(
        "wire_mended",
        (*before("wire_breaks", wire="shut"), *before("wire_breaks", wire="open")),
        {"wire": "shut"},
        {"wire": "open"},
    ),
    Happens("field_supply_fails"),
    Happens("field_supply_returns", before("field_supply_fails")),
    Happens("supply_sags"),
    Happens("supply_recovers", before("supply_sags")),
    Happens("meter_disappears", others=METER),
    Happens("meter_returns", before("meter_disappears"), others=METER),
    Happens("meter_hangs", others=METER),
    Happens("meter_freezes", others=METER),
    Happens("daylight_enters", values={"level_mw_cm2": 2.0}, others={"level_mw_cm2": 0.5}),
    Happens("daylight_ends", before("daylight_enters", level_mw_cm2=2.0)),
    Happens("mains_factor", values={"value": 0.9}, others={"value": 1.1}),
    Happens("room_c", values={"value": 0.0}, others={"value": 50.0}),
    Happens("lamps_swapped", others={"lamp_type": "led_385", "hours": 5000.0, **BANK}),
    Happens("diffuser_fouls", values={"transmission": 0.9}, others={"transmission": 0.5, **METER}),
    Happens("diffuser_cleaned", before("diffuser_fouls", transmission=0.95), others=METER),
    Happens("filter_removed", others=METER),
    Happens("filter_fitted", before("filter_removed"), others=METER),
    Happens("sheet_laid", values={"transmission": 0.9}, others={"transmission": 0.5, "blocks_uv": True, **METER}),
    Happens("sheet_lifted", before("sheet_laid", transmission=0.95), others=METER),
    Happens("sensor_moved", values={"x_mm": 0.0, "y_mm": 0.0}, others={"x_mm": 80.0, "y_mm": 80.0, **METER}),
    Happens("go_tapped", before("stop_tapped")),
    Happens("stop_tapped"),
    Happens("button_sticks", values={"button": "stop"}, others={"button": "go"}),
    Happens(
        "button_frees",
        before("button_sticks", button="stop"),
        {"button": "stop"},
        {"button": "go"},
        then=(event("go_tapped", 4.0),),
    ),
    Happens("press", values={"button": "dark"}, others={"button": "abandon"}),
)

WORDS_ONLY = {
    "box.name": "shown on the page and in reports",
    "box.banks.name": "what pages and records call the lamps",
    "box.meters.name": "what `banks` and records call the sensor",
    "recipe.resist": "shown with the recipe and on the panel's record",
    "recipe.thickness_um": "shown with the recipe; the dose for this thickness is the user's own",
    "recipe.note": "the user's own words",
    "scenario.note": "the author's own words",
}
"""Keys that are read by people and change nothing that the box does, with the reason."""

SIGHT = ("tubes", "pitch_mm", "height_mm", "across_mm", "accepts_deg")

FLEET = ("box_id", "broker", "port", "ca_file", "password_file", "discovery_prefix", "dark_key_file", "metrics_port")

ELSEWHERE: dict[str, Callable[..., None]] = {
    "box.banks.leds_built_in": test_leds_that_are_not_said_to_be_built_in_may_be_others_at_any_time,
    "box.meters.colour_i2c_address": test_other_lamps_are_found_without_any_calibration,
    "box.meters.i2c_sda_pin": test_check_refuses_a_pin_that_is_dangerous_before_the_program_runs,
    "box.meters.i2c_scl_pin": test_check_takes_a_second_bus_with_its_pins_and_sees_them_used_twice,
    **{f"box.meters.sight.{key}": test_check_tells_which_tubes_the_sensor_sees for key in SIGHT},
    "box.meters.position": test_what_was_taught_before_the_meter_moved_is_relative_and_calibrates_nothing,
    "box.thermometer.i2c_address": test_it_is_asked_where_box_yaml_says,
    "box.front_panel.go_recipe": test_a_go_that_would_begin_nothing_says_so,
    **{f"box.fleet.{key}": test_a_publisher_does_what_box_yaml_says for key in FLEET},
    "box.logbook.keep_traces_days": test_the_night_watch_begins_it_only_on_a_sound_logbook,
    "recipe.break_point_share": test_the_break_point_of_a_recipe_sets_the_dwell_of_its_cards,
    "recipe.etch_rates_um_min": test_the_etching_rate_of_a_recipe_times_its_cards,
    "lamps.replace_at_percent": test_lamps_keeps_to_the_level_that_was_set_unless_told_another,
    "scenario.cut_out_button": test_a_cut_out_without_a_button_is_left_to_the_electrician,
}
"""Keys that show over weeks, or in a whole walk of commissioning: the test that changes the value and sees it act."""
