"""Writing a count sheet and booking in a filled one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from ordering.amounts import plural
from ordering.bookkeeping.door_remarks import confirmed
from ordering.bookkeeping.paper_checks import (
    empty,
    lines_in,
    number_of,
    refuse_taken,
    same_again,
)
from ordering.bookkeeping.waste_and_batches import book_batches, book_waste, other_book
from ordering.days import format_day
from ordering.explode.drawn import used_in
from ordering.faults import Fault, Refused
from ordering.ledger import rows, store
from ordering.ledger.counting import (
    MOST_NAMED,
    came_named,
    counted_with_what_came,
    implausible,
    impossible,
    old_counts,
    recount_told,
    totals,
    usual,
    variance_told,
    variances,
    with_delivery_told,
)
from ordering.ledger.doubting import FileLines
from ordering.ledger.merge import merged
from ordering.loading import Loaded, load
from ordering.net.counted_marks import with_marks
from ordering.net.opening import opening
from ordering.net.shelf_life import use_by
from ordering.pages.count_sheet import count_sheet
from ordering.read.books_folder import count_tables, read_counts
from ordering.records.books import Books, CountedLot, Receipt
from ordering.records.costs import unit_costs
from ordering.records.documents import COUNT, Document, Meant, Paper
from ordering.records.house import House
from ordering.records.report import Report
from ordering.texts import listed
from ordering.write.folder import write_file
from ordering.write.xlsx import workbook_bytes


def count_out(config: Path, books_dir: Path, on: date, out: Path, with_expected: bool = False) -> Report:
    """Write a count sheet for a day, `with_expected` with last counts and what there should be.

    Raises
    ------
    Refused : the input has faults, or there is a file of that name already; nothing has been written
    """
    loaded = load(config, books_dir, on)
    refuse_taken(out, "count")
    books = loaded.current
    number = store.give_number(books_dir, Paper(COUNT, on, (), source=out.name), on)
    there = opening(loaded.house, books, on)
    sheet = count_sheet(loaded.house, books, there, on, number, with_expected)
    write_file(out, workbook_bytes(sheet))
    return Report(
        (
            f"Count sheet {number} for {format_day(on)} written to {out}; book it "
            f"in with: ordering count {out}",
        ),
        0,
        (out,),
    )


def count_in(config: Path, books_dir: Path, file: Path, on: date, meant: Meant) -> Report:
    """Book in a filled count and hold it against what there should be.

    Two sheets of the same day add up; a sheet booked in again takes the place of what it said before. Entries
    that look like a slip are refused unless confirmed. A file with the columns of `waste` or `batches` is
    booked in as such.

    Raises
    ------
    Refused : the file has faults, or entries to ask about; nothing has been written
    """
    loaded = load(config, books_dir, on)
    house = loaded.house
    lots, faults = read_counts(file, house)
    if any(fault.kind == "missing-column" for fault in faults):
        book = other_book(file, house)
        if book:
            return (book_waste if book == "waste" else book_batches)(loaded, books_dir, file, on, meant)
    if faults or not lots:
        raise Refused(faults or [empty(file)])
    where = lines_in(file, "counts", count_tables(file, house)[0], lots)
    if faults := impossible(lots, where, on):
        raise Refused(faults)
    number = number_of(file)
    lines = tuple(rows.line_of_count(lot, house.unit_of(lot.item)) for lot in lots)
    paper = Paper(COUNT, min(lot.counted_on for lot in lots), lines, number, source=file.name)
    if same := store.booked_before(books_dir, paper):
        return same_again(file, same)
    sheet = store.document(books_dir, number) if number else None
    adds_up = meant.is_further or bool(meant.corrects) or (sheet is not None and sheet.version > 0)
    rooms = _other_rooms(loaded, lots, meant.corrects or number) if adds_up else []
    expected, odd = _held_against(loaded, lots, rooms, where)
    odd = [*_of_another_day(sheet, lots, file, on), *odd]
    if odd and not meant.is_confirmed:
        raise Refused(odd)
    booking = store.book(books_dir, paper, on, meant)
    if not booking.is_new:
        return same_again(file, booking)
    before = [rows.counted_of(line) for line in booking.before]
    n_items = len({lot.item for lot in lots})
    told = variance_told(house, variances(house, [*lots, *rooms], expected, unit_costs(house, on)))
    undated = _undated_told(house, replace(loaded.current, counts=tuple(lots)), lots)
    look = (*old_counts(lots, on), *confirmed(odd))
    head = f"Counted {plural(n_items, 'item')}: {plural(len(lots), 'lot')} booked in as {booking.number}"
    return Report(
        (head, *recount_told(house, before, lots), *told, *undated, *look),
        1 if look else 0,
        (store.ledger_path(books_dir),),
    )


def _undated_told(house: House, books: Books, lots: Sequence[CountedLot]) -> tuple[str, ...]:
    """What is said of goods with a shelf life that were counted without a date, the soonest past it first.

    Of a marked recipe what batches of the books explain has their date; all else is dated from the count.
    """
    counted = {(lot.counted_on, lot.item) for lot in lots if lot.use_by is None and lot.quantity > 0}
    dated = set()
    for row in with_marks(house, books, max((day for day, _ in counted), default=date.min)):
        until = use_by(house, row.item, row.counted_on)
        is_there = (row.counted_on, row.item) in counted and (
            row.ready_on or row.counted_on
        ) == row.counted_on
        if is_there and until is not None and row.quantity > 0 and row.use_by in (None, until):
            dated.add((until, house.name_of(row.item)))
    if not dated:
        return ()
    named = [f"{name} (to {format_day(until)})" for until, name in sorted(dated)]
    return (
        f"counted without a use-by, so taken as fresh that day: {listed(named, MOST_NAMED)}; "
        "where one is older, write the date on its label and book the sheet in again",
    )


def _of_another_day(sheet: Document | None, lots: Sequence[CountedLot], file: Path, on: date) -> list[Fault]:
    """A question where a sheet of an earlier day comes back with that day still in its box.

    What was counted a morning later is short of a day's sales and long of a day's deliveries otherwise.
    """
    if sheet is None or sheet.version or sheet.day >= on or {lot.counted_on for lot in lots} != {sheet.day}:
        return []
    wrong = f"the sheet is of {format_day(sheet.day)} and comes back on {format_day(on)}"
    right = f"write the day of the count in the box at its head; with --yes it is {format_day(sheet.day)}"
    return [Fault(file.as_posix(), 0, sheet.number, wrong, right, "which-day")]


def _other_rooms(loaded: Loaded, lots: Sequence[CountedLot], number: str) -> list[CountedLot]:
    """What other sheets of the same day have of the same items: together they are the count."""
    counted = {(lot.counted_on, lot.item) for lot in lots}
    others = (b.record for b in loaded.bookings.counts if b.number != number)
    return [lot for lot in others if (lot.counted_on, lot.item) in counted]


def _held_against(
    loaded: Loaded, lots: Sequence[CountedLot], rooms: Sequence[CountedLot], where: FileLines
) -> tuple[dict[date, dict[str, float]], list[Fault]]:
    """What there should be on each day of the count by item, and the entries to ask about.

    rooms : what other sheets have counted of it already
    """
    house = loaded.house
    expected: dict[date, dict[str, float]] = {}
    odd: list[Fault] = []
    for day in sorted({lot.counted_on for lot in lots}):
        books = merged(loaded.books, house, loaded.bookings, day)[0]
        expected[day] = expected_stock(house, books, day)
        mine = [lot for lot in lots if lot.counted_on == day]
        there = {item: quantity for (on, item), quantity in totals(rooms).items() if on == day}
        due = {item: max(0.0, most - there.get(item, 0.0)) for item, most in expected[day].items()}
        doubled = counted_with_what_came(mine, due, books.receipts)
        odd += with_delivery_told(house, doubled, mine, where)
        due = {item: most + doubled.get(item, 0.0) for item, most in due.items()}
        odd += implausible(
            house, mine, due, usual(house, books, day), used_in(house, books.sales, day), where
        )
    return expected, odd


def counted_before_it_came(
    loaded: Loaded, came: Sequence[tuple[Receipt, str]], where: FileLines
) -> list[Fault]:
    """Questions about goods that a count of their day looks to hold already, though they are booked in now.

    came : receipts with their units; those that stand in the books are not asked about again
    """
    known = {b.record for b in loaded.bookings.receipts}
    new = [receipt for receipt, _ in came if receipt not in known]
    counted = {(lot.counted_on, lot.item) for lot in loaded.current.counts}
    faults = []
    for day in sorted({r.delivered_on for r in new if (r.delivered_on, r.item) in counted}):
        books = merged(loaded.books, loaded.house, loaded.bookings, day)[0]
        lots = [lot for lot in books.counts if lot.counted_on == day]
        doubled = counted_with_what_came(lots, expected_stock(loaded.house, books, day), new)
        if doubled:
            first = next(r for r in new if r.delivered_on == day and r.item in doubled)
            wrong = f"the count of that day looks to hold it already: {came_named(loaded.house, doubled)}"
            right = (
                "if it came after the count, book it in with --yes; if it was counted too, book the count "
                "in again under the next day"
            )
            faults.append(where.fault(first, format_day(day), (wrong, right, "counted-already")))
    return faults


def expected_stock(house: House, books: Books, on: date) -> dict[str, float]:
    """What there should be on the morning of `on`, by item counted before.

    Counts and deliveries of that day itself are left out: the one is what this is held against, the others
    come after it.
    """
    earlier = replace(
        books,
        counts=tuple(c for c in books.counts if c.counted_on < on),
        receipts=tuple(r for r in books.receipts if r.delivered_on < on),
    )
    there = {c.item: 0.0 for c in earlier.counts}
    for lot in opening(house, earlier, on).lots:
        if lot.item in there:
            there[lot.item] += lot.quantity
    return there
