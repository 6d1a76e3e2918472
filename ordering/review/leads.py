"""How many days before a dish is served its forecast had to be right."""

from __future__ import annotations

from ordering.days import days_back
from ordering.records.house import House


def dish_leads(house: House) -> dict[str, int]:
    """Days from the earliest decision a dish depends on to its service, by dish.

    Along each chain of preparations: what each takes, and before the first the shortest time from a
    vendor's cut-off to its delivery. A recipe that feeds itself is followed once.
    """
    known: dict[str, int] = {}
    return {dish.id: _lead(house, dish.recipe, known, frozenset()) for dish in house.dishes.values()}


def _lead(house: House, item: str, known: dict[str, int], above: frozenset[str]) -> int:
    if item in known:
        return known[item]
    if item in above:
        return 0
    if item in house.ingredients:
        known[item] = _bought(house, item)
        return known[item]
    recipe = house.recipes[item]
    lead = max(
        (
            recipe.takes_days - line.at_days + _lead(house, line.item, known, above | {item})
            for line in recipe.lines
        ),
        default=recipe.takes_days,
    )
    if not above:
        known[item] = lead
    return max(lead, recipe.takes_days)


def _bought(house: House, item: str) -> int:
    """Shortest wait from cut-off to delivery among the vendors that offer it; 0 where none does."""
    vendors = {offer.vendor for offer in house.ingredients[item].offers}
    waits = [
        days_back(day.weekday, day.order_by_weekday) + 7 * day.weeks_ahead
        for vendor in vendors
        if vendor in house.vendors
        for day in house.vendors[vendor].deliveries
    ]
    return min(waits, default=0)
