"""How much of an item stands in one unit of what is made from it, straight through the recipes."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from ordering.records.house import House


@dataclass(frozen=True, slots=True)
class BatchContent:
    """One batch of a recipe: what it makes, and what each of its lines draws as (item, quantity)."""

    makes: float
    drawn: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class Contents:
    """All recipes, ready to be looked through; `above` has the recipes that draw each item."""

    batches: Mapping[str, BatchContent]
    above: Mapping[str, tuple[str, ...]]

    def of(self, item: str) -> dict[str, float]:
        """Quantity of `item` drawn for one unit of each item that holds it, itself included.

        In the unit of `item`; yields and batch sizes counted in, what a batch gives back or throws off
        not taken away. A recipe that feeds its own next batch counts one batch.
        """
        found = {item: 1.0}
        for name in _upward(item, self.above)[1:]:
            batch = self.batches[name]
            held = sum(quantity * found.get(part, 0.0) for part, quantity in batch.drawn if part != name)
            found[name] = held / batch.makes
        return found


def contents(batches: Mapping[str, BatchContent]) -> Contents:
    """The recipes of a run or a house, by id, with who draws what."""
    above: dict[str, list[str]] = {}
    for name, batch in batches.items():
        for item in dict.fromkeys(item for item, _ in batch.drawn):
            above.setdefault(item, []).append(name)
    return Contents(batches, {item: tuple(names) for item, names in above.items()})


def house_contents(house: House, is_needed: bool = False) -> Contents:
    """The recipes of a house. `is_needed`: without what is optional."""
    return contents(
        {
            recipe.id: BatchContent(
                recipe.makes,
                tuple((x.item, x.drawn) for x in recipe.lines if not (is_needed and x.is_optional)),
            )
            for recipe in house.recipes.values()
        }
    )


def per_portion(house: House, recipes: Contents, item: str) -> dict[str, float]:
    """Quantity of `item` drawn for one portion, by dish that holds it."""
    content = recipes.of(item)
    return {
        dish.id: content[dish.recipe] * dish.portion
        for dish in house.dishes.values()
        if content.get(dish.recipe, 0.0) > 0
    }


def _upward(item: str, above: Mapping[str, tuple[str, ...]]) -> list[str]:
    """The item and everything made from it, what is drawn before what draws it."""
    order: list[str] = []
    seen = {item}
    stack = [(item, iter(above.get(item, ())))]
    while stack:
        name, following = stack[-1]
        parent = next((one for one in following if one not in seen), None)
        if parent is None:
            order.append(name)
            stack.pop()
        else:
            seen.add(parent)
            stack.append((parent, iter(above.get(parent, ()))))
    return order[::-1]
