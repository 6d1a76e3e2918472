"""A delivery held against the order, in words for the phone call. Pure."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal
from itertools import groupby

from ordering.amounts import exactly, percent, plural
from ordering.days import format_day
from ordering.ledger.order_matching import LATE_DAYS, Matching, expectations, from_open_orders, matched
from ordering.records.books import Books
from ordering.records.buying import DeliveryKey
from ordering.records.documents import Line
from ordering.records.house import House
from ordering.records.ledger import Arrival, Bookings, Expected, OrderKey
from ordering.records.money import cents, invoiced, offer_of, per, price_said, quoted_of, quoted_price
from ordering.records.vendors import Offer
from ordering.units import format_number as number

STILL_EXPECTED = timedelta(days=1)
NEXT_ORDER = "it goes on the next order"
WEIGHT_TOLERANCE = 0.25  # catch weight this far from the expected is worth a look; common practice, no source


@dataclass(frozen=True, slots=True)
class ShortLine:
    """A line of an order of which packs did not come. `is_final`: nothing more is expected of it."""

    expected: Expected
    is_final: bool

    @property
    def packs(self) -> float:
        """Packs that did not come."""
        return self.expected.packs - self.expected.received

    @property
    def quantity(self) -> float:
        """The same in the item's unit."""
        return self.packs * self.expected.quantity / self.expected.packs


@dataclass(frozen=True, slots=True)
class DeliveryReport:
    """`lines` to print; `is_fine`: nothing to talk to the vendor about."""

    lines: tuple[str, ...]
    is_fine: bool


def corrections(old: Iterable[Line], new: Iterable[Line]) -> tuple[str, ...]:
    """What a corrected delivery changes against the version before it, code by code."""
    before, after = _by_code(old), _by_code(new)
    lines = []
    for key in sorted(before.keys() | after.keys()):
        was, now = before.get(key), after.get(key)
        vendor, day, code = key
        where = f"{vendor} {code} on {format_day(day)}"
        if was is None:
            lines.append(f"corrected: {where}: was not booked, now {now}")
        elif now is None:
            lines.append(f"corrected: {where}: was {was}, now taken out")
        elif was != now:
            lines.append(f"corrected: {where}: was {was}, now {now}")
    return tuple(lines)


def _by_code(lines: Iterable[Line]) -> dict[tuple[str, date, str], str]:
    rows: dict[tuple[str, date, str], list[str]] = {}
    for line in lines:
        price = "" if line.price is None else f" at {line.price}"
        use_by = "" if line.use_by is None else f", use by {line.use_by.isoformat()}"
        much = exactly(line.quantity, line.unit)
        text = f"{plural(line.packs or 0, 'pack')}, {much}{price}{use_by}"
        rows.setdefault((line.party, line.day, line.code), []).append(text)
    return {key: " + ".join(sorted(texts)) for key, texts in rows.items()}


def matched_bookings(house: House, books: Books, bookings: Bookings) -> Matching:
    """Orders placed (and those the books began with) against everything that came."""
    begun = from_open_orders(books.open_orders, house)
    return matched((*expectations(bookings.orders), *begun), bookings.receipts)


def short_lines(matching: Matching, deliveries: Iterable[DeliveryKey]) -> list[ShortLine]:
    """Lines of orders that came short with these deliveries, or were due and are on none.

    `matching` has the deliveries, each a vendor and a day, already in it.
    """
    meant = set(deliveries)
    came = {
        a.answers for a in matching.arrivals if (a.vendor, a.delivered_on) in meant and not a.is_substitute
    }
    short = [ShortLine(e, True) for e in matching.expected if e.key in came and e.received < e.packs]
    for vendor, day in sorted(meant):
        for due, lines in _due(matching, vendor, day):
            if due + STILL_EXPECTED >= day and not _is_all_to_come(due, day, lines):
                short += [ShortLine(e, False) for e in lines if not e.is_settled]
    return short


def delivery_told(
    house: House,
    matching: Matching,
    deliveries: Iterable[DeliveryKey],
    run_out: Mapping[OrderKey, str] | None = None,
) -> DeliveryReport:
    """Each delivery against its order: shorts, what is missing, substitutes, prices, weights, surplus.

    Parameters
    ----------
    matching : with the delivery already in it
    deliveries : (vendor, day) to be told about
    run_out : what is said of a line with packs missing: when the house runs out, what can be done
    """
    run_out = run_out or {}
    lines: list[str] = []
    is_fine = True
    by_delivery: dict[DeliveryKey, list[Arrival]] = defaultdict(list)
    for arrival in matching.arrivals:
        by_delivery[arrival.vendor, arrival.delivered_on].append(arrival)
    for vendor, day in sorted(set(deliveries)):
        arrivals = by_delivery[vendor, day]
        remarks = [
            *_late(house, arrivals),
            *_remarks(house, matching, arrivals, run_out),
            *_missing(house, matching, (vendor, day), run_out),
        ]
        name = house.vendors[vendor].name if vendor in house.vendors else vendor
        total = sum((_amount(house, a) or Decimal(0) for a in arrivals), Decimal(0))
        came = f"{plural(len(arrivals), 'line')}, {cents(total):,} {house.currency}"
        lines.append(f"{name}, delivered {format_day(day)}: {came}")
        lines += [f"  {remark}" for remark in remarks] or ["  as ordered"]
        is_fine = is_fine and not remarks
    return DeliveryReport(tuple(line.rstrip() for line in lines), is_fine)


def _late(house: House, arrivals: Iterable[Arrival]) -> Iterator[str]:
    """What came for the order of another day, a line for each of these days."""
    others: dict[date, list[Arrival]] = defaultdict(list)
    for arrival in arrivals:
        due = arrival.answers.deliver_on if arrival.answers and arrival.packs else arrival.delivered_on
        if due != arrival.delivered_on and not arrival.is_substitute:
            others[due].append(arrival)
    for due, came in sorted(others.items()):
        first = came[0]
        only = f"{called(house, first.item, first.code)}: {plural(first.packs, 'pack')}"
        yield f"{only if len(came) == 1 else plural(len(came), 'line')} of the order for {format_day(due)}"


def _remarks(
    house: House, matching: Matching, arrivals: list[Arrival], run_out: Mapping[OrderKey, str]
) -> Iterator[str]:
    expected = {e.key: e for e in matching.expected}
    for arrival in arrivals:
        offer = offer_of(house, arrival.item, arrival.vendor, arrival.code)
        order = expected.get(arrival.answers) if arrival.answers else None
        if not arrival.item:
            place = f" instead of {arrival.instead_of}" if arrival.instead_of else ""
            yield (
                f"{arrival.code} is in no offer: {_unplanned_much(arrival)} booked in{place} as unplanned "
                "goods, not in stock yet; what is it? Add the code to an ingredient's offers"
            )
            continue
        if order is None:
            yield (
                f"nobody ordered {called(house, arrival.item, arrival.code)}: {_much(arrival)} came; "
                f"booked in, so send it back or keep it"
            )
        elif arrival.is_substitute:
            yield (
                f"came instead: {arrival.code} for {called(house, order.item, order.key.code)}: "
                f"{_much(arrival)} for {exactly(order.quantity, order.unit)} ordered"
            )
        else:
            others = (a for a in arrivals if a.answers == order.key and a.code != arrival.code)
            instead = math.fsum(a.packs for a in others)
            yield from _against(house, (arrival, instead), order, run_out.get(order.key, NEXT_ORDER))
        yield from _priced(house, arrival, order, offer)
        yield from _weighed(arrival, offer, house)


def _against(house: House, came: tuple[Arrival, float], order: Expected, then: str) -> Iterator[str]:
    """Packs against packs; a rest that comes later is counted with what came before.

    came : what came of the code, and packs of others that came instead
    """
    arrival, instead = came
    what = called(house, arrival.item, arrival.code)
    missing = order.packs - order.received
    if missing > 0:
        worth = _worth(order, offer_of(house, arrival.item, arrival.vendor, arrival.code), missing)
        amount = exactly(missing * order.quantity / order.packs, order.unit)
        other = f"{number(instead)} of another code instead, " if instead else ""
        yield (
            f"short: {what}: {number(order.received - instead)} of {plural(order.packs, 'pack')} came, "
            f"{other}{number(missing)} missing ({amount}{worth}); treated as cancelled; {then}"
        )
    elif missing < 0:
        packs = plural(order.received, "pack")
        yield f"more than ordered: {what}: {packs} came, {number(order.packs)} ordered"


def _worth(order: Expected, offer: Offer | None, packs: float) -> str:
    price = order.price if order.price is not None else (offer.price if offer else None)
    return "" if price is None else f", worth {cents(Decimal(repr(float(packs))) * price)}"


def _priced(house: House, arrival: Arrival, order: Expected | None, offer: Offer | None) -> Iterator[str]:
    if arrival.price is None:
        return
    agreed = agreed_price(order, offer, arrival)
    if agreed is None or agreed == arrival.price:
        return
    what = called(house, arrival.item, arrival.code)
    share = f" ({percent(float(arrival.price / agreed - 1), 1, '+')})" if agreed else ""
    charged = f"{price_said(agreed)} agreed, {price_said(arrival.price)} charged"
    yield f"price: {what}: {charged} {per(offer)}{share}"


def agreed_price(order: Expected | None, offer: Offer | None, arrival: Arrival) -> Decimal | None:
    """The price the order went out at, in the terms of the invoice."""
    if order is not None and order.price is not None and not arrival.is_substitute:
        return order.price if offer is None else quoted_of(offer, order.price)
    return quoted_price(offer, arrival.packs) if offer is not None else None


def _weighed(arrival: Arrival, offer: Offer | None, house: House) -> Iterator[str]:
    """Weight against the packs it came in: exact for fixed packs, within a tolerance for catch weight."""
    if offer is None or not arrival.packs:
        return
    due = arrival.packs * offer.pack_quantity
    tolerance = WEIGHT_TOLERANCE if offer.is_catch_weight else 1e-3
    if abs(arrival.quantity - due) > tolerance * due:
        what = called(house, arrival.item, arrival.code)
        yield (
            f"weight: {what}: {plural(arrival.packs, 'pack')} should hold {exactly(due, arrival.unit)}, "
            f"{exactly(arrival.quantity, arrival.unit)} came"
        )


def _due(matching: Matching, vendor: str, day: date) -> list[tuple[date, list[Expected]]]:
    """Lines of a vendor that were due on a day or in the week before, by day."""
    mine = [e for e in matching.expected if e.key.vendor == vendor]
    due = [e for e in mine if 0 <= (day - e.key.deliver_on).days <= LATE_DAYS]
    due.sort(key=lambda e: e.key.deliver_on)
    return [(on, list(lines)) for on, lines in groupby(due, key=lambda e: e.key.deliver_on)]


def _is_all_to_come(due: date, day: date, lines: Iterable[Expected]) -> bool:
    """Whether nothing at all of an earlier day's order has been booked in."""
    return due < day and not any(e.is_settled for e in lines)


def _missing(
    house: House, matching: Matching, delivery: DeliveryKey, run_out: Mapping[OrderKey, str]
) -> Iterator[str]:
    """Lines due that are on no delivery, from a week back; a delivery of which nothing came in one line."""
    vendor, day = delivery
    for due, lines in _due(matching, vendor, day):
        until = due + STILL_EXPECTED
        still = f"still expected until {format_day(until)}" if until >= day else "no longer expected"
        if _is_all_to_come(due, day, lines):
            all_of = plural(len(lines), "line")
            yield f"nothing of the order for {format_day(due)} has been booked in: {all_of}, {still}"
            continue
        for e in (e for e in lines if not e.is_settled):
            what = called(house, e.item, e.key.code)
            ordered = f"{plural(e.packs, 'pack')} ordered for {format_day(due)}"
            then = f"; {run_out[e.key]}" if e.key in run_out else ""
            yield f"not on the delivery: {what}: {ordered}; {still}{then}"


def _amount(house: House, arrival: Arrival) -> Decimal | None:
    offer = offer_of(house, arrival.item, arrival.vendor, arrival.code)
    price = arrival.price
    if price is None and offer is not None:
        price = quoted_price(offer, arrival.packs)
    return None if price is None else invoiced(house, offer, arrival.packs, arrival.quantity, price)


def called(house: House, item: str, code: str) -> str:
    """A code with the name of its item: `M-1 Bread flour`."""
    known = item in house.ingredients or item in house.recipes
    return f"{code} {house.name_of(item) if known else item}".rstrip()


def _unplanned_much(arrival: Arrival) -> str:
    """Packs of goods nobody planned, and what they weigh; a figure without a unit is asked for one."""
    packs = plural(arrival.packs, "pack")
    if not arrival.quantity:
        return packs
    return _much(arrival) if arrival.unit else f"{packs}, {number(arrival.quantity)} (of what unit?),"


def _much(arrival: Arrival) -> str:
    return f"{plural(arrival.packs, 'pack')}, {exactly(arrival.quantity, arrival.unit)}"
