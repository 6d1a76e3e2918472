"""What runs short and what will be left over: a sheet each, and their words for the pages that show a few.

Both are ranked by what they cost: guests and money first, then the day, never the alphabet.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta

from ordering.amounts import LEAST_SHOWN, is_piece, packs_said, plural, shown, to_get
from ordering.days import format_day, span_said
from ordering.pages.parts import (
    Block,
    amount_cell,
    clipped,
    dish_name,
    heads,
    item_name,
    titled,
    with_table,
)
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import Expiring, Plan, Shortage
from ordering.texts import cells_wide, listed

SHORT = "Short"
SHORT_COLUMNS = ("when", "item", "short", "why", "dishes", "what to do")
SHORT_WIDTHS = (12.5, 16.0, 9.5, 22.0, 23.0, 44.0)
MOST_REMEDIES = 3
BETWEEN = "; "  # between the dishes, and between the remedies, of one shortage
IN_ALL = " in all"  # behind the portions of all days
_MORE = re.compile(r"(\d+) more dish")
ALL_DAYS = "; short on "  # behind a cause: the days and the sum, which stand in columns of their own
CAUSES: Mapping[str, str] = {
    "no-delivery": "no delivery in time",
    "no-time": "too late to start",
    "capacity": "no room for more",
    "expires": "past its use-by",
    "vendor-closed": "vendor closed",
    "no-offer": "no vendor sells it",
    "no-batch": "no batch is there",
    "not-worth": "costs more than it brings in",
}
USE_FIRST = "Use first"
LOT_COLUMNS = ("use by", "item", "left over", "of the lot", "where it is", "at cost", "what to do")
LOT_NUMBERS = ("left over", "of the lot", "at cost")
LOT_WIDTHS = (11.9, 23.0, 10.5, 10.5, 16.0, 8.0, 44.4)
MOST_DISHES = 3
LOT_NOTES = (
    "What is not expected to be sold by its last day, as the forecast stands. After that day it is left out.",
    "The last day is the house's own rule or the date on the lot. Nothing here says that food is safe.",
)
MOST_OF_THE_MONEY = 0.9
"""Lots to use first are listed, the most costly waste first, until they make up this much of the money:
what is left is small change. Common practice (Pareto), no source."""


def shortages_by_item(plan: Plan) -> tuple[Shortage, ...]:
    """One shortage for each item: its first day, all that is short of it, the portions of all its days.

    What loses most money comes first, then most guests. What is optional comes last, whatever its date: it
    takes no dish off the menu.
    """
    by_item: dict[str, list[Shortage]] = {}
    for short in plan.shortages:
        by_item.setdefault(short.item, []).append(short)
    ranked = sorted(by_item.values(), key=_loss_of)
    return tuple(map(_of_all_days, ranked))


def shortages_besides(plan: Plan) -> tuple[Shortage, ...]:
    """The same for a page that begins with what needs attention: a gap in a row of ages is told there."""
    return tuple(short for short in shortages_by_item(plan) if short.item not in plan.netting.ageing_gaps)


def nothing_short(plan: Plan) -> str:
    """What is said where no shortage is listed."""
    return f"Nothing {'else ' if plan.netting.ageing_gaps else ''}should run short."


def _of_all_days(rows: Sequence[Shortage]) -> Shortage:
    """The first of an item's shortages with what is short on every day; its dishes are those of that day."""
    first, *later = sorted(rows, key=lambda short: short.date)
    portions = sum(one.portions for one in rows)
    told = first.dishes.split(BETWEEN) if first.dishes else []
    others = {_dish_of(one) for short in later for one in short.dishes.split(BETWEEN) if _dish_of(one)}
    if told and (new := len(others - set(map(_dish_of, told)))):
        told.append(f"{plural(new, 'more dish', 'more dishes')} later")
    if told and math.ceil(portions - LEAST_SHOWN) > math.ceil(first.portions - LEAST_SHOWN):
        told.append(f"{plural(math.ceil(portions - LEAST_SHOWN), 'portion')}{IN_ALL}")
    return replace(first, short=sum(one.short for one in rows), dishes=BETWEEN.join(told), portions=portions)


def _dish_of(told: str) -> str:
    """`Potted crab` of `Potted crab: 3 portions (Fri 27 Nov)`; empty where no portions are told."""
    name, _, portions = told.rpartition(": ")
    return name if "portion" in portions and not _MORE.match(name) else ""


def _loss_of(rows: Sequence[Shortage]) -> tuple[bool, float, float, date, str]:
    """The key by which an item's shortages are told, the most costly first."""
    money, portions = sum(short.money for short in rows), sum(short.portions for short in rows)
    is_optional = all(short.is_optional for short in rows)
    return is_optional, -money, -portions, min(short.date for short in rows), rows[0].item


def worth_using(plan: Plan) -> tuple[Expiring, ...]:
    """Lots to use first by money, the most costly waste first; those of unknown cost last."""
    ranked = sorted(plan.netting.expiring, key=lambda lot: (lot.cost is None, -(lot.cost or 0.0), lot.use_by))
    total = sum(lot.cost or 0.0 for lot in ranked)
    found, counted = [], 0.0
    for lot in ranked:
        if lot.cost is not None and counted >= MOST_OF_THE_MONEY * total:
            continue
        found.append(lot)
        counted += lot.cost or 0.0
    return tuple(found)


def use_first(plan: Plan) -> tuple[Expiring, ...]:
    """Lots to use first whose last day comes before the next run looks again."""
    return tuple(lot for lot in worth_using(plan) if lot.use_by <= plan.next_run)


def last_day(plan: Plan, short: Shortage) -> date:
    """The last day on which the item of a shortage is short."""
    return max(one.date for one in plan.shortages if one.item == short.item)


def amount_short(house: House, short: Shortage) -> str:
    """What is short as somebody would ask for it: pieces by the case where a case is short."""
    offers = house.ingredients[short.item].offers if short.item in house.ingredients else ()
    usual = min(offers, key=lambda offer: not offer.is_preferred, default=None)
    if usual is not None and is_piece(short.unit) and 1 < usual.pack_quantity <= short.short:
        return packs_said(math.ceil(short.short / usual.pack_quantity - LEAST_SHOWN), usual.pack)
    return shown(to_get(short.short, short.unit), short.unit)


def cause_said(cause: str) -> str:
    """A cause in words; one that already is in words stays as it is."""
    return CAUSES.get(cause, cause)


def cause_in_short(short: Shortage) -> str:
    """The cause without what explains it."""
    return re.split("[:;]", cause_said(short.cause))[0]


def first_remedy(short: Shortage) -> str:
    """The first thing that could be done; empty where there is none."""
    return next(iter(_remedies(short, short.date)), "")


def _remedies(short: Shortage, last: date) -> list[str]:
    """What could be done, without the days that stand in front: from that of the shortage to `last`."""
    first, days = format_day(short.date), span_said(short.date, last)
    told = short.remedy.split(BETWEEN) if short.remedy else []
    return [re.sub(rf" by {first}\b| on {days}(?! (?:and|to) )", "", text) for text in told]


def hit_in_short(short: Shortage, width: int | None = None) -> str:
    """The dish hit most, how many more, and the portions of all of them on all days.

    `width` : columns of a terminal; a dish with a long name is cut, never the portions
    """
    first, *others = short.dishes.split(BETWEEN)
    name = _dish_of(first)
    if not name:
        return ", ".join([first, *others])
    in_all = [text.removesuffix(IN_ALL) for text in others if text.endswith(IN_ALL)]
    others = [text for text in others if not text.endswith(IN_ALL)]
    n_more = sum(int(found[1]) if (found := _MORE.match(text)) else 1 for text in others)
    more = f" and {plural(n_more, 'dish', 'dishes')} more" if n_more else ""
    alone = re.sub(r" \([^()]*\)$", "", first.removeprefix(f"{name}: "))
    of_all = plural(math.ceil(short.portions - LEAST_SHOWN), "portion") if n_more else alone
    rest = f"{more}: {next(iter(in_all), of_all)}"
    return (name if width is None else clipped(name, width - cells_wide(rest))) + rest


def shortages_sheet(house: House, plan: Plan) -> Sheet:
    """Every item that runs short, what costs most first, with its cause and what could be done."""
    notes = (
        "What costs most first. No delivery or batch can bring these in time. "
        "Nothing has been ordered for them."
    )
    head = (*heads(SHORT_COLUMNS[:3], ("short",)), *(Cell(name, "head inset") for name in SHORT_COLUMNS[3:]))
    rows = [_short_row(house, plan, short) for short in shortages_by_item(plan)]
    footer = f"{house.name}: short, {plan.on.isoformat()}"
    return with_table(
        Sheet(SHORT, (), SHORT_WIDTHS, is_landscape=True, footer=footer),
        titled(SHORT, notes, across=len(SHORT_WIDTHS)),
        Block((head, *rows), "shortages"),
        "Nothing should run short.",
    )


def _short_row(house: House, plan: Plan, short: Shortage) -> Row:
    """One item: from when to when, all that is short of it, why it does at first, and what could be done."""
    last = last_day(plan, short)
    dishes = short.dishes.replace(f" ({format_day(short.date)})", "")  # the date stands in front already
    return (
        Cell(span_said(short.date, last), "strong wrap line top"),
        Cell(item_name(house, short.item), "wrap line top"),
        Cell(amount_short(house, short), "right wrap line top"),
        Cell(cause_said(short.cause).partition(ALL_DAYS)[0], "inset wrap line top"),
        Cell(dishes.replace(BETWEEN, "\n"), "inset wrap line top"),
        Cell(
            "\n".join(f"- {text}" for text in _remedies(short, last)[:MOST_REMEDIES]), "inset wrap line top"
        ),
    )


def use_first_sheet(house: House, plan: Plan) -> Sheet:
    """The lots that make up most of the waste in money, the most costly first."""
    ranked = worth_using(plan)
    rest = len(plan.netting.expiring) - len(ranked)
    little = f"{plural(rest, 'more lot')} of little worth {'is' if rest == 1 else 'are'} left out."
    notes = (*LOT_NOTES, *([little] if rest else []))
    head = (*heads(LOT_COLUMNS[:-1], LOT_NUMBERS), Cell(LOT_COLUMNS[-1], "head inset"))
    footer = f"{house.name}: use first, {plan.on.isoformat()}"
    return with_table(
        Sheet(USE_FIRST, (), LOT_WIDTHS, is_landscape=True, footer=footer),
        titled(USE_FIRST, *notes, across=len(LOT_WIDTHS)),
        Block((head, *(_lot_row(house, plan, lot) for lot in ranked)), "lots to use first"),
        "Nothing should be left over.",
    )


def _lot_row(house: House, plan: Plan, lot: Expiring) -> Row:
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


def about(quantity: float, n_figures: int = 2) -> float:
    """So many figures: what is expected is no surer than two."""
    return float(f"{quantity:.{n_figures}g}")


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
    served_in = _served_in(house, lot.item)
    sooner = _start_to_move(house, plan, lot, served_in)
    if sooner is not None:
        recipe, on = sooner
        return f"start {item_name(house, recipe)} by {format_day(lot.use_by)} (planned for {format_day(on)})"
    dishes = [dish_name(house, dish) for dish in _dishes(house, plan, lot, served_in)]
    if dishes:
        more = [f"{len(dishes) - MOST_DISHES} more"] if len(dishes) > MOST_DISHES else []
        return f"push {listed([*dishes[:MOST_DISHES], *more])}"
    return "nothing on the menu uses it by then: run a special, or staff meal"


def _start_to_move(house: House, plan: Plan, lot: Expiring, served_in: set[str]) -> tuple[str, date] | None:
    """The first planned start that takes the item too late, if what it makes keeps that much longer."""
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


def _dishes(house: House, plan: Plan, lot: Expiring, served_in: set[str]) -> list[str]:
    """Dishes on the menu while the lot is good that are made of it or from it, the most sold first."""
    from_on = lot.there_on or plan.on
    slots = [n for n, slot in enumerate(plan.forecast.slots) if from_on <= slot.date <= lot.use_by]
    sold = dict(zip(plan.forecast.dishes, plan.forecast.mean[:, slots].sum(axis=1).tolist(), strict=True))
    found = [
        dish.id for dish in house.dishes.values() if sold.get(dish.id, 0.0) > 0 and dish.recipe in served_in
    ]
    return sorted(found, key=lambda dish: (-sold[dish], dish))


def _served_in(house: House, item: str) -> set[str]:
    """The item and everything it goes into on the day it is served."""
    takers: dict[str, set[str]] = {}
    for recipe in house.recipes.values():
        for line in recipe.lines if not recipe.takes_days else ():
            takers.setdefault(line.item, set()).add(recipe.id)
    found, ring = {item}, {item}
    while ring:
        ring = {recipe for one in ring for recipe in takers.get(one, ())} - found
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
