"""What an order below a vendor's minimum comes to, and what a delivery costs: the same for every way."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from ordering.amounts import EPS
from ordering.records.books import OpenOrder
from ordering.records.house import House
from ordering.records.money import fee_for
from ordering.rehearsal.kitchen import Kitchen, order_in


@dataclass(frozen=True, slots=True)
class Wanted:
    """Packs of one offer for one delivery; `pack` in the item's unit, `price` of one pack as invoiced."""

    vendor: str
    deliver_on: date
    code: str
    item: str
    packs: float
    pack: float
    price: float


def send(kitchen: Kitchen, wanted: Iterable[Wanted]) -> None:
    """Order in, filled up to the minimums below which vendors do not come, goods and fees counted as spent.

    What was ordered before for the same delivery counts towards its minimum and its fee.
    """
    baskets: dict[tuple[str, date], list[Wanted]] = defaultdict(list)
    for one in wanted:
        baskets[one.vendor, one.deliver_on].append(one)
    for key, basket in baskets.items():
        vendor, before = kitchen.house.vendors[key[0]], kitchen.promised.get(key, 0.0)
        filled = _filled(kitchen.house, basket, float(vendor.minimum) - before)
        goods = math.fsum(one.packs * one.price for one in filled)
        kitchen.promised[key] = before + goods
        paid = fee_for(vendor, _money(before)) if before else Decimal(0)
        fee = float(fee_for(vendor, _money(before + goods)) - paid)
        orders = [
            OpenOrder(key[0], one.code, one.item, one.packs, one.packs * one.pack, key[1]) for one in filled
        ]
        order_in(kitchen, orders, goods + fee)


def _filled(house: House, basket: list[Wanted], least: float) -> list[Wanted]:
    """The basket with more of what keeps longest, up to the least it must come to."""
    missing = least - math.fsum(one.packs * one.price for one in basket)
    if missing <= 0:
        return basket
    keeping = max(
        (one for one in basket if one.price > 0),
        key=lambda one: (_keeps(house, one.item), -one.price),
        default=None,
    )
    if keeping is None:
        return basket
    more = math.ceil(missing / keeping.price - EPS)
    full = replace(keeping, packs=keeping.packs + more)
    return [full if one is keeping else one for one in basket]


def _money(value: float) -> Decimal:
    return Decimal(repr(round(value, 2)))


def _keeps(house: House, item: str) -> float:
    days = house.keeps_days(item)
    return math.inf if days is None else float(days)
