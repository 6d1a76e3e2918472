"""Writing a sheet for what is to come, and booking in what came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from ordering.amounts import plural
from ordering.bookkeeping.files import empty, file_lines, refuse_taken, to_come
from ordering.days import said
from ordering.faults import Fault, Refused
from ordering.ledger import rows, store
from ordering.ledger.doubting import slips
from ordering.ledger.matching import LATE_DAYS
from ordering.ledger.receiving import Delivery, corrections, delivery_told, matched_bookings
from ordering.ledger.source import FileLines, source_of
from ordering.loading import Loaded, load
from ordering.pages.delivery_sheet import delivery_sheet
from ordering.read.books import read_deliveries
from ordering.read.files import bounded
from ordering.records.ledger import BookedReceipt, Bookings
from ordering.records.report import Report
from ordering.write.folder import write_file
from ordering.write.xlsx import workbook_bytes

MOST_CONFIRMED = 20


def receive_out(config: Path, books_dir: Path, on: date, out: Path) -> Report:
    """Write a sheet of what is on order for a day or overdue, to be filled in at the door.

    Where nothing is, that is said with the next day something is, and nothing is written.

    Raises
    ------
    Refused : the input has faults, or there is a file of that name already; nothing has been written
    """
    loaded = load(config, books_dir, on)
    refuse_taken(out, "delivery")
    expected = matched_bookings(loaded.house, loaded.books, store.bookings(books_dir)).expected
    awaited = [e for e in expected if not e.is_settled and e.item in loaded.house.ingredients]
    due = [e for e in awaited if 0 <= (on - e.key.deliver_on).days <= LATE_DAYS]
    if not due:
        coming = sorted(e.key.deliver_on for e in awaited if e.key.deliver_on > on)
        after = f"the next is due {said(coming[0])}" if coming else "'ordering place' records orders"
        return Report((f"Nothing on order is due by {said(on)}; {after}; no sheet written",))
    write_file(out, workbook_bytes(delivery_sheet(loaded.house, due, on)))
    vendors = plural(len({e.key.vendor for e in due}), "vendor")
    told = f"{plural(len(due), 'line')} of {vendors} for {said(on)} written to {out}"
    return Report((f"{told}; book it in with: ordering receive {out}",), 0, (out,))


def receive(config: Path, books_dir: Path, file: Path, on: date, is_confirmed: bool) -> Report:
    """Book in a delivery and hold it against the order.

    The same content counts once. A file of the same name replaces what it booked before for the
    same vendors and days, and says what changes. Entries that look like a slip are refused unless
    `is_confirmed`.

    Raises
    ------
    Refused : the file has faults, is of a day to come, or has entries to ask about; nothing has been written
    """
    loaded = load(config, books_dir, on)
    house = loaded.house
    receipts, faults = read_deliveries(file, house)
    if faults or not receipts:
        raise Refused(faults or [empty(file)])
    where = file_lines(file, "deliveries", house, receipts)
    if faults := to_come(where, ((r.delivered_on, r) for r in receipts), on):
        raise Refused(faults)
    booked = tuple(BookedReceipt(r, house.unit_of(r.item), file.name) for r in receipts)
    source = source_of("receipts", file, receipts)
    if day := store.booked_before(books_dir, source):
        return Report((f"{file.name} was booked in on {day}; nothing changed",))
    odd = _odd(loaded, store.bookings(books_dir), booked, where, on)
    if odd and not is_confirmed:
        raise Refused(bounded(odd))
    deliveries = sorted({_delivery(b) for b in booked})
    with store.open_ledger(books_dir) as connection, store.transaction(connection):
        if day := rows.booked_before(connection, source):
            return Report((f"{file.name} was booked in on {day}; nothing changed",))
        before = [b for b in rows.receipts(connection) if _delivery(b) in deliveries]
        number = rows.add_file(connection, source, on)
        rows.add_receipts(connection, number, booked)
        rows.replace_receipts(connection, number, file.name, deliveries)
        after = rows.bookings(connection)
    told = delivery_told(house, matched_bookings(house, loaded.books, after), deliveries)
    look = [*_confirmed(odd), *_second_files(before, file.name)]
    changes = _changes(before, booked, file.name)
    fine = told.is_fine and not look
    return Report((*changes, *told.lines, *look), 0 if fine else 1, (store.ledger_path(books_dir),))


def _delivery(booked: BookedReceipt) -> Delivery:
    return booked.receipt.vendor, booked.receipt.delivered_on


def _odd(
    loaded: Loaded, bookings: Bookings, booked: Sequence[BookedReceipt], where: FileLines, on: date
) -> list[Fault]:
    """Entries to ask about; what the file booked before is not asked about again."""
    deliveries, file = {_delivery(b) for b in booked}, booked[0].file
    stands = [b for b in bookings.receipts if b.file != file or _delivery(b) not in deliveries]
    then = replace(bookings, receipts=(*stands, *booked))
    matching = matched_bookings(loaded.house, loaded.books, then)
    known = {b.receipt for b in bookings.receipts if b.file == file}
    new = [b.receipt for b in booked if b.receipt not in known]
    return slips(loaded.house, matching, new, where, on)


def _confirmed(odd: Sequence[Fault]) -> list[str]:
    """What was asked about and is booked in all the same."""
    lines = [f"look: {fault.subject}: {fault.wrong}" for fault in odd[:MOST_CONFIRMED]]
    return [*lines, f"look: {len(odd) - len(lines)} more like these"] if len(odd) > len(lines) else lines


def _changes(before: Sequence[BookedReceipt], booked: Sequence[BookedReceipt], file: str) -> tuple[str, ...]:
    """What the file changes of what it booked before for the same vendors and days."""
    mine = [b for b in before if b.file == file]
    again = {_delivery(b) for b in mine}
    return corrections(mine, (b for b in booked if _delivery(b) in again))


def _second_files(before: Sequence[BookedReceipt], file: str) -> list[str]:
    return [
        f"look: {other} was booked in for the same vendor and day, so both count; "
        f"to correct a file, give the corrected one the same name"
        for other in sorted({b.file for b in before if b.file != file})
    ]
