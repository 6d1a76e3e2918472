"""Booking in a delivery."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from ordering.bookkeeping.files import empty, to_come
from ordering.faults import Refused
from ordering.ledger import rows, store
from ordering.ledger.receiving import corrections, delivery_told, matched_bookings
from ordering.ledger.source import source_of
from ordering.loading import load
from ordering.read.books import read_deliveries
from ordering.records.ledger import BookedReceipt
from ordering.records.report import Report


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
    faults = [*faults, *to_come(file, (r.delivered_on for r in receipts), on)]
    if faults or not receipts:
        raise Refused(faults or [empty(file)])
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
