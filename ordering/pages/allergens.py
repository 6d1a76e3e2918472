"""Allergens of each dish, worked out through its recipes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from ordering.cautions import ALLERGEN_WARNING, ALLERGENS
from ordering.pages.parts import Block, heads, section, stacked, texts, titled
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.texts import wrapped

YES = "yes"
_NAME_WIDTH = 34.0
_ALLERGEN_WIDTH = 8.5
_LINE = 120


@dataclass(frozen=True, slots=True)
class DishAllergens:
    """What one dish holds: each allergen with the names of the ingredients and recipes it comes from."""

    dish: str
    name: str
    sources: Mapping[str, tuple[str, ...]]


def allergens_of(house: House) -> tuple[DishAllergens, ...]:
    """Allergens of every dish of the menu, in the order of the menu.

    An item holds what it and everything that goes into it, at whatever depth, is written to hold. By-products
    carry what they fell out of. Loops (a broth that feeds its next batch) are walked once.
    """
    sources = _sources(house)
    return tuple(
        DishAllergens(dish.id, dish.name, _of_item(house, dish.recipe, sources))
        for dish in house.dishes.values()
    )


def allergen_rows(found: Sequence[DishAllergens], allergens: Sequence[str] = ALLERGENS) -> tuple[Row, ...]:
    """A heading row and one row a dish: its name and `yes` under each allergen it holds."""
    rows: list[Row] = [heads(["dish", *allergens])]
    rows += [(Cell(d.name), *(Cell(YES if a in d.sources else "") for a in allergens)) for d in found]
    return tuple(rows)


def source_rows(found: Sequence[DishAllergens]) -> tuple[Row, ...]:
    """A heading row and one row for each dish and allergen: what it comes from."""
    rows = [heads(["dish", "allergen", "comes from"])]
    rows += [
        texts(dish.name, allergen, ", ".join(names))
        for dish in found
        for allergen, names in dish.sources.items()
    ]
    return tuple(rows)


def allergen_sheet(house: House, allergens: Sequence[str] = ALLERGENS) -> Sheet:
    """The table for the pass: warning above, dishes down, allergens across, then where each comes from."""
    found = allergens_of(house)
    top = titled(f"{house.name}: allergens by dish", *wrapped(ALLERGEN_WARNING, _LINE))
    origin = Block(_spread(source_rows(found), len(allergens) + 1))
    rows, tables = stacked(
        [top, Block(allergen_rows(found, allergens), "allergens by dish"), section("Where from"), origin]
    )
    head = len(top.rows)
    return Sheet(
        title="Allergens",
        rows=rows,
        widths=(_NAME_WIDTH, *(_ALLERGEN_WIDTH for _ in allergens)),
        repeat=(head, head),
        is_landscape=True,
        tables=tables,
    )


def _spread(rows: Sequence[Row], n_columns: int) -> tuple[Row, ...]:
    """The origin's three columns over the narrow ones of the table above: 1, 2 and the rest."""
    rest = max(n_columns - 3, 1)
    return tuple(
        (row[0], replace(row[1], span=2), replace(row[2], span=rest, style=f"{row[2].style} wrap"))
        for row in rows
    )


def _sources(house: House) -> dict[str, tuple[str, ...]]:
    """What each item is made from directly; a by-product, from the recipe it falls out of."""
    made: dict[str, list[str]] = {r.id: [line.item for line in r.lines] for r in house.recipes.values()}
    for recipe in house.recipes.values():
        for item, _ in recipe.also_makes:
            made.setdefault(item, []).append(recipe.id)
    return {item: tuple(dict.fromkeys(parts)) for item, parts in made.items()}


def _of_item(house: House, item: str, sources: Mapping[str, tuple[str, ...]]) -> dict[str, tuple[str, ...]]:
    found: dict[str, list[str]] = {}
    seen = {item}
    waiting = [item]
    while waiting:
        name = waiting.pop(0)
        for allergen in _written(house, name):
            found.setdefault(allergen, []).append(house.name_of(name))
        for part in sources.get(name, ()):
            if part not in seen:
                seen.add(part)
                waiting.append(part)
    return {allergen: tuple(found[allergen]) for allergen in ALLERGENS if allergen in found}


def _written(house: House, item: str) -> tuple[str, ...]:
    made = house.recipes.get(item)
    return house.ingredients[item].allergens if made is None else made.allergens
