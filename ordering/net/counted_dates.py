"""The date mark of what was counted without one.

A label that nobody read still runs: what lies there of a marked recipe was there at the count before, or was
made since. The oldest goes first, so what is left is of the latest batches that the books have, no more of
each than it gave. What no batch explains was made at a time nobody knows: it is dated as if made on the day
of the count.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby

from ordering.net.lots import EPS
from ordering.net.shelf_life import is_date_marked, use_by
from ordering.records.books import Batch, Books, CountedLot, Lot
from ordering.records.house import House


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
