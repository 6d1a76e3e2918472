"""The books with what the ledger knows laid over them. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import replace
from datetime import date, timedelta
from typing import TypeVar

from ordering.amounts import plural
from ordering.faults import Fault
from ordering.ledger.order_matching import LATE_DAYS, expectations, from_open_orders, matched
from ordering.records.books import Batch, Books, CountedLot, OpenOrder, Receipt, Waste
from ordering.records.documents import Booked
from ordering.records.house import House
from ordering.records.ledger import Bookings, Expected
from ordering.records.vendors import Offer
from ordering.units import UnitError, convert

T = TypeVar("T", bound=Hashable)
Q = TypeVar("Q", CountedLot, Waste, Receipt)
LOOK_BACK_DAYS = 60
"""For speed alone: what came of older orders says nothing of those that are still open. Nobody waits longer
than a week, so it would take eight deliveries in a row, each taken for the order before it."""


def merged(books: Books, house: House, bookings: Bookings, on: date) -> tuple[Books, tuple[Fault, ...]]:
    """Books as of the morning of `on`, and what in the ledger no longer fits the configuration.

    Open orders are those of the books and those placed, less what came: what was received, came short or
    was substituted is closed. A count in the ledger takes the place of one in the books of the same
    item and day; receipts, waste and batches that both name count once. Nothing that happened after
    `on` is looked at. A quantity in a unit the item no longer has is converted, or left out and said.
    """
    told = _Converter(house)
    result = replace(
        books,
        counts=_counts(books.counts, told.counts(bookings, on)),
        receipts=both(books.receipts, told.receipts(bookings, on)),
        open_orders=told.open_orders(books, bookings, on),
        waste=both(books.waste, told.waste(bookings, on)),
        batches=both(books.batches, told.batches(bookings, on)),
    )
    return result, tuple(sorted(set(told.doubts)))


def both(first: Iterable[T], second: Iterable[T]) -> tuple[T, ...]:
    """Entries of both sources, each as often as the source that has it most."""
    a, b = Counter(first), Counter(second)
    return tuple((a | b).elements())


def _counts(in_books: tuple[CountedLot, ...], in_ledger: tuple[CountedLot, ...]) -> tuple[CountedLot, ...]:
    recounted = {(c.counted_on, c.item) for c in in_ledger}
    return (*(c for c in in_books if (c.counted_on, c.item) not in recounted), *in_ledger)


def planned_now(receipt: Receipt, unit: str, offer: Offer, house: House) -> tuple[Receipt, str]:
    """Goods nobody planned, once an offer says what they are; without a quantity the packs' own."""
    own = house.unit_of(offer.item)
    if unit and receipt.quantity:
        return replace(receipt, item=offer.item), unit
    return replace(receipt, item=offer.item, quantity=receipt.packs * offer.pack_quantity), own


def _with(record: Q, quantity: float) -> Q:
    """The record with a quantity in today's unit; most need no other."""
    return record if record.quantity == quantity else replace(record, quantity=quantity)


class _Converter:
    """Quantities of the ledger in today's units, with the doubts met on the way."""

    def __init__(self, house: House) -> None:
        self._house = house
        self._offers = {(o.vendor, o.code): o for one in house.ingredients.values() for o in one.offers}
        self.doubts: list[Fault] = []

    def quantity(self, item: str, quantity: float, unit: str, what: str) -> float | None:
        """The quantity in today's unit; None, with a doubt, where the item or a bridge is gone."""
        house = self._house
        if item not in house.ingredients and item not in house.recipes:
            self._doubt(
                item, f"{what} in the ledger names '{item}', which the house no longer has", "unknown-item"
            )
            return None
        now = house.unit_of(item)
        if unit == now:
            return quantity
        thing = house.recipes.get(item) or house.ingredients[item]
        try:
            return convert(quantity, unit, now, thing.each_g, thing.density_kg_per_l)
        except (UnitError, KeyError):
            self._doubt(item, f"{what} in the ledger is in {unit}, '{item}' is now in {now}", "unit-changed")
            return None

    def counts(self, bookings: Bookings, on: date) -> tuple[CountedLot, ...]:
        found = (
            (b.record, self.quantity(b.record.item, b.record.quantity, b.unit, "a count"))
            for b in bookings.counts
            if b.record.counted_on <= on
        )
        return tuple(_with(lot, q) for lot, q in found if q is not None)

    def waste(self, bookings: Bookings, on: date) -> tuple[Waste, ...]:
        found = (
            (b.record, self.quantity(b.record.item, b.record.quantity, b.unit, "waste"))
            for b in bookings.waste
            if b.record.date <= on
        )
        return tuple(_with(waste, q) for waste, q in found if q is not None)

    def batches(self, bookings: Bookings, on: date) -> tuple[Batch, ...]:
        found = (
            (b.record, self.quantity(b.record.recipe, b.record.made, b.unit, "a batch"))
            for b in bookings.batches
            if b.record.started_on <= on
        )
        return tuple(
            replace(batch, made=made, drawn=self._drawn(batch), drawn_item="", drawn_unit="")
            for batch, made in found
            if made is not None and batch.recipe in self._house.recipes
        )

    def _drawn(self, batch: Batch) -> float:
        """What a batch drew of the recipe's first line.

        0 where that is another item now, or not to be said in its unit: then what was made says how large the
        batch was.
        """
        lines = self._house.recipes[batch.recipe].lines
        if not batch.drawn_item or not batch.drawn:
            return batch.drawn
        if not lines or batch.drawn_item != lines[0].item:
            return 0.0
        return self.quantity(batch.drawn_item, batch.drawn, batch.drawn_unit, "a batch") or 0.0

    def receipts(self, bookings: Bookings, on: date) -> tuple[Receipt, ...]:
        """What came and what went back; goods nobody planned once their code is in an offer."""
        offers = {(o.vendor, o.code): o for i in self._house.ingredients.values() for o in i.offers}
        found = []
        for b in (*bookings.receipts, *bookings.credits):
            if b.record.delivered_on > on:
                continue
            receipt, unit = b.record, b.unit
            if not receipt.item:
                offer = offers.get((receipt.vendor, receipt.code))
                if offer is None:
                    self._unplanned(b)
                    continue
                receipt, unit = planned_now(receipt, unit, offer, self._house)
            quantity = self.quantity(receipt.item, receipt.quantity, unit, "a receipt")
            if quantity is not None:
                found.append(_with(receipt, quantity))
        return tuple(found)

    def _unplanned(self, booked: Booked[Receipt]) -> None:
        receipt = booked.record
        packs = plural(receipt.packs, "pack")
        wrong = f"{packs} of {receipt.code} came from {receipt.vendor} on {receipt.delivered_on}: of what?"
        right = "not in stock until the code stands in an offer of an ingredient; add it there"
        self.doubts.append(Fault(booked.at, 0, receipt.code, wrong, right, "unplanned-goods"))

    def open_orders(self, books: Books, bookings: Bookings, on: date) -> tuple[OpenOrder, ...]:
        """What is still to come, up to a week late; what lateness means is decided where it is counted on."""
        since = on - timedelta(days=LOOK_BACK_DAYS)
        placed = expectations(p for p in bookings.orders if p.placed_on <= on and p.deliver_on >= since)
        expected = (*placed, *from_open_orders(books.open_orders, self._house))
        came = (b for b in bookings.receipts if since <= b.record.delivered_on <= on)
        lines = []
        for e in matched(expected, came).expected:
            if e.is_settled or (on - e.key.deliver_on).days > LATE_DAYS:
                continue
            item, quantity = self._ordered(e)
            if quantity is not None:
                lines.append(OpenOrder(e.key.vendor, e.key.code, item, e.packs, quantity, e.key.deliver_on))
        return tuple(lines)

    def _ordered(self, e: Expected) -> tuple[str, float | None]:
        """The item of an order and its quantity.

        Where the item has another id by now, the vendor's code says what it is.
        """
        offer = None if e.item in self._house.ingredients else self._offers.get((e.key.vendor, e.key.code))
        if offer is None:
            return e.item, self.quantity(e.item, e.quantity, e.unit, "an order")
        return offer.item, e.packs * offer.pack_quantity

    def _doubt(self, item: str, wrong: str, kind: str) -> None:
        right = "left out; put the item back or book it under its new name"
        self.doubts.append(Fault("ledger.sqlite", 0, item, wrong, right, kind))
