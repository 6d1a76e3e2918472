"""What the sales of the last weeks drew, item by item, straight through the recipes."""

from __future__ import annotations

from datetime import date, timedelta

import pandas as pd

from ordering.explode.graph import folded, recipe_graph
from ordering.records.house import House

FEWEST_DAYS = 7


def used_in(house: House, sales: pd.DataFrame, before: date, n_days: int = 28) -> dict[str, float]:
    """By item, in its unit, what the portions sold in the `n_days` before a day drew as purchased.

    Books that begin later are taken for that much as if they had gone on as they began; of less than a week
    nothing is said. What comes back from a batch is not counted as drawn, by-products are not taken away.
    """
    first = pd.Timestamp(before - timedelta(days=n_days))
    past = sales[sales["date"] < pd.Timestamp(before)]
    if past.empty:
        return {}
    known = min((pd.Timestamp(before) - past["date"].min()).days, n_days)
    if known < FEWEST_DAYS:
        return {}
    sold = past[past["date"] >= first].groupby("dish")["sold"].sum()
    used: dict[str, float] = {}
    for dish, portions in sold.items():
        served = house.dishes.get(str(dish))
        if served is not None:
            quantity = float(portions) * served.portion * n_days / known
            used[served.recipe] = used.get(served.recipe, 0.0) + quantity
    for item in recipe_graph(folded(house)).items:
        recipe = house.recipes.get(item)
        if recipe is None or item not in used:
            continue
        for line in recipe.lines:
            if line.item != item:
                drawn = (line.drawn - line.returns) * used[item] / recipe.makes
                used[line.item] = used.get(line.item, 0.0) + drawn
    return used
