"""Workbooks read back by another library: what is text, number, date, open, locked, repeated."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime
from decimal import Decimal

import openpyxl
import pytest
from hostile import NAMES

from ordering.records.page import Cell, Chart, Entry, Series, Sheet, Table, Workbook
from ordering.texts import harmless
from ordering.write.paging import row_heights
from ordering.write.xlsx import sheet_names, workbook_bytes

NOW = datetime(2026, 11, 26, 9, 30)


def sheet(
    *rows: tuple[Cell, ...], title: str = "One", widths: tuple[float, ...] = (12, 12, 12), **more: object
) -> Sheet:
    return Sheet(title, rows, widths, **more)  # type: ignore[arg-type]


def book(*sheets: Sheet, **more: object) -> Workbook:
    return Workbook("A book", sheets, NOW, **more)  # type: ignore[arg-type]


def read(workbook: Workbook, **how: bool) -> openpyxl.Workbook:
    return openpyxl.load_workbook(io.BytesIO(workbook_bytes(workbook)), **how)


def test_numbers_are_numbers_and_dates_are_dates() -> None:
    row = (Cell(3, "whole"), Cell(Decimal("4.20"), "money"), Cell(date(2026, 11, 28), "day"))
    cells = read(book(sheet(row, (Cell(datetime(2026, 11, 26, 15), "day"), Cell(2.5, "number", unit="kg")))))[
        "One"
    ]
    assert [cells["A1"].value, cells["B1"].value] == [3, 4.2]
    assert cells["C1"].value == datetime(2026, 11, 28)
    assert cells["C1"].is_date
    assert cells["A2"].value == datetime(2026, 11, 26, 15)
    assert cells["B2"].value == 2.5
    assert '"kg"' in cells["B2"].number_format


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_text_stays_text_whatever_it_begins_with(name: str) -> None:
    cell = read(book(sheet((Cell(name), Cell(name, "wrap strong", span=2)))))["One"]["A1"]
    assert cell.data_type == "s"
    assert not cell.hyperlink
    assert openpyxl.utils.escape.unescape(cell.value) == harmless(name)
    assert harmless(name).split() == name.translate({7: " ", 0: " ", 0x202E: None}).split()


def test_of_a_text_a_cell_holds_as_much_as_the_format_allows() -> None:
    """32,767 characters, as spreadsheet programs have it (the value from memory)."""
    rows = (Cell("x" * 40_000),), (Cell("x" * 40_000, link="One"),)
    cells = read(book(sheet(*rows)))["One"]
    assert [len(cells[place].value) for place in ("A1", "A2")] == [32_767, 32_767]


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_any_name_can_stand_in_titles_footers_tables_and_authors(name: str) -> None:
    heads = (Cell("a", "head"), Cell("b", "head"))
    page = sheet(heads, (Cell(1), Cell(2)), title=name, footer=name, tables=(Table(name, 0, 1, 0, 1),))
    found = read(Workbook(name, (page, sheet(title="Two")), NOW, author=name))
    first = found.worksheets[0]
    assert 0 < len(first.title) <= 31
    assert "\n" not in (first.oddFooter.left.text or "")
    assert len(first.tables) == 1


def test_ampersands_of_a_name_are_not_codes_of_the_footer() -> None:
    raw = workbook_bytes(book(sheet(footer="3 A & B")))
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        page = packed.read("xl/worksheets/sheet1.xml").decode()
    assert "<oddFooter>&amp;L&amp;10 3 A &amp;&amp; B&amp;R&amp;10page &amp;P of &amp;N</oddFooter>" in page


def test_only_open_cells_can_be_changed_on_a_protected_sheet() -> None:
    page = sheet((Cell(1, "whole", is_open=True), Cell(2, "whole")), is_protected=True)
    found = read(book(page))["One"]
    assert found.protection.sheet
    assert not found["A1"].protection.locked
    assert found["B1"].protection.locked


def test_heading_repeats_freezes_and_the_width_fits_one_page_on_both_papers() -> None:
    page = sheet((Cell("t"),), (Cell("h", "head"),), (Cell(1),), repeat=(1, 1), freeze=2, is_landscape=True)
    for paper, code in (("a4", 9), ("letter", 1)):
        found = read(book(page, paper=paper))["One"]
        assert found.print_title_rows == "$2:$2"
        assert found.freeze_panes == "A3"
        assert (found.page_setup.fitToWidth or 1, found.page_setup.fitToHeight) == (1, 0)
        assert found.sheet_properties.pageSetUpPr.fitToPage
        assert int(found.page_setup.paperSize) == code
        assert found.page_setup.orientation == "landscape"


def test_a_table_carries_its_heads_and_its_name() -> None:
    rows = ((Cell("code", "head"), Cell("packs", "head")), (Cell("77"), Cell(3, "whole")))
    page = sheet(*rows, tables=(Table("order for 3-hills", 0, 1, 0, 1),))
    (table,) = read(book(page))["One"].tables.values()
    assert table.ref == "A1:B2"
    assert [column.name for column in table.tableColumns] == ["code", "packs"]
    assert table.displayName == "table_order_for_3_hills"
    assert table.headerRowCount == 1


def test_tables_of_one_name_are_told_apart() -> None:
    rows = ((Cell("a", "head"),), (Cell(1),), (), (Cell("a", "head"),), (Cell(2),))
    page = sheet(*rows, tables=(Table("x", 0, 1, 0, 0), Table("x", 3, 4, 0, 0)))
    assert sorted(read(book(page))["One"].tables) == ["table_x", "table_x_2"]


@pytest.mark.parametrize(
    "rows",
    [((Cell("a"), Cell("A")), (Cell(1), Cell(2))), ((Cell("a"), Cell("")), (Cell(1), Cell(2)))],
    ids=["heads alike", "head empty"],
)
def test_a_table_with_unclear_heads_is_refused(rows: tuple[tuple[Cell, ...], ...]) -> None:
    with pytest.raises(ValueError, match="a head of its own"):
        workbook_bytes(book(sheet(*rows, tables=(Table("t", 0, 1, 0, 1),))))


def test_a_formula_of_ours_keeps_its_result() -> None:
    page = sheet((Cell(2, "whole"), Cell(4.5, "money", formula="=ROUND(A1*2.25,2)")))
    assert read(book(page))["One"]["B1"].value == "=ROUND(A1*2.25,2)"
    assert read(book(page), data_only=True)["One"]["B1"].value == 4.5
    with pytest.raises(ValueError, match="begins with"):
        workbook_bytes(book(sheet((Cell(1, formula="A1"),))))


def test_open_cells_refuse_what_cannot_stand_there() -> None:
    page = sheet(
        (Cell("packs", "head"),),
        (Cell(3, "whole", is_open=True),),
        entries=(Entry("whole", 0, 1, 1, "Whole."),),
    )
    (check,) = read(book(page))["One"].data_validations.dataValidation
    assert (check.type, check.operator, str(check.sqref), check.error) == ("whole", None, "A2", "Whole.")
    with pytest.raises(ValueError, match="open cells take"):
        workbook_bytes(book(sheet((Cell(1),), entries=(Entry("colour", 0, 0, 0),))))


def test_a_link_leads_to_a_sheet_of_the_book() -> None:
    found = read(book(sheet((Cell("go", link="O'Shea: x"),)), sheet((Cell(1),), title="O'Shea: x")))
    assert found["One"]["A1"].hyperlink.location == "'O''Shea  x'!A1"
    assert found["One"]["A1"].value == "go"


@pytest.mark.parametrize("kind", ["line", "column", "bar", "time-line", "band"])
def test_charts_of_every_kind_are_native_and_described(kind: str) -> None:
    rows = tuple((Cell(f"d{n}"), Cell(n, "whole"), Cell(n + 1, "whole")) for n in range(3))
    series = (Series("low", "One", (0, 0, 2), (1, 0, 2), "hidden" if kind == "time-line" else "strong"),)
    series += (Series("high", "One", (0, 0, 2), (2, 0, 2), "band" if kind in ("band", "bar") else "plain"),)
    chart = Chart(kind, "Covers", (5, 0), series, description="what it shows", axis_range=(0.0, 9.0))
    raw = workbook_bytes(book(sheet(*rows, charts=(chart,))))
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        drawing = packed.read("xl/drawings/drawing1.xml").decode()
        drawn = packed.read("xl/charts/chart1.xml").decode()
    assert 'descr="what it shows"' in drawing
    assert "One!$B$1:$B$3" in drawn
    assert "One!$C$1:$C$3" in drawn


@pytest.mark.parametrize(("is_american", "days"), [(False, "d mmm"), (True, "mmm d")])
def test_days_along_an_axis_are_written_as_the_house_writes_them(is_american: bool, days: str) -> None:
    rows = tuple((Cell(f"d{n}"), Cell(n, "whole")) for n in range(2))
    chart = Chart("time-line", "Lots", (3, 0), (Series("s", "One", (0, 0, 1), (1, 0, 1)),))
    raw = workbook_bytes(book(sheet(*rows, charts=(chart,)), is_american=is_american))
    with zipfile.ZipFile(io.BytesIO(raw)) as packed:
        drawn = packed.read("xl/charts/chart1.xml").decode()
    assert f'formatCode="{days}"' in drawn
    assert 'majorUnit val="7"' in drawn, "a mark a week"


@pytest.mark.parametrize(
    ("chart", "message"),
    [
        (Chart("pie", "t", (0, 0), ()), "no chart is called"),
        (Chart("line", "t", (0, 0), (Series("s", "Nowhere", (0, 0, 1), (1, 0, 1)),)), "not there"),
        (
            Chart("line", "t", (0, 0), (Series("s", "One", (0, 0, 1), (1, 0, 1), "loud"),)),
            "no series of style",
        ),
    ],
)
def test_a_chart_that_cannot_be_drawn_is_refused(chart: Chart, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        workbook_bytes(book(sheet((Cell(1),), charts=(chart,))))


def test_unknown_words_of_style_and_paper_are_refused() -> None:
    with pytest.raises(ValueError, match="no style is called 'shiny'"):
        workbook_bytes(book(sheet((Cell(1, "shiny"),))))
    with pytest.raises(ValueError, match="paper is 'a3'"):
        workbook_bytes(book(sheet(), paper="a3"))


def test_what_is_no_number_leaves_the_cell_empty() -> None:
    found = read(book(sheet((Cell(float("nan"), "number"), Cell(None, "money"), Cell("")))))["One"]
    assert [cell.value for cell in found[1]] == [None, None, None]


def test_the_same_workbook_gives_the_same_bytes() -> None:
    page = sheet((Cell("a", "head"),), (Cell(1.25, "number"),), tables=(Table("t", 0, 1, 0, 0),))
    assert workbook_bytes(book(page)) == workbook_bytes(book(page))
    assert read(book(page)).properties.created == NOW


def test_sheet_names_are_short_plain_and_no_two_alike() -> None:
    names = sheet_names(["a/b:c", "A b c", "x" * 40, "x" * 41, "''", "History"])
    assert list(names.values()) == ["a b c", "A b c (2)", "x" * 31, "x" * 27 + " (2)", "Sheet", "History (2)"]


def test_rows_are_as_high_as_their_wrapped_text_needs() -> None:
    page = sheet(
        (Cell("short", "wrap"),), (Cell("word " * 12, "wrap"),), (Cell("T", "title"),), widths=(12.0,)
    )
    heights = row_heights(page)
    assert 0 not in heights
    assert heights[1] > 4 * page.row_height
    assert heights[2] > page.row_height


def test_a_day_in_the_footer_is_said_as_in_the_cells() -> None:
    page = sheet((Cell("Thursday 5 November 2026"),), footer="A house, Thursday 5 November 2026")
    found = read(book(page, is_american=True))["One"]
    assert found["A1"].value == "Thursday, November 5, 2026"
    assert "A house, Thursday, November 5, 2026" in found.oddFooter.left.text
