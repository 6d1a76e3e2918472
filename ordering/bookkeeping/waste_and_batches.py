"""Booking in a file of waste or of batches, told from a count by its columns."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path
from typing import TypeVar

from ordering.amounts import plural
from ordering.bookkeeping.paper_checks import empty, file_lines, number_of, same_again, to_come
from ordering.faults import Fault, Refused
from ordering.ledger import rows, store
from ordering.loading import Loaded
from ordering.read.book_table import BookTable
from ordering.read.entries import read_batches, read_waste
from ordering.read.table_files import read_table
from ordering.records.books import Batch, Waste
from ordering.records.costs import unit_costs
from ordering.records.documents import BATCHES, WASTE, Line, Meant, Paper
from ordering.records.house import House
from ordering.records.money import cents
from ordering.records.report import Report
from ordering.review.yields import learnt_yields, yield_told

Logged = TypeVar("Logged", Waste, Batch)


def other_book(file: Path, house: House) -> str:
    """`waste` or `batches` where the file has all their columns, else nothing."""
    for book in ("waste", "batches"):
        table, faults = read_table(file, book, house.headers.get(book, {}))
        if table is not None and not faults:
            return book
    return ""


def book_waste(loaded: Loaded, books_dir: Path, file: Path, on: date, meant: Meant) -> Report:
    """Book in what was thrown away, and say what it cost.

    Raises
    ------
    Refused : the file has faults, or is of a day to come; nothing has been written
    """
    house = loaded.house
    entries = _entries(file, WASTE, house, read_waste)
    booked = [(w, rows.line_of_waste(w, house.unit_of(w.item))) for w in entries]
    booking = store.book(books_dir, _paper(file, house, WASTE, booked, on), on, meant)
    if not booking.is_new:
        return same_again(file, booking)
    costs = unit_costs(house, on)
    money = cents(sum(w.quantity * costs.get(w.item, 0.0) for w in entries))
    cost = f"{money} {house.currency}".rstrip()
    line = f"Waste: {plural(len(entries), 'row')} booked in as {booking.number}, {cost} at today's cost"
    return Report((line,), 0, (store.ledger_path(books_dir),))


def book_batches(loaded: Loaded, books_dir: Path, file: Path, on: date, meant: Meant) -> Report:
    """Book in what batches gave, and offer the yields they teach as a change to the configuration.

    Raises
    ------
    Refused : the file has faults, or is of a day to come; nothing has been written
    """
    house = loaded.house
    entries = _entries(file, BATCHES, house, read_batches)
    booked = [(b, rows.line_of_batch(_with_drawn(house, b), house.unit_of(b.recipe))) for b in entries]
    booking = store.book(books_dir, _paper(file, house, BATCHES, booked, on), on, meant)
    if not booking.is_new:
        return same_again(file, booking)
    books = store.with_ledger(loaded.books, house, books_dir, on)
    mine = {b.recipe for b in entries}
    learnt = learnt_yields(house, books.batches, unit_costs(house, on), (date.min, on))
    offered = [yield_told(house, y) for y in learnt if y.is_offered and y.recipe in mine]
    told = (f"Batches: {plural(len(entries), 'row')} booked in as {booking.number}", *offered)
    return Report(told, 0, (store.ledger_path(books_dir),))


def _with_drawn(house: House, batch: Batch) -> Batch:
    """The batch with what it drew named: the recipe's first line may be another one day."""
    lines = house.recipes[batch.recipe].lines
    main = lines[0].item if lines else batch.recipe
    return replace(batch, drawn_item=main, drawn_unit=house.unit_of(main))


def _entries(
    file: Path, book: str, house: House, read: Callable[[BookTable, House, list[Fault]], tuple[Logged, ...]]
) -> tuple[Logged, ...]:
    table, faults = read_table(file, book, house.headers.get(book, {}))
    entries = () if table is None else read(table, house, faults)
    if faults or not entries:
        raise Refused(faults or [empty(file)])
    return entries


def _paper(file: Path, house: House, kind: str, booked: Sequence[tuple[Logged, Line]], on: date) -> Paper:
    """The paper of a file's rows; refused where one is of a day to come."""
    lines = tuple(line for _, line in booked)
    where = file_lines(file, kind, house, [entry for entry, _ in booked])
    faults = to_come(where, ((line.day, entry) for entry, line in booked), on)
    if faults:
        raise Refused(faults)
    return Paper(kind, min(line.day for line in lines), lines, number_of(file), source=file.name)
