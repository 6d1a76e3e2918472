"""Workbooks to bytes: text stays text, numbers numbers, dates dates; nothing from input is a formula."""

from __future__ import annotations

import io
import math
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from datetime import date
from typing import Any

import xlsxwriter

from ordering.days import american
from ordering.records.page import Cell, Entry, Sheet, Table, Workbook
from ordering.texts import harmless, one_line
from ordering.write.charts import SHORT_DAY, add_chart
from ordering.write.paging import MARGINS, page_breaks, row_heights, with_headings_again, with_room
from ordering.write.styles import FONT, MONTH_FIRST, SIZE, number_format, properties

OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
    "remove_timezone": True,
}
PAPER = {"a4": 9, "letter": 1}

Format = Callable[..., Any]


def workbook_bytes(workbook: Workbook) -> bytes:
    """The workbook as an .xlsx file; the same value gives the same bytes.

    Raises
    ------
    ValueError : a style word, a chart or its sheet, or the paper is not known; a table has no row
        under its heads, heads that repeat, or overlaps another; a formula does not begin with `=`
    """
    if workbook.is_american:
        sheets = tuple(map(_american, workbook.sheets))
        workbook = replace(workbook, sheets=sheets, title=american(workbook.title))
    buffer = io.BytesIO()
    book = xlsxwriter.Workbook(buffer, OPTIONS)
    book.set_properties(
        {"title": one_line(workbook.title), "author": one_line(workbook.author)}
        | {"created": workbook.created.replace(tzinfo=None)}
    )
    book.formats[0].set_font_name(FONT)
    book.formats[0].set_font_size(SIZE)
    names = sheet_names(sheet.title for sheet in workbook.sheets)
    format_of = _formats(book, workbook.is_american)
    tables: set[str] = set()
    for given in workbook.sheets:
        sheet = with_headings_again(with_room(given, workbook.is_american), workbook.paper)
        paged = book.add_worksheet(names[sheet.title])
        _set_page(paged, sheet, workbook.paper)
        for table in sheet.tables:
            _add_table(paged, sheet, table, tables)
        _write_rows(paged, sheet, format_of, names)
        for entry in sheet.entries:
            _add_entry(paged, entry)
    for sheet in workbook.sheets:
        for chart in sheet.charts:
            add_chart(book, book.get_worksheet_by_name(names[sheet.title]), chart, names)
    book.close()
    return buffer.getvalue()


def sheet_names(titles: Iterable[str]) -> dict[str, str]:
    """A name a workbook may carry for each title: 31 characters at most, none forbidden, no two alike."""
    names: dict[str, str] = {}
    taken: set[str] = {"history"}
    for title in titles:
        plain = re.sub(r"[\[\]:*?/\\]", " ", one_line(title)).strip(" '") or "Sheet"
        name, n = plain[:31].rstrip(" '"), 1
        while name.casefold() in taken:
            n += 1
            name = f"{plain[: 28 - len(str(n))]} ({n})"
        taken.add(name.casefold())
        names[title] = name
    return names


def _american(sheet: Sheet) -> Sheet:
    """The sheet with days and times in its texts and along its charts as they are said in the US."""
    rows = tuple(
        tuple(replace(c, value=american(c.value)) if isinstance(c.value, str) else c for c in row)
        for row in sheet.rows
    )
    charts = tuple(
        replace(
            c,
            category_format=MONTH_FIRST.get(c.category_format, c.category_format),
            value_format=MONTH_FIRST[SHORT_DAY] if c.kind == "time-line" else c.value_format,
        )
        for c in sheet.charts
    )
    return replace(sheet, rows=rows, charts=charts, footer=american(sheet.footer))


def _formats(book: Any, is_american: bool) -> Format:
    known: dict[tuple[tuple[str, object], ...], Any] = {}
    seen: dict[tuple[object, ...], Any] = {}

    def format_of(cell: Cell) -> Any:
        value = cell.value
        kind = number_format(value) if isinstance(value, float) else type(value)
        key = (cell.style, kind, cell.unit, cell.is_open)
        found = seen.get(key)
        if found is None:
            wanted = properties(cell.style, value, cell.unit, cell.is_open, is_american)
            looks = tuple(sorted(wanted.items(), key=lambda pair: pair[0]))
            if looks not in known:
                known[looks] = book.add_format(wanted)
            found = seen[key] = known[looks]
        return found

    return format_of


def _set_page(paged: Any, sheet: Sheet, paper: str) -> None:
    if paper not in PAPER:
        raise ValueError(f"paper is {paper!r}; it must be one of {', '.join(PAPER)}")
    paged.set_paper(PAPER[paper])
    if sheet.is_landscape:
        paged.set_landscape()
    paged.set_margins(**MARGINS)
    paged.fit_to_pages(1, sheet.fit_tall)
    paged.hide_gridlines(2)
    paged.center_horizontally()
    left = one_line(sheet.footer).replace("&", "&&")[:160]
    paged.set_footer(f"&L&10{_digit_safe(left)}&R&10page &P of &N")
    for column, width in enumerate(sheet.widths):
        paged.set_column(column, column, width)
    paged.set_default_row(sheet.row_height)
    heights = row_heights(sheet)
    for row, height in heights.items():
        paged.set_row(row, height)
    if sheet.repeat is not None:
        paged.repeat_rows(*sheet.repeat)
    if sheet.freeze:
        paged.freeze_panes(sheet.freeze, 0)
    if breaks := page_breaks(sheet, heights, paper):
        paged.set_h_pagebreaks(breaks)
    if sheet.is_protected:
        paged.protect("", {"format_columns": True, "format_rows": True, "autofilter": True})
    if sheet.rows and sheet.widths:
        paged.print_area(0, 0, _last_row(sheet), len(sheet.widths) - 1)


def _digit_safe(footer: str) -> str:
    """A footer that begins with a digit would be read as part of the font size before it."""
    return f" {footer}" if footer[:1].isdigit() else footer


def _last_row(sheet: Sheet) -> int:
    """The last row to print: charts reach below the cells (a row is 20 pixels high)."""
    reach = [chart.at[0] + math.ceil(chart.height / 20) for chart in sheet.charts]
    return max([len(sheet.rows) - 1, *reach])


def _add_table(paged: Any, sheet: Sheet, table: Table, taken: set[str]) -> None:
    heads = sheet.rows[table.first_row][table.first_column : table.last_column + 1]
    texts = [harmless(str(cell.value or "")) for cell in heads]
    if table.last_row <= table.first_row or len({t.casefold() for t in texts}) < len(texts) or "" in texts:
        raise ValueError(f"table {table.name!r} needs a row and a head of its own for each column")
    name = base = re.sub(r"\W+", "_", f"table_{table.name}", flags=re.ASCII)[:200]
    n = 1
    while name.casefold() in taken:
        n += 1
        name = f"{base}_{n}"
    taken.add(name.casefold())
    options = {
        "name": name,
        "style": None,
        "autofilter": table.has_filter,
        "title": one_line(table.name),
        "columns": [{"header": text} for text in texts],
    }
    paged.add_table(table.first_row, table.first_column, table.last_row, table.last_column, options)


def _write_rows(paged: Any, sheet: Sheet, format_of: Format, names: Mapping[str, str]) -> None:
    for r, row in enumerate(sheet.rows):
        c = 0
        for cell in row:
            _write_cell(paged, (r, c), cell, format_of(cell), names)
            c += cell.span
    whole = f"A1:XFD{max(len(sheet.rows), 1)}"
    paged.ignore_errors({"number_stored_as_text": whole, "formula_unlocked": whole, "formula_range": whole})


def _write_cell(paged: Any, at: tuple[int, int], cell: Cell, style: Any, names: Mapping[str, str]) -> None:
    if cell.span > 1:
        paged.merge_range(*at, at[0], at[1] + cell.span - 1, "", style)
    value = harmless(cell.value) if isinstance(cell.value, str) else cell.value
    if cell.formula:
        if not cell.formula.startswith("="):
            raise ValueError(f"a formula begins with '=': {cell.formula!r}")
        paged.write_formula(*at, cell.formula, style, _number(value))
    elif cell.link:
        tip = one_line(f"go to {cell.link}")
        name = names[cell.link].replace("'", "''")
        target = f"internal:'{name}'!A{cell.link_row + 1}"
        paged.write_url(*at, target, style, str(value), tip[:255])
    elif value is None or value == "":
        paged.write_blank(*at, None, style)
    elif isinstance(value, str):
        paged.write_string(*at, value, style)
    elif isinstance(value, date):
        paged.write_datetime(*at, value, style)
    elif math.isfinite(value):
        paged.write_number(*at, float(value), style)
    else:
        paged.write_blank(*at, None, style)


def _number(value: object) -> object:
    return value if isinstance(value, str) else float(value or 0)  # type: ignore[arg-type]


def _add_entry(paged: Any, entry: Entry) -> None:
    kinds: dict[str, dict[str, object]] = {
        "whole": {"validate": "integer", "criteria": "between", "minimum": 0, "maximum": 99999},
        "number": {"validate": "decimal", "criteria": "between", "minimum": 0, "maximum": 9999999},
        "date": {"validate": "date", "criteria": ">=", "value": date(2000, 1, 1)},
    }
    if entry.kind not in kinds:
        raise ValueError(f"open cells take {', '.join(kinds)}, not {entry.kind!r}")
    wording = {"error_title": "Please check", "error_message": entry.hint or "This cannot stand here."}
    paged.data_validation(
        entry.first_row, entry.column, entry.last_row, entry.column, kinds[entry.kind] | wording
    )
