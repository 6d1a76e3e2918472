"""Parcels of one item, drawn first-expired-first-out on every path at once."""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ordering.amounts import EPS
from ordering.records.plan import Array

Flags = NDArray[np.bool_]
Days = NDArray[np.int64]

FEW = 3  # parcels, below which it is quicker to take them one by one


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
    """What became of one parcel.

    left : [path], what nobody drew; until : last day index on which any path has something of it, -1: none,
    or not followed
    """

    parcel: Parcel
    left: Array
    until: int


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
        n_days = self.gross.shape[0]
        change = self.unmet - self.gross
        for one in self.taken:
            if one.parcel.first < n_days:
                change[one.parcel.first] += one.parcel.quantity
            if one.parcel.last + 1 < n_days:
                change[one.parcel.last + 1] -= one.left
        return np.asarray(np.cumsum(change, axis=0))


def in_turn(parcels: Iterable[Parcel]) -> list[Parcel]:
    """Parcels in the order they are drawn on any day: earliest last day first."""
    return sorted(parcels, key=lambda p: (p.last, p.first))


def draw(parcels: Iterable[Parcel], gross: Array, is_followed: bool = False) -> Drawn:
    """Gross requirement met from parcels, first expired first out, none before or after its days.

    Where what goes off first is also there first, totals tell it all. Else, or to know until when each is
    drawn from, they are taken one by one in order of their last day, which is the same as day by day: a
    parcel gives way only to those that expire before it.

    gross : [day, path], item's unit, never negative; is_followed : whether `Taken.until` is asked for
    """
    turn, unmet = in_turn(parcels), gross.copy()
    there = [one.first for one in turn]
    if is_followed or len(turn) < FEW or there != sorted(there):
        asking = gross.max(axis=1, initial=0.0) > EPS
        return Drawn(unmet, tuple(_taken(parcel, unmet, asking) for parcel in turn), gross)
    amounts = np.empty((len(turn), gross.shape[1]))
    for row, one in zip(amounts, turn, strict=True):
        row[:] = one.quantity
    left = drawn_in_turn(amounts, np.array(there), np.array([one.last for one in turn]), unmet)
    return Drawn(unmet, tuple(Taken(one, rest, -1) for one, rest in zip(turn, left, strict=True)), gross)


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


def _taken(parcel: Parcel, unmet: Array, asking: Flags) -> Taken:
    """Take one parcel off what is unmet, over the days that still ask, until it is used up on every path.

    unmet : [day, path]; asking : [day] whether some path may still ask; days met in full are crossed off
    """
    left = np.zeros(unmet.shape[1]) + parcel.quantity
    until = parcel.last if left.max(initial=0.0) > EPS else -1
    days = parcel.first + np.flatnonzero(asking[parcel.first : parcel.last + 1])
    for day in days.tolist() if until >= 0 else ():
        _give(unmet[day], left)
        asking[day] = unmet[day].max() > EPS
        if left.max() <= EPS:
            until = day
            break
    return Taken(parcel, left, until)


def _give(need: Array, left: Array) -> None:
    """Take what is there off a need, and off what is there; both change, [..., path]."""
    used = np.minimum(need, left)
    need -= used
    left -= used


def draw_off(need: Array, amount: float | Array) -> None:
    """Take an amount, broadcast to [..., path], off a need, day after day.

    need : [..., day, path], never negative, changed
    """
    left = np.zeros((*need.shape[:-2], need.shape[-1])) + amount
    for day in range(need.shape[-2]):
        _give(need[..., day, :], left)
        if left.max() <= EPS:
            break


def drawn_from(lots: Iterable[Array], need: Array) -> Array:
    """What is missing of a need, [path], after lots, [path] each, gave in turn; they keep the rest."""
    missing = need.copy()
    for left in lots:
        _give(missing, left)
    return missing


def received(parcels: Iterable[Parcel], n_days: int) -> dict[str, Array]:
    """By kind, mean over paths of what parcels bring by day, [day]; no kind of which none comes."""
    came: dict[str, Array] = {}
    for parcel in parcels:
        if parcel.first < n_days:
            if parcel.kind not in came:
                came[parcel.kind] = np.zeros(n_days)
            came[parcel.kind][parcel.first] += parcel.mean
    return came


def fallen(quantity: Array, offset: int | None, drawn_before: int | None = None) -> Sequence[Parcel]:
    """By-products of each day as parcels. quantity : [day, path]; offset None: they keep for ever.

    drawn_before : days since what comes back was drawn, where it keeps its date; None: it has its own
    """
    n_days = quantity.shape[0]
    days = np.flatnonzero(quantity.max(axis=1) > EPS).tolist()
    keeps = n_days if offset is None else offset - (drawn_before or 0)
    drawn = [None if drawn_before is None else t - drawn_before for t in days]
    return [
        Parcel(t, n_days if offset is None else t + keeps, quantity[t], "by-product", on)
        for t, on in zip(days, drawn, strict=True)
    ]


def redated(parcels: Iterable[Parcel], oldest: Days | None) -> list[Parcel]:
    """Parcels, those that come back no longer good than what was drawn; past it, they go at once.

    oldest : [day], the earliest last day index drawn on each day; None: not known yet
    """
    return [p if p.drawn is None else _redated(p, oldest) for p in parcels]


def _redated(parcel: Parcel, oldest: Days | None) -> Parcel:
    last = parcel.last
    if oldest is not None and parcel.drawn is not None and 0 <= parcel.drawn < oldest.size:
        last = min(last, int(oldest[parcel.drawn]))
    return replace(parcel, last=max(last, parcel.first - 1))


def cohorts(made: Array, last: Days) -> list[Parcel]:
    """What is made, by ready day, [day, path], as parcels good until `last`, [day]."""
    return [Parcel(int(t), int(last[t]), made[t], "made") for t in np.flatnonzero(made.max(axis=1) > EPS)]


KINDS = ("opening", "in-process", "scheduled")  # what is there or on its way; what is yet to be begun is not
LIKELY = 0.5  # told when this share of the paths leaves more of a lot than is worth saying
LEAST_SHARE = 0.05  # of a lot; a smaller rest is not worth saying

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
        if np.count_nonzero(left > LEAST_SHARE * quantity) > LIKELY * left.size
    }
