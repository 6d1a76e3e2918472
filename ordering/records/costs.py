"""What an item and a portion cost in ingredients, by the prices in the offers."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import date

from ordering.records.house import MISSED_COST, Dish, House, Ingredient

_MOST_SWEEPS = 60


def unit_costs(house: House, on: date | None = None) -> dict[str, float]:
    """Money per unit of every item, by id; 0.0 where no price is known. The one rule for what a thing costs.

    What has no price is left out of what it goes into: `unpriced` says where a cost is not whole.
    An ingredient costs what its cheapest offer charges for one unit (the offers that hold on `on`
    where a day is given, all of them otherwise). A made item costs what its batch draws and does not give
    back, less the worth of its by-products, over what it makes; never less than nothing. Recipes are
    swept until nothing changes: one sweep a level at most, a few more where a batch feeds the next one (the
    series I + A + A^2 + ... of Leontief's input-output analysis). What by-products are worth is closed in on
    from both sides; where they go round in a circle that leaves it open, it is the least that it can be.
    """
    bought = {i.id: cheapest(i, on) or 0.0 for i in house.ingredients.values()}
    least, most = dict[str, float](), dict[str, float]()
    for _ in range(_MOST_SWEEPS):
        before, most = most, _swept(house, bought, least)
        if _is_same(most, least) or _is_same(most, before):
            break
        least = _swept(house, bought, most)
    return most


def _swept(house: House, bought: Mapping[str, float], worth: Mapping[str, float]) -> dict[str, float]:
    """Costs by item. worth : what by-products are worth, by item; none of one that is not named."""
    costs = {**dict.fromkeys(house.recipes, 0.0), **bought}
    for _ in range(_MOST_SWEEPS):
        is_settled = True
        for recipe in house.recipes.values():
            drawn = sum((line.drawn - line.returns) * costs[line.item] for line in recipe.lines)
            given = sum(quantity * worth.get(item, 0.0) for item, quantity in recipe.also_makes)
            cost = max(0.0, drawn - given) / recipe.makes
            is_settled &= _is_close(cost, costs[recipe.id])
            costs[recipe.id] = cost
        if is_settled:
            break
    return costs


def _is_same(some: Mapping[str, float], others: Mapping[str, float]) -> bool:
    return some.keys() == others.keys() and all(_is_close(cost, others[item]) for item, cost in some.items())


def _is_close(some: float, other: float) -> bool:
    return math.isclose(some, other, rel_tol=1e-9, abs_tol=1e-12)


def unpriced(house: House, on: date | None = None) -> frozenset[str]:
    """Items whose cost is not known, or not all of it: no price holds, or none of something that goes in."""
    found = {i.id for i in house.ingredients.values() if cheapest(i, on) is None}
    while True:
        more = {
            r.id
            for r in house.recipes.values()
            if r.id not in found and any(x.item in found and x.drawn > x.returns for x in r.lines)
        }
        if not more:
            return frozenset(found)
        found |= more


def portion_costs(house: House, costs: Mapping[str, float]) -> dict[str, float]:
    """Ingredient money in one portion of each dish, by dish id."""
    return {d.id: d.portion * costs.get(d.recipe, 0.0) for d in house.dishes.values()}


def portion_losses(house: House, costs: Mapping[str, float]) -> dict[str, float]:
    """Money lost when a portion cannot be served, by dish with a price.

    Its margin, and what missing it costs beyond (`missed_cost`, or the house's). What is on the menu is worth
    what it costs at the least.

    A `service_level` stands for the loss with which the newsvendor's rule gives just that level of a thing
    which is thrown away when it is not wanted: cost x level / (1 - level), and no less than the margin.
    """
    losses: dict[str, float] = {}
    for dish in house.dishes.values():
        if not dish.price:
            continue
        cost = dish.portion * costs.get(dish.recipe, 0.0)
        margin = max(float(dish.price) - cost, 0.0)
        losses[dish.id] = max(_loss(house, dish, cost, margin), cost)
    return losses


def _loss(house: House, dish: Dish, cost: float, margin: float) -> float:
    """What the dish says goes before what the house says; of one of them, `missed_cost` before a level."""
    for said in (dish, house.policy):
        if said.missed_cost is not None:
            return margin + said.missed_cost.of(margin)
        if said.service_level is not None:
            return max(margin, cost * said.service_level / (1 - said.service_level))
    return margin + MISSED_COST.of(margin)


def cheapest(ingredient: Ingredient, on: date | None = None) -> float | None:
    """Money for one unit at the cheapest priced offer, of those that hold on a day if given; None: none."""
    prices = [
        float(offer.price) / offer.pack_quantity
        for offer in ingredient.offers
        if offer.price is not None and (on is None or offer.holds_on(on))
    ]
    return min(prices, default=None)
