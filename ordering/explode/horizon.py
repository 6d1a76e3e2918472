"""How far ahead a run must look, and how long what is there waits for a service."""

from __future__ import annotations

from ordering.days import days_back
from ordering.explode.graph import Graph, recipe_graph
from ordering.records.house import House, Ingredient
from ordering.records.vendors import DeliveryDay

SHORTEST_DAYS = 21
LONGEST_DAYS = 400
DAYS_BETWEEN_DELIVERIES = 7
FAR_DAYS = 10_000  # never: beyond whatever is planned or written on a label


def horizon_days(house: House) -> int:
    """Days a run looks ahead, 21 to 400.

    The longest way from an order to a plate: days until the next run, from that run's cut-off to the
    vendor's door, through every stage (`takes`, less `at`) of the recipe, and then the days the
    delivery must last: to the one after it, or as long as the goods keep, raw and then made, if that
    is shorter.
    """
    ways = _longest_ways(house)
    served = [ways.get(d.recipe, 0) for d in house.dishes.values()]
    longest = max((*served, 0)) + _review_days(house)
    return min(max(SHORTEST_DAYS, longest), LONGEST_DAYS)


def service_lags(house: House, graph: Graph) -> dict[str, int]:
    """By item: days from when it is there to the earliest service it can serve; `FAR_DAYS`: none."""
    lags: dict[str, int] = {}
    for item in graph.items:
        ahead = [
            house.recipes[u.recipe].takes_days - u.at_days + lags[u.recipe] for u in graph.uses.get(item, ())
        ]
        lags[item] = min(([0] if graph.dishes.get(item) else []) + ahead, default=FAR_DAYS)
    return lags


def _longest_ways(house: House) -> dict[str, int]:
    """By item: days from the cut-off of its purchase to its first use, and until its next delivery."""
    ways: dict[str, int] = {}
    ahead = _made_ahead(house)
    for item in reversed(recipe_graph(house).items):
        recipe = house.recipes.get(item)
        if recipe is None:
            ways[item] = _vendor_days(house, house.ingredients[item], ahead.get(item, 0))
        else:
            below = [ways.get(x.item, 0) + max(0, recipe.takes_days - x.at_days) for x in recipe.lines]
            ways[item] = max((*below, recipe.takes_days))
    return ways


def _made_ahead(house: House) -> dict[str, int]:
    """By item: days that what is made from it keeps, so that it may be made while it is still good.

    What is made for the service is not made ahead, whatever it is said to keep.
    """
    ahead: dict[str, int] = {}
    for recipe in house.recipes.values():
        unsaid = DAYS_BETWEEN_DELIVERIES if recipe.takes_days else 0
        keeps = unsaid if recipe.keeps_days is None else recipe.keeps_days
        for line in recipe.lines:
            ahead[line.item] = max(ahead.get(line.item, 0), keeps)
    return ahead


def _vendor_days(house: House, ingredient: Ingredient, ahead: int) -> int:
    """Longest lead among the vendors' delivery days, and the days its delivery must last."""
    vendors = (house.vendors[o.vendor] for o in ingredient.offers if o.vendor in house.vendors)
    leads = [lead_days(day) for v in vendors for day in v.deliveries]
    keeps = DAYS_BETWEEN_DELIVERIES if ingredient.keeps_days is None else ingredient.keeps_days
    return max((*leads, 0)) + min(keeps + ahead, DAYS_BETWEEN_DELIVERIES)


def lead_days(delivery: DeliveryDay) -> int:
    """Days from the cut-off to the door."""
    return days_back(delivery.weekday, delivery.order_by_weekday) + 7 * delivery.weeks_ahead


def _review_days(house: House) -> int:
    """Most days between one run and the next."""
    days = sorted(house.order_weekdays) or [0]
    return max((b - a) % 7 or 7 for a, b in zip(days, [*days[1:], days[0]], strict=True))
