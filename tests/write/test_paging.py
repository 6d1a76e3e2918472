"""Where pages end: short parts in one piece, long ones full pages, none begun on the last lines."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ordering.records.page import Cell, Chart, Entry, Sheet, Table
from ordering.write.paging import (
    INCHES,
    page_breaks,
    points_wide,
    row_heights,
    with_headings_again,
    with_room,
)

ROWS_A_PAGE = 46  # of 16 points: A4 upright is 751 points high inside its margins, of which 98 % are used


def pages(*lengths: int, head: int = 1, breaks: tuple[int, ...] = ()) -> list[int]:
    """Breaks of a sheet with a repeated heading and parts of so many rows."""
    starts = [head + sum(lengths[:n]) for n in range(len(lengths))]
    rows = tuple((Cell(n),) for n in range(head + sum(lengths)))
    sheet = Sheet("x", rows, (20.0,), repeat=(0, head - 1), parts=tuple(starts), breaks=breaks)
    return page_breaks(sheet, row_heights(sheet), "a4")


def test_a_sheet_that_fits_is_not_broken() -> None:
    assert pages(20, 20) == []


def test_a_short_part_is_kept_in_one_piece() -> None:
    assert pages(40, 8) == [41]


def test_a_long_part_goes_on_over_pages_under_the_repeated_heading() -> None:
    assert pages(100) == [46, 46 + 45]


def test_no_part_begins_on_the_last_lines_of_a_page() -> None:
    assert pages(41, 30) == [42]
    assert pages(30, 30) == [46]  # there is room for half of it
    assert pages(35, 15) == [46]  # and here for ten rows


def test_breaks_asked_for_stay() -> None:
    assert 11 in pages(10, 10, breaks=(11,))
    unparted = Sheet("x", ((Cell(1),),) * 9, (20.0,), breaks=(3,))
    assert page_breaks(unparted, {}, "letter") == [3]


@given(st.lists(st.integers(1, 120), min_size=1, max_size=8))
def test_no_page_holds_more_than_fits(lengths: list[int]) -> None:
    breaks = [0, *pages(*lengths), 1 + sum(lengths)]
    assert breaks == sorted(set(breaks))
    held = [end - first + (first > 0) for first, end in pairwise(breaks)]  # the heading is repeated
    assert max(held) <= ROWS_A_PAGE


@given(st.lists(st.integers(1, 120), min_size=1, max_size=6))
def test_a_part_that_goes_on_has_its_heading_again(lengths: list[int]) -> None:
    """Nothing is lost, pages begin with the heading of a part, table and entries end with the last row."""
    starts = tuple(1 + sum(lengths[:n]) for n in range(len(lengths)))
    given = tuple((Cell("head" if n in starts else n),) for n in range(1 + sum(lengths)))
    sheet = Sheet("x", given, (20.0,), repeat=(0, 0), parts=starts, headings=starts)
    sheet = replace(sheet, tables=(Table("all", 0, len(given) - 1, 0, 0),), heights={len(given) - 1: 16.0})
    sheet = replace(sheet, entries=(Entry("date", 0, 1, len(given) - 1),))
    made = with_headings_again(sheet, "a4")
    said = [row[0].value for row in made.rows]
    assert [value for value in said if value != "head, continued"] == [row[0].value for row in given]
    breaks = page_breaks(made, row_heights(made), "a4")
    assert {said[row] for row in breaks} <= {"head", "head, continued"}
    assert said.count("head, continued") == sum(said[row] == "head, continued" for row in breaks)
    assert made.tables[0].last_row == max(made.heights) == made.entries[0].last_row == len(made.rows) - 1
    assert with_headings_again(replace(sheet, headings=()), "a4") == replace(sheet, headings=())


@pytest.mark.parametrize(
    ("text", "n_lines"),
    [
        ("short", 1),
        ("i" * 40, 1),  # narrow letters: forty of them take less room than twenty digits
        ("W" * 25, 3),
        ("one two three four five six", 2),
        ("one\ntwo", 2),
        ("at 41 °F (5 °C)............", 1),  # a sign for degrees is narrower than a digit
        ("@" * 10, 1),  # the widest of all letters, 1015 thousandths
        ("@" * 15, 2),
        ("", 1),
    ],
)
def test_rows_are_as_high_as_their_letters_ask(text: str, n_lines: int) -> None:
    """Arial 10: a column of twenty digits has room for 19.3 x 556 thousandths of a letter's size."""
    sheet = Sheet("x", ((Cell(text, "wrap"),),), (20.0,), row_height=5.0)
    assert row_heights(sheet)[0] == pytest.approx(n_lines * 12.5 + 1.5)


@pytest.mark.parametrize(("style", "most"), [("wrap", 18), ("wrap inset", 17), ("wrap strong", 17)])
def test_an_indent_and_bold_letters_take_room(style: str, most: int) -> None:
    """Letters as wide as a digit: an indent is three spaces of 278, bold a tenth wider at most."""
    fits, runs_on = (
        Sheet("x", ((Cell("a" * n, style),),), (20.0,), row_height=5.0) for n in (most, most + 1)
    )
    assert row_heights(fits)[0] == pytest.approx(14.0)
    assert row_heights(runs_on)[0] == pytest.approx(26.5)


def test_no_row_is_higher_than_programs_draw_one() -> None:
    """409 points is the most a row may have in the usual program (from memory of its stated limits)."""
    sheet = Sheet("x", ((Cell("one\n" * 100, "wrap"),),), (20.0,))
    assert row_heights(sheet) == {0: 409.0}


@pytest.mark.parametrize("width", [1.0, 20.0, 90.0])
def test_a_column_is_as_wide_as_the_standard_has_it(width: float) -> None:
    """ECMA-376-1, 18.3.1.13 (from memory): 7 pixels a digit at 10 points, 5 for its edges; 96 are an inch."""
    least = (7 * width + 5) * 72 / 96
    assert least <= points_wide(Sheet("x", (), (width,))) <= 1.07 * least


def test_paper_is_as_large_as_the_standards_have_it() -> None:
    """ISO 216: A4 is 210 x 297 mm; ANSI/ASME Y14.1: letter is 8.5 x 11 inches."""
    assert {"a4": (round(210 / 25.4, 2), round(297 / 25.4, 2)), "letter": (8.5, 11.0)} == INCHES


@pytest.mark.parametrize(("pixels", "breaks"), [(320, [46]), (470, [31])])
def test_a_chart_is_not_torn(pixels: int, breaks: list[int]) -> None:
    """Of 46 rows 15 are left: 320 pixels take 15 rows of 16 points, 470 take 22 and begin a page."""
    chart = Chart("line", "Covers", (31, 0), (), height=pixels)
    rows = tuple((Cell(n),) for n in range(61))
    sheet = Sheet("x", rows, (20.0,), repeat=(0, 0), parts=(1, 31), charts=(chart,))
    assert page_breaks(sheet, row_heights(sheet), "a4") == breaks


def test_a_column_is_wide_enough_for_every_day_in_it() -> None:
    day = datetime(2026, 11, 26, 15)
    (plain,) = with_room(Sheet("x", ((Cell(day, "day"),),), (5.0,))).widths
    (loud,) = with_room(Sheet("x", ((Cell(day, "day strong"),),), (5.0,))).widths
    (long,) = with_room(Sheet("x", ((Cell(day, "long-date"),),), (5.0,))).widths
    (american,) = with_room(Sheet("x", ((Cell(day, "long-date"),),), (5.0,)), is_american=True).widths
    assert len("Wed 30 Nov") < plain < loud < long < american


def test_a_column_is_wide_enough_for_every_number_in_it() -> None:
    rows = ((Cell("a long text wraps or runs on", "text"), Cell(12.125, "number strong", unit="gallon")),)
    wide = with_room(Sheet("x", rows, (5.0, 11.0))).widths
    assert wide[0] == 5.0
    assert wide[1] > len("12.125 gallon")
    assert with_room(Sheet("x", rows, (5.0, 40.0))).widths == (5.0, 40.0)
    assert with_room(Sheet("x", ((Cell(1234567.5, "money"),),), (8.0,))).widths[0] > len("1,234,567.50")
    assert with_room(Sheet("x", ((Cell(1234567.5, "money", span=2),),), (8.0, 8.0))).widths == (8.0, 8.0)
