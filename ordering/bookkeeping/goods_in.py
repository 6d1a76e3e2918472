"""Writing a sheet for what is to come, and booking in what came."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta
from pathlib import Path

from ordering.amounts import plural
from ordering.bookkeeping.counts import counted_before_it_came
from ordering.bookkeeping.door_remarks import (
    Given,
    Invoice,
    at_the_door,
    back_unseen,
    confirmed,
    credit_told,
    invoice_off,
    not_to_take,
    papers_of,
    with_invoice,
)
from ordering.bookkeeping.order_sheets import changed_since, order_numbers
from ordering.bookkeeping.paper_checks import (
    empty,
    lines_in,
    number_of,
    refuse_taken,
    same_again,
    to_come,
)
from ordering.bookkeeping.running_out import Ahead, RunOut, run_out
from ordering.days import format_day
from ordering.faults import Fault, Refused, nearest
from ordering.ledger import store
from ordering.ledger.doubting import FileLines, slips
from ordering.ledger.merge import LOOK_BACK_DAYS
from ordering.ledger.order_matching import EARLY_DAYS, LATE_DAYS
from ordering.ledger.receiving import corrections, delivery_told, matched_bookings, short_lines
from ordering.loading import Loaded, load
from ordering.pages.delivery_sheet import delivery_sheet
from ordering.read.books_folder import delivery_tables, read_deliveries
from ordering.read.door import Due, OnOrder, is_order_sheet, units_of
from ordering.read.files import bounded
from ordering.read.grid import read_grids
from ordering.records.books import Receipt
from ordering.records.documents import CREDIT, DELIVERY, Booked, Meant, Paper
from ordering.records.ledger import Bookings, Expected
from ordering.records.money import offer_of, price_at, quoted_of
from ordering.records.report import Report
from ordering.write.folder import write_file
from ordering.write.xlsx import workbook_bytes

USUAL_DAYS = 365


def receive_out(config: Path, books_dir: Path, on: date, out: Path) -> Report:
    """Write a sheet of what is on order for a day or overdue, to be filled in at the door.

    Where nothing is, that is said with the next day something is, and nothing is written.

    Raises
    ------
    Refused : the input has faults, or there is a file of that name already; nothing has been written
    """
    loaded = load(config, books_dir, on)
    refuse_taken(out, "delivery")
    near = store.bookings(books_dir, since=on - timedelta(days=LOOK_BACK_DAYS))
    expected = matched_bookings(loaded.house, loaded.books, near).expected
    awaited = [e for e in expected if not e.is_settled and e.item in loaded.house.ingredients]
    due = [e for e in awaited if 0 <= (on - e.key.deliver_on).days <= LATE_DAYS]
    if not due:
        coming = sorted(e.key.deliver_on for e in awaited if e.key.deliver_on > on)
        after = f"the next is due {format_day(coming[0])}" if coming else "'ordering place' records orders"
        return Report((f"Nothing on order is due by {format_day(on)}; {after}; no sheet written",))
    number = store.give_number(books_dir, Paper(DELIVERY, on, (), source=out.name), on)
    write_file(out, workbook_bytes(delivery_sheet(loaded.house, due, on, number)))
    vendors = plural(len({e.key.vendor for e in due}), "vendor")
    told = f"{number}: {plural(len(due), 'line')} of {vendors} for {format_day(on)} written to {out}"
    return Report((f"{told}; book it in with: ordering receive {out}",), 0, (out,))


def receive(
    config: Path,
    books_dir: Path,
    file: Path,
    on: date,
    meant: Meant,
    invoice: Invoice | None = None,
    ahead: Ahead | None = None,
) -> Report:
    """Book in a delivery and hold it against the order.

    `file` is a list, our own sheet as a workbook or csv, or an order sheet with its received column filled
    in. The same content counts once. A sheet is known by its number, a list by what `meant` says it
    corrects; the new version takes the place of all lines of the one before, and what changes is said.
    Lines with packs below 0 are booked as a credit of their own. An order sheet that asks for other packs
    than went out is told. Entries that look like a slip are refused
    unless confirmed. Of what came short `ahead` tells when the house runs out, and what mends it.

    Raises
    ------
    Refused : the file has faults, is of a day to come, or has entries to ask about; nothing has been written
    """
    loaded = load(config, books_dir, on)
    house, bookings = loaded.house, _near(books_dir, on)
    is_order = is_order_sheet(file)
    number = meant.corrects or ("" if is_order else number_of(file))
    orders = _orders_on(file) if is_order else None
    due, on_order = _on_order(loaded, bookings, orders, bool(number_of(file)))
    receipts, faults = read_deliveries(file, house, due, on_order)
    if faults or not receipts:
        raise Refused(faults or [empty(file)])
    tables, _ = delivery_tables(file, house, on_order)
    where = lines_in(file, "deliveries", tables, receipts)
    if faults := to_come(where, ((r.delivered_on, r) for r in receipts), on):
        raise Refused(faults)
    units = [unit for table in tables for unit in units_of(table)]
    units = [house.unit_of(r.item) if r.item else u for r, u in zip(receipts, units, strict=True)]
    read = list(zip(receipts, units, strict=True))
    came = [(r, u) for r, u in read if r.packs >= 0 and r.quantity >= 0]
    back = [pair for pair in read if pair not in came]
    given = Given(file.name, number, came, back, where, on, invoice, ahead)
    report = _booked_in(loaded, books_dir, given, meant)
    sent = [p for p in bookings.orders if p.number in (orders or ())]
    changed = tuple(changed_since(file, sent)) if sent else ()
    return replace(report, lines=(*report.lines, *changed), status=1 if changed else report.status)


def receive_as_ordered(
    config: Path, books_dir: Path, numbers: Sequence[str], on: date, meant: Meant, invoice: Invoice | None
) -> Report:
    """Book in whole orders, by their numbers, as they were placed.

    Raises
    ------
    Refused : no such order, or nothing of it is still to come; nothing has been written
    """
    loaded = load(config, books_dir, on)
    matching = matched_bookings(loaded.house, loaded.books, _near(books_dir, on))
    known = {e.key.number for e in matching.expected if e.key.number}
    faults = [
        Fault("ledger.sqlite", 0, one, "there is no order of this number", nearest(one, known), "unknown")
        for one in numbers
        if one not in known
    ]
    open_lines = [e for e in matching.expected if e.key.number in numbers and not e.is_settled]
    if not faults and not open_lines:
        wrong, right = "all of it has been booked in", "to change that, book the delivery in again"
        faults = [Fault("ledger.sqlite", 0, ", ".join(numbers), wrong, right, "delivered")]
    if faults:
        raise Refused(faults)
    came = [(_as_ordered(loaded, e, on), e.unit) for e in open_lines]
    given = Given(", ".join(numbers), meant.corrects, came, [], FileLines("", {}), on, invoice)
    return _booked_in(loaded, books_dir, given, meant)


def _booked_in(loaded: Loaded, books_dir: Path, given: Given, meant: Meant) -> Report:
    house, on = loaded.house, given.on
    before = store.document(books_dir, given.number) if given.number else None
    given = with_invoice(given, before)
    papers = papers_of(books_dir, given, before)
    same = [store.booked_before(books_dir, paper) for paper in papers]
    if all(same):
        return same_again(Path(given.source), same[0]) if same[0] else Report(())
    booked = tuple(Booked(r, u, given.number or "new") for r, u in given.came)
    first = min(r.delivered_on for r, _ in (*given.came, *given.back))
    odd = _odd(loaded, _near(books_dir, first), booked, given) if booked else []
    odd += counted_before_it_came(loaded, given.came, given.where)
    odd += invoice_off(house, given)
    if odd and not meant.is_confirmed:
        raise Refused(bounded(odd))
    bookings = store.book_all(books_dir, papers, on, meant)
    if not any(one.is_new for one in bookings):
        return same_again(Path(given.source), bookings[0])
    lines: list[str] = []
    is_fine = True
    if given.came:
        booking = bookings[0]
        changes = corrections(booking.before, papers[0].lines) if booking.before else ()
        deliveries = sorted({(r.vendor, r.delivered_on) for r, _ in given.came})
        near = _near(books_dir, first)
        matching = matched_bookings(house, loaded.books, near)
        shorts = short_lines(matching, deliveries)
        now = _with_goods(loaded, near, first)
        short = run_out(now, books_dir, shorts, on, given.ahead) if given.ahead else RunOut()
        told = delivery_told(house, matching, deliveries, short.by_line)
        lines += [
            f"Booked in as {booking.number}",
            *changes,
            *told.lines,
            *short.told,
            *at_the_door(house, given),
            *(refused := not_to_take(house, given)),
        ]
        is_fine = told.is_fine and not refused
    if papers[-1].kind == CREDIT:
        lines += credit_told(house, bookings[-1].number, [r for r, _ in given.back])
    look = confirmed(odd)
    return Report((*lines, *look), 0 if is_fine and not look else 1, (store.ledger_path(books_dir),))


def _near(books_dir: Path, first: date) -> Bookings:
    """What the ledger has since a year before a day: what a line can answer, and what is usual."""
    return store.bookings(books_dir, since=_since(first))


def _since(first: date) -> date:
    return first - timedelta(days=USUAL_DAYS)


def _with_goods(loaded: Loaded, near: Bookings, first: date) -> Loaded:
    """What was loaded, with the goods that stand in the ledger now: `near` has them since a year before."""
    before = loaded.bookings
    earlier = [b for b in before.receipts if b.record.delivered_on < _since(first)]
    sent_back = [b for b in before.credits if b.record.delivered_on < _since(first)]
    came, back = (*earlier, *near.receipts), (*sent_back, *near.credits)
    return replace(loaded, bookings=replace(before, receipts=came, credits=back))


def _orders_on(file: Path) -> frozenset[str]:
    """The numbers of the orders on an order sheet."""
    grids, _ = read_grids(file)
    return frozenset(number for grid in grids for number in order_numbers(grid))


def _on_order(
    loaded: Loaded, bookings: Bookings, orders: frozenset[str] | None, is_sheet: bool
) -> tuple[Due, OnOrder]:
    """Packs due by vendor, code and day; the vendor and the order of each code by code and day of delivery.

    The sheet at the door adds up what was due by that day. A line of an order sheet has its own day, and is
    of its own orders alone. On a list it is the day's own order, else one that is overdue, else tomorrow's.

    Parameters
    ----------
    orders : the numbers on an order sheet, None of any other file
    is_sheet : whether the file is the sheet at the door
    """
    due: dict[tuple[str, str], dict[date, float]] = {}
    on_order: dict[tuple[str, str], tuple[str, str]] = {}
    expected = matched_bookings(loaded.house, loaded.books, bookings).expected
    for e in (e for e in expected if not orders or e.key.number in orders):
        on_order[e.key.code, e.key.deliver_on.isoformat()] = e.key.vendor, e.key.number
        days = due.setdefault((e.key.vendor, e.key.code), {})
        if not e.is_settled:
            days[e.key.deliver_on] = days.get(e.key.deliver_on, 0.0) + e.packs

    def due_on(vendor: str, code: str, day: date) -> dict[date, float]:
        days = due.get((vendor, code), {})
        late = LATE_DAYS if orders is None else 0
        now = {on: packs for on, packs in days.items() if 0 <= (day - on).days <= late}
        early = day + timedelta(days=EARLY_DAYS)
        if now and is_sheet:
            return {day: sum(now.values())}
        return {day: now[day]} if day in now else now or {on: days[on] for on in days if on == early}

    return due_on, on_order


def _as_ordered(loaded: Loaded, e: Expected, on: date) -> Receipt:
    """A line of an order as it was ordered, come on a day, at the price it went out at."""
    key, offer = e.key, offer_of(loaded.house, e.item, e.key.vendor, e.key.code)
    price = e.price if offer is None else quoted_of(offer, e.price or price_at(offer, e.packs))
    return Receipt(on, key.vendor, key.code, e.item, e.packs, e.quantity, price, order=key.number)


def _odd(loaded: Loaded, bookings: Bookings, booked: Sequence[Booked[Receipt]], given: Given) -> list[Fault]:
    """Entries to ask about; what the document said before is not asked about again."""
    number = booked[0].number
    stands = [b for b in bookings.receipts if b.number != number]
    then = replace(bookings, receipts=(*stands, *booked))
    matching = matched_bookings(loaded.house, loaded.books, then)
    known = {b.record for b in bookings.receipts if b.number == number}
    new = [b.record for b in booked if b.record not in known]
    odd = slips(loaded.house, matching, new, given.where, given.on)
    return odd + back_unseen(loaded.house, given, matching)
