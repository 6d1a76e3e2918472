"""Packs beyond need that a vendor's terms ask for: its minimum, a fee waived, a price break.

Told is what holds at the delivery itself: so many packs that the days looked at do without, and the term that
fails without them. Nothing is said of more packs than that.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ordering.buy.choices import FAVOUR
from ordering.buy.requirements import EPS, CoverSpan, DeliveryConstraints
from ordering.days import format_day
from ordering.records.buying import DeliveryKey, OrderLine
from ordering.records.house import House
from ordering.records.money import fee_for, line_amount, offer_of, price_at
from ordering.texts import listed

LineKey = tuple[str, str, date]
BELOW = "the delivery is below the minimum"


@dataclass(frozen=True, slots=True)
class Filling:
    """So many packs of a line not needed up to `until`, their money, and what is lost without them."""

    line: OrderLine
    packs: int
    money: Decimal
    lost: str
    until: date

    @property
    def note(self) -> str:
        """What the line says of it."""
        number, them = f"{self.packs} of {self.line.packs}", "it" if self.packs == 1 else "them"
        return f"{number} not needed by {format_day(self.until)}: without {them} {self.lost}"


def fillings(
    house: House,
    orders: Sequence[OrderLine],
    items: Sequence[DeliveryConstraints],
    days: Sequence[date],
    goods: Mapping[DeliveryKey, Decimal],
    placed: Mapping[DeliveryKey, Decimal],
) -> dict[LineKey, Filling]:
    """Packs beyond need by the key of their line. `goods`: money of each delivery, `placed` of it before."""
    constraints = {item.item: item for item in items}
    left = {line.key: line.packs for line in orders}
    by_item: dict[str, list[OrderLine]] = defaultdict(list)
    for line in orders:
        by_item[line.item].append(line)
    found = {}
    for line in orders:
        item = constraints[line.item]
        spare = _spare(line, left, by_item[line.item], item.spans, days)
        drop = line.vendor, line.deliver_on
        reason = _reason(house, line, spare, goods[drop], placed.get(drop, Decimal(0))) if spare else ""
        if reason:
            left[line.key] -= spare
            money = line_amount(line.price, spare)
            found[line.key] = Filling(line, spare, money, reason, days[item.window])
    return found


def _spare(
    line: OrderLine,
    left: Mapping[LineKey, int],
    lines: Sequence[OrderLine],
    spans: Sequence[CoverSpan],
    days: Sequence[date],
) -> int:
    """Packs of a line that every condition on the days looked at does without; `lines` of its item."""
    each = line.quantity / line.packs
    spare = float(left[line.key])
    for span in spans:
        inside = [one for one in lines if span.first <= days.index(one.deliver_on) <= span.last]
        if line in inside:
            brought = sum(one.quantity / one.packs * left[one.key] for one in inside)
            spare = min(spare, (brought - span.quantity) / each)
    return max(0, int(spare + EPS))


def _reason(house: House, line: OrderLine, spare: int, goods: Decimal, placed: Decimal) -> str:
    """The term that fails without the spare packs.

    Empty where one pack less fails no term at all: then why it was bought is not known.
    """
    vendor = house.vendors[line.vendor]
    offer = offer_of(house, line.item, line.vendor, line.code)
    whole = goods + placed

    def failed(fewer: int) -> str:
        price = price_at(offer, line.packs - fewer) if offer else line.price
        less = whole - line.amount + line_amount(price, line.packs - fewer)
        if less < vendor.minimum <= whole:
            return f"{BELOW} of {vendor.minimum:,.2f}"
        if fee_for(vendor, less) > fee_for(vendor, whole) and not placed:
            return f"the delivery fee of {vendor.delivery_fee:,.2f} is charged"
        if offer and price != line.price:
            return f"the price of {max(n for n, _ in offer.breaks if n <= line.packs)} or more is lost"
        return ""

    return failed(spare) if failed(1) else ""


def minimum_notes(house: House, found: Mapping[LineKey, Filling]) -> list[str]:
    """What was spent to reach minimums, where asking below them would have cost less were it never used.

    There it pays only as long as it is used later, which is for a person to say. The most money first.
    """
    filled = [f for f in found.values() if f.lost.startswith(BELOW)]
    spent: dict[DeliveryKey, Decimal] = defaultdict(Decimal)
    for f in filled:
        spent[f.line.vendor, f.line.deliver_on] += f.money
    dear = {
        key for key, money in spent.items() if float(money) > FAVOUR * float(house.vendors[key[0]].minimum)
    }
    mine = [f for f in filled if (f.line.vendor, f.line.deliver_on) in dear]
    if not mine:
        return []
    mine.sort(key=lambda f: (-f.money, f.line.key))
    goods = listed([f"{house.name_of(f.line.item)} {f.money:,.2f}" for f in mine], 2)
    total = sum((f.money for f in mine), Decimal(0))
    return [f"{total:,.2f} buys goods not needed yet, to reach minimums: {goods}"]
