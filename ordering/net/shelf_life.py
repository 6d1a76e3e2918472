"""Until when something may be used. The rules about last days are here and in `House.keeps_days`.

What keeps n days has its last day n days after the day it came or became ready, with and without a date
mark; what keeps 0 days is for that day alone. A recipe that carries the `date-mark` hazard counts no
further than day 7 of the mark, day 1 being the day of preparation and not the day it is ready: the start of
the batch, or `prepared_at` after it (Virginia 12VAC5-421-830 A, text to January 2017, which reproduces the
model Food Code 3-501.17(A)). Such a recipe keeps the earliest date of the parts that carry a date mark
themselves (-830 C speaks of ready-to-eat parts: raw meat that is cooked starts a new count).
What comes back of a part with a mark keeps the mark of what was drawn, and what comes off a marked batch
with a mark of its own is as old as that batch.
Nothing is known of freezing: what was frozen has the date the kitchen wrote on it, as counted.
Local code and licensed practice decide; these are the dates planned with, no statement of safety.
"""

from __future__ import annotations

from datetime import date, timedelta

from ordering.records.house import DATE_MARK, House


def last_offset(house: House, item: str) -> int | None:
    """Days from the day an item comes or is ready to its last day; None: no date of its own."""
    keeps = house.keeps_days(item)
    return None if keeps is None else max(0, keeps)


def is_date_marked(house: House, item: str) -> bool:
    """Whether the item is a recipe that carries a date mark: made from such parts, it keeps theirs."""
    recipe = house.recipes.get(item)
    return recipe is not None and DATE_MARK in recipe.hazards


def dated_parts(house: House, item: str) -> tuple[str, ...]:
    """The parts whose date a date-marked recipe keeps: those that carry a date mark, bought or made."""
    if not is_date_marked(house, item):
        return ()
    parts = sorted({line.item for line in house.recipes[item].lines})
    return tuple(p for p in parts if is_marked(house, p))


def is_marked(house: House, item: str) -> bool:
    """Whether an item carries a date mark, bought or made."""
    return DATE_MARK in _hazards(house, item)


def dates_kept(house: House) -> set[str]:
    """Items whose dates others keep: marked parts of marked recipes, and marked parts that come back."""
    kept = {part for recipe in house.recipes for part in dated_parts(house, recipe)}
    lines = (line for recipe in house.recipes.values() for line in recipe.lines)
    return kept | {line.item for line in lines if line.returns and is_marked(house, line.item)}


def offset_off(house: House, recipe: str, item: str) -> int | None:
    """Days from the day a batch is ready to the last day of what comes off it; None: no date of its own."""
    offset = last_offset(house, item)
    if not (is_date_marked(house, recipe) and is_marked(house, item)):
        return offset
    left = max(0, house.recipes[recipe].marked_days)
    return left if offset is None else min(offset, left)


def _hazards(house: House, item: str) -> tuple[str, ...]:
    made = house.recipes.get(item)
    return house.ingredients[item].hazards if made is None else made.hazards


def use_by(house: House, item: str, ready_on: date) -> date | None:
    """Last day of what came or became ready on a day; None: no date."""
    offset = last_offset(house, item)
    return None if offset is None else ready_on + timedelta(days=offset)


def use_by_off(house: House, recipe: str, item: str, ready_on: date) -> date | None:
    """Last day of what came off a batch that was ready on a day; None: no date."""
    offset = offset_off(house, recipe, item)
    return None if offset is None else ready_on + timedelta(days=offset)
