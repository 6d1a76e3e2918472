"""Allergens of each dish, worked out through its recipes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from ordering.cautions import ALLERGEN_WARNING, ALLERGENS, allergen_name, allergens_under
from ordering.pages.parts import Block, heads, titled, with_table
from ordering.records.allergens import Sources, allergens_held, parts_of_items
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet

YES = "yes"
NONE_WRITTEN = (
    "No ingredient has 'allergens' written, so nothing can be said of any dish. "
    "Write them into ingredients.yaml."
)
_NAME_WIDTH = 28.7
_MARK_WIDTH = 3.9
_HEAD_POINTS = 72.0  # room for the name of an allergen, turned upright


@dataclass(frozen=True, slots=True)
class DishAllergens:
    """What one dish holds: each allergen with the names of the ingredients and recipes it comes from."""

    dish: str
    name: str
    sources: Sources


def allergens_of(house: House, on: date) -> tuple[DishAllergens, ...]:
    """Allergens of every dish not yet off the menu, in its order. By-products carry what they come off."""
    parts = parts_of_items(house)
    return tuple(
        DishAllergens(dish.id, dish.name, allergens_held(house, dish.recipe, parts))
        for dish in house.dishes.values()
        if dish.until_on is None or dish.until_on >= on
    )


def allergen_rows(
    found: Sequence[DishAllergens], allergens: Sequence[str] = ALLERGENS, food_law: str = ""
) -> tuple[Row, ...]:
    """A heading row and one row a dish: its name and `yes` under each allergen it holds."""
    names = (Cell(allergen_name(a, food_law), "head turned") for a in allergens)
    rows: list[Row] = [(*heads(["dish"]), *names)]
    rows += [
        (Cell(d.name, "wrap line"), *(Cell(YES if a in d.sources else "", "strong line") for a in allergens))
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


def allergen_sheet(house: House, on: date) -> Sheet:
    """The table for the pass: warning above, dishes down, allergens across."""
    found = allergens_of(house, on)
    columns = allergen_columns(house, found)
    widths = (_NAME_WIDTH, *(_MARK_WIDTH for _ in columns))
    top = titled(f"{house.name}: allergens by dish", ALLERGEN_WARNING, across=len(widths))
    is_known = any(dish.sources for dish in found)
    rows = allergen_rows(found, columns, house.food_law)
    sheet = Sheet(
        title="Allergens",
        rows=(),
        widths=widths,
        footer=f"{house.name}: allergens by dish, {on.isoformat()}",
        heights={len(top.rows): _HEAD_POINTS} if is_known else {},
        row_height=13.0,
    )
    return with_table(sheet, top, Block(rows if is_known else (), "allergens by dish"), NONE_WRITTEN)
