"""What an item and a portion cost in ingredients, by the prices in the offers."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from ordering.records.house import House, Ingredient


def unit_costs(house: House, on: date | None = None) -> dict[str, float]:
    """Money per unit of every item, by id; 0.0 where no price is known.

    An ingredient costs what its cheapest offer charges for one unit (the offers current on `on`
    where a day is given, all of them otherwise). A made item costs what its batch draws and does not give
    back, less the worth of its by-products, over what it makes; never less than nothing.
    A recipe that feeds itself is counted without its own share.
    """
    costs = {i.id: _cheapest(i, on) for i in house.ingredients.values()}
    for recipe in house.recipes:
        _cost(house, recipe, costs, frozenset())
    return costs


def portion_costs(house: House, costs: Mapping[str, float]) -> dict[str, float]:
    """Ingredient money in one portion of each dish, by dish id."""
    return {d.id: d.portion * costs.get(d.recipe, 0.0) for d in house.dishes.values()}


def _cheapest(ingredient: Ingredient, on: date | None) -> float:
    prices = [
        float(offer.price) / offer.pack_quantity
        for offer in ingredient.offers
        if offer.price is not None
        and (
            on is None
            or ((offer.until is None or on <= offer.until) and (offer.from_on is None or on >= offer.from_on))
        )
    ]
    return min(prices, default=0.0)


def _cost(house: House, item: str, costs: dict[str, float], above: frozenset[str]) -> float:
    if item in costs:
        return costs[item]
    if item in above:
        return 0.0
    recipe = house.recipes[item]
    inside = above | {item}
    drawn = sum((n.drawn - n.returns) * _cost(house, n.item, costs, inside) for n in recipe.lines)
    given = sum(quantity * _cost(house, other, costs, inside) for other, quantity in recipe.also_makes)
    cost = max(0.0, drawn - given) / recipe.makes
    if not above:
        costs[item] = cost
    return cost
