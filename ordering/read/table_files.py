"""The file of a book, found and read: CSV by `csv_table.py`, workbooks by `workbook.py`."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from difflib import get_close_matches
from pathlib import Path

from ordering.faults import Fault
from ordering.read.book_table import COLUMNS, HEAD_WITHIN, BookTable, Given, named_columns
from ordering.read.csv_table import parse_csv
from ordering.read.files import MAX_TABLE_BYTES, decoded, printable, read_bytes
from ordering.read.workbook import WorkbookSheet, read_sheets

SUFFIXES = (".csv", ".xlsx")
_HISTORY = ("sales", "covers", "bookings")
_OTHERS = (".xls", ".xlsm", ".xlsb", ".ods", ".txt", ".tsv")


def find_book(directory: Path, book: str) -> tuple[Path | None, list[Fault]]:
    """The file of a book: `sales.csv` or `sales.xlsx`; None where there is none."""
    found = [path for suffix in SUFFIXES if (path := directory / f"{book}{suffix}").exists()]
    if len(found) == 2:
        wrong = f"there is {found[1].name} too"
        return None, [Fault(found[0].as_posix(), 0, "", wrong, "keep the right one", "two-files")]
    for suffix in _OTHERS:
        other = directory / f"{book}{suffix}"
        if not found and other.exists():
            return None, [_not_read(other)]
    return (found[0] if found else None), []


def unread_books(directory: Path, books: Sequence[str]) -> dict[str, str]:
    """Files that look like a book and are not read, with the book: `sale.csv`, `sales 2025.xlsx`.

    A second file beside a book is named only where its name goes on from the book's: what is kept for
    `receive` and `count` may be called what its house likes.
    """
    found: dict[str, str] = {}
    for path in sorted(directory.iterdir()):
        if not path.is_file():
            continue
        if path.suffix.lower() not in (*SUFFIXES, *_OTHERS) or path.stem in books:
            continue
        stem = path.stem.casefold().replace(" ", "_").replace("-", "_")
        goes_on = [book for book in _HISTORY if stem.startswith(f"{book}_")]
        absent = [book for book in books if not any((directory / f"{book}{s}").exists() for s in SUFFIXES)]
        near = goes_on or get_close_matches(stem, absent, n=1, cutoff=0.8)
        if near:
            found[printable(path)] = near[0]
    return found


def _not_read(path: Path) -> Fault:
    right = "save it as .xlsx (without macros) or .csv"
    return Fault(path.as_posix(), 0, "", f"'{path.suffix}' files are not read", right, "wrong-suffix")


def read_table(
    path: Path, book: str, renames: Mapping[str, str] | None, given: Given = ()
) -> tuple[BookTable | None, list[Fault]]:
    """One book as a table of strings, with the faults of its form; None where it cannot be one at all.

    Rows that are torn are faults and left out, so that those of the other rows come at once with them.
    `renames` maps a heading of the file to ours; None where the map could not be read, so that no column can
    be called missing. Headings are compared without case; further columns are left out. `given` are columns
    that may be absent.
    """
    if path.suffix.lower() not in SUFFIXES:
        return None, [_not_read(path)]
    content = read_bytes(path, MAX_TABLE_BYTES)
    if isinstance(content, Fault):
        return None, [content]
    place = path.as_posix()
    if path.suffix.lower() == ".xlsx":
        sheets, faults = read_sheets(content, place)
        if faults:
            return None, faults
        return _pick_sheet(sheets, place, (book, renames, given))
    text = decoded(content, place)
    if isinstance(text, Fault):
        return None, [text]
    return parse_csv(text, place, book, renames, given)


def read_tables(
    path: Path, book: str, renames: Mapping[str, str] | None, given: Given = ()
) -> tuple[list[BookTable], list[Fault]]:
    """As `read_table`, but of a workbook every sheet that has the headings: a room on each, say."""
    if path.suffix.lower() != ".xlsx":
        table, faults = read_table(path, book, renames, given)
        return ([] if table is None else [table]), faults
    content = read_bytes(path, MAX_TABLE_BYTES)
    if isinstance(content, Fault):
        return [], [content]
    sheets, faults = read_sheets(content, path.as_posix())
    if faults:
        return [], faults
    tables = []
    for sheet in sheets:
        table, found = _pick_sheet([sheet], path.as_posix(), (book, renames, given))
        if table is not None or any(fault.kind not in ("missing-column", "empty-file") for fault in found):
            faults += found
        tables += [table] if table is not None else []
    if not tables and not faults:
        _, faults = _pick_sheet(sheets, path.as_posix(), (book, renames, given))
    return tables, faults


def _pick_sheet(
    sheets: list[WorkbookSheet], place: str, wanted: tuple[str, Mapping[str, str] | None, Given]
) -> tuple[BookTable | None, list[Fault]]:
    """The first sheet whose first twenty rows have a row with all headings of the book.

    wanted : as `named_columns` takes them
    """
    book = wanted[0]
    first_faults: list[Fault] = []
    for sheet in sheets:
        where = f"{place} [{sheet.title}]"
        for n, row in enumerate(sheet.rows[:HEAD_WITHIN]):
            names, faults = named_columns(row, (where, sheet.numbers[n]), *wanted)
            if not faults and names:
                return _from_sheet(sheet, n, where, book, names)
            if any(row) and (not first_faults or len(faults) < len(first_faults)):
                first_faults = faults
    if first_faults:
        return None, first_faults
    right = f"write the columns {', '.join(COLUMNS[book])}"
    return None, [Fault(place, 0, "", "the workbook is empty", right, "empty-file")]


def _from_sheet(
    sheet: WorkbookSheet, head: int, where: str, book: str, names: Mapping[str, int]
) -> tuple[BookTable | None, list[Fault]]:
    faults = [
        Fault(where, row, f"cell {letter}{row}", wrong, right, kind)
        for (row, column), (kind, wrong, right) in sheet.refused.items()
        if column in names.values() and row > sheet.numbers[head]
        for letter in [sheet.letters[column]]
    ]
    if faults:
        return None, faults
    body = [n for n in range(head + 1, len(sheet.rows)) if any(sheet.rows[n])]
    columns = {name: tuple(sheet.rows[n][at] for n in body) for name, at in names.items()}
    letters = {name: sheet.letters[at] for name, at in names.items()}
    return BookTable(where, book, columns, tuple(sheet.numbers[n] for n in body), letters), []
