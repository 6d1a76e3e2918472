"""How much of an item stands in one unit of what is made from it, straight through the recipes."""

from __future__ import annotations

from collections.abc import Mapping

from ordering.records.house import House, Recipe


def parents(house: House) -> dict[str, tuple[str, ...]]:
    """Recipes that draw each item, by item."""
    found: dict[str, list[str]] = {}
    for recipe in house.recipes.values():
        for item in dict.fromkeys(line.item for line in recipe.lines):
            found.setdefault(item, []).append(recipe.id)
    return {item: tuple(recipes) for item, recipes in found.items()}


def per_unit(
    house: House, item: str, above: Mapping[str, tuple[str, ...]], is_needed: bool = False
) -> dict[str, float]:
    """Quantity of `item` drawn for one unit of each item that holds it, itself included.

    In the unit of `item`; yields and batch sizes counted in, what a batch gives back or throws off
    not taken away. `above` as from `parents`. A recipe that feeds its own next batch counts one batch.
    `is_needed`: without what is optional.
    """
    reached = _upward(item, above)
    content = {item: 1.0}
    for name in reached[1:]:
        content[name] = _of_batch(house.recipes[name], content, is_needed) / house.recipes[name].makes
    return content


def per_portion(
    house: House, item: str, above: Mapping[str, tuple[str, ...]], is_needed: bool = False
) -> dict[str, float]:
    """Quantity of `item` drawn for one portion, by dish that holds it."""
    content = per_unit(house, item, above, is_needed)
    return {
        dish.id: content[dish.recipe] * dish.portion
        for dish in house.dishes.values()
        if content.get(dish.recipe, 0.0) > 0
    }


def _of_batch(recipe: Recipe, content: Mapping[str, float], is_needed: bool) -> float:
    lines = (x for x in recipe.lines if x.item != recipe.id and not (is_needed and x.is_optional))
    return sum(line.drawn * content.get(line.item, 0.0) for line in lines)


def _upward(item: str, above: Mapping[str, tuple[str, ...]]) -> list[str]:
    """The item and everything made from it, what is drawn before what draws it."""
    order: list[str] = []
    seen: set[str] = set()
    stack = [(item, iter(above.get(item, ())))]
    seen.add(item)
    while stack:
        name, following = stack[-1]
        nearest = next((parent for parent in following if parent not in seen), None)
        if nearest is None:
            order.append(name)
            stack.pop()
        else:
            seen.add(nearest)
            stack.append((nearest, iter(above.get(nearest, ()))))
    return order[::-1]
