"""The table of causes: light, film and laminate. Lines of the wet side stand in `table_wet`, checks in `looks`.

Weights are equal except exposure and contact, which count twice (trade notes P18), and what is rarely done wrong,
which counts half (common practice, no source). 'E' with a number is a row of part E of the craft reference.
"""

from sumlight.craft.causes.model import ALWAYS, OFTEN, SELDOM, SOMETIMES, Cause
from sumlight.craft.causes.table_wet import WET

EVERYWHERE = {"everywhere": 0.75, "edges": 0.05, "middle": 0.05, "patches": 0.05, "scattered": 0.05, "one_face": 0.05}
SCATTERED = {"everywhere": 0.1, "edges": 0.05, "middle": 0.05, "patches": 0.1, "scattered": 0.65, "one_face": 0.05}
PATCHES = {"everywhere": 0.1, "edges": 0.15, "middle": 0.1, "patches": 0.5, "scattered": 0.1, "one_face": 0.05}
AGAIN = {"yes": 0.9, "no": 0.1}
NOT_AGAIN = {"yes": 0.08, "no": 0.92}

DRY = (
    Cause(
        "underexposed",
        2.0,
        {
            "floats_off": OFTEN,
            "image_thin": OFTEN,
            "image_blurred": SOMETIMES,
            "lifts_in_patches": SELDOM,
            "lifts_in_etchant": SOMETIMES,
            "part_thin": SELDOM,
            "edge_ragged": SELDOM,
        },
        ("step_tablet",),
        "E1, E3, E10; trade notes E15, E16",
        {"held_off": (-2.0, 1.0), "dose_share": (-0.15, 0.3)},
        {"place": EVERYWHERE, "same_place": NOT_AGAIN},
    ),
    Cause(
        "overexposed",
        2.0,
        {
            "image_wide": OFTEN,
            "clears_late": SOMETIMES,
            "scum": SOMETIMES,
            "nothing_clears": SELDOM,
            "spots_unetched": SOMETIMES,
            "strips_badly": OFTEN,
        },
        ("step_tablet", "fresh_stripper"),
        "E4, E5, E6, E11, E23; trade notes E15 to E17",
        {"held_off": (2.0, 1.0), "dose_share": (0.1, 0.3)},
        {"place": EVERYWHERE, "same_place": NOT_AGAIN},
    ),
    Cause(
        "fogged",
        1.0,
        {"nothing_clears": OFTEN, "clears_late": OFTEN, "scum": OFTEN, "spots_unetched": SOMETIMES},
        ("coin_test", "covered_scrap"),
        "E4, E6; trade notes E20",
        {"clear_share": (0.6, 0.4)},
        {"same_place": NOT_AGAIN},
    ),
    Cause(
        "weak_black",
        1.0,
        {
            "clears_late": OFTEN,
            "scum": OFTEN,
            "nothing_clears": SOMETIMES,
            "spots_unetched": SOMETIMES,
            "specks_left": SOMETIMES,
        },
        ("black_against_light",),
        "E4, E8; trade notes T1, P30",
        {"clear_share": (0.5, 0.4)},
    ),
    Cause(
        "poor_contact",
        2.0,
        {"image_wide": OFTEN, "image_blurred": OFTEN, "scum": SELDOM, "edge_ragged": SELDOM},
        ("nine_places",),
        "E11; trade notes E14, L21",
        {},
        {"contact": {"poor": 0.75, "good": 0.25}, "place": PATCHES},
    ),
    Cause(
        "film_specks",
        1.0,
        {"image_holes": OFTEN, "pitted": OFTEN, "specks_left": OFTEN},
        ("film_under_loupe", "turned_film"),
        "E7, E8",
        {},
        {"same_place": AGAIN, "place": SCATTERED},
    ),
    Cause(
        "film_ragged",
        1.0,
        {"image_blurred": OFTEN, "edge_ragged": ALWAYS},
        ("film_under_loupe",),
        "E12",
        {},
        {"same_place": AGAIN, "place": EVERYWHERE},
    ),
    Cause(
        "film_size",
        1.0,
        {"image_wrong_size": ALWAYS, "faces_apart": SOMETIMES, "wall_step": SELDOM},
        ("two_lengths",),
        "E22, E15; trade notes T7",
        {"faces_off_um": (40.0, 60.0)},
        {"same_place": AGAIN, "place": EVERYWHERE},
    ),
    Cause(
        "film_reversed",
        0.5,
        {"image_reversed": ALWAYS, "faces_apart": SELDOM},
        ("readable_text",),
        "E21",
        {},
        {"same_place": AGAIN, "place": EVERYWHERE},
    ),
    Cause(
        "films_shifted",
        1.0,
        {"faces_apart": OFTEN, "wall_step": OFTEN, "part_thin": SELDOM},
        ("marks_against_light",),
        "E15; trade notes P6, P24",
        {"faces_off_um": (150.0, 100.0)},
        {"same_place": {"yes": 0.6, "no": 0.4}, "place": EVERYWHERE},
    ),
    Cause(
        "drawn_too_fine",
        1.0,
        {"part_thin": OFTEN, "parts_fell_out": OFTEN},
        ("measured_coupon",),
        "E9, E20",
        {},
        {"same_place": AGAIN, "place": EVERYWHERE},
    ),
    Cause(
        "dirty_metal",
        1.0,
        {
            "lifts_in_patches": OFTEN,
            "lifts_in_etchant": SOMETIMES,
            "spots_unetched": SOMETIMES,
            "pitted": SOMETIMES,
            "image_holes": SELDOM,
            "edge_ragged": SELDOM,
        },
        ("water_break", "tape_test"),
        "E2, E6; trade notes E17",
        {},
        {"same_place": NOT_AGAIN, "place": PATCHES},
    ),
    Cause(
        "poor_lamination",
        1.0,
        {
            "lifts_in_patches": OFTEN,
            "floats_off": SELDOM,
            "lifts_in_etchant": SOMETIMES,
            "pitted": SOMETIMES,
            "image_holes": SOMETIMES,
            "edge_ragged": SELDOM,
        },
        ("bubbles_under_loupe", "tape_test"),
        "E1, E2, E7; craft reference S57; trade notes E1",
        {},
        {"same_place": NOT_AGAIN, "place": PATCHES},
    ),
    Cause(
        "old_resist",
        1.0,
        {
            "clears_late": OFTEN,
            "scum": SOMETIMES,
            "lifts_in_etchant": SOMETIMES,
            "floats_off": SOMETIMES,
            "lifts_in_patches": SELDOM,
            "nothing_clears": SELDOM,
            "image_thin": SELDOM,
        },
        ("step_tablet",),
        "E3; shelf life: months, not years (trade notes 1.1, common practice)",
        {"roll_months": (14.0, 8.0), "held_off": (-1.0, 1.0), "clear_share": (0.3, 0.3)},
        {"same_place": NOT_AGAIN},
    ),
    Cause(
        "dust_or_bubbles",
        1.0,
        {"image_holes": OFTEN, "pitted": OFTEN, "specks_left": SELDOM},
        ("bubbles_under_loupe", "turned_film"),
        "E7",
        {},
        {"same_place": NOT_AGAIN, "place": SCATTERED},
    ),
    Cause(
        "rest_short",
        1.0,
        {
            "lifts_in_etchant": OFTEN,
            "lifts_in_patches": SOMETIMES,
            "image_thin": SOMETIMES,
            "floats_off": SELDOM,
            "image_blurred": SELDOM,
        },
        ("clock_of_rest",),
        "E3; trade notes E1, E3, E5",
        {},
        {"rest": {"short": 0.85, "kept": 0.14, "long": 0.01}},
    ),
    Cause(
        "rest_long",
        1.0,
        {"clears_late": SOMETIMES, "scum": OFTEN, "spots_unetched": OFTEN, "specks_left": SELDOM},
        ("clock_of_rest",),
        "E5, E6; trade notes E17",
        {},
        {"rest": {"short": 0.01, "kept": 0.14, "long": 0.85}},
    ),
)
"""What goes wrong before the developer."""

CAUSES = (*DRY, *WET)
TABLE = {cause.name: cause for cause in CAUSES}
"""Every line by its name."""
