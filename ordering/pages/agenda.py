"""What a day asks for, whoever reads it: orders by cut-off, shortages, what to use first and to check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from ordering.faults import with_code
from ordering.pages.order_sheet import lacks
from ordering.records.house import House
from ordering.records.plan import Expiring, Plan, Shortage

MOST_OF_THE_MONEY = 0.9
"""Lots to use first are listed, the dearest waste first, until they make up this much of all waste in money:
what is left is not worth a cook's thought. Common practice (Pareto), no source."""


@dataclass(frozen=True, slots=True)
class Placing:
    """One order to place: vendor, delivery, cut-off, what it comes to and is short of the minimum."""

    order_by: datetime
    vendor: str
    deliver_on: date
    n_lines: int
    amount: Decimal
    fee: Decimal
    lacking: Decimal = Decimal(0)


def placings(house: House, plan: Plan) -> tuple[Placing, ...]:
    """The orders to place before the next run, the earliest cut-off first."""
    found = []
    for key in sorted({(line.order_by, line.vendor, line.deliver_on) for line in plan.buying.orders}):
        mine = [x for x in plan.buying.orders if (x.order_by, x.vendor, x.deliver_on) == key]
        amount = sum((line.amount for line in mine), Decimal(0))
        fee = plan.buying.fees.get(key[1:], Decimal(0))
        vendor = house.vendors.get(key[1])
        lacking = lacks(vendor, mine, plan.buying) if vendor else Decimal(0)
        found.append(Placing(*key, len(mine), amount, fee, lacking))
    return tuple(found)


def vendor_name(house: House, vendor: str) -> str:
    """The vendor's name, or its id where the house no longer has it."""
    return house.vendors[vendor].name if vendor in house.vendors else vendor


def shortages_by_item(plan: Plan) -> tuple[Shortage, ...]:
    """One shortage for each item, its first; what all of an item's lose first, in money, then in guests.

    What is optional comes last, whatever its date: it takes no dish off the menu.
    """
    by_item: dict[str, list[Shortage]] = {}
    for short in plan.shortages:
        by_item.setdefault(short.item, []).append(short)
    ranked = sorted(by_item.values(), key=_loss_of)
    return tuple(min(rows, key=lambda short: short.date) for rows in ranked)


def _loss_of(rows: Sequence[Shortage]) -> tuple[bool, float, float, date, str]:
    """The key by which an item's shortages are told, the gravest first."""
    money, portions = sum(short.money for short in rows), sum(short.portions for short in rows)
    is_optional = all(short.is_optional for short in rows)
    return is_optional, -money, -portions, min(short.date for short in rows), rows[0].item


def worth_using(plan: Plan) -> tuple[Expiring, ...]:
    """Lots to use first by money, the dearest waste first; those of unknown cost last."""
    ranked = sorted(plan.netting.expiring, key=lambda lot: (lot.cost is None, -(lot.cost or 0.0), lot.use_by))
    total = sum(lot.cost or 0.0 for lot in ranked)
    found, counted = [], 0.0
    for lot in ranked:
        if lot.cost is not None and counted >= MOST_OF_THE_MONEY * total:
            continue
        found.append(lot)
        counted += lot.cost or 0.0
    return tuple(found)


def use_first(plan: Plan) -> tuple[Expiring, ...]:
    """Lots to use first whose last day comes before the next run looks again."""
    return tuple(lot for lot in worth_using(plan) if lot.use_by <= plan.next_run)


def to_check(plan: Plan) -> tuple[str, ...]:
    """What somebody should look at, each with the code that answers it."""
    return tuple(map(with_code, plan.doubts))
