"""What has to be minded and told: the usual cautions under a list of work, and the allergens of each dish."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from ordering.cautions import (
    ALLERGEN_WARNING,
    ALLERGENS,
    CHILLED,
    DEFER,
    HAZARDS,
    Caution,
    allergen_name,
    allergens_under,
    caution,
)
from ordering.pages.parts import Block, heads, section, titled, with_table
from ordering.records.allergens import Sources, allergens_held, parts_of_items
from ordering.records.house import Dish, House
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import Start
from ordering.texts import listed

MOST_NAMED = 4
ROWS_A_CAUTION, ROWS_A_HEADING = 2, 2
NO_SOURCE = "none was read for a figure"
MODEL = "model Food Code"  # named with most sections
SHORT_FOR = f"FC: the {MODEL}"
AT_THE_DOOR = ("chilled", "shellfish")
YES = "yes"
NONE_WRITTEN = (
    "No ingredient has 'allergens' written, so nothing can be said of any dish. "
    "Write them into ingredients.yaml."
)
_NAME_WIDTH = 28.7
_MARK_WIDTH = 3.9
_HEAD_POINTS = 72.0  # room for the name of an allergen, turned upright


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


def work_cautions(house: House, starts: Sequence[Start], served: Sequence[Dish]) -> tuple[Minded, ...]:
    """Cautions for what is started and for the plates served, with what is handled for either.

    A plate is on no list of starts: raw oysters and pink meat are minded here or nowhere. That it is kept
    cold until then is said of what it is made from.
    """
    pairs = [(hazard, house.name_of(s.recipe)) for s in starts for hazard in hazards_of(house, s)]
    started = {s.recipe for s in starts}
    pairs += [
        (hazard, dish.name)
        for dish in served
        if dish.recipe not in started
        for hazard in hazards_at_work(house, dish.recipe)
        if hazard != "chilled"
    ]
    return minded(house.food_law, pairs)


def hazards_of(house: House, start: Start) -> tuple[str, ...]:
    """Hazards of one start, its own and those met in making it."""
    met = hazards_at_work(house, start.recipe) if start.recipe in house.recipes else ()
    return tuple(dict.fromkeys((*met, *start.hazards)))


def caution_block(cautions: Sequence[Minded], n_columns: int) -> list[Block]:
    """Blocks for under a list of so many columns, each source named once; none where there is no hazard."""
    if not cautions:
        return []
    sources = _sources(cautions)
    rows = [row for one in cautions for row in _rows(one, sources, n_columns)]
    if sources:
        named = "; ".join(f"[{n}] {source}" for n, source in enumerate(sources, 1))
        told = f"Sources: {named}.{f' {SHORT_FOR}.' if MODEL in named else ''}"
        rows.append((Cell(told.replace(f"{MODEL} ", "FC "), "small wrap", span=n_columns),))
    rows.append((Cell(DEFER, "strong wrap", span=n_columns),))
    return [section("Cautions"), Block(tuple(rows))]


def _sources(cautions: Sequence[Minded]) -> list[str]:
    return list(dict.fromkeys(source for one in cautions for source in one.caution.sources))


def door_rows(house: House, items: Sequence[str], n_columns: int) -> list[Row]:
    """What to mind when these items come in: temperatures and tags, a row each, and who decides."""
    pairs = [
        (h, house.name_of(i)) for i in items if i in house.ingredients for h in house.ingredients[i].hazards
    ]
    found = [one for one in minded(house.food_law, pairs) if one.caution.hazard in AT_THE_DOOR]
    rows: list[Row] = [
        (Cell(f"{one.caution.title}. {one.caution.text}", "small wrap", span=n_columns),) for one in found
    ]
    sources = "; ".join(_sources(found)) or NO_SOURCE
    return [*rows, (Cell(f"{DEFER} Source: {sources}", "quiet small wrap", span=n_columns),)] if found else []


def caution_parts(n_rows: int, cautions: Sequence[Minded]) -> tuple[int, ...]:
    """Rows at which the cautions that end a sheet of so many rows begin, the first with its heading."""
    n_last = 1 + bool(_sources(cautions))  # the sources, and who decides
    first = n_rows - n_last - ROWS_A_CAUTION * len(cautions)
    parts = [first + ROWS_A_CAUTION * n for n in range(len(cautions))]
    return (first - ROWS_A_HEADING, *parts[1:]) if parts else ()


def _rows(one: Minded, sources: Sequence[str], n_columns: int) -> tuple[Row, ...]:
    about = f": {listed(one.names, MOST_NAMED)}" if one.names else ""
    numbers = ", ".join(str(sources.index(source) + 1) for source in one.caution.sources)
    read_in = f"[{numbers}]" if numbers else f"Source: {NO_SOURCE}."
    return (
        (Cell(f"{one.caution.title}{about}", "strong wrap", span=n_columns),),
        (Cell(f"{one.caution.text} {read_in}", "wrap", span=n_columns),),
    )


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
