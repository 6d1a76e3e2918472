"""Until when something may be used. The rules about last days are here and in `House.keeps_days`.

What keeps n days has its last day n days after the day it came or became ready, with and without a date
mark; what keeps 0 days is for that day alone. A recipe that carries the `date-mark` hazard counts no
further than day 7 of the mark, day 1 being the day of preparation and not the day it is ready: the start of
the batch, or `prepared_at` after it (Virginia 12VAC5-421-830 A, text to January 2017, which reproduces the
model Food Code 3-501.17(A)). Such a recipe keeps the earliest date of the parts that carry a date mark
themselves (-830 C speaks of ready-to-eat parts: raw meat that is cooked starts a new count).
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
    return tuple(p for p in parts if DATE_MARK in _hazards(house, p))


def _hazards(house: House, item: str) -> tuple[str, ...]:
    made = house.recipes.get(item)
    return house.ingredients[item].hazards if made is None else made.hazards


def use_by(house: House, item: str, ready_on: date) -> date | None:
    """Last day of what came or became ready on a day; None: no date."""
    offset = last_offset(house, item)
    return None if offset is None else ready_on + timedelta(days=offset)
