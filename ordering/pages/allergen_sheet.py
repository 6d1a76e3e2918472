"""Allergens of each dish, worked out through its recipes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from ordering.cautions import ALLERGEN_WARNING, ALLERGENS, allergen_name, allergens_under
from ordering.pages.parts import Block, heads, said_all, stacked, titled
from ordering.records.allergens import Sources, allergens_held, parts_of_items
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
    sources: Sources


def allergens_of(house: House) -> tuple[DishAllergens, ...]:
    """Allergens of every dish, in the order of the menu. By-products carry what they fell out of."""
    parts = parts_of_items(house)
    return tuple(
        DishAllergens(dish.id, dish.name, allergens_held(house, dish.recipe, parts))
        for dish in house.dishes.values()
    )


def allergen_rows(
    found: Sequence[DishAllergens], allergens: Sequence[str] = ALLERGENS, food_law: str = ""
) -> tuple[Row, ...]:
    """A heading row and one row a dish: its name and `yes` under each allergen it holds."""
    rows: list[Row] = [heads(["dish", *(allergen_name(a, food_law) for a in allergens)])]
    rows += [
        (Cell(d.name, "line"), *(Cell(YES if a in d.sources else "", "line") for a in allergens))
        for d in found
    ]
    return tuple(rows)


def allergen_columns(house: House, found: Sequence[DishAllergens]) -> tuple[str, ...]:
    """The list that holds where the house is, and whatever else is written on its items.

    The major food allergens in the US, the fourteen of Regulation 1169/2011 anywhere else.
    """
    usual = allergens_under(house.food_law)
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
    rows, tables = stacked([top, Block(allergen_rows(found, columns, house.food_law), "allergens by dish")])
    return Sheet(
        title="Allergens",
        rows=rows,
        widths=(
            _NAME_WIDTH,
            *(max(_LEAST_WIDTH, len(allergen_name(a, house.food_law)) + 2.0) for a in columns),
        ),
        repeat=(len(top.rows), len(top.rows)),
        is_landscape=True,
        fit_tall=1 if len(found) <= _MOST_ON_A_PAGE else 0,
        tables=tables,
    )
