"""Rows of a file to ask about before they are booked: slips of the pen, told by their size. Pure.

The limits are common practice, no source: a point in the wrong place makes a weight or a price ten times
what it is, and what really comes differs a little from what was expected, so that five times either way is
taken for such a slip.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date
from decimal import Decimal

from ordering.amounts import exactly, plural
from ordering.faults import Fault
from ordering.ledger.order_matching import LATE_DAYS, Matching
from ordering.ledger.receiving import agreed_price, called
from ordering.records.books import Receipt
from ordering.records.house import House
from ordering.records.ledger import Arrival, Expected
from ordering.records.money import offer_of, per, price_said
from ordering.records.vendors import Offer
from ordering.units import format_number as number

TIMES_OFF = 5
TIMES_THE_MOST = 10
OLD_DAYS = 31
KEEPS_LONGER = 2
CONFIRM = "if it is right, book it in with --yes"

Said = tuple[str, str, str]  # what is wrong, what would be right, the kind of fault


@dataclass(frozen=True, slots=True)
class FileLines:
    """A file as messages name it, and where each record read from it stands: sheet and line."""

    place: str
    lines: Mapping[Hashable, tuple[str, int]]

    def fault(self, record: Hashable, subject: str, said: Said) -> Fault:
        """A fault at the record's line; in the file as a whole where the line is not known."""
        place, line = self.lines.get(record, (self.place, 0))
        return Fault(place, line, subject, *said)


def slips(
    house: House, matching: Matching, receipts: Iterable[Receipt], where: FileLines, on: date
) -> list[Fault]:
    """Entries that look like a slip: weight against packs, packs against the order, price, dates.

    Parameters
    ----------
    matching : with the receipts already in it
    receipts : rows to ask about, quantities in today's unit of the item
    where : the file and the line of each of the receipts
    on : day of booking in

    Returns
    -------
    One fault for each entry, with what to check; rows that are as they should be give none.
    """
    arrivals = {(a.vendor, a.delivered_on, a.code, a.order, a.instead_of): a for a in matching.arrivals}
    orders = {e.key: e for e in matching.expected}
    past = _by_code(matching)
    faults = set()
    old: dict[tuple[str, date], Receipt] = {}
    for receipt in receipts:
        key = (receipt.vendor, receipt.delivered_on, receipt.code, receipt.order, receipt.instead_of)
        arrival = arrivals[key]
        order = orders.get(arrival.answers) if arrival.answers else None
        offer = offer_of(house, receipt.item, receipt.vendor, receipt.code)
        mine = past[receipt.vendor, receipt.code]
        found = [
            *_weight(receipt, offer, arrival.unit),
            *_packs(mine, arrival, order),
            *_price(receipt, arrival, order, offer),
            *_day(mine, arrival, on),
            *_use_by(house, receipt),
        ]
        day = receipt.delivered_on.isoformat()
        for wrong, check, kind in found:
            said = (f"{day}: {wrong}", f"{check}; {CONFIRM}", kind)
            if kind == "old-delivery":  # said once for the whole delivery
                first = old.setdefault((receipt.vendor, receipt.delivered_on), receipt)
                faults.add(where.fault(first, receipt.vendor, said))
            else:
                faults.add(where.fault(receipt, called(house, receipt.item, receipt.code), said))
    return sorted(faults)


@dataclass(slots=True)
class _OfCode:
    """All orders and arrivals of one code of a vendor."""

    orders: list[Expected] = field(default_factory=list)
    arrivals: list[Arrival] = field(default_factory=list)


def _by_code(matching: Matching) -> dict[tuple[str, str], _OfCode]:
    past: dict[tuple[str, str], _OfCode] = defaultdict(_OfCode)
    for order in matching.expected:
        past[order.key.vendor, order.key.code].orders.append(order)
    for arrival in matching.arrivals:
        past[arrival.vendor, arrival.code].arrivals.append(arrival)
    return past


def _weight(receipt: Receipt, offer: Offer | None, unit: str) -> Iterator[Said]:
    if offer is None:
        return
    due = receipt.packs * offer.pack_quantity
    if not _is_off(receipt.quantity, due):
        return
    came = f"{number(receipt.quantity)} {unit} came"
    packs = plural(receipt.packs, "pack")
    hold = "holds" if receipt.packs == 1 else "hold"
    yield f"{came}, but {packs} {hold} {number(due)} {unit}", "check packs, quantity and unit", "pack-weight"


def _packs(past: _OfCode, arrival: Arrival, order: Expected | None) -> Iterator[Said]:
    """Packs against packs; a substitute by quantity; what nobody ordered against the most there ever was."""
    came = f"{plural(arrival.packs, 'pack')} came"
    check = "check packs and code"
    if order is None:
        most = _most(past, arrival)
        if most and arrival.packs >= TIMES_THE_MOST * most:
            wrong = f"{came}, which nobody ordered; the most there was is {plural(most, 'pack')}"
            yield wrong, check, "many-packs"
    elif not arrival.is_substitute:
        if order.packs and arrival.packs >= TIMES_OFF * order.packs:
            yield f"{came}, {number(order.packs)} ordered", check, "many-packs"
    elif order.unit == arrival.unit and order.quantity and arrival.quantity >= TIMES_OFF * order.quantity:
        wrong = (
            f"{exactly(arrival.quantity, arrival.unit)} came instead of {order.key.code}, "
            f"{exactly(order.quantity, order.unit)} ordered"
        )
        yield wrong, check, "many-packs"


def _most(past: _OfCode, arrival: Arrival) -> float:
    """The most packs of that code that were ordered or came on any other day."""
    ordered = [e.packs for e in past.orders]
    came = [a.packs for a in past.arrivals if a.delivered_on != arrival.delivered_on]
    return max((*ordered, *came), default=0.0)


def _price(receipt: Receipt, arrival: Arrival, order: Expected | None, offer: Offer | None) -> Iterator[Said]:
    """A price of nothing is no slip: what is sent in place of something bad is free."""
    agreed = agreed_price(order, offer, arrival)
    if not receipt.price or not agreed or not _is_off(receipt.price, agreed):
        return
    wrong = f"{price_said(receipt.price)} charged {per(offer)}, {price_said(agreed)} agreed"
    yield wrong, f"write the price {'of a pack' if per(offer) == 'a pack' else per(offer)}", "price-off"


def _day(past: _OfCode, arrival: Arrival, on: date) -> Iterator[Said]:
    """A day far from that of booking in: more than a month, or a week where the order is for another."""
    n_days = (on - arrival.delivered_on).days
    if n_days > OLD_DAYS:
        yield f"delivered {n_days} days ago", "check the date", "old-delivery"
    elif n_days > LATE_DAYS and arrival.answers is None:
        due = [e.key.deliver_on for e in past.orders if not e.is_settled]
        nearest = min(due, key=lambda day: abs((day - arrival.delivered_on).days), default=None)
        if nearest and abs((nearest - arrival.delivered_on).days) > LATE_DAYS:
            yield f"it is ordered for {nearest.isoformat()}", "check the date", "far-from-order"


def _use_by(house: House, receipt: Receipt) -> Iterator[Said]:
    if receipt.use_by is None:
        return
    use_by, check = receipt.use_by.isoformat(), "check the dates"
    if receipt.use_by < receipt.delivered_on:
        yield f"use by {use_by} had passed when it came", check, "use-by-passed"
    keeps = house.keeps_days(receipt.item)
    if keeps and (receipt.use_by - receipt.delivered_on).days > KEEPS_LONGER * keeps:
        yield f"use by {use_by}, but it keeps {keeps} days", check, "use-by-far"


def _is_off(found: float | Decimal, due: float | Decimal) -> bool:
    """Five times too much, or a fifth and less; something where nothing is due, or the other way round."""
    a, b = float(found), float(due)
    return max(a, b) > 0 and (a >= TIMES_OFF * b or TIMES_OFF * a <= b)
