"""Until when what was counted of marked recipes without a label is good: by the batches of the books."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, timedelta
from itertools import groupby

from ordering.amounts import EPS
from ordering.net import rolling
from ordering.net.shelf_life import dates_kept, is_date_marked, is_usable, use_by
from ordering.records.books import Batch, Books, CountedLot, Lot
from ordering.records.house import House, Recipe


def with_marks(house: House, books: Books, on: date) -> tuple[CountedLot, ...]:
    """The counts up to a day, those of marked recipes with a last day each.

    What was counted without a label keeps its mark all the same: it was there at the count before, or was
    made since, of no fresher parts than there were. The oldest goes first, so what is left is of the latest
    batches that the books have, no more of each than it gave, less what recipes that take the freshest drew
    of it by the books. Where the books have no batch of such a recipe, it may have taken any: what is left
    is of the oldest that is still good. What no batch explains was made at a time nobody knows: it is dated
    as if made on the day of the count. Looked at are counts from the last one on of which nothing can be
    good at the latest: what lay there before is past its date whenever it was made.
    """
    plain = [x for x in books.counts if x.counted_on <= on and not is_date_marked(house, x.item)]
    marked = [x for x in books.counts if x.counted_on <= on and is_date_marked(house, x.item)]
    dated: list[CountedLot] = []
    batches: dict[str, list[Batch]] = defaultdict(list)
    for batch in books.batches:
        batches[batch.recipe].append(batch)
    kept, made = dates_kept(house), dict[str, list[Lot]]()
    for item, rows in groupby(sorted(marked, key=lambda x: (x.item, x.counted_on)), key=lambda x: x.item):
        takers = [house.recipes[r] for r, is_freshest in kept.get(item, {}).items() if is_freshest]
        mine = _made(house, item, batches, kept, made)
        lately = _lately(house, list(rows))
        drawn = [draw for taker in takers for draw in _freshest_drawn(taker, item, batches[taker.id], lately)]
        dated += _dated(house, lately, mine, sorted(drawn))
    return (*plain, *dated)


def _made(
    house: House,
    item: str,
    batches: Mapping[str, Sequence[Batch]],
    kept: Mapping[str, Mapping[str, bool]],
    made: dict[str, list[Lot]],
) -> list[Lot]:
    """What the batches of an item in the books gave, good no longer than the freshest of its parts then.

    kept : see `dates_kept`; made : by item, what is known so far, added to
    """
    if item not in made:
        made[item] = []  # what goes round in a circle tells nothing of itself
        lots = [rolling.made_in(house, batch) for batch in batches.get(item, ())]
        for line in house.recipes[item].lines:
            if item in kept.get(line.item, {}) and line.item in house.recipes:
                parts = _made(house, line.item, batches, kept, made)
                drawn_after = timedelta(days=line.at_days - house.recipes[item].takes_days)
                lots = [_no_longer_than(lot, parts, drawn_after) for lot in lots]
        made[item] = lots
    return made[item]


def _no_longer_than(lot: Lot, parts: Iterable[Lot], drawn_after: timedelta) -> Lot:
    """A batch good until the last day of the freshest part that was there; drawn_after : it was ready."""
    ready = lot.ready_on or date.max
    there = [
        part.use_by for part in parts if part.use_by is not None and is_usable(part, ready + drawn_after)
    ]
    return replace(lot, use_by=min(lot.use_by or date.max, max(ready, *there))) if there else lot


def _lately(house: House, rows: Sequence[CountedLot]) -> Sequence[CountedLot]:
    """Rows of one item by day, from the last count on of which nothing can be good at the latest."""
    latest = rows[-1].counted_on
    until = use_by(house, rows[-1].item, latest) or latest
    first = max((x.counted_on for x in rows if x.counted_on < latest - (until - latest)), default=date.min)
    return [x for x in rows if x.counted_on >= first]


def _freshest_drawn(
    taker: Recipe, item: str, batches: Sequence[Batch], rows: Iterable[CountedLot]
) -> list[tuple[date, float]]:
    """What a recipe drew of the freshest of an item, by day; without batches all there was by each count."""
    if not batches:
        return [(day, math.inf) for day in sorted({x.counted_on - timedelta(days=1) for x in rows})]
    lines = [x for x in taker.lines if x.item == item]
    return [
        (batch.started_on + timedelta(days=line.at_days), line.drawn * rolling.batches_of(taker, batch))
        for batch in batches
        for line in lines
    ]


def _dated(
    house: House, rows: Sequence[CountedLot], made: Sequence[Lot], drawn: Sequence[tuple[date, float]]
) -> list[CountedLot]:
    """Rows of one item by day, each with its last day.

    made : its batches of the books; drawn : by day, what was taken of the freshest, in order
    """
    dated: list[CountedLot] = []
    before: list[Lot] = []
    since = date.min
    for day, group in groupby(rows, key=lambda x: x.counted_on):
        there = [*before, *(x for x in made if since < (x.ready_on or day) <= day)]
        shelf = _likeliest_first(there, [one for one in drawn if since <= one[0] < day], day)
        now: list[CountedLot] = []
        for row in sorted(group, key=lambda x: x.use_by is None):  # what is labelled is known
            rows_of, shelf = _by_batch(house, row, shelf)
            now += rows_of
        dated += now
        before = [Lot(x.item, x.quantity, x.use_by, x.ready_on) for x in now if x.quantity > 0]
        since = day
    return dated


def _likeliest_first(there: Iterable[Lot], drawn: Iterable[tuple[date, float]], day: date) -> list[Lot]:
    """What there was, what is likeliest to be left of it on a day first.

    Of what is good then the latest, but what was taken of the freshest, and that from the oldest on; then
    what is past its date, the latest first.
    """
    latest_first = sorted(there, key=lambda x: x.use_by or date.max, reverse=True)
    good = [x for x in latest_first if x.use_by is None or x.use_by >= day]
    left = [x.quantity for x in good]
    for at, quantity in drawn:
        for n, lot in enumerate(good):
            given = min(quantity, left[n]) if is_usable(lot, at) else 0.0
            left[n] -= given
            quantity -= given
    kept = [replace(lot, quantity=rest) for lot, rest in zip(good, left, strict=True)]
    gone = [replace(lot, quantity=lot.quantity - rest) for lot, rest in zip(good, left, strict=True)]
    return [*kept, *reversed(gone), *latest_first[len(good) :]]


def _by_batch(house: House, row: CountedLot, shelf: Sequence[Lot]) -> tuple[list[CountedLot], list[Lot]]:
    """A row as it is, or, ready and without a date, split over what could be there; and the rest of that."""
    if row.quantity <= 0 or (row.ready_on or row.counted_on) > row.counted_on:
        return [row], list(shelf)
    rest, found, left = row.quantity, [], []
    for lot in shelf:
        given = min(rest, lot.quantity) if row.use_by in (None, lot.use_by) else 0.0
        left.append(replace(lot, quantity=lot.quantity - given))
        if given > EPS:
            found.append(replace(row, quantity=given, use_by=lot.use_by))
            rest -= given
    if row.use_by is not None:
        return [row], left
    if rest > EPS:
        found.append(replace(row, quantity=rest, use_by=use_by(house, row.item, row.counted_on)))
    return found, left
