"""Until when something may be used, and what is drawn of it: first expired, first out.

What keeps n days has its last day n days after the day it came or became ready, with and without a date
mark; what keeps 0 days is for that day alone. A recipe that carries the `date-mark` hazard counts no
further than day 7 of the mark, day 1 being the day of preparation and not the day it is ready: the start of
the batch, or `prepared_at` after it (Virginia 12VAC5-421-830 A, text to January 2017, which reproduces the
model Food Code 3-501.17(A)). Such a recipe keeps the earliest date of the parts that carry a date mark
themselves (-830 C speaks of ready-to-eat parts: raw meat that is cooked starts a new count).
What comes back of a part with a mark keeps the mark of what was drawn, and what comes off a marked batch
with a mark of its own is as old as that batch. What was frozen has the date the kitchen wrote on it.
Local code and licensed practice decide; these are the dates planned with, no statement of safety.
"""

from __future__ import annotations

import bisect
import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from ordering.amounts import EPS
from ordering.records.books import Lot
from ordering.records.house import DATE_MARK, House
from ordering.records.plan import Array

Flags = NDArray[np.bool_]
Days = NDArray[np.int64]


def last_offset(house: House, item: str, off: str | None = None) -> int | None:
    """Days from the day an item comes or is ready to its last day; None: no date of its own.

    off : the recipe whose batches it comes off; None: it was bought or made itself
    """
    keeps = house.keeps_days(item)
    offset = None if keeps is None else max(0, keeps)
    if off is None or not (is_date_marked(house, off) and is_marked(house, item)):
        return offset
    left = max(0, house.recipes[off].marked_days)
    return left if offset is None else min(offset, left)


def is_marked(house: House, item: str) -> bool:
    """Whether an item carries a date mark, bought or made."""
    return DATE_MARK in (house.recipes.get(item) or house.ingredients[item]).hazards


def is_date_marked(house: House, item: str) -> bool:
    """Whether the item is a recipe that carries a date mark: made from such parts, it keeps theirs."""
    return item in house.recipes and is_marked(house, item)


def dated_parts(house: House, item: str) -> tuple[str, ...]:
    """The parts whose date a date-marked recipe keeps: those that carry a date mark, bought or made."""
    if not is_date_marked(house, item):
        return ()
    return tuple(p for p in sorted({x.item for x in house.recipes[item].lines}) if is_marked(house, p))


def takes_freshest(house: House, item: str, part: str) -> bool:
    """Whether a recipe takes the freshest of a part: it keeps its date and is made in batches that keep.

    All else takes the oldest: what is made to measure, or eaten that day, need not be good for long.
    """
    recipe = house.recipes[item]
    is_batch = recipe.is_whole or bool(recipe.smallest)
    return is_batch and is_kept(house, item) and part in dated_parts(house, item)


def is_kept(house: House, item: str) -> bool:
    """Whether what is made of a recipe lies for a night, under way or ready."""
    return bool(house.recipes[item].takes_days or last_offset(house, item) != 0)


def dates_kept(house: House) -> dict[str, dict[str, bool]]:
    """By part, the recipes that are kept and keep its date mark, and whether they take the freshest of it."""
    found: dict[str, dict[str, bool]] = {}
    for recipe in house.recipes:
        for part in dated_parts(house, recipe) if is_kept(house, recipe) else ():
            found.setdefault(part, {})[recipe] = takes_freshest(house, recipe, part)
    return found


def use_by(house: House, item: str, ready_on: date, off: str | None = None) -> date | None:
    """Last day of what came or became ready on a day, or came off batches of `off`; None: no date."""
    offset = last_offset(house, item, off)
    return None if offset is None else ready_on + timedelta(days=offset)


def is_usable(lot: Lot, day: date) -> bool:
    """Whether a lot is ready on a day and in date."""
    return (lot.ready_on is None or lot.ready_on <= day) and (lot.use_by is None or lot.use_by >= day)


def drawn_off(lots: Sequence[Lot], quantity: float, day: date) -> tuple[list[Lot], list[Lot], float]:
    """`lots` (first to expire first) after a draw, those of before that gave of it, and what nothing met."""
    left, gave = [], []
    for n, lot in enumerate(lots):
        if not quantity:
            left += [rest for rest in lots[n:] if rest.quantity > EPS]
            break
        given = min(quantity, lot.quantity) if is_usable(lot, day) else 0.0
        quantity -= given
        if given > EPS:
            gave.append(lot)
        if lot.quantity - given > EPS:
            left.append(replace(lot, quantity=lot.quantity - given) if given else lot)
    return left, gave, quantity if quantity > EPS else 0.0


def median(values: Array) -> float:
    """The median of some values, [path]; several times as fast as NumPy's on so few."""
    ordered = np.sort(values)
    middle = ordered.size // 2
    return float(ordered[middle] if ordered.size % 2 else (ordered[middle - 1] + ordered[middle]) / 2)


@dataclass(frozen=True, slots=True)
class Parcel:
    """A quantity usable from day index `first` to `last`, both inclusive.

    `quantity`: a number, or shape (n_paths,). `last` is `n_days` or more when it outlives the horizon.
    `kind` is opening, scheduled, in-process, by-product. `drawn` : day index on which what comes back was
    drawn, where it keeps the date of that; None: its date is its own.
    """

    first: int
    last: int
    quantity: float | Array
    kind: str = "opening"
    drawn: int | None = None

    @property
    def mean(self) -> float:
        """Its quantity, mean over paths."""
        quantity = self.quantity
        return float(quantity.sum()) / quantity.size if isinstance(quantity, np.ndarray) else quantity


@dataclass(frozen=True, slots=True)
class Taken:
    """What became of one parcel; left : [path], what nobody drew."""

    parcel: Parcel
    left: Array


@dataclass(frozen=True, slots=True)
class Drawn:
    """What parcels could not give, and what became of them.

    unmet : [day, path]; taken : in the order drawn; gross : [day, path], what was asked
    """

    unmet: Array
    taken: tuple[Taken, ...]
    gross: Array

    @property
    def expired(self) -> Array:
        """What goes past its date, [day], mean over paths, on the day after its last."""
        expired = np.zeros(self.gross.shape[0])
        for one in self.taken:
            if one.parcel.last + 1 < expired.size:
                rest = float(one.left.sum()) / one.left.size
                expired[one.parcel.last + 1] += rest if rest > EPS else 0.0
        return expired

    def lying(self) -> Array:
        """What lies ready of the parcels, in date, at the end of each day after its draws, [day, path]."""
        change = self.unmet - self.gross
        for one in self.taken:
            if one.parcel.first < len(change):
                change[one.parcel.first] += one.parcel.quantity
            if one.parcel.last + 1 < len(change):
                change[one.parcel.last + 1] -= one.left
        return np.asarray(np.cumsum(change, axis=0))


def in_turn(parcels: Iterable[Parcel]) -> list[Parcel]:
    """Parcels in the order they are drawn on any day: earliest last day first."""
    return sorted(parcels, key=lambda p: (p.last, p.first))


def draw(parcels: Iterable[Parcel], gross: Array) -> Drawn:
    """Gross requirement met from parcels, first expired first out, none before or after its days.

    They are taken one by one in order of their last day, which is the same as day by day.

    gross : [day, path], item's unit, never negative
    """
    unmet, asked = gross.copy(), np.flatnonzero(gross.max(axis=1, initial=0.0) > EPS).tolist()
    return Drawn(unmet, tuple(_taken(parcel, unmet, asked) for parcel in in_turn(parcels)), gross)


def drawn_in_turn(amounts: Array, first: Days, last: Days, unmet: Array) -> Array:
    """What nobody draws of amounts that are there and past their date in turn, [amount, path].

    What is gone by an evening, eaten or thrown away, is no more than what was there by then, and no less than
    what is past its last day.

    amounts : [amount, path]; first, last : their day indices, [amount], never decreasing; unmet : [day,
    path], what they give is taken off it
    """
    upto, gone_by = amounts.copy(), np.empty_like(amounts)
    for before, row in itertools.pairwise(upto):  # a third of the time that `cumsum` takes across rows
        row += before
    days = np.arange(len(unmet))
    n_there = first.searchsorted(days, side="right").tolist()
    n_past = last.searchsorted(days, side="left").tolist()
    asking = (unmet.max(axis=1, initial=0.0) > EPS).tolist()
    gone, past = np.zeros(unmet.shape[1]), 0
    for t in range(int(first[0]), len(unmet)):
        if n_past[t] > past:
            gone_by[past : n_past[t]] = gone
            past = n_past[t]
            if past == len(upto):
                break
            gone = np.maximum(gone, upto[past - 1])
        if asking[t] and n_there[t] > past:
            wanted = gone + unmet[t]
            gone = np.minimum(wanted, upto[n_there[t] - 1])
            np.subtract(wanted, gone, out=unmet[t])
    gone_by[past:] = gone
    left: Array = np.minimum(np.maximum(upto - gone_by, 0.0), amounts)
    return left


def _taken(parcel: Parcel, unmet: Array, asked: Sequence[int]) -> Taken:
    """Take one parcel off what is unmet, over the days that ask, until it is used up on every path.

    unmet : [day, path]; asked : day indices on which some path asks for any, in order
    """
    left = np.zeros(unmet.shape[1]) + parcel.quantity
    until = parcel.last if left.max(initial=0.0) > EPS else -1
    for day in asked[bisect.bisect_left(asked, parcel.first) : bisect.bisect_right(asked, until)]:
        _give(unmet[day], left)
        if left.max() <= EPS:
            break
    return Taken(parcel, left)


def _give(need: Array, left: Array) -> None:
    """Take what is there off a need, and off what is there; both change, [..., path]."""
    used = np.minimum(need, left)
    need -= used
    left -= used


def draw_off(need: Array, amount: float | Array, days: Sequence[int] = ()) -> None:
    """Take an amount, broadcast to [..., path], off a need, day after day.

    need : [..., day, path], never negative, changed; days : [item], each is good for, in order; none: all
    """
    left = np.zeros((*need.shape[:-2], need.shape[-1])) + amount
    for day in range(need.shape[-2]):
        left[: bisect.bisect_right(days, day)] = 0.0
        _give(need[..., day, :], left)
        if left.max() <= EPS:
            break


def drawn_from(lots: Iterable[Array], need: Array) -> Array:
    """What is missing of a need, [path], after lots, [path] each, gave in turn; they keep the rest."""
    missing = need.copy()
    for left in lots:
        _give(missing, left)
    return missing


def cohorts(made: Array, last: Days) -> list[Parcel]:
    """What is made, by ready day, [day, path], as parcels good until `last`, [day]."""
    return [Parcel(int(t), int(last[t]), made[t], "made") for t in np.flatnonzero(made.max(axis=1) > EPS)]


KINDS = ("opening", "in-process", "scheduled")  # what is there or on its way; what is yet to be begun is not
LEAST_SHARE = 0.05  # of a lot; told when more than half of the paths leave more than that

# (kind, first and last day index) of parcels that are one lot to the kitchen: quantity, left, [path]
Lots = Mapping[tuple[str, int, int], tuple[float, Array]]


def left_over(taken: Iterable[Taken], n_days: int) -> Lots:
    """What is left of the lots of one item whose last day is in sight; parcels of the same dates are one."""
    lots: dict[tuple[str, int, int], tuple[float, Array]] = {}
    for one in taken:
        parcel = one.parcel
        if parcel.kind in KINDS and parcel.last + 1 < n_days:
            key = parcel.kind, parcel.first, parcel.last
            quantity, left = lots.get(key, (0.0, np.zeros_like(one.left)))
            lots[key] = quantity + parcel.mean, left + one.left
    return {
        key: (quantity, left)
        for key, (quantity, left) in lots.items()
        if np.count_nonzero(left > LEAST_SHARE * quantity) > left.size / 2
    }
