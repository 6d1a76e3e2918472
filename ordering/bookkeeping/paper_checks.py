"""What is refused of any file to be booked in, and where its rows stand."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence
from datetime import date
from pathlib import Path

from ordering.faults import Fault, Refused
from ordering.ledger.doubting import FileLines
from ordering.pages.parts import number_on
from ordering.read.book_table import BookTable
from ordering.read.door import looked_at
from ordering.read.grid import read_grids
from ordering.read.table_files import read_tables
from ordering.records.documents import Booking
from ordering.records.house import House
from ordering.records.report import Report


def file_lines(file: Path, book: str, house: House, records: Sequence[Hashable]) -> FileLines:
    """The line of each record that was read from a file as a `book` of the house.

    Rows of a count without a quantity, and of a delivery without packs too, were not looked at: no record.
    """
    return lines_in(file, book, read_tables(file, book, house.headers.get(book, {}))[0], records)


def lines_in(file: Path, book: str, tables: Sequence[BookTable], records: Sequence[Hashable]) -> FileLines:
    """The line of each record that was read from these tables of a file."""
    at = [(table.place, line) for table in tables for line in _lines_read(table, book)]
    if len(at) != len(records):
        return FileLines(file.as_posix(), {})
    return FileLines(file.as_posix(), dict(zip(reversed(records), reversed(at), strict=True)))


def _lines_read(table: BookTable, book: str) -> list[int]:
    lines = list(table.lines)
    if book == "counts":
        return [n for n, text in zip(lines, table.columns["quantity"], strict=True) if text.strip()]
    if book == "deliveries":
        return [n for n, is_filled in zip(lines, looked_at(table), strict=True) if is_filled]
    return lines


def same_again(file: Path, same: Booking) -> Report:
    """What is said of a paper that stands in the ledger as it is."""
    booked_on = same.booked_on.isoformat()
    return Report((f"{file.name} was booked in on {booked_on} as {same.number}; nothing changed",))


def number_of(file: Path) -> str:
    """The number printed at the head of a sheet; empty on a list somebody typed."""
    grids, _ = read_grids(file)
    return next((number for grid in grids if (number := number_on(grid.rows))), "")


def refuse_taken(out: Path, what: str) -> None:
    """A sheet is written where there is no file yet: a filled one is never written over.

    Raises
    ------
    Refused : there is a file of that name, perhaps a filled `what`
    """
    if "\0" in str(out):
        plain = str(out).replace("\0", "?")
        raise Refused([Fault(plain, 0, "", "not a usable name", "name another with --out", "file-there")])
    if out.exists() or out.is_symlink():
        wrong = f"there is a file of this name, perhaps a filled {what}"
        raise Refused([Fault(out.as_posix(), 0, "", wrong, "name another with --out", "file-there")])


def to_come(where: FileLines, dated: Iterable[tuple[date, Hashable]], on: date) -> list[Fault]:
    """A fault for each day after `on`, at the first record of that day."""
    right = f"write the day it was, {on.isoformat()} or before"
    first: dict[date, Hashable] = {}
    for day, record in dated:
        if day > on:
            first.setdefault(day, record)
    return [
        where.fault(first[day], "", (f"{day.isoformat()} is still to come", right, "future"))
        for day in sorted(first)
    ]


def empty(file: Path) -> Fault:
    """The fault of a file without a row to book in."""
    return Fault(
        file.as_posix(), 0, "", "there is nothing to book in", "fill in at least one row", "empty-file"
    )
