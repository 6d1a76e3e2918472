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
    """Packs of a line beyond need: their money, what is lost without them, and what the line says of it."""

    line: OrderLine
    money: Decimal
    lost: str
    note: str


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
    brought: dict[str, dict[int, float]] = defaultdict(lambda: defaultdict(float))
    for line in orders:
        brought[line.item][days.index(line.deliver_on)] += line.quantity
    found = {}
    for line in orders:
        item, day, each = constraints[line.item], days.index(line.deliver_on), line.quantity / line.packs
        spare = min(line.packs, int(_over(brought[line.item], day, item.spans) / each + EPS))
        drop = line.vendor, line.deliver_on
        lost = _lost(house, line, spare, goods[drop], placed.get(drop, Decimal(0)))
        if lost:
            brought[line.item][day] -= spare * each
            them, until = "it" if spare == 1 else "them", format_day(days[item.window])
            note = f"{spare} of {line.packs} not needed by {until}: without {them} {lost}"
            found[line.key] = Filling(line, line_amount(line.price, spare), lost, note)
    return found


def _over(brought: Mapping[int, float], day: int, spans: Sequence[CoverSpan]) -> float:
    """What of a day's goods every condition on the days looked at does without; `brought`: goods by day."""
    over = brought[day]
    for span in spans:
        if span.first <= day <= span.last:
            inside = sum(goods for on, goods in brought.items() if span.first <= on <= span.last)
            over = min(over, inside - span.quantity)
    return max(0.0, over)


def _lost(house: House, line: OrderLine, spare: int, goods: Decimal, placed: Decimal) -> str:
    """The term that fails without these packs and already without one of them; an empty string: none."""
    vendor = house.vendors[line.vendor]
    offer = offer_of(house, line.item, line.vendor, line.code)
    if offer is None or not spare:
        return ""
    whole, lost = goods + placed, ""
    for packs in (line.packs - 1, line.packs - spare):
        price = price_at(offer, packs)
        less = whole - line.amount + line_amount(price, packs)
        if less < vendor.minimum <= whole:
            lost = f"{BELOW} of {vendor.minimum:,.2f}"
        elif fee_for(vendor, less) > fee_for(vendor, whole) and not placed:
            lost = f"the delivery fee of {vendor.delivery_fee:,.2f} is charged"
        elif price != line.price:
            lost = f"the price of {max(n for n, _ in offer.breaks if n <= line.packs)} or more is lost"
        else:
            return ""
    return lost


def minimum_notes(house: House, found: Mapping[LineKey, Filling]) -> list[str]:
    """What was spent to reach minimums, where asking below them would have cost less were it never used.

    There it pays only as long as it is used later, which is for a person to say. The most money first.
    """
    drops: dict[DeliveryKey, list[Filling]] = defaultdict(list)
    for f in found.values():
        if f.lost.startswith(BELOW):
            drops[f.line.vendor, f.line.deliver_on].append(f)
    dear = [
        f
        for (vendor, _), filled in drops.items()
        if sum(f.money for f in filled) > Decimal(str(FAVOUR)) * house.vendors[vendor].minimum
        for f in filled
    ]
    if not dear:
        return []
    dear.sort(key=lambda f: (-f.money, f.line.key))
    goods = listed([f"{house.name_of(f.line.item)} {f.money:,.2f}" for f in dear], 2)
    total = sum((f.money for f in dear), Decimal(0))
    return [f"{total:,.2f} buys goods not needed yet, to reach minimums: {goods}"]
