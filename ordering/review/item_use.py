"""Orders against use, ingredient by ingredient."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from ordering.explode.drawn import drawn_through, from_the_top, in_portions
from ordering.records.books import OpenOrder, Receipt, Waste
from ordering.records.house import House
from ordering.records.ledger import Placed, Variance
from ordering.records.money import receipt_money
from ordering.records.review_results import ItemUse


def ingredient_use(
    house: House, sold: Mapping[str, float], consumed: Mapping[str, float]
) -> dict[str, float]:
    """Ingredients that the dishes sold and the services held should have taken, as purchased, by item.

    `sold` are portions by dish, `consumed` what consumables used up by item. Through every sub-recipe by
    its yields; what a batch gives back is not taken. By-products are not set against it: each ingredient
    shows what was cut into.
    """
    wanted = in_portions(house, sold)
    for item, quantity in consumed.items():
        wanted[item] = wanted.get(item, 0.0) + quantity
    drawn = drawn_through(from_the_top(house), wanted)
    return {item: quantity for item, quantity in drawn.items() if item in house.ingredients}


def item_uses(
    house: House,
    used: Mapping[str, float],
    placed: Iterable[Placed | OpenOrder],
    receipts: Iterable[Receipt],
    waste: Iterable[Waste],
    variances: Iterable[Variance],
) -> tuple[ItemUse, ...]:
    """Every ingredient that was ordered, came, was used, thrown away or counted, the most costly first."""
    ordered = _sums((p.item, p.quantity) for p in placed)
    came = list(receipts)
    received = _sums((r.item, r.quantity) for r in came)
    money: dict[str, Decimal] = {}
    for r in came:
        money[r.item] = money.get(r.item, Decimal(0)) + receipt_money(house, r)
    wasted = _sums((w.item, w.quantity) for w in waste)
    counted = list(variances)
    off = _sums((v.item, v.quantity) for v in counted)
    off_money: dict[str, Decimal] = {}
    for v in counted:
        off_money[v.item] = off_money.get(v.item, Decimal(0)) + (v.money or Decimal(0))
    items = ordered.keys() | received.keys() | used.keys() | wasted.keys() | off.keys()
    found = [
        ItemUse(
            item=item,
            unit=house.unit_of(item),
            placed=ordered.get(item, 0.0),
            received=received.get(item, 0.0),
            used=used.get(item, 0.0),
            wasted=wasted.get(item, 0.0),
            variance=off.get(item),
            variance_money=off_money.get(item, Decimal(0)),
            money=money.get(item, Decimal(0)),
        )
        for item in items
        if item in house.ingredients or item in house.recipes
    ]
    return tuple(sorted(found, key=lambda u: (-u.money, -abs(u.variance_money), u.item)))


def _sums(entries: Iterable[tuple[str, float]]) -> dict[str, float]:
    sums: dict[str, float] = {}
    for item, quantity in entries:
        sums[item] = sums.get(item, 0.0) + quantity
    return sums
