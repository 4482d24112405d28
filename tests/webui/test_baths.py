"""The page Baths: sums by address, refusals, both languages; nothing is asked of the box and nothing is written."""

import re
from collections.abc import Iterator
from html import unescape

import pytest
from flask.testing import FlaskClient

from sumlight.craft.checks import RefusedError
from sumlight.craft.chemistry import hazards
from sumlight_web.language import Reader, written_for
from sumlight_web.texts import text_of
from tests.webui.fake_control import FakeControl

DEVELOPER = {"powder": "clear-crystals", "volume_l": "1", "wt_percent": "1"}
PEROXIDE = {"volume_l": "1", "bottle": "11.9", "acid": "31", "peroxide_wt_percent": "1.8", "acid_wt_percent": "11"}
IRON = {"volume_l": "1", "wt_percent": "36", "said": "wt", "stock": "40"}
ETCH = {"metal": "brass", "bath": "iron", "thickness_um": "200", "sides": "2", "rate_um_min": "10", "load": "0"}


@pytest.fixture
def german() -> Iterator[None]:
    """What is said within is German."""
    with written_for(Reader("de")):
        yield


def page(client: FlaskClient, path: str, typed: dict[str, str] | None = None, status: int = 200) -> str:
    """The text of a page."""
    answer = client.get(path, query_string=typed)
    assert answer.status_code == status
    return re.sub(r"\s+", " ", unescape(answer.text))


def test_a_developer_is_mixed_from_crystals(client: FlaskClient, control: FakeControl) -> None:
    """1 wt% dry is 10.09 g in a litre, 27.2 g of crystals (craft reference A2)."""
    text_of = page(client, "/baths/mix/developer", DEVELOPER)
    assert "10.1 g of dry soda (sodium carbonate) in 1009 g of finished solution (1 wt%)" in text_of
    assert "Stir in 27.2 g" in text_of
    assert "That time overrules this sum" in text_of
    assert control.names() == []


def test_the_powder_is_asked_first(client: FlaskClient) -> None:
    """Without an answer it is a mistake beside the question; with 'unknown' the oven is asked for, and no sum shown."""
    typed = {key: value for key, value in DEVELOPER.items() if key != "powder"}
    assert "f-powder-error" in page(client, "/baths/mix/developer", typed, 422)
    unknown = page(client, "/baths/mix/developer", DEVELOPER | {"powder": "unknown"})
    assert "Oven check: weigh about 10 g" in unknown
    assert "Stir in" not in unknown
    oven = page(client, "/baths/mix/developer", DEVELOPER | {"powder": "unknown", "before_g": "10", "after_g": "8.5"})
    assert "85 % is left: soda monohydrate" in oven
    assert "Stir in 11.9 g" in oven
    half = page(client, "/baths/mix/developer", DEVELOPER | {"before_g": "10"}, 422)
    assert "f-after-g-error" in half


def test_cautions_stand_before_the_steps_and_chlorine_among_them(client: FlaskClient) -> None:
    """Also before anything was worked out."""
    for typed in ({}, PEROXIDE):
        text_of = page(client, "/baths/mix/peroxide", typed)
        assert "Chlorine:" in text_of
        assert "never a tight lid" in text_of
    assert text_of.index("Chlorine:") < text_of.index("into the open tray, first") < text_of.index("last, slowly")
    poured = ("water into the", "peroxide of 11.9 wt% into the", "acid of 31 wt% last, slowly")
    assert [text_of.index(words) for words in poured] == sorted(text_of.index(words) for words in poured)


@pytest.mark.parametrize(
    ("typed", "named"),
    [
        ({"bottle": "35"}, "too strong to mix from"),
        ({"peroxide_wt_percent": "2.6"}, "the finished bath would hold 2.6 wt% peroxide"),
        ({"acid_wt_percent": "13"}, "13 wt% hydrochloric acid"),
    ],
)
def test_a_peroxide_bath_that_can_hurt_is_refused(client: FlaskClient, typed: dict[str, str], named: str) -> None:
    """No steps."""
    text_of = page(client, "/baths/mix/peroxide", PEROXIDE | typed, 422)
    assert "Refused:" in text_of
    assert named in text_of
    assert "into the open tray, first" not in text_of


@pytest.mark.parametrize(
    ("typed", "grams"),
    [
        ({}, 1229),  # 1365 g of 36 wt% hold 491.5 g dry, in 40 wt% (densities of Laliberté and Cooper)
        ({"said": "density", "stock": "1.4162"}, 1229),
        ({"said": "hydrate", "stock": "66.66"}, 1229),
        ({"said": "baume", "stock": "42", "modulus": "145"}, 1253),
    ],
)
def test_a_can_of_iron_chloride_in_every_way_it_is_labelled(
    client: FlaskClient, typed: dict[str, str], grams: int
) -> None:
    """Each gives the same bath."""
    text_of = page(client, "/baths/mix/iron", IRON | typed)
    poured = re.search(r"Pour in (\d+) g", text_of)
    assert poured is not None
    assert int(poured[1]) == pytest.approx(grams, abs=1)


def test_baume_without_its_modulus_is_asked_for(client: FlaskClient) -> None:
    """And one that nobody uses is named."""
    assert "f-modulus-error" in page(client, "/baths/mix/iron", IRON | {"said": "baume", "stock": "42"}, 422)
    odd = page(client, "/baths/mix/iron", IRON | {"said": "baume", "stock": "42", "modulus": "146"}, 422)
    assert "odulus must be one of 144" in odd


@pytest.mark.parametrize(
    ("bath", "typed", "key"),
    [
        ("stripper", {"volume_l": "0", "wt_percent": "3"}, "volume-l"),
        ("stripper", {"volume_l": "1", "wt_percent": "30"}, "wt-percent"),
        ("persulfate", {"volume_l": "1", "g_per_l": "-250"}, "g-per-l"),
        ("persulfate", {"volume_l": "a spoon", "g_per_l": "250"}, "volume-l"),
        ("peroxide", PEROXIDE | {"acid": "45"}, "acid"),
    ],
)
def test_a_mistake_stands_beside_its_field(client: FlaskClient, bath: str, typed: dict[str, str], key: str) -> None:
    """Spoons are no unit."""
    assert f'id="f-{key}-error"' in page(client, f"/baths/mix/{bath}", typed, 422)


def test_an_etch_time_tells_when_to_look_not_when_to_take_out(client: FlaskClient, control: FakeControl) -> None:
    """100 µm from each side at 10 µm/min: 10 min; looks from 8 min on, every tenth of that."""
    text_of = page(client, "/baths/etch-time", ETCH)
    assert "100 µm from each open side at 10 µm/min: about 10.0 min" in text_of
    assert "Look first after 8.0 min, then after 8.8, 9.6, 10.4, 11.2 min" in text_of
    assert "seen, not timed" in text_of
    assert control.names() == []


def test_a_bath_loads_itself_and_warmth_counts(client: FlaskClient) -> None:
    """12.22 min of craft reference A9; half of it 10 °C warmer."""
    loaded = ETCH | {"open_cm2": "200", "volume_l": "1", "capacity_g_l": "50"}
    assert "about 12.2 min" in page(client, "/baths/etch-time", loaded)
    warm = page(client, "/baths/etch-time", loaded | {"known_c": "25 °C", "bath_c": "95 °F"})
    assert "about 6.1 min" in warm
    assert "it never finishes" in page(client, "/baths/etch-time", loaded | {"load": "70 %"}, 422)
    assert "f-bath-c-error" in page(client, "/baths/etch-time", ETCH | {"known_c": "25"}, 422)
    assert "f-open-cm2-error" in page(client, "/baths/etch-time", ETCH | {"capacity_g_l": "50"}, 422)


@pytest.mark.parametrize(
    "typed",
    [
        {"metal": "aluminium"},
        {"metal": "aluminium", "bath": "peroxide"},
        {"metal": "tin-lead", "bath": "caustic"},
        {"metal": "copper", "bath": "peroxide", "open_cm2": "600", "volume_l": "0.5"},
    ],
)
def test_a_panel_that_runs_away_is_refused(client: FlaskClient, typed: dict[str, str]) -> None:
    """By its metal, or by its heat."""
    text_of = page(client, "/baths/etch-time", ETCH | typed, 422)
    assert "Refused:" in text_of
    assert "Look first" not in text_of


@pytest.mark.parametrize("typed", [{"metal": "unobtainium"}, {"bath": "developer"}, {"sides": "3"}])
def test_words_that_the_form_does_not_offer_are_no_answer(client: FlaskClient, typed: dict[str, str]) -> None:
    """From an address that somebody wrote."""
    assert "Look first" not in page(client, "/baths/etch-time", ETCH | typed, 422)


def test_the_first_page_lists_what_must_never_meet(client: FlaskClient) -> None:
    """All of it, with the reason."""
    text_of = page(client, "/baths/")
    assert "acid: never with bleach" in text_of
    assert "Any acid with bleach gives off chlorine." in text_of
    assert "<details" not in text_of
    assert "waste authority decides" in text_of
    assert client.get("/baths/mix/tea").status_code == 404


def test_every_kind_of_waste_has_its_container_and_label_in_sight(client: FlaskClient) -> None:
    """Nothing folded: the lid that gasses, and who decides, on each label."""
    text_of = page(client, "/baths/waste")
    assert text_of.count("WASTE: ") == text_of.count("Vented cap. Never a tight lid.") == len(hazards.KINDS)
    assert text_of.count("waste authority decides") == len(hazards.KINDS)
    assert "<details" not in text_of


def test_waste_that_gasses_says_what_a_tight_lid_would_hold_back(client: FlaskClient) -> None:
    """Only there, and with a mix of it, for the strength that is mixed."""
    text_of = page(client, "/baths/waste")
    labels = text_of.split("WASTE: ")[1:]
    assert [label.partition(",")[0] for label in labels if "Why the cap is vented" in label] == [
        "persulfate",
        "peroxide bath",
    ]
    assert "hold back" in page(client, "/baths/mix/peroxide", PEROXIDE)
    assert "hold back" not in page(client, "/baths/mix/iron", IRON)


@pytest.mark.parametrize(
    ("bath", "into", "why"),
    [
        ("iron", "peroxide", "must not meet: iron or copper makes peroxide fall apart"),
        ("stripper", "iron", "must not meet"),
        ("iron", "cupric", "the container for copper chloride takes nothing else, no ferric chloride"),
    ],
)
def test_waste_does_not_go_into_another_s_container(client: FlaskClient, bath: str, into: str, why: str) -> None:
    """With the danger first where there is one; its own takes it."""
    text_of = page(client, "/baths/waste", {"bath": bath, "into": into}, 422)
    assert why in text_of
    assert "Yes: that" not in text_of
    assert "Yes: that is the container for it." in page(client, "/baths/waste", {"bath": bath, "into": bath})


NEUTRAL = {"allowed": "yes", "volume_l": "1", "powder": "bicarbonate", "copper_g_per_l": "37.7", "acid_mol_per_l": "0"}


def test_neutralising_is_a_sum_after_the_question(client: FlaskClient) -> None:
    """Copper of 37.7 g/L to basic carbonate: 100 g of bicarbonate, 21.4 L of gas (craft reference A6).

    Without a yes of the authority, and without an answer, nothing is told; the cautions stand with the sum.
    """
    told = page(client, "/baths/neutralise", NEUTRAL)
    assert "About 100 g of bicarbonate and 21 L of gas" in told
    assert "in small portions, the next only when the foam is down" in told
    assert "waste authority decides" in told
    for answer in ("no", "unknown", "", "perhaps"):
        assert "About" not in page(client, "/baths/neutralise", NEUTRAL | {"allowed": answer}, 422)


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"volume_l": "-1"}, "volume-l"),
        ({"powder": "lye"}, "powder"),
        ({"acid_mol_per_l": "14"}, "acid-mol-per-l"),
        ({"iron_wt_percent": "72"}, "iron-wt-percent"),
    ],
)
def test_what_cannot_be_neutralised_stands_beside_its_field(
    client: FlaskClient, typed: dict[str, str], field: str
) -> None:
    """72 % on a can is the hexahydrate (craft reference A4); solid lye is no choice at all."""
    told = page(client, "/baths/neutralise", NEUTRAL | typed, 422)
    assert f"f-{field}-error" in told
    assert "L of gas" not in told


def test_waste_that_nobody_knows_gets_no_yes(client: FlaskClient) -> None:
    """From an address that somebody wrote, or half filled in."""
    for typed in ({"bath": "tea", "into": "tea"}, {"bath": "iron"}):
        assert "Yes: that" not in page(client, "/baths/waste", typed, 422)


@pytest.mark.usefixtures("german")
def test_every_sentence_of_the_arithmetic_has_its_german() -> None:
    """Sentences within sentences, too."""
    with pytest.raises(RefusedError) as refused:
        hazards.refuse_meeting("acid", "bleach")
    assert text_of(refused.value.args[0]).startswith(
        "Abgelehnt: Säure und Chlorbleiche dürfen nicht zusammenkommen. Jede"
    )


def test_a_refusal_is_german_on_a_german_page(client: FlaskClient) -> None:
    """As everything about it."""
    client.set_cookie("sumlight_language", "de")
    headers = {"Accept-Language": "de"}
    text_of = client.get("/baths/mix/peroxide", query_string=PEROXIDE | {"bottle": "35"}, headers=headers).text
    assert "Abgelehnt: Peroxid von 35 Gew.-% ist zu stark" in text_of
    assert "Refused" not in text_of
