"""Which allergens an item holds: its own and those of everything that goes into it."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping

from ordering.cautions import ALLERGENS
from ordering.records.house import House

# Wheat is one of the cereals containing gluten (Regulation 1169/2011, Annex II, point 1); the other way round
# nothing follows.
_IMPLIED = {"wheat": "gluten"}

Sources = Mapping[str, tuple[str, ...]]


def parts_of_items(house: House) -> Mapping[str, tuple[str, ...]]:
    """What each item is made from directly; a by-product, from the recipe it comes off."""
    made: dict[str, list[str]] = {r.id: [line.item for line in r.lines] for r in house.recipes.values()}
    for recipe in house.recipes.values():
        for item, _ in recipe.also_makes:
            made.setdefault(item, []).append(recipe.id)
    return {item: tuple(dict.fromkeys(parts)) for item, parts in made.items()}


def allergens_held(house: House, item: str, parts: Mapping[str, tuple[str, ...]]) -> Sources:
    """Allergens of an item, in the order of `ALLERGENS`, with the names of what each comes from.

    An item holds what it and everything that goes into it, at whatever depth, is written to hold. Loops (a
    broth that feeds its next batch) are walked once.
    """
    found: dict[str, list[str]] = {}
    for one in contained(item, parts):
        for allergen in allergens_written(house, one):
            found.setdefault(allergen, []).append(house.name_of(one))
    return {allergen: tuple(found[allergen]) for allergen in ALLERGENS if allergen in found}


def contained(item: str, parts: Mapping[str, tuple[str, ...]]) -> tuple[str, ...]:
    """The item and everything that goes into it, level by level, each once."""
    seen = {item: None}
    waiting = deque([item])
    while waiting:
        for part in parts.get(waiting.popleft(), ()):
            if part not in seen:
                seen[part] = None
                waiting.append(part)
    return tuple(seen)


def allergens_written(house: House, item: str) -> tuple[str, ...]:
    """Allergens written on the item itself, and those that follow from what is written."""
    made = house.recipes.get(item)
    written = house.ingredients[item].allergens if made is None else made.allergens
    implied = [_IMPLIED[allergen] for allergen in written if allergen in _IMPLIED]
    return tuple(dict.fromkeys((*written, *implied)))
