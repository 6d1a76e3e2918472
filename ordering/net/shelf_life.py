"""Until when something may be used. The rules about last days are here and in `House.keeps_days`.

What keeps n days has its last day n days after the day it came or became ready, with and without a date
mark; what keeps 0 days is for that day alone. A recipe that carries the `date-mark` hazard counts no
further than day 7 of the mark, day 1 being the day of preparation and not the day it is ready: the start of
the batch, or `prepared_at` after it (Virginia 12VAC5-421-830 A, text to January 2017, which reproduces the
model Food Code 3-501.17(A)). Such a recipe keeps the earliest date of the parts that carry a date mark
themselves (-830 C speaks of ready-to-eat parts: raw meat that is cooked starts a new count).
What comes back of a part with a mark keeps the mark of what was drawn, and what comes off a marked batch
with a mark of its own is as old as that batch.

What was counted without a label keeps its mark all the same: it was there at the count before, or was made
since. The oldest goes first, so what is left is of the latest batches that the books have, no more of each
than it gave. What no batch explains was made at a time nobody knows: it is dated as if made on the day of the
count.

Nothing is known of freezing: what was frozen has the date the kitchen wrote on it, as counted.
Local code and licensed practice decide; these are the dates planned with, no statement of safety.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby

from ordering.amounts import EPS
from ordering.records.books import Batch, Books, CountedLot, Lot
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
    made = house.recipes.get(item)
    return DATE_MARK in (house.ingredients[item] if made is None else made).hazards


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


def use_by(house: House, item: str, ready_on: date) -> date | None:
    """Last day of what came or became ready on a day; None: no date."""
    offset = last_offset(house, item)
    return None if offset is None else ready_on + timedelta(days=offset)


def use_by_off(house: House, recipe: str, item: str, ready_on: date) -> date | None:
    """Last day of what came off a batch that was ready on a day; None: no date."""
    offset = offset_off(house, recipe, item)
    return None if offset is None else ready_on + timedelta(days=offset)


def is_usable(lot: Lot, day: date) -> bool:
    """Whether a lot is ready on a day and in date."""
    return (lot.ready_on is None or lot.ready_on <= day) and (lot.use_by is None or lot.use_by >= day)


def drawn_off(lots: Iterable[Lot], quantity: float, day: date) -> tuple[list[Lot], list[Lot], float]:
    """Lots after a draw on a day, those of before that gave of it, and what of the draw nothing met.

    lots : first to expire first
    """
    left, gave = [], []
    for lot in lots:
        given = min(quantity, lot.quantity) if is_usable(lot, day) else 0.0
        quantity -= given
        if given > EPS:
            gave.append(lot)
        if lot.quantity - given > EPS:
            left.append(replace(lot, quantity=lot.quantity - given) if given else lot)
    return left, gave, quantity if quantity > EPS else 0.0


def with_marks(house: House, books: Books, on: date) -> tuple[CountedLot, ...]:
    """The counts up to a day, those of marked recipes with a last day each.

    Of a marked recipe those from the last count on of which nothing can be good at the latest: what lay there
    before is past its date whenever it was made.
    """
    plain = [x for x in books.counts if x.counted_on <= on and not is_date_marked(house, x.item)]
    marked = [x for x in books.counts if x.counted_on <= on and is_date_marked(house, x.item)]
    dated: list[CountedLot] = []
    batches: dict[str, list[Batch]] = {x.item: [] for x in marked}
    for b in books.batches:
        if b.recipe in batches:
            batches[b.recipe].append(b)
    for item, rows in groupby(sorted(marked, key=lambda x: (x.item, x.counted_on)), key=lambda x: x.item):
        made = [_made(house, item, b.started_on, b.made) for b in batches[item]]
        dated += _dated(house, _lately(house, list(rows)), made)
    return (*plain, *dated)


def _lately(house: House, rows: Sequence[CountedLot]) -> Sequence[CountedLot]:
    """Rows of one item by day, from the last count on of which nothing can be good at the latest."""
    latest = rows[-1].counted_on
    until = use_by(house, rows[-1].item, latest) or latest
    first = max((x.counted_on for x in rows if x.counted_on < latest - (until - latest)), default=date.min)
    return [x for x in rows if x.counted_on >= first]


def _made(house: House, recipe: str, started_on: date, quantity: float) -> Lot:
    ready = started_on + timedelta(days=house.recipes[recipe].takes_days)
    return Lot(recipe, quantity, use_by(house, recipe, ready), ready)


def _dated(house: House, rows: Sequence[CountedLot], made: Sequence[Lot]) -> list[CountedLot]:
    """Rows of one item by day, each with its last day. made : its batches of the books."""
    dated: list[CountedLot] = []
    before: list[Lot] = []
    since = date.min
    for day, group in groupby(rows, key=lambda x: x.counted_on):
        there = [*before, *(x for x in made if since < (x.ready_on or day) <= day)]
        now = [one for row in group for one in _by_batch(house, row, there)]
        dated += now
        before = [Lot(x.item, x.quantity, x.use_by, x.ready_on) for x in now if x.quantity > 0]
        since = day
    return dated


def _by_batch(house: House, row: CountedLot, there: Iterable[Lot]) -> list[CountedLot]:
    """A row as it is, or, counted ready and without a date, split over what could be there."""
    if row.use_by is not None or row.quantity <= 0 or (row.ready_on or row.counted_on) > row.counted_on:
        return [row]
    rest, found = row.quantity, []
    for lot in sorted(there, key=lambda x: x.use_by or date.max, reverse=True):
        given = min(rest, lot.quantity)
        if given > EPS:
            found.append(replace(row, quantity=given, use_by=lot.use_by))
            rest -= given
    if rest > EPS:
        found.append(replace(row, quantity=rest, use_by=use_by(house, row.item, row.counted_on)))
    return found
