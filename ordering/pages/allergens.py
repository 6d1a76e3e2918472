"""Allergens of each dish, worked out through its recipes."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from ordering.cautions import ALLERGEN_WARNING, ALLERGENS, ALLERGENS_EU, ALLERGENS_US
from ordering.pages.parts import Block, heads, said_all, stacked, titled
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.texts import wrapped

YES = "yes"
NONE_WRITTEN = (
    "No ingredient has 'allergens' written, so nothing can be said of any dish. "
    "Write them into ingredients.yaml."
)
_NAME_WIDTH = 44.0
_LEAST_WIDTH = 7.0
_LINE = 150
_MOST_ON_A_PAGE = 50  # dishes; more would make the letters too small to read


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
    rows += [
        (Cell(d.name, "line"), *(Cell(YES if a in d.sources else "", "line") for a in allergens))
        for d in found
    ]
    return tuple(rows)


def allergen_columns(house: House, found: Sequence[DishAllergens]) -> tuple[str, ...]:
    """The list that holds where the house is, and whatever else is written on its items.

    The nine of the model food code in the US, the fourteen of Regulation 1169/2011 anywhere else.
    """
    usual = ALLERGENS_US if house.holiday_country.upper() == "US" else ALLERGENS_EU
    written = {allergen for dish in found for allergen in dish.sources}
    return (*usual, *(a for a in ALLERGENS if a in written and a not in usual))


def allergen_sheet(house: House) -> Sheet:
    """The table for the pass: warning above, dishes down, allergens across."""
    found = allergens_of(house)
    columns = allergen_columns(house, found)
    top = titled(f"{house.name}: allergens by dish", *wrapped(ALLERGEN_WARNING, _LINE))
    if not any(dish.sources for dish in found):
        rows, _ = stacked([top, said_all([NONE_WRITTEN])])
        return Sheet("Allergens", rows, (_NAME_WIDTH,) * 3, is_landscape=True)
    rows, tables = stacked([top, Block(allergen_rows(found, columns), "allergens by dish")])
    return Sheet(
        title="Allergens",
        rows=rows,
        widths=(_NAME_WIDTH, *(max(_LEAST_WIDTH, len(a) + 2.0) for a in columns)),
        repeat=(len(top.rows), len(top.rows)),
        is_landscape=True,
        fit_tall=1 if len(found) <= _MOST_ON_A_PAGE else 0,
        tables=tables,
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
