"""Small parts: quantities in words, lines that fit, blocks that stack."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.pages import parts
from ordering.records.house import House
from ordering.records.page import Cell
from ordering.texts import cells_wide, listed, one_line, told_apart, wrapped


def test_a_quantity_on_a_page_is_said_as_a_cook_says_it() -> None:
    assert parts.amount_cell(48.375, "lb", "line") == Cell("48 1/2 lb", "line right wrap")
    assert parts.amount_cell(3.0004, "kg", "line") == Cell("3 kg", "line right wrap")


def test_names_are_joined_as_one_says_them() -> None:
    assert [listed(list("abc")[:n]) for n in range(4)] == ["", "a", "a and b", "a, b and c"]


def test_paper_is_that_of_the_country() -> None:
    """Unicode CLDR, supplementalData, paperSize (from memory)."""
    assert parts.paper(House("x", holiday_country="US")) == "letter"
    assert parts.paper(House("x", holiday_country="GB")) == "a4"
    assert parts.paper(House("x")) == "a4"


def test_wide_and_combining_characters_take_their_columns() -> None:
    """Unicode Standard Annex 11: East Asian wide characters take two columns."""
    assert [cells_wide(text) for text in ("flour", "北京", "e\u0301", "", "ﾊ")] == [5, 4, 1, 0, 1]


@settings(max_examples=100)
@given(st.text(max_size=120), st.integers(2, 40))
def test_wrapped_lines_fit_and_lose_nothing(text: str, width: int) -> None:
    lines = wrapped(text, width)
    assert all(cells_wide(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == "".join("".join(map(one_line, text.splitlines())).split())


def test_no_text_fits_one_column() -> None:
    with pytest.raises(ValueError, match="no text fits 1"):
        wrapped("a", 1)


def test_a_text_too_long_goes_on_in_its_own_column() -> None:
    assert parts.aligned([("3", "white flour, strong"), ("12", "salt")], (3, 12), right=(0,)) == [
        "  3  white flour,",
        "     strong",
        " 12  salt",
    ]
    assert parts.clipped("one two three", 9) == "one ..."
    assert parts.clipped("one two", 9) == "one two"


def test_blocks_stack_with_one_empty_row_between_and_know_their_tables() -> None:
    table = parts.Block((parts.heads(("a", "b"), ("b",)), (Cell("x"), Cell(1))), "t")
    rows, tables = parts.stacked([parts.titled("T"), parts.section("S"), table, parts.Block((), "none")])
    assert [bool(row) for row in rows] == [True, False, True, True, True]
    (found,) = tables
    assert (found.name, found.first_row, found.last_row, found.last_column) == ("t", 3, 4, 1)
    assert rows[3][1].style == "head right"


def test_names_with_commas_of_their_own_are_told_apart() -> None:
    assert told_apart(["Bread", "Milk"]) == "Bread, Milk"
    assert told_apart(["Char, cured", "Milk"]) == "Char, cured; Milk"
