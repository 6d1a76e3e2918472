"""Parcels of one item, drawn first-expired-first-out on every path at once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np

from ordering.records.plan import Array

# Quantities below this, in the item's unit, are the dust of binary fractions, not goods.
DUST = 1e-9


@dataclass(frozen=True, slots=True)
class Parcel:
    """A quantity usable from day index `first` to `last`, both inclusive.

    `quantity`: a number, or shape (n_paths,). `last` is `n_days` or more when it outlives the horizon.
    `kind` is opening, scheduled, in-process, by-product.
    """

    first: int
    last: int
    quantity: float | Array
    kind: str = "opening"


@dataclass(frozen=True, slots=True)
class Drawn:
    """What parcels could not give, and what became of them.

    unmet : [day, path]; expired : [day], mean over paths, on the day after its last; taken : by parcel
    in the order drawn, the first and the last day on which any path drew from it (None: never).
    """

    unmet: Array
    expired: Array
    taken: tuple[tuple[Parcel, tuple[int, int] | None], ...] = ()


def in_turn(parcels: Iterable[Parcel]) -> list[Parcel]:
    """Parcels in the order they are drawn on any day: earliest last day first."""
    return sorted(parcels, key=lambda p: (p.last, p.first))


def draw(parcels: Iterable[Parcel], gross: Array) -> Drawn:
    """Gross requirement met from parcels, first expired first out, none before or after its days.

    Taking the parcels one by one in order of their last day is the same as taking them day by day:
    a parcel gives way only to those that expire before it. So there is no loop over days.

    gross : [day, path], item's unit, never negative
    """
    n_days = gross.shape[0]
    unmet = gross.copy()
    asked = gross.max(axis=1, initial=0.0) > 0  # days on which some path still asks
    expired = np.zeros(n_days)
    taken: list[tuple[Parcel, tuple[int, int] | None]] = []
    for parcel in in_turn(parcels):
        days = np.flatnonzero(asked[parcel.first : parcel.last + 1])
        used = None
        left = parcel.quantity
        if days.size:
            window = unmet[parcel.first + days[0] : parcel.first + days[-1] + 1]
            given = _given(window, parcel.quantity)
            left = parcel.quantity - given.sum(axis=0)
            drew = np.flatnonzero(given.max(axis=1) > DUST)
            if drew.size:
                first = parcel.first + int(days[0])
                used = first + int(drew[0]), first + int(drew[-1])
                window -= given
                asked[used[0] : used[1] + 1] = unmet[used[0] : used[1] + 1].max(axis=1) > 0
        taken.append((parcel, used))
        if parcel.last + 1 < n_days:
            rest = float(np.mean(left))
            expired[parcel.last + 1] += rest if rest > DUST else 0.0
    return Drawn(unmet, expired, tuple(taken))


def _given(window: Array, quantity: float | Array) -> Array:
    """What a quantity gives to needs in the order of days, [day, path]."""
    if np.min(quantity) >= float(window.sum(axis=0).max()):
        return window.copy()
    there: Array = quantity - np.cumsum(window, axis=0)
    there += window
    np.maximum(there, 0.0, out=there)
    np.minimum(there, window, out=there)
    return there


def received(parcels: Iterable[Parcel], n_days: int, kind: str) -> Array:
    """Mean over paths of what parcels of a kind bring, by day."""
    came = np.zeros(n_days)
    for parcel in parcels:
        if parcel.kind == kind and parcel.first < n_days:
            came[parcel.first] += np.mean(parcel.quantity)
    return came


def fallen(quantity: Array, offset: int | None) -> Sequence[Parcel]:
    """By-products of each day as parcels. quantity : [day, path]; offset None: they keep for ever."""
    n_days = quantity.shape[0]
    days = np.flatnonzero(quantity.max(axis=1) > DUST)
    return [
        Parcel(int(t), n_days if offset is None else int(t) + offset, quantity[t], "by-product") for t in days
    ]
