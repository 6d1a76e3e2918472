"""Tables as plain strings with their positions: CSV here, workbooks in `workbook.py`."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path

from ordering.faults import Fault, nearest
from ordering.read.fields import shown
from ordering.read.files import MAX_TABLE_BYTES, decoded, printable, read_bytes
from ordering.read.schema import COLUMNS, OPTIONAL
from ordering.read.workbook import Sheet, read_sheets

MAX_ROWS = 2_000_000
MAX_COLUMNS = 200
MAX_CELLS = 12_000_000
HEAD_WITHIN = 20  # rows in which the heading is looked for
SUFFIXES = (".csv", ".xlsx")
_HISTORY = ("sales", "covers", "bookings")
_OTHERS = (".xls", ".xlsm", ".xlsb", ".ods", ".txt", ".tsv")


@dataclass(frozen=True, slots=True)
class Table:
    """The columns of one book by name, a string to a row; optional ones may be absent.

    `lines` has each row's line in the file (of a record with quoted line breaks the first), or its row in
    the sheet. `letters` names a workbook's columns, so that a message can name the cell. `mark` is what parts
    the columns of a csv file: with semicolons the comma is left to be a decimal comma.
    """

    place: str
    book: str
    columns: Mapping[str, Sequence[str]]
    lines: Sequence[int]
    letters: Mapping[str, str]
    mark: str = ","

    @property
    def n_rows(self) -> int:
        return len(self.lines)

    def subject(self, column: str, row: int) -> str:
        """`sold` in a csv file, `sold, cell D12` in a workbook."""
        letter = self.letters.get(column)
        return f"{column}, cell {letter}{self.lines[row]}" if letter else column

    def fault(self, column: str, row: int, said: tuple[str, str, str]) -> Fault:
        """A fault of one cell; `said` is (kind, wrong, right)."""
        kind, wrong, right = said
        return Fault(self.place, self.lines[row], self.subject(column, row), wrong, right, kind)


def find_book(directory: Path, book: str) -> tuple[Path | None, list[Fault]]:
    """The file of a book: `sales.csv` or `sales.xlsx`; None where there is none."""
    found = [path for suffix in SUFFIXES if (path := directory / f"{book}{suffix}").exists()]
    if len(found) == 2:
        wrong = f"there is {found[1].name} too"
        return None, [Fault(found[0].as_posix(), 0, "", wrong, "keep the one that counts", "two-files")]
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


def read_table(path: Path, book: str, renames: Mapping[str, str] | None) -> tuple[Table | None, list[Fault]]:
    """One book as a table of strings, with the faults of its form; None where it cannot be one at all.

    Rows that are torn are faults and left out, so that those of the other rows come at once with them.
    `renames` maps a heading of the file to ours; None where the map could not be read, so that no column can
    be called missing. Headings are compared without case; further columns are left out.
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
        return _pick_sheet(sheets, place, book, renames)
    text = decoded(content, place)
    if isinstance(text, Fault):
        return None, [text]
    return parse_csv(text, place, book, renames)


def read_tables(path: Path, book: str, renames: Mapping[str, str] | None) -> tuple[list[Table], list[Fault]]:
    """As `read_table`, but of a workbook every sheet that has the headings: a room on each, say."""
    if path.suffix.lower() != ".xlsx":
        table, faults = read_table(path, book, renames)
        return ([] if table is None else [table]), faults
    content = read_bytes(path, MAX_TABLE_BYTES)
    if isinstance(content, Fault):
        return [], [content]
    sheets, faults = read_sheets(content, path.as_posix())
    if faults:
        return [], faults
    tables = []
    for sheet in sheets:
        table, found = _pick_sheet([sheet], path.as_posix(), book, renames)
        if table is not None or any(fault.kind not in ("missing-column", "empty-file") for fault in found):
            faults += found
        tables += [table] if table is not None else []
    if not tables and not faults:
        _, faults = _pick_sheet(sheets, path.as_posix(), book, renames)
    return tables, faults


def parse_csv(
    text: str, place: str, book: str, renames: Mapping[str, str] | None
) -> tuple[Table | None, list[Fault]]:
    """A CSV text (commas, semicolons or tabs, as its heading has) as a table."""
    mark = delimiter(text)
    if text.count(mark) > MAX_CELLS or text.count("\n") > MAX_ROWS:
        return None, [Fault(place, 0, "", "more cells than are read", "split it by year", "large-file")]
    even = _even_columns(text, mark)
    if even is not None:
        names, faults = _named([column[0] for column in even], place, 1, book, renames)
        lines: Sequence[int] = range(2, len(even[0]) + 1)
        found = {name: even[n][1:] for name, n in names.items()}
        if not faults:
            return Table(place, book, found, lines, {}, mark), []
    rows, starts, faults = _rows(text, place, mark)
    if faults:
        return None, faults
    kept = [n for n, row in enumerate(rows) if any(cell.strip() for cell in row)]
    if not kept:
        right = f"write the columns {', '.join(COLUMNS[book])}"
        return None, [Fault(place, 1, "", "the file is empty", right, "empty-file")]
    head = _head_among(rows, kept, place, book, renames)
    names, faults = _named(rows[kept[head]], place, starts[kept[head]], book, renames)
    grid, lines = [rows[n] for n in kept[head + 1 :]], [starts[n] for n in kept[head + 1 :]]
    width = len(rows[kept[head]])
    if faults:
        return None, faults
    faults, torn = _ragged(grid, lines, width, place)
    whole = [n for n in range(len(grid)) if n not in torn]
    cells = list(zip(*(grid[n][:width] for n in whole), strict=True)) or [()] * width
    columns = {name: cells[n] for name, n in names.items()}
    return Table(place, book, columns, [lines[n] for n in whole], {}, mark), faults


def _even_columns(text: str, mark: str) -> list[list[str]] | None:
    """The columns, headings first, of a text in which nothing is quoted and every line has as many cells.

    That is what a till exports, and it can be cut up four times as fast as a reader of quotes does it. None
    for any other text.
    """
    if '"' in text:
        return None
    text = text.replace("\r\n", "\n").rstrip("\n")
    lines = text.split("\n")
    n_marks = lines[0].count(mark)
    if "\r" in text or {line.count(mark) for line in lines} != {n_marks}:
        return None
    if not all(line.strip(f"{mark} ") for line in lines):
        return None
    cells = text.replace("\n", mark).split(mark)
    return [cells[n :: n_marks + 1] for n in range(n_marks + 1)]


def _rows(text: str, place: str, mark: str) -> tuple[list[list[str]], list[int], list[Fault]]:
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
    book: str,
    renames: Mapping[str, str] | None,
) -> int:
    """Which of the rows that hold anything is the heading: our own sheets have titles above it."""
    for n, row in enumerate(kept[:HEAD_WITHIN]):
        names, faults = _named(rows[row], place, 1, book, renames)
        if names and not faults and renames is not None:
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
        wrong = f"{len(row)} columns where the heading has {width}"
        kind, right = "short-row", "fill the row up"
        if is_long:
            kind, right = "long-row", "put text that has a comma in quotes"
        elif n == len(grid) - 1:
            kind, right = "half-file", "is the file cut off? export it again"
        faults.append(Fault(place, lines[n], "", wrong, right, kind))
        torn.add(n)
    return faults, torn


def _plain_heading(text: str) -> str:
    return "_".join(text.strip().lower().replace("-", " ").replace("_", " ").split())


def _named(
    heading: Sequence[str], place: str, line: int, book: str, renames: Mapping[str, str] | None
) -> tuple[dict[str, int], list[Fault]]:
    """Where each column of `book` stands, by our name for it; faults for missing and double ones."""
    if len(heading) > MAX_COLUMNS:
        right = "export only the columns that are needed"
        return {}, [Fault(place, line, "", f"{len(heading)} columns are too many", right, "large-file")]
    ours = {_plain_heading(theirs): name for theirs, name in (renames or {}).items()}
    names: dict[str, int] = {}
    faults = []
    for n, written in enumerate(heading):
        plain = _plain_heading(written)
        name = ours.get(plain, plain)
        if name not in COLUMNS[book]:
            continue
        if name in names:
            wrong = f"two columns are '{name}'"
            faults.append(Fault(place, line, name, wrong, "rename or take out one of them", "equal-columns"))
        names[name] = n
    if renames is None:
        return names, faults
    missing = [c for c in COLUMNS[book] if c not in names and c not in OPTIONAL.get(book, ())]
    others = [h.strip() for h in heading if h.strip() and _plain_heading(h) not in COLUMNS[book]]
    for column in missing:
        close = nearest(column, [_plain_heading(h) for h in others])
        theirs = shown(others[0]) if len(others) == 1 else "YOURS"
        right = f"{close} " if close else "add it; "
        right += f"a heading of yours is mapped in house.yaml: headers: {{{book}: {{{theirs}: {column}}}}}"
        wrong = "this column is missing"
        wrong += f" (not known: {shown(', '.join(others))})" if others else ""
        faults.append(Fault(place, line, column, wrong, right, "missing-column"))
    return names, faults


def _pick_sheet(
    sheets: list[Sheet], place: str, book: str, renames: Mapping[str, str] | None
) -> tuple[Table | None, list[Fault]]:
    """The first sheet whose first twenty rows have a row with all headings of the book."""
    first_faults: list[Fault] = []
    for sheet in sheets:
        where = f"{place} [{sheet.title}]"
        for n, row in enumerate(sheet.rows[:HEAD_WITHIN]):
            names, faults = _named(row, where, sheet.numbers[n], book, renames)
            if not faults and names:
                return _from_sheet(sheet, n, where, book, names)
            if any(row) and (not first_faults or len(faults) < len(first_faults)):
                first_faults = faults
    if first_faults:
        return None, first_faults
    right = f"write the columns {', '.join(COLUMNS[book])}"
    return None, [Fault(place, 0, "", "the workbook is empty", right, "empty-file")]


def _from_sheet(
    sheet: Sheet, head: int, where: str, book: str, names: Mapping[str, int]
) -> tuple[Table | None, list[Fault]]:
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
    return Table(where, book, columns, tuple(sheet.numbers[n] for n in body), letters), []
