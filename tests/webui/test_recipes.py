"""The recipe pages: list, new, copy, edit; mistakes beside their fields; no silent overwriting."""

import hashlib
from html import unescape
from pathlib import Path

import pytest
from flask.testing import FlaskClient

from sumlight.store.recipes import RecipeStore, recipe_to_text
from sumlight_web.recipes.form import FIELDS, form_of, read_form
from tests.webui.given import BLUE, ORIGIN

GOOD = {
    "name": "green-50",
    "resist": "Invented film 50",
    "thickness_um": "50",
    "sides": "one",
    "dose_mj_cm2": "85.5",
    "transmission.a": "0.9",
    "transmission.b": "",
    "time_guard_s": "600",
    "hold_s": "900",
    "hold_limit_s": "",
    "interruptions.forgiven": "2",
    "interruptions.longest_gap_s": "120",
    "note": "",
}


@pytest.fixture
def shelf(data: Path) -> RecipeStore:
    """The shelf the page works on."""
    return RecipeStore(data / "recipes")


def test_the_list_shows_sound_and_broken_recipes(client: FlaskClient, data: Path) -> None:
    """A broken file is named with line, field and what is wrong."""
    (data / "recipes" / "torn.yaml").write_text("resist: x\ndose_mj_cm2: -5\n", encoding="utf-8")
    page = client.get("/recipes/").text
    assert 'href="/?recipe=blue-38"' in page  # on the Bench it is chosen then
    assert "blue-38" in page
    assert "torn.yaml cannot be used" in page
    assert "Line 2" in page
    assert "dose_mj_cm2" in page


def test_a_new_recipe_is_saved_as_typed(client: FlaskClient, shelf: RecipeStore) -> None:
    """What stands in the file is what was asked for."""
    response = client.post("/recipes/new", data=GOOD, headers=ORIGIN)
    assert (response.status_code, response.location) == (303, "/?recipe=green-50")
    recipe = shelf.load("green-50").recipe
    assert recipe.dose_mj_cm2 == 85.5
    assert recipe.transmission.b is None
    assert recipe.hold_limit_s is None
    assert recipe.interruptions.forgiven == 2
    assert "green-50" in client.get("/recipes/?saved=green-50").text


def test_saving_the_form_loses_nothing_that_the_file_says(client: FlaskClient, shelf: RecipeStore) -> None:
    """Every key of a recipe has its field; one that is left empty takes its default."""
    rare = "tolerance: 0.05\nfound_at_mw_cm2: 4.2\nreciprocity_p: 0.9\n"
    before = shelf.save("blue-38", BLUE + rare)
    page = client.get("/recipes/blue-38").text
    form = form_of(before.recipe).values | {"note": "looked at"}
    for value in ("0.05", "4.2", "0.9"):
        assert f'value="{value}"' in page
    client.post("/recipes/blue-38", data=form | {"sha256": before.sha256}, headers=ORIGIN)
    after = shelf.load("blue-38").recipe
    assert after == before.recipe.model_copy(update={"note": "looked at"})
    emptied = form | {"tolerance": "", "found_at_mw_cm2": "", "reciprocity_p": ""}
    client.post("/recipes/blue-38", data=emptied | {"sha256": shelf.load("blue-38").sha256}, headers=ORIGIN)
    after = shelf.load("blue-38").recipe
    assert (after.tolerance, after.found_at_mw_cm2, after.reciprocity_p) == (0.1, None, 1.0)


def test_a_new_recipe_never_replaces_an_existing_one(client: FlaskClient, data: Path) -> None:
    """Not even a broken one."""
    for name in ("blue-38", "torn"):
        file = data / "recipes" / f"{name}.yaml"
        file.touch()
        before = file.read_bytes()
        response = client.post("/recipes/new", data=GOOD | {"name": name}, headers=ORIGIN)
        assert response.status_code == 422
        assert "already" in response.text
        assert file.read_bytes() == before


@pytest.mark.parametrize(
    ("name", "file"),
    [
        *(("Blue", "blue"), ("../x", "x"), ("a b", "a-b"), ("-a", "a"), ("ä", "ae"), ("a/b", "a-b"), ("a\n", "a")),
        *(("Brass 8 min", "brass-8-min"), ("Messing groß, 0,2 mm", "messing-gross-0-2-mm"), ("Ænigma é", "nigma-e")),
    ],
)
def test_a_name_as_people_write_it_becomes_one_for_a_file(
    client: FlaskClient, name: str, file: str, data: Path
) -> None:
    """Nothing is written outside the folder or under an odd name."""
    assert client.post("/recipes/new", data=GOOD | {"name": name}, headers=ORIGIN).status_code == 303
    assert sorted(f.name for f in (data / "recipes").iterdir()) == sorted(["blue-38.yaml", f"{file}.yaml"])


@pytest.mark.parametrize("name", ["", "..", "?!", "a" * 49, "銅"])
def test_a_name_that_cannot_be_a_file_is_refused_beside_its_field(client: FlaskClient, name: str, data: Path) -> None:
    """Nothing is left of it, or too much."""
    response = client.post("/recipes/new", data=GOOD | {"name": name}, headers=ORIGIN)
    assert response.status_code == 422
    assert 'id="f-name-error"' in response.text
    assert [f.name for f in (data / "recipes").iterdir()] == ["blue-38.yaml"]


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("dose_mj_cm2", "-5", "-5 is not possible here: from 1 to 5000 mJ/cm²."),
        ("dose_mj_cm2", "1,250", "can mean 1.25 mJ/cm² or 1250 mJ/cm². Write 1.25 or 1250."),
        ("time_guard_s", "8:60", "is not a time"),
        ("dose_mj_cm2", "28 s", "is not a unit for this. Write the number with one of these: mJ/cm², J/cm²."),
        ("dose_mj_cm2", "nan", "is not a number"),
        ("dose_mj_cm2", "1e3", "is not a number"),
        ("dose_mj_cm2", "", "Give the dose, such as 60 mJ/cm²."),
        ("dose_mj_cm2", "٣", "is not a number"),
        ("transmission.a", "0", "more than 0, at most 1"),
        ("transmission.a", "1.2", "more than 0, at most 1"),
        ("thickness_um", "9" * 30, "more than 0, at most 1000 µm"),
        ("thickness_um", "9" * 61, "is not a number"),
        ("interruptions.forgiven", "2.5", "is not a whole number"),
        ("hold_limit_s", "10", "ust be longer than hold_s"),
        ("sides", "three", "&#39;one&#39;"),
        ("resist", "x" * 81, "At most 80"),
        ("note", "x" * 2001, "At most 2000"),
    ],
)
def test_a_mistake_stands_beside_its_field_and_all_values_are_kept(
    client: FlaskClient, data: Path, field: str, typed: str, says: str
) -> None:
    """Nothing has to be typed twice, nothing is saved."""
    response = client.post("/recipes/new", data=GOOD | {field: typed}, headers=ORIGIN)
    assert response.status_code == 422
    html_id = next(f.html_id for f in FIELDS if f.key == field)
    error = response.text.split(f'id="{html_id}-error">')[1].split("</p>")[0]
    assert says in error
    assert 'value="Invented film 50"' in response.text or field == "resist"
    assert not (data / "recipes" / "green-50.yaml").exists()


def test_two_sides_have_one_stack_unless_side_b_is_told(client: FlaskClient, shelf: RecipeStore) -> None:
    """The file says it for both."""
    client.post("/recipes/new", data=GOOD | {"sides": "turned"}, headers=ORIGIN)
    assert shelf.load("green-50").recipe.transmission.b == 0.9


def test_all_mistakes_come_at_once() -> None:
    """Typing slips and broken rules in one answer, one message a field."""
    form = read_form(GOOD | {"dose_mj_cm2": "much", "transmission.a": "2", "hold_s": "long"}, "x")
    assert set(form.errors) == {"dose_mj_cm2", "transmission.a", "hold_s"}
    assert all(len(messages) == 1 for messages in form.errors.values())


def test_an_empty_form_asks_for_one_thing() -> None:
    """All else has a default."""
    form = read_form({}, "x")
    assert {key: len(messages) for key, messages in form.errors.items()} == {"dose_mj_cm2": 1}


def test_a_recipe_comes_out_of_the_form_as_it_went_in(shelf: RecipeStore) -> None:
    """Opening and saving without a change changes nothing."""
    recipe = shelf.load("blue-38").recipe
    form = read_form(form_of(recipe).values, "blue-38")
    assert form.errors == {}
    assert shelf.save("other", recipe_to_text(form.fields)).recipe == recipe


def test_editing_saves_under_the_same_name(client: FlaskClient, shelf: RecipeStore) -> None:
    """The form carries the hash of the file it was opened from."""
    sha256 = hashlib.sha256(BLUE.encode()).hexdigest()
    assert f'value="{sha256}"' in client.get("/recipes/blue-38").text
    response = client.post("/recipes/blue-38", data=GOOD | {"sha256": sha256}, headers=ORIGIN)
    assert response.status_code == 303
    assert shelf.load("blue-38").recipe.dose_mj_cm2 == 85.5


def test_two_editors_cannot_overwrite_each_other_unseen(client: FlaskClient, shelf: RecipeStore) -> None:
    """The second one is told, keeps what was typed, and may save over it knowingly."""
    old = hashlib.sha256(BLUE.encode()).hexdigest()
    other = shelf.save("blue-38", BLUE.replace("60.0", "61.0"))
    response = client.post("/recipes/blue-38", data=GOOD | {"sha256": old}, headers=ORIGIN)
    assert response.status_code == 409
    assert "Someone else has changed this recipe" in response.text
    assert 'value="85.5"' in response.text
    assert shelf.load("blue-38").sha256 == other.sha256
    assert f'value="{other.sha256}"' in response.text
    response = client.post("/recipes/blue-38", data=GOOD | {"sha256": other.sha256}, headers=ORIGIN)
    assert response.status_code == 303


def test_a_change_at_the_last_moment_is_seen_by_the_shelf(
    client: FlaskClient, shelf: RecipeStore, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The shelf itself compares, under its lock; the page shows what it says."""
    stale = shelf.load("blue-38")
    shelf.save("blue-38", BLUE.replace("60.0", "61.0"))
    monkeypatch.setattr(RecipeStore, "load", lambda self, name: stale)
    response = client.post("/recipes/blue-38", data=GOOD | {"sha256": stale.sha256}, headers=ORIGIN)
    assert "Someone else has changed this recipe" in response.text
    assert "61.0" in (shelf.folder / "blue-38.yaml").read_text(encoding="utf-8")


def test_a_copy_gets_a_free_name_and_all_values(client: FlaskClient) -> None:
    """The original stays as it is."""
    page = client.get("/recipes/blue-38/copy").text
    assert 'value="blue-38-2"' in page
    assert 'value="Invented film 38"' in page
    assert 'action="/recipes/new"' in page


RATES = "etch_rates_um_min: {brass: {iron: 4.2}, copper: {iron: 5.0, persulfate: 1.25}}\n"
IRON, PERSULFATE = "etch_rates_um_min.copper.iron", "etch_rates_um_min.copper.persulfate"


def test_etching_rates_go_through_edit_and_copy(client: FlaskClient, shelf: RecipeStore) -> None:
    """Each has its field, with unit and bounds; a saved form and a copied recipe hold them all."""
    before = shelf.save("blue-38", BLUE + RATES)
    page = unescape(client.get("/recipes/blue-38").text)
    assert 'Etching rate of copper in ferric chloride <span class="unit">in µm/min' in page
    assert f'name="{IRON}"' in page
    assert page.count('title="from 0.01 to 500 µm/min"') == 4
    form = form_of(before.recipe).values
    client.post("/recipes/blue-38", data=form | {"sha256": before.sha256, "note": "looked at"}, headers=ORIGIN)
    client.post("/recipes/new", data=form | {"name": "a copy"}, headers=ORIGIN)
    for name in ("blue-38", "a-copy"):
        assert shelf.load(name).recipe.etch_rates_um_min == before.recipe.etch_rates_um_min
    assert 'value="1.25"' in client.get("/recipes/a-copy/copy").text


def test_an_etching_rate_is_changed_put_in_and_taken_out(client: FlaskClient, shelf: RecipeStore) -> None:
    """With a decimal comma and other units; the last one takes its group along."""

    def save(**typed: str) -> object:
        stored = shelf.load("blue-38")
        form = form_of(stored.recipe).values | {"sha256": stored.sha256} | typed
        answer = client.post("/recipes/blue-38", data=form, headers=ORIGIN)
        assert answer.status_code == 303, answer.text
        return shelf.load("blue-38").recipe.etch_rates_um_min

    more = {"etch_metal": "brass", "etch_bath": "peroxide", "etch_rate": "7,5"}
    assert save(**more) == {"brass": {"peroxide": 7.5}}
    more = {"etch_metal": "copper", "etch_bath": "iron", "etch_rate": "0.1 mil/min"}
    assert save(**more, **{"etch_rates_um_min.brass.peroxide": "8"}) == {
        "brass": {"peroxide": 8.0},
        "copper": {"iron": 2.54},
    }
    assert save(**{IRON: ""}) == {"brass": {"peroxide": 8.0}}
    assert save(**{"etch_rates_um_min.brass.peroxide": ""}) is None
    assert shelf.load("blue-38").text.strip() == BLUE.strip()


@pytest.mark.parametrize(
    ("typed", "at", "says"),
    [
        ({IRON: "0"}, "f-etch-rates-um-min-copper-iron", "from 0.01 to 500 µm/min"),
        ({IRON: "fast"}, "f-etch-rates-um-min-copper-iron", "is not a number"),
        ({"etch_metal": "brass"}, "f-etch-bath", "Choose one."),
        ({"etch_metal": "brass", "etch_bath": "iron"}, "f-etch-rate", "Fill this in."),
        ({"etch_rate": "5"}, "f-etch-metal", "Choose one."),
        ({"etch_metal": "tea", "etch_bath": "iron", "etch_rate": "5"}, "f-etch-metal", "Choose one."),
        ({"etch_metal": "copper", "etch_bath": "iron", "etch_rate": "5"}, "f-etch-rate", "It stands above already"),
        (
            {"etch_metal": "aluminium", "etch_bath": "peroxide", "etch_rate": "5"},
            "f-etch-bath",
            "aluminium does not go into peroxide bath",
        ),
    ],
)
def test_a_wrong_etching_rate_is_refused_beside_its_field(
    client: FlaskClient, shelf: RecipeStore, typed: dict[str, str], at: str, says: str
) -> None:
    """Nothing is saved, and what is typed stays."""
    before = shelf.save("blue-38", BLUE + RATES)
    form = form_of(before.recipe).values | {"sha256": before.sha256} | typed
    answer = client.post("/recipes/blue-38", data=form, headers=ORIGIN)
    assert answer.status_code == 422
    assert says in unescape(answer.text.split(f'id="{at}-error">')[1].split("</p>")[0])
    assert 'value="1.25"' in answer.text
    assert shelf.load("blue-38").sha256 == before.sha256


def test_saving_keeps_a_person_s_comments_and_order(client: FlaskClient, shelf: RecipeStore) -> None:
    """Only what was changed is another; a person's file, not ours in their place."""
    by_hand = "# my own\n" + BLUE.replace("dose_mj_cm2: 60.0", "dose_mj_cm2: 60.0   # found in March")
    before = shelf.save("blue-38", by_hand)
    form = form_of(before.recipe).values | {"dose_mj_cm2": "61,5", "sha256": before.sha256}
    assert client.post("/recipes/blue-38", data=form, headers=ORIGIN).status_code == 303
    assert shelf.load("blue-38").text == by_hand.replace("60.0   #", "61.5   #")


def test_comments_that_cannot_be_kept_are_not_dropped_unasked(client: FlaskClient, shelf: RecipeStore) -> None:
    """`12e3` is a text here and a number to the library that keeps comments: it may not touch this file."""
    odd = BLUE.replace("resist: Invented film 38", "resist: 12e3 # my own")
    assert odd != BLUE
    before = shelf.save("blue-38", odd)
    form = form_of(before.recipe).values | {"dose_mj_cm2": "61", "sha256": before.sha256}
    answer = client.post("/recipes/blue-38", data=form, headers=ORIGIN)
    assert answer.status_code == 422
    assert "The comments in this file cannot be kept." in answer.text
    assert 'value="61"' in answer.text
    assert shelf.load("blue-38").text == odd
    assert '<input type="hidden" name="comments" value="drop">' in answer.text
    again = client.post("/recipes/blue-38", data=form | {"comments": "drop"}, headers=ORIGIN)
    assert again.status_code == 303
    after = shelf.load("blue-38").recipe
    assert (after.resist, after.dose_mj_cm2) == ("12e3", 61)


def test_unknown_and_broken_recipes_cannot_be_opened(client: FlaskClient, data: Path) -> None:
    """A clear page, no failure."""
    (data / "recipes" / "torn.yaml").write_text("a: [", encoding="utf-8")
    for path in ("/recipes/nobody", "/recipes/torn", "/recipes/torn/copy", "/recipes/..%2f..%2fetc"):
        assert client.get(path).status_code == 404


def test_a_folder_that_cannot_be_written_keeps_the_typed_values(
    client: FlaskClient, data: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full card is no reason to lose ten minutes of typing."""

    def full(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("sumlight.store.recipes.replace_file", full)
    response = client.post("/recipes/new", data=GOOD, headers=ORIGIN)
    assert response.status_code == 422
    assert "No space left on device" in response.text
    assert 'value="85.5"' in response.text


def test_a_recipe_is_put_away_seen_and_taken_back(client: FlaskClient, shelf: RecipeStore) -> None:
    """Off the list and off the Bench; at the end of the page it waits, and one press brings it back."""
    shelf.save("old-film", BLUE)
    put = client.post("/recipes/old-film/away", headers=ORIGIN)
    assert (put.status_code, put.location) == (303, "/recipes/?moved=old-film")
    page = client.get(put.location).text
    list_part, away = page.split('<details class="away">')
    assert "Recipe old-film is put away" in list_part
    assert "/recipes/old-film/away" not in page
    assert "1 recipe put away" in away
    assert "/recipes/old-film/back" in away
    assert "old-film" not in client.get("/").text
    assert client.post("/recipes/old-film/away", headers=ORIGIN).status_code == 404
    back = client.post("/recipes/old-film/back", headers=ORIGIN)
    page = client.get(back.location).text
    assert "Recipe old-film is on the shelf again." in page
    assert "put away" not in page.replace("Put away", "")
    assert "old-film" in client.get("/").text


def test_a_name_taken_meanwhile_keeps_the_other_recipe_away(client: FlaskClient, shelf: RecipeStore) -> None:
    """Nothing is replaced."""
    shelf.put_away("blue-38")
    shelf.save("blue-38", BLUE.replace("38", "39"))
    refused = client.post("/recipes/blue-38/back", headers=ORIGIN)
    assert refused.status_code == 409
    assert "exists already" in refused.text
    assert [entry.name for entry in shelf.away.list()] == ["blue-38"]
