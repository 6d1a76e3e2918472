"""The library functions behind `place`, `receive` and `count`: read, compare, book.

Everything is decided on what the ledger holds before it is opened for writing, so that refused input leaves
no trace, and decided again inside the transaction, so that another command in between cannot be overwritten.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from ordering.days import said
from ordering.faults import Fault, Refused
from ordering.ledger import rows, store
from ordering.ledger.counting import (
    implausible,
    impossible,
    old_counts,
    recount_told,
    usual,
    variance_told,
    variances,
)
from ordering.ledger.merge import merged
from ordering.ledger.placing import (
    Placing,
    Replacing,
    SheetLine,
    placing,
    replacing,
    unknown_vendors,
)
from ordering.ledger.receiving import corrections, delivery_told, matched_bookings, plural
from ordering.ledger.run_lines import run_lines
from ordering.ledger.source import source_of
from ordering.loading import Loaded, load
from ordering.net.opening import opening
from ordering.pages.count_sheet import count_sheet
from ordering.pages.order_sheet import standing
from ordering.read.books import read_counts, read_deliveries
from ordering.read.grid import Grid, read_grids
from ordering.read.house import read_house
from ordering.read.run_folder import read_run
from ordering.records.books import Books, CountedLot
from ordering.records.costs import unit_costs
from ordering.records.house import House
from ordering.records.ledger import BookedCount, BookedReceipt, Bookings, Placed
from ordering.records.money import cents
from ordering.records.report import Report
from ordering.write.folder import write_file
from ordering.write.xlsx import workbook_bytes

# --- place ---------------------------------------------------------------------------------------


def place(config: Path, books_dir: Path, runs: Path, run: str, without: tuple[str, ...], on: date) -> Report:
    """Record a run's orders as placed, with the packs its vendor sheets now say.

    Placing a run again replaces what was placed of it and says each change; nothing changes where
    the sheets did not.

    Raises
    ------
    Refused : no such run or vendor; a sheet missing, damaged or with entries that cannot be packs; a
        change to what has been delivered. Nothing has been written
    """
    house, faults = read_house(config)
    if house is None or faults:
        raise Refused(faults)
    folder = read_run(runs, run)
    lines, faults = run_lines(folder.tables["orders"], run)
    if faults := [*faults, *unknown_vendors(run, lines, without)]:
        raise Refused(faults)
    told = [line for line in lines if line.vendor not in without]
    sheets = _vendor_sheets(folder.folder, sorted({line.vendor for line in told}))
    result, faults = placing(run, told, sheets, house, on)
    if faults:
        raise Refused(faults)
    difference = _difference(run, result.lines, store.bookings(books_dir))
    if not (difference.lines or difference.taken_back):
        already = "is already placed; nothing changed" if result.lines else "orders nothing; nothing placed"
        return Report((f"{run} {already}",), 0 if result.lines else 1)
    with store.open_ledger(books_dir) as connection, store.transaction(connection):
        difference = _difference(run, result.lines, rows.bookings(connection))
        rows.add_orders(connection, difference.lines)
        rows.drop_orders(connection, difference.taken_back)
    left = [f"left out: {v}: not placed, so the next run does not count on it" for v in sorted(set(without))]
    return Report(
        (*_placed_told(house, run, result), *left, *difference.changes, *result.warnings),
        1 if result.warnings else 0,
        (store.ledger_path(books_dir),),
    )


def _difference(run: str, lines: Sequence[Placed], bookings: Bookings) -> Replacing:
    difference, faults = replacing(run, lines, bookings)
    if faults:
        raise Refused(faults)
    return difference


def _vendor_sheets(folder: Path, vendors: Iterable[str]) -> list[SheetLine]:
    found: list[SheetLine] = []
    faults: list[Fault] = []
    for vendor in vendors:
        path = folder / "orders" / f"{vendor}.xlsx"
        grids, unread = read_grids(path)
        lines = [line for grid in grids for line in _sheet_lines(vendor, path, grid, faults)]
        if not lines and not unread:
            wrong = "no heads 'deliver on', 'code' and 'packs' with lines under them"
            unread = [Fault(path.as_posix(), 0, vendor, wrong, kind="no-order-sheet")]
        right = f"leave the vendor out with --without {vendor}, or make the run again"
        faults += [replace(fault, right=right) for fault in unread]
        found += lines
    if faults:
        raise Refused(faults)
    return found


def _sheet_lines(vendor: str, path: Path, grid: Grid, faults: list[Fault]) -> Iterator[SheetLine]:
    where = standing(grid.rows)
    if where is None:
        return
    for r in range(where.first_row, where.last_row + 1):
        row = grid.rows[r]
        try:
            day = date.fromisoformat(row[where.deliver_on].strip())
        except ValueError:
            wrong = f"{grid.name(r, where.deliver_on)}: '{row[where.deliver_on][:40]}' is no date"
            faults.append(Fault(path.as_posix(), 0, vendor, wrong, "write the delivery day", "bad-date"))
            continue
        cell = grid.name(r, where.packs)
        if (r, where.packs) in grid.refused:
            kind, wrong, right = grid.refused[r, where.packs]
            faults.append(Fault(path.as_posix(), 0, row[where.code], f"{cell}: {wrong}", right, kind))
        yield SheetLine(vendor, row[where.code], day, row[where.packs], path.as_posix(), cell)


def _placed_told(house: House, run: str, result: Placing) -> list[str]:
    lines = [f"Placed {run}:"]
    groups: dict[tuple[str, date], list[Placed]] = {}
    for p in result.lines:
        groups.setdefault((p.vendor, p.deliver_on), []).append(p)
    for (vendor, day), placed in sorted(groups.items()):
        name = house.vendors[vendor].name if vendor in house.vendors else vendor
        total = cents(sum((p.amount for p in placed), Decimal(0)))
        lines.append(
            f"  {name}, for {said(day)}: {plural(len(placed), 'line')}, {total} {house.currency}".rstrip()
        )
    return [*lines, *(f"  {change}" for change in result.changes)]


# --- receive -------------------------------------------------------------------------------------


def receive(config: Path, books_dir: Path, file: Path, on: date) -> Report:
    """Book in a delivery and hold it against the order.

    The same content counts once. A file of the same name replaces what it booked before for the
    same vendors and days, and says what changes.

    Raises
    ------
    Refused : the file has faults, or is of a day to come; nothing has been written
    """
    loaded = load(config, books_dir, on)
    house = loaded.house
    receipts, faults = read_deliveries(file, house)
    faults = [*faults, *_to_come(file, (r.delivered_on for r in receipts), on)]
    if faults or not receipts:
        raise Refused(faults or [_empty(file)])
    booked = tuple(BookedReceipt(r, house.unit_of(r.item), file.name) for r in receipts)
    source = source_of("receipts", file, receipts)
    if day := store.booked_before(books_dir, source):
        return Report((f"{file.name} was booked in on {day}; nothing changed",))
    deliveries = sorted({(r.vendor, r.delivered_on) for r in receipts})
    with store.open_ledger(books_dir) as connection, store.transaction(connection):
        if day := rows.booked_before(connection, source):
            return Report((f"{file.name} was booked in on {day}; nothing changed",))
        before = [
            b for b in rows.receipts(connection) if (b.receipt.vendor, b.receipt.delivered_on) in deliveries
        ]
        number = rows.add_file(connection, source, on)
        rows.add_receipts(connection, number, booked)
        rows.replace_receipts(connection, number, file.name, deliveries)
        after = rows.bookings(connection)
    mine = [b for b in before if b.file == file.name]
    again = {(b.receipt.vendor, b.receipt.delivered_on) for b in mine}
    now = (b for b in booked if (b.receipt.vendor, b.receipt.delivered_on) in again)
    changes = corrections(mine, now)
    others = sorted({b.file for b in before if b.file != file.name})
    second = [
        f"look: {other} was booked in for the same vendor and day, so both count; "
        f"to correct a file, give the corrected one the same name"
        for other in others
    ]
    told = delivery_told(house, matched_bookings(house, loaded.books, after), deliveries)
    fine = told.is_fine and not second
    return Report((*changes, *told.lines, *second), 0 if fine else 1, (store.ledger_path(books_dir),))


def _to_come(file: Path, days: Iterable[date], on: date) -> list[Fault]:
    right = f"write the day it came, {on.isoformat()} or before"
    return [
        Fault(file.as_posix(), 0, "", f"{day.isoformat()} is still to come", right, "future")
        for day in sorted(set(days))
        if day > on
    ]


def _empty(file: Path) -> Fault:
    return Fault(
        file.as_posix(), 0, "", "there is nothing to book in", "fill in at least one row", "empty-file"
    )


# --- count ---------------------------------------------------------------------------------------


def count_out(config: Path, books_dir: Path, on: date, out: Path) -> Report:
    """Write a count sheet for a day, with last counts and what there should be.

    Raises
    ------
    Refused : the input has faults, or there is a file of that name already; nothing has been written
    """
    loaded = load(config, books_dir, on)
    if out.exists():
        wrong = "there is a file of this name, perhaps a filled count"
        raise Refused([Fault(out.as_posix(), 0, "", wrong, "name another with --out", "file-there")])
    books = store.with_ledger(loaded.books, loaded.house, books_dir, on)
    sheet = count_sheet(loaded.house, books, opening(loaded.house, books, on), on)
    write_file(out, workbook_bytes(sheet))
    return Report(
        (f"Count sheet for {said(on)} written to {out}; book it in with: ordering count {out}",), 0, (out,)
    )


def count_in(config: Path, books_dir: Path, file: Path, on: date, is_confirmed: bool) -> Report:
    """Book in a filled count and hold it against what there should be.

    A count of the same item and day replaces the earlier one. Entries that look like a slip are refused
    unless `is_confirmed`.

    Raises
    ------
    Refused : the file has faults, or entries to ask about; nothing has been written
    """
    loaded = load(config, books_dir, on)
    house = loaded.house
    lots, faults = read_counts(file, house)
    faults = [*faults, *impossible(lots, file.as_posix(), on)]
    if faults or not lots:
        raise Refused(faults or [_empty(file)])
    source = source_of("counts", file, lots)
    if day := store.booked_before(books_dir, source):
        return Report((f"{file.name} was booked in on {day}; nothing changed",))
    expected, odd = _held_against(loaded, store.bookings(books_dir, on), lots, file)
    if odd and not is_confirmed:
        raise Refused(odd)
    keys = sorted({(lot.counted_on, lot.item) for lot in lots})
    booked = tuple(BookedCount(lot, house.unit_of(lot.item), file.name) for lot in lots)
    with store.open_ledger(books_dir) as connection, store.transaction(connection):
        if day := rows.booked_before(connection, source):
            return Report((f"{file.name} was booked in on {day}; nothing changed",))
        before = [b.lot for b in rows.counts(connection)]
        number = rows.add_file(connection, source, on)
        rows.add_counts(connection, number, booked)
        rows.replace_dated(connection, "counts", number, keys)
    n_items = len({lot.item for lot in lots})
    told = variance_told(house, variances(house, lots, expected, unit_costs(house, on)))
    look = (*old_counts(lots, on), *(f"look: {fault}" for fault in odd))
    head = f"Counted {plural(n_items, 'item')}: {plural(len(lots), 'lot')} booked in"
    return Report(
        (head, *recount_told(house, before, lots), *told, *look),
        1 if look else 0,
        (store.ledger_path(books_dir),),
    )


def _held_against(
    loaded: Loaded, bookings: Bookings, lots: Sequence[CountedLot], file: Path
) -> tuple[dict[date, dict[str, float]], list[Fault]]:
    """What there should be on each day of the count by item, and the entries to ask about."""
    house = loaded.house
    expected: dict[date, dict[str, float]] = {}
    odd: list[Fault] = []
    for day in sorted({lot.counted_on for lot in lots}):
        books = merged(loaded.books, house, bookings, day)[0]
        expected[day] = expected_stock(house, books, day)
        mine = [lot for lot in lots if lot.counted_on == day]
        odd += implausible(house, mine, expected[day], usual(house, books, day), file.as_posix())
    return expected, odd


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
