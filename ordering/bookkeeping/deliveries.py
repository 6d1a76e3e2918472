"""Writing a sheet for what is to come, and booking in what came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date
from pathlib import Path

from ordering.amounts import plural
from ordering.bookkeeping.files import (
    empty,
    file_lines,
    number_of,
    refuse_taken,
    same_again,
    to_come,
)
from ordering.days import said
from ordering.faults import Fault, Refused
from ordering.ledger import rows, store
from ordering.ledger.doubting import slips
from ordering.ledger.matching import LATE_DAYS
from ordering.ledger.receiving import corrections, delivery_told, matched_bookings
from ordering.ledger.source import FileLines
from ordering.loading import Loaded, load
from ordering.pages.delivery_sheet import delivery_sheet
from ordering.read.books import read_deliveries
from ordering.read.files import bounded
from ordering.records.books import Receipt
from ordering.records.documents import DELIVERY, Booked, Meant, Paper
from ordering.records.ledger import Bookings
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
    number = store.give_number(books_dir, Paper(DELIVERY, on, (), source=out.name), on)
    write_file(out, workbook_bytes(delivery_sheet(loaded.house, due, on, number)))
    vendors = plural(len({e.key.vendor for e in due}), "vendor")
    told = f"{number}: {plural(len(due), 'line')} of {vendors} for {said(on)} written to {out}"
    return Report((f"{told}; book it in with: ordering receive {out}",), 0, (out,))


def receive(config: Path, books_dir: Path, file: Path, on: date, meant: Meant) -> Report:
    """Book in a delivery and hold it against the order.

    The same content counts once. A sheet is known by its number, a list by what `meant` says it corrects; the
    new version takes the place of all lines of the one before, and what changes is said. Entries that look
    like a slip are refused unless confirmed.

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
    number = meant.corrects or number_of(file)
    lines = tuple(rows.line_of_receipt(r, house.unit_of(r.item)) for r in receipts)
    paper = Paper(DELIVERY, min(r.delivered_on for r in receipts), lines, number, source=file.name)
    if same := store.booked_before(books_dir, paper):
        return same_again(file, same)
    booked = tuple(Booked(r, house.unit_of(r.item), number or "new") for r in receipts)
    odd = _odd(loaded, store.bookings(books_dir), booked, where, on)
    if odd and not meant.is_confirmed:
        raise Refused(bounded(odd))
    booking = store.book(books_dir, paper, on, meant)
    if not booking.is_new:
        return same_again(file, booking)
    deliveries = sorted({(r.vendor, r.delivered_on) for r in receipts})
    told = delivery_told(house, matched_bookings(house, loaded.books, store.bookings(books_dir)), deliveries)
    look = _confirmed(odd)
    changes = corrections(booking.before, lines) if booking.before else ()
    fine = told.is_fine and not look
    return Report(
        (f"Booked in as {booking.number}", *changes, *told.lines, *look),
        0 if fine else 1,
        (store.ledger_path(books_dir),),
    )


def _odd(
    loaded: Loaded, bookings: Bookings, booked: Sequence[Booked[Receipt]], where: FileLines, on: date
) -> list[Fault]:
    """Entries to ask about; what the document said before is not asked about again."""
    number = booked[0].number
    stands = [b for b in bookings.receipts if b.number != number]
    then = replace(bookings, receipts=(*stands, *booked))
    matching = matched_bookings(loaded.house, loaded.books, then)
    known = {b.record for b in bookings.receipts if b.number == number}
    new = [b.record for b in booked if b.record not in known]
    return slips(loaded.house, matching, new, where, on)


def _confirmed(odd: Sequence[Fault]) -> list[str]:
    """What was asked about and is booked in all the same."""
    lines = [f"look: {fault.subject}: {fault.wrong}" for fault in odd[:MOST_CONFIRMED]]
    return [*lines, f"look: {len(odd) - len(lines)} more like these"] if len(odd) > len(lines) else lines
