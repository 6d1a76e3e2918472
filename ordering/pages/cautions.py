"""The usual cautions, gathered where the work is done, each once, with source and what it is about."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from ordering.cautions import CHILLED, DEFER, HAZARDS, Caution, caution
from ordering.records.house import House

__all__ = ["DEFER", "Minded", "hazards_at_work", "minded"]


@dataclass(frozen=True, slots=True)
class Minded:
    """One caution and the names of what carries its hazard, in the order given."""

    caution: Caution
    names: tuple[str, ...]


def minded(food_law: str, carried: Iterable[tuple[str, str]]) -> tuple[Minded, ...]:
    """Cautions for (hazard, name) pairs, in the order of `HAZARDS`; a name stands once under each.

    What has to be kept cold because of another hazard is named there, and not again under `chilled`.

    food_law : whose rules are printed, as in `House.food_law`
    """
    names: dict[str, dict[str, None]] = {}
    for hazard, name in carried:
        names.setdefault(hazard, {})[name] = None
    if not CHILLED.isdisjoint(names):
        names.setdefault("chilled", {})
    return tuple(Minded(caution(h, food_law), tuple(names[h])) for h in HAZARDS if h in names)


def hazards_at_work(house: House, item: str) -> tuple[str, ...]:
    """Hazards met when an item is handled: its own and, of a recipe, those of what goes straight in."""
    recipe = house.recipes.get(item)
    if recipe is None:
        return house.ingredients[item].hazards
    met = dict.fromkeys(recipe.hazards)
    for line in recipe.lines:
        if line.item in house.ingredients:
            met |= dict.fromkeys(house.ingredients[line.item].hazards)
    return tuple(hazard for hazard in HAZARDS if hazard in met)
