"""Until when something may be used. Every rule about last days is here, and nowhere else.

`keeps_days` n counts from the day a thing came or became ready: ready on day d, its last day is
d + n, so what keeps 0 days is for that day alone. A recipe that carries the `date-mark` hazard counts
the way FDA Food Code 2022, 3-501.17 does: the day of preparation is day 1, so what keeps 7 days has
its last day on d + 6. Such a recipe keeps the earliest date of the parts that carry a date mark
themselves (3-501.17(C) speaks of ready-to-eat parts: raw meat that is cooked starts a new count);
time in the freezer is not counted, and thawing does not start anew (3-501.17).
Local code and licensed practice decide; these are the dates planned with, no statement of safety.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, timedelta

from ordering.records.house import House

DATE_MARK = "date-mark"


def last_offset(house: House, item: str) -> int | None:
    """Days from the day an item comes or is ready to its last day; None: no date of its own."""
    keeps = house.keeps_days(item)
    if keeps is None:
        return None
    return max(0, keeps - 1) if is_date_marked(house, item) else max(0, keeps)


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


def date_mark(
    prepared_on: date,
    marked_days: int = 7,
    frozen: Iterable[tuple[date, date]] = (),
    parts: Iterable[date] = (),
) -> date:
    """Last day of a date-marked food: FDA Food Code 2022, 3-501.17.

    Parameters
    ----------
    prepared_on : day 1
    marked_days : days it may be held, the day of preparation counted
    frozen : spans (frozen on, thawed on); the count stops the day before freezing and goes on with
        the next number on the day of thawing
    parts : last days of what it is made from; the earliest holds

    Raises
    ------
    ValueError : a span ends before it begins, or fewer than one day is marked
    """
    if marked_days < 1:
        raise ValueError("a date mark counts at least the day of preparation")
    last = prepared_on + timedelta(days=marked_days - 1)
    for frozen_on, thawed_on in sorted(frozen):
        if thawed_on < frozen_on:
            raise ValueError("thawed before it was frozen")
        if frozen_on <= last:
            last += thawed_on - frozen_on
    return min((last, *parts))
