"""Portions of every dish of one service: own regression, mixed with covers times menu mix."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ordering.forecast.candidates import Design, History
from ordering.forecast.covers import Coming, days_of
from ordering.forecast.outlook import Outlook, outlook
from ordering.forecast.regressors import terms
from ordering.records.house import House

Array = NDArray[np.float64]
Index = NDArray[np.int64]

# A dish's own regression follows a slow trend, or it would lag behind a house that grows, once there is
# enough past to tell a trend from the season. Its share of the covers needs none and strays less.
DESIGNS = (
    Design(trend_spread=0.05, trend_from=500, extra_pairs=-1, level_spread=0.2),
    Design(extra_pairs=-2, has_offset=True, level_spread=0.12),
)
LEARNING_DAYS = 14.0
ALIKE = (
    "no sales show what guests eat: one portion each is planned, all dishes alike; look over every amount "
    "before ordering"
)


@dataclass(frozen=True, slots=True)
class Portions:
    """Dishes of one service as if they were always on, rows in the order of `dishes`.

    outlook : of the dishes with a past, whose rows in it are `row` (-1: none)
    mean : [dish, ahead]; link : [dish], correlation of a dish's scatter with that of the covers
    """

    dishes: tuple[str, ...]
    row: Index
    outlook: Outlook | None
    mean: Array
    link: Array
    notes: tuple[str, ...]


def coming_portions(house: House, coming: Coming, dishes: Sequence[str], ahead: int) -> Portions:
    """Forecast of every dish of the service, new dishes included."""
    past = coming.past
    has_past = np.asarray(np.isfinite(past.sold).any(axis=1))
    row = np.where(has_past, np.cumsum(has_past) - 1, -1)
    found = None
    mean = np.zeros((len(dishes), ahead))
    link = np.full(len(dishes), 0.3)
    if has_past.any():
        found = _own(coming, has_past, ahead)
        mean[has_past] = found.mean
        link[has_past] = _links(found, coming.outlook)
        mean, notes = _lent(house, coming, dishes, mean)
    else:
        mean, notes = _alike(house, coming, dishes, ahead)
    return Portions(tuple(dishes), row, found, mean, link, notes)


def _own(coming: Coming, has_past: NDArray[np.bool_], ahead: int) -> Outlook:
    past = coming.past
    y = past.sold[has_past]
    made = terms(days_of(past, ahead), coming.special, (), is_detailed=False)
    known = np.isfinite(past.covers) & (past.covers > 0)
    level = np.nanmean(past.covers) if known.any() else 1.0
    offset = np.log(np.where(known, past.covers, max(level, 0.5)))
    pick = _every_third(coming.outlook.origins)
    origins = coming.outlook.origins[pick]
    history = History(y, past.sold_out[has_past], np.broadcast_to(offset, y.shape), made, origins)
    return outlook(history, DESIGNS, ahead, coming.exposure[pick])


def _every_third(origins: Index) -> Index:
    """Places of every third origin, counted from today back: enough for a dish."""
    return np.arange(len(origins))[::-1][::3][::-1]


def _links(found: Outlook, covers: Outlook) -> Array:
    """Correlation of each dish's past scores with the covers', shrunk to 0.3."""
    own, common = found.spread.score, covers.spread.score[:1, _every_third(covers.origins)[:-1]]
    both = np.isfinite(own) & np.isfinite(common)
    a, b = np.where(both, own, 0.0), np.where(both, common, 0.0)
    count = both.sum(axis=(1, 2))
    product = (a * b).sum(axis=(1, 2))
    size = np.sqrt((a**2).sum(axis=(1, 2)) * (b**2).sum(axis=(1, 2)))
    raw = product / np.maximum(size, 1e-9)
    return np.asarray(np.clip((count * raw + 40 * 0.3) / (count + 40), 0.0, 0.95))


def _alike(house: House, coming: Coming, dishes: Sequence[str], ahead: int) -> tuple[Array, tuple[str, ...]]:
    """One portion a guest, in equal shares over the dishes on offer that day: no sale shows what is eaten."""
    past = coming.past
    days = days_of(past, ahead)[past.n_days : past.n_days + ahead]
    on = np.array([[house.dishes[dish].is_on(day, past.service) for day in days] for dish in dishes])
    share = on / np.maximum(on.sum(axis=0), 1)
    return share * coming.outlook.mean[0], (f"{past.service}: {ALIKE}",)


def _lent(house: House, coming: Coming, dishes: Sequence[str], mean: Array) -> tuple[Array, tuple[str, ...]]:
    """Means with what a dish short of history borrows from the one it is like, or from the menu."""
    own_days = np.isfinite(coming.past.sold).sum(axis=1)
    place = {dish: n for n, dish in enumerate(dishes)}
    typical = (
        np.median(mean[own_days >= LEARNING_DAYS], axis=0) if (own_days >= LEARNING_DAYS).any() else None
    )
    lent = mean.copy()
    notes = []
    for n, dish in enumerate(dishes):
        if own_days[n] >= 4 * LEARNING_DAYS:
            continue
        like = house.dishes[dish].like
        trust = own_days[n] / (own_days[n] + LEARNING_DAYS)
        if like in place and own_days[place[like]] > own_days[n]:
            other: Array | None = mean[place[like]]
        else:
            other = typical
            if own_days[n] == 0:
                notes.append(_unknown(house.dishes[dish].name, typical is not None))
        if other is not None:
            lent[n] = trust * mean[n] + (1 - trust) * other
    return lent, tuple(notes)


def _unknown(name: str, has_typical: bool) -> str:
    if has_typical:
        return f"{name}: never sold, and 'like' no dish that was; taken as an average dish of the menu"
    return f"{name}: nothing sold in the books, so no portions are forecast; write a dish it is 'like'"
