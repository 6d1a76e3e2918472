"""What will likely go past its date before it is used: the dearest waste on a sheet, each with what to do."""

from __future__ import annotations

from datetime import date, timedelta

from ordering.amounts import is_piece, plural, shown
from ordering.days import format_day
from ordering.pages.agenda import worth_using
from ordering.pages.parts import (
    Block,
    amount_cell,
    dish_name,
    heads,
    item_name,
    said_all,
    stacked,
    titled,
)
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import Expiring, Plan
from ordering.texts import listed

TITLE = "Use first"
COLUMNS = ("use by", "item", "left over", "of the lot", "where it is", "at cost", "what to do")
NUMBERS = ("left over", "of the lot", "at cost")
WIDTHS = (11.9, 23.0, 10.5, 10.5, 16.0, 8.0, 44.4)
MOST_DISHES = 3
HEAD = (
    "What is not expected to be sold by its last day, as the forecast stands. After that day it is left out.",
    "The last day is the house's own rule or the date on the lot. Nothing here says that food is safe.",
)


def use_first_sheet(house: House, plan: Plan) -> Sheet:
    """The lots worth a thought, the dearest waste first."""
    ranked = worth_using(plan)
    rest = len(plan.netting.expiring) - len(ranked)
    little = f"{plural(rest, 'more lot')} of little worth {'is' if rest == 1 else 'are'} left out."
    top = titled(TITLE, *HEAD, *([little] if rest else []))
    head_row = (*heads(COLUMNS[:-1], NUMBERS), Cell(COLUMNS[-1], "head inset"))
    listing = Block((head_row, *(_row(house, plan, lot) for lot in ranked)), "lots to use first")
    laid, tables = stacked([top, listing if ranked else said_all(["Nothing should be left over."])])
    head = len(top.rows)
    return Sheet(
        title=TITLE,
        rows=laid,
        widths=WIDTHS,
        is_landscape=True,
        repeat=(head, head) if ranked else None,
        freeze=head + 1 if ranked else 0,
        footer=f"{house.name}: use first, {plan.on.isoformat()}",
        tables=tables,
    )


def _row(house: House, plan: Plan, lot: Expiring) -> Row:
    unit = house.unit_of(lot.item)
    return (
        Cell(lot.use_by, "day strong line top"),
        Cell(item_name(house, lot.item), "wrap line top"),
        amount_cell(about(lot.unused), unit, "strong line top"),
        amount_cell(lot.quantity, unit, "line top"),
        Cell(where_it_is(lot), "wrap line top"),
        Cell(None if lot.cost is None else round(lot.cost, 2), "money line top"),
        Cell(what_to_do(house, plan, lot), "inset wrap line top"),
    )


def about(quantity: float) -> float:
    """Two figures: what is expected is no surer than that."""
    return float(f"{quantity:.2g}")


def where_it_is(lot: Expiring) -> str:
    """`in the house`, `ready Tue 1 Dec`, `ordered, comes Tue 1 Dec`."""
    if lot.there_on is None:
        return "in the house"
    return f"{'ordered, comes' if lot.is_ordered else 'ready'} {format_day(lot.there_on)}"


def what_to_do(house: House, plan: Plan, lot: Expiring) -> str:
    """The first of these that can be: take less, begin what takes it sooner, offer what has it, a special."""
    could_be_less = lot.unused >= 1 or not is_piece(house.unit_of(lot.item))
    if lot.is_ordered and lot.there_on is not None and lot.there_on > plan.on and could_be_less:
        return "ask the vendor for less"
    sooner = _start_to_move(house, plan, lot)
    if sooner is not None:
        recipe, on = sooner
        return f"start {item_name(house, recipe)} by {format_day(lot.use_by)} (planned for {format_day(on)})"
    dishes = [dish_name(house, dish) for dish in _dishes(house, plan, lot)]
    if dishes:
        more = [f"{len(dishes) - MOST_DISHES} more"] if len(dishes) > MOST_DISHES else []
        return f"push {listed([*dishes[:MOST_DISHES], *more])}"
    return "nothing on the menu uses it by then: run a special, or staff meal"


def _start_to_move(house: House, plan: Plan, lot: Expiring) -> tuple[str, date] | None:
    """The first planned start that takes the item too late, if what it makes keeps that much longer."""
    served_in = _served_in(house, lot.item)
    takers = {
        recipe.id: [line for line in recipe.lines if line.item in served_in]
        for recipe in house.recipes.values()
        if recipe.takes_days
    }
    for start in plan.netting.starts:
        for line in takers.get(start.recipe, ()):
            keeps = house.keeps_days(start.recipe)
            late = (start.start_on + timedelta(days=line.at_days) - lot.use_by).days
            can_be_moved = late > 0 and start.start_on - timedelta(days=late) >= plan.on
            if can_be_moved and (keeps is None or late <= keeps):
                return start.recipe, start.start_on
    return None


def _dishes(house: House, plan: Plan, lot: Expiring) -> list[str]:
    """Dishes on the menu while the lot is good that are made of it or from it, the most sold first."""
    from_on = lot.there_on or plan.on
    slots = [n for n, slot in enumerate(plan.forecast.slots) if from_on <= slot.date <= lot.use_by]
    sold = dict(zip(plan.forecast.dishes, plan.forecast.mean[:, slots].sum(axis=1).tolist(), strict=True))
    served_in = _served_in(house, lot.item)
    found = [
        dish.id for dish in house.dishes.values() if sold.get(dish.id, 0.0) > 0 and dish.recipe in served_in
    ]
    return sorted(found, key=lambda dish: (-sold[dish], dish))


def _served_in(house: House, item: str) -> set[str]:
    """The item and everything it goes into on the day it is served."""
    of_the_day = [recipe for recipe in house.recipes.values() if not recipe.takes_days]
    found, ring = {item}, {item}
    while ring:
        takers = {r.id for r in of_the_day if any(line.item in ring for line in r.lines)}
        ring = takers - found
        found |= ring
    return found


def left_said(house: House, lot: Expiring) -> str:
    """`3.1 of 7.5 kg Rib of beef, in the house`."""
    unit, left = house.unit_of(lot.item), about(lot.unused)
    is_all = left >= about(lot.quantity)
    number, lot_of = shown(left, unit), shown(lot.quantity, unit)
    if not is_all:
        bare, _, word = number.rpartition(" ")
        number = f"{bare if bare and lot_of.endswith(f' {word}') else number} of {lot_of}"
    return f"{number} {item_name(house, lot.item)}, {where_it_is(lot)}"
