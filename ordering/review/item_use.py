"""Orders against use, ingredient by ingredient."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

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
    shows what was cut into. A recipe that feeds itself is followed once.
    """
    known: dict[str, dict[str, float]] = {}
    total: dict[str, float] = {}
    dishes = [(house.dishes[d], portions) for d, portions in sold.items() if d in house.dishes]
    drawn = [(dish.recipe, portions * dish.portion) for dish, portions in dishes]
    for top, quantity in (*drawn, *consumed.items()):
        for item, share in _content(house, top, known, frozenset()).items():
            total[item] = total.get(item, 0.0) + quantity * share
    return total


def _content(
    house: House, item: str, known: dict[str, dict[str, float]], above: frozenset[str]
) -> dict[str, float]:
    """Ingredients in one unit of an item."""
    if item in known:
        return known[item]
    if item in above:
        return {}
    if item in house.ingredients:
        return {item: 1.0}
    recipe = house.recipes[item]
    content: dict[str, float] = {}
    for line in recipe.lines:
        share = (line.drawn - line.returns) / recipe.makes
        for part, quantity in _content(house, line.item, known, above | {item}).items():
            content[part] = content.get(part, 0.0) + share * quantity
    if not above:
        known[item] = content
    return content


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
