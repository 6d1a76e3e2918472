"""What is drawn, item by item, straight through the recipes: no stock, no days, no by-products."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import pandas as pd

from ordering.explode.graph import folded, recipe_graph
from ordering.records.house import House, Recipe

FEWEST_DAYS = 7


def from_the_top(house: House) -> tuple[Recipe, ...]:
    """The recipes of a house, each before those it draws; what one carries over of itself is folded in."""
    unrolled = folded(house)
    return tuple(unrolled.recipes[i] for i in recipe_graph(unrolled).items if i in unrolled.recipes)


def drawn_through(recipes: Sequence[Recipe], wanted: Mapping[str, float]) -> dict[str, float]:
    """By item, in its unit, what is wanted of it and what making the rest of `wanted` draws, as purchased.

    recipes : as `from_the_top`; wanted : by item, in its unit

    What comes back from a batch is not counted as drawn, by-products are not taken away.
    """
    drawn = dict(wanted)
    for recipe in recipes:
        batches = drawn.get(recipe.id, 0.0) / recipe.makes
        for line in recipe.lines if batches else ():
            if line.item != recipe.id:
                drawn[line.item] = drawn.get(line.item, 0.0) + (line.drawn - line.returns) * batches
    return drawn


def in_portions(house: House, portions: Mapping[str, float]) -> dict[str, float]:
    """By recipe, in its unit, what portions of dishes take, by dish; unknown dishes are left out."""
    taken: dict[str, float] = {}
    for dish, n in portions.items():
        served = house.dishes.get(dish)
        if served is not None:
            taken[served.recipe] = taken.get(served.recipe, 0.0) + n * served.portion
    return taken


def used_in(house: House, sales: pd.DataFrame, before: date, n_days: int = 28) -> dict[str, float]:
    """By item, in its unit, what the portions sold in the `n_days` before a day drew as purchased.

    Books that begin later are taken for that much as if they had gone on as they began; of less than a week
    nothing is said.
    """
    first = pd.Timestamp(before - timedelta(days=n_days))
    past = sales[sales["date"] < pd.Timestamp(before)]
    if past.empty:
        return {}
    known = min((pd.Timestamp(before) - past["date"].min()).days, n_days)
    if known < FEWEST_DAYS:
        return {}
    sold = past[past["date"] >= first].groupby("dish")["sold"].sum()
    portions = {str(dish): float(n) * n_days / known for dish, n in sold.items()}
    return drawn_through(from_the_top(house), in_portions(house, portions))
