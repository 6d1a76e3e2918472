"""What a kitchen can do without, by the recipes that say so."""

from __future__ import annotations

from ordering.records.house import House


def optional_users(house: House) -> dict[str, tuple[str, ...]]:
    """Recipes that can go without an item, by item that is optional in one or goes into such a part.

    What nobody orders for a dish, as charcoal, stands in none of it.
    """
    lines = [(recipe.id, line) for recipe in house.recipes.values() for line in recipe.lines]
    consumed = {one.item for one in house.consumables}
    users: dict[str, set[str]] = {}
    size = -1
    while size != (size := sum(map(len, users.values()))):
        for recipe, line in lines:
            more = {recipe} if line.is_optional else users.get(recipe, set())
            if more:
                users.setdefault(line.item, set()).update(more)
    return {item: tuple(sorted(by)) for item, by in sorted(users.items()) if item not in consumed}
