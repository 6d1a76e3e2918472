"""A CSV text as the table of a book: commas, semicolons or tabs, every row with the line it starts on."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence

import pandas as pd

from ordering.amounts import plural
from ordering.faults import Fault
from ordering.read.book_table import COLUMNS, HEAD_WITHIN, BookTable, Given, named_columns
from ordering.read.fields import shown

MAX_ROWS = 2_000_000
"""Ten years of three services a day and 150 dishes are 1.6 million; a row takes half a kilobyte."""


def parse_csv(
    text: str, place: str, book: str, renames: Mapping[str, str] | None, given: Given = ()
) -> tuple[BookTable | None, list[Fault]]:
    """A CSV text (commas, semicolons or tabs, as its heading has) as a table."""
    mark = delimiter(text)
    if text.count("\n") > MAX_ROWS or text.count(mark) > MAX_ROWS * len(COLUMNS[book]):
        return None, [Fault(place, 0, "", "more cells than are read", "split it by year", "large-file")]
    even = _even_columns(text, mark)
    if even is not None:
        names, faults = named_columns([column[0] for column in even], (place, 1), book, renames, given)
        lines: Sequence[int] = range(2, len(even[0]) + 1)
        found = {name: even[n][1:] for name, n in names.items()}
        if not faults:
            return BookTable(place, book, found, lines, {}, mark), []
    rows, starts, faults = records(text, place, mark)
    if faults:
        return None, faults
    kept = [n for n, row in enumerate(rows) if any(cell.strip() for cell in row)]
    if not kept:
        right = f"write the columns {', '.join(COLUMNS[book])}"
        return None, [Fault(place, 1, "", "the file is empty", right, "empty-file")]
    head = _head_among(rows, kept, place, (book, renames, given))
    names, faults = named_columns(rows[kept[head]], (place, starts[kept[head]]), book, renames, given)
    grid, lines = [rows[n] for n in kept[head + 1 :]], [starts[n] for n in kept[head + 1 :]]
    width = len(rows[kept[head]])
    if faults:
        return None, faults
    faults, torn = _ragged(grid, lines, width, place)
    whole = [n for n in range(len(grid)) if n not in torn]
    cells = list(zip(*(grid[n][:width] for n in whole), strict=True)) or [()] * width
    columns = {name: cells[n] for name, n in names.items()}
    return BookTable(place, book, columns, [lines[n] for n in whole], {}, mark), faults


def _even_columns(text: str, mark: str) -> list[list[str]] | None:
    """The columns, headings first, of a text in which nothing is quoted and every line has as many cells.

    That is what a till exports; pandas cuts it up in a quarter of the time of a reader of quotes. None for
    any other text.
    """
    text = (text.replace("\r\n", "\n") if "\r" in text else text).rstrip("\n")
    n_marks = text.partition("\n")[0].count(mark)
    if '"' in text or "\r" in text or text.count(mark) != n_marks * (text.count("\n") + 1):
        return None
    try:
        table = pd.read_csv(
            io.StringIO(text),
            sep=mark,
            header=None,
            dtype=object,
            na_filter=False,
            quoting=csv.QUOTE_NONE,
            skip_blank_lines=False,
            low_memory=False,
        )
    except (pd.errors.ParserError, pd.errors.EmptyDataError):
        return None  # a line has more cells than the one before it, or the first has none
    columns = [column.tolist() for _, column in table.items()]
    may_be_blank = not all(map(str.strip, set(columns[0])))
    is_blank = may_be_blank and not all(any(map(str.strip, row)) for row in zip(*columns, strict=True))
    return None if is_blank else columns


def records(text: str, place: str, mark: str) -> tuple[list[list[str]], list[int], list[Fault]]:
    """Every record with the line it starts on."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark, strict=True)
    rows: list[list[str]] = []
    starts: list[int] = []
    end = 0
    try:
        for row in reader:
            rows.append(row)
            starts.append(end + 1)
            end = reader.line_num
    except csv.Error as error:
        return [], [], [_csv_fault(error, place, reader.line_num, end + 1)]
    return rows, starts, []


def delimiter(text: str) -> str:
    """What parts the columns of a csv file, by its first line."""
    heading = text.lstrip()[:2000].split("\n", 1)[0]
    return max(",;\t", key=lambda mark: (heading.count(mark), mark == ","))


def _csv_fault(error: csv.Error, place: str, line: int, first: int) -> Fault:
    if "unexpected end" in str(error):
        wrong, right = (
            "a quote opens here and never closes",
            "is the file cut off? close the quote, or export again",
        )
        return Fault(place, first, "", wrong, right, "half-file")
    wrong = f"not readable as CSV: {shown(error)}"
    return Fault(place, max(line, 1), "", wrong, "check the quotes of this line", "bad-csv")


def _head_among(
    rows: Sequence[Sequence[str]],
    kept: Sequence[int],
    place: str,
    wanted: tuple[str, Mapping[str, str] | None, Given],
) -> int:
    """Which of the rows that hold anything is the heading: our own sheets have titles above it.

    wanted : as `named_columns` takes them
    """
    for n, row in enumerate(kept[:HEAD_WITHIN]):
        names, faults = named_columns(rows[row], (place, 1), *wanted)
        if names and not faults and wanted[1] is not None:
            return n
    return 0


def _ragged(
    grid: list[list[str]], lines: Sequence[int], width: int, place: str
) -> tuple[list[Fault], set[int]]:
    """A fault for each row that has not as many cells as the heading, and which rows these are."""
    faults, torn = [], set()
    for n, row in enumerate(grid):
        is_long = any(cell.strip() for cell in row[width:])
        if len(row) >= width and not is_long:
            continue
        wrong = f"{plural(len(row), 'column')} where the heading has {width}"
        kind, right = "short-row", "fill in the row"
        if is_long:
            kind, right = "long-row", "put text that has a comma in quotes"
        elif n == len(grid) - 1:
            kind, right = "half-file", "is the file cut off? export it again"
        faults.append(Fault(place, lines[n], "", wrong, right, kind))
        torn.add(n)
    return faults, torn
