"""The picture in DEVELOPERS.md is that of the imports as they are."""

import re
from collections.abc import Iterator

import grimp
import pytest

from tests.house.imports import PACKAGES, ROOT, arrows, room_of
from tests.house.picture import PICTURE, drawing, floors, needed, order, reached

Arrow = tuple[str, str]
AGAIN = "draw it again: .venv/bin/python -m tests.house.picture"


def in_picture(shape: str) -> set[Arrow]:
    """Arrows as the file on the disk shows them."""
    found: Iterator[re.Match[str]] = re.finditer(
        rf'<{shape} data-from="([^"]+)" data-to="([^"]+)"', PICTURE.read_text(encoding="utf-8")
    )
    return {(match[1], match[2]) for match in found}


def test_the_picture_is_up_to_date() -> None:
    """Every byte of it."""
    assert PICTURE.read_text(encoding="utf-8") == drawing(arrows()), AGAIN


def test_the_table_shows_every_import_that_another_reader_finds() -> None:
    """grimp, which import-linter rests on, walks the source by itself."""
    graph = grimp.build_graph(*PACKAGES)
    pairs = ((one, other) for one in graph.modules for other in graph.find_modules_directly_imported_by(one))
    rooms = {(room_of(one), room_of(other)) for one, other in pairs}
    assert in_picture("circle") == {(one, other) for one, other in rooms if one and other and one != other}


def test_the_arrows_left_out_follow_from_those_drawn() -> None:
    """And no drawn one does."""
    drawn = in_picture("path")
    assert reached(drawn) == reached(in_picture("circle"))
    assert [arrow for arrow in drawn if arrow in reached(drawn - {arrow})] == []


def test_no_arrow_leads_up() -> None:
    """In the order of the table's rows."""
    rows = [room for row in reversed(order(arrows())) for room in row]
    assert [(one, other) for one, other in arrows() if rows.index(one) >= rows.index(other)] == []


def test_a_circle_cannot_be_drawn() -> None:
    """It has no floors."""
    with pytest.raises(ValueError, match="in a circle among a, b, c"):
        floors({("a", "b"), ("b", "c"), ("c", "a"), ("c", "d")})


def test_an_arrow_that_follows_from_two_others_is_left_out() -> None:
    """By hand: from a over b and c to d."""
    assert needed({("a", "b"), ("b", "c"), ("c", "d"), ("a", "c"), ("a", "d")}) == [("a", "b"), ("b", "c"), ("c", "d")]


def test_developers_see_it() -> None:
    """The guide shows this very file."""
    assert f"]({PICTURE.relative_to(ROOT)})" in (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
