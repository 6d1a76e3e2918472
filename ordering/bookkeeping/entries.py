"""Booking in a file of waste or of batches, told from a count by its columns."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TypeVar

from ordering.amounts import plural
from ordering.bookkeeping.files import empty, file_lines, to_come
from ordering.faults import Fault, Refused
from ordering.ledger import rows, store
from ordering.ledger.source import source_of
from ordering.loading import Loaded
from ordering.read.entries import read_batches, read_waste
from ordering.read.rows import Table, read_table
from ordering.records.books import Batch, Waste
from ordering.records.costs import unit_costs
from ordering.records.house import House
from ordering.records.ledger import BookedBatch, BookedWaste
from ordering.records.money import cents
from ordering.records.report import Report
from ordering.review.yields import learnt_yields, yield_told

Entry = TypeVar("Entry", Waste, Batch)


def other_book(file: Path, house: House) -> str:
    """`waste` or `batches` where the file has all their columns, else nothing."""
    for book in ("waste", "batches"):
        table, faults = read_table(file, book, house.headers.get(book, {}))
        if table is not None and not faults:
            return book
    return ""


def book_waste(loaded: Loaded, books_dir: Path, file: Path, on: date) -> Report:
    """Book in what was thrown away, and say what it cost.

    Raises
    ------
    Refused : the file has faults, or is of a day to come; nothing has been written
    """
    house = loaded.house
    entries = _entries(file, "waste", house, read_waste)
    where = file_lines(file, "waste", house, entries)
    _refuse(to_come(where, ((w.date, w) for w in entries), on))
    booked = [BookedWaste(w, house.unit_of(w.item), file.name) for w in entries]
    keys = sorted({(w.date, w.item) for w in entries})
    source = _File("waste", file, entries, keys)
    if day := _book(books_dir, source, on, lambda c, number: rows.add_waste(c, number, booked)):
        return Report((f"{file.name} was booked in on {day}; nothing changed",))
    costs = unit_costs(house, on)
    money = cents(sum(w.quantity * costs.get(w.item, 0.0) for w in entries))
    line = f"Waste: {plural(len(entries), 'row')} booked in, {money} {house.currency} at today's cost"
    return Report((line.rstrip(),), 0, (store.ledger_path(books_dir),))


def book_batches(loaded: Loaded, books_dir: Path, file: Path, on: date) -> Report:
    """Book in what batches gave, and offer the yields they teach as a change to the configuration.

    Raises
    ------
    Refused : the file has faults, or is of a day to come; nothing has been written
    """
    house = loaded.house
    entries = _entries(file, "batches", house, read_batches)
    where = file_lines(file, "batches", house, entries)
    _refuse(to_come(where, ((b.started_on, b) for b in entries), on))
    booked = [_booked(house, b, file) for b in entries]
    keys = sorted({(b.started_on, b.recipe) for b in entries})
    source = _File("batches", file, entries, keys)
    if day := _book(books_dir, source, on, lambda c, number: rows.add_batches(c, number, booked)):
        return Report((f"{file.name} was booked in on {day}; nothing changed",))
    books = store.with_ledger(loaded.books, house, books_dir, on)
    mine = {b.recipe for b in entries}
    learnt = learnt_yields(house, books.batches, unit_costs(house, on), (date.min, on))
    offered = [yield_told(house, y) for y in learnt if y.is_offered and y.recipe in mine]
    lines = (f"Batches: {plural(len(entries), 'row')} booked in", *offered)
    return Report(lines, 0, (store.ledger_path(books_dir),))


def _booked(house: House, batch: Batch, file: Path) -> BookedBatch:
    lines = house.recipes[batch.recipe].lines
    main = lines[0].item if lines else batch.recipe
    return BookedBatch(batch, house.unit_of(batch.recipe), file.name, main, house.unit_of(main))


@dataclass(frozen=True, slots=True)
class _File:
    """A file about to be booked: its book, what was read from it, and what its rows replace."""

    book: str
    path: Path
    entries: Sequence[Waste | Batch]
    keys: Sequence[tuple[date, str]]


def _book(books_dir: Path, file: _File, on: date, add: Callable[[sqlite3.Connection, int], None]) -> str:
    """Book the entries, or the day on which they were booked already."""
    source = source_of(file.book, file.path, file.entries)
    if day := store.booked_before(books_dir, source):
        return day
    with store.open_ledger(books_dir) as connection, store.transaction(connection):
        if day := rows.booked_before(connection, source):
            return day
        number = rows.add_file(connection, source, on)
        add(connection, number)
        rows.replace_dated(connection, file.book, number, file.keys, file.path.name)
    return ""


def _entries(
    file: Path, book: str, house: House, read: Callable[[Table, House, list[Fault]], tuple[Entry, ...]]
) -> tuple[Entry, ...]:
    table, faults = read_table(file, book, house.headers.get(book, {}))
    entries = () if table is None else read(table, house, faults)
    if faults or not entries:
        raise Refused(faults or [empty(file)])
    return entries


def _refuse(faults: Sequence[Fault]) -> None:
    if faults:
        raise Refused(faults)
