"""Prices and amounts: Decimal, rounded once, in the line that is printed."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable
from datetime import date
from decimal import Decimal

from ordering.records.books import OpenOrder
from ordering.records.buying import DeliveryKey
from ordering.records.costs import portion_losses, unit_costs
from ordering.records.house import House
from ordering.records.money import cents, offer_of, price_at
from ordering.records.vendors import Offer


def packs_needed(quantity: float, pack_quantity: float) -> int:
    """Whole packs that hold a quantity: rounded up, except for what floating point left over.

    Rounding up, never to the nearest, is the rule of the USDA Food Buying Guide for Child
    Nutrition Programs, column 5 (purchase units for 100 servings).

    Raises
    ------
    ValueError : `pack_quantity` is not above zero
    """
    if not pack_quantity > 0:
        raise ValueError(f"a pack must hold something, not {pack_quantity}")
    packs = quantity / pack_quantity
    return max(0, math.ceil(packs - 1e-9 * max(1.0, abs(packs))))


def placed_money(house: House, scheduled: Iterable[OpenOrder]) -> dict[DeliveryKey, Decimal]:
    """Goods of earlier orders still to come, by vendor and day; without those whose price is not known."""
    money: dict[DeliveryKey, Decimal] = defaultdict(Decimal)
    for order in scheduled:
        offer = offer_of(house, order.item, order.vendor, order.code)
        if offer is not None and offer.price is not None:
            packs = order.quantity / offer.pack_quantity
            money[order.vendor, order.deliver_on] += cents(float(price_at(offer, packs) or 0) * packs)
    return dict(money)


def price_tiers(offer: Offer, guess: float) -> list[tuple[int, float]]:
    """(packs from, price of each) as the least cost sees them: only breaks that make it cheaper.

    `guess` stands in where the price is not known.
    """
    tiers = [(1, guess if offer.price is None else float(offer.price))]
    for least, price in sorted(offer.breaks):
        if float(price) < tiers[-1][1]:
            tiers = [tier for tier in tiers if tier[0] < least]
            tiers.append((least, float(price)))
    return tiers


def losses(house: House, on: date) -> dict[str, float]:
    """Money lost with a unit of each item that is not there, by id; only items of priced dishes.

    The dish that loses least for a unit is the first to go without (`portion_losses`): the least of all
    dishes and recipes that draw it, carried down through batches. Prices are those that hold on `on`.
    """
    of_portion = portion_losses(house, unit_costs(house, on))
    lost: dict[str, float] = {}
    for dish in house.dishes.values():
        if dish.id in of_portion and dish.portion > 0:
            lost[dish.recipe] = min(of_portion[dish.id] / dish.portion, lost.get(dish.recipe, math.inf))
    reached = list(lost)
    while reached:
        recipe = house.recipes.get(reached.pop())
        for line in recipe.lines if recipe is not None else ():
            if recipe is not None and line.drawn > 0:
                of_unit = lost[recipe.id] * recipe.makes / line.drawn
                if of_unit < lost.get(line.item, math.inf) * (1 - 1e-9):
                    lost[line.item] = of_unit
                    reached.append(line.item)
    return lost
