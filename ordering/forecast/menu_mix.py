"""Portions of every dish of one service: its share of the covers, followed by its own regression."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ordering.days import service_title
from ordering.forecast.candidates import Design, History
from ordering.forecast.covers import CoverForecast
from ordering.forecast.new_dishes import believed, of_sisters
from ordering.forecast.paths import USUAL_SHARE, lasting_shares, seen_through_steps
from ordering.forecast.regressors import terms
from ordering.forecast.series_forecast import SeriesForecast, series_forecast
from ordering.records.books import SisterShare
from ordering.records.house import House

Array = NDArray[np.float64]
Index = NDArray[np.int64]

# A dish is followed by its share of the covers, which strays little: most of what a weekday, a season or
# growth does to a dish, it does to the covers.
DESIGNS = (Design(trend_spread=0.1, trend_from=500, believed=0.15),)
# Of covers that scatter by chance alone and a dish that one guest in eleven takes, the root of that share.
USUAL_LINK = 0.3
PRIOR_DAYS = 60.0  # nights that tell a variance to within a fifth, the root of 2 / nights
ALIKE = (
    "no sales show what guests eat: one portion each is planned, all dishes alike; look over every amount "
    "before ordering"
)


@dataclass(frozen=True, slots=True)
class DishForecasts:
    """Dishes of one service as if they were always on, rows in the order of `dishes`.

    series : of the dishes with a past, whose rows in it are `row` (-1: none)
    mean : [dish, ahead]; link : [dish], correlation of a dish's scatter with that of the covers
    lasting : [dish], share of that scatter's variance that lasts from day to day
    level_variance : [dish], of the log level of a dish of few sales, beyond the scatter of nights
    """

    dishes: tuple[str, ...]
    row: Index
    series: SeriesForecast | None
    mean: Array
    link: Array
    lasting: Array
    level_variance: Array
    notes: tuple[str, ...]


def dish_forecasts(
    house: House,
    coming: CoverForecast,
    dishes: Sequence[str],
    ahead: int,
    sisters: Mapping[tuple[str, str], SisterShare],
) -> DishForecasts:
    """Forecast of every dish of the service, new dishes included.

    sisters : by service and dish, what the other houses of the group sell
    """
    past = coming.past
    has_past = np.asarray(np.isfinite(past.sold).any(axis=1))
    row = np.where(has_past, np.cumsum(has_past) - 1, -1)
    link = np.full(len(dishes), USUAL_LINK)
    lasting = np.full(len(dishes), USUAL_SHARE)
    if not has_past.any():
        mean, notes = _alike(house, coming, dishes, ahead)
        share, variance = of_sisters(past.service, dishes, sisters)
        mean = np.where(variance[:, None] > 0, share[:, None] * coming.series.mean[0], mean)
        return DishForecasts(tuple(dishes), row, None, mean, link, lasting, variance, notes)
    found = _own(coming, has_past, ahead)
    link[has_past] = _links(found, coming.series)
    lasting[has_past] = lasting_shares(found.scores)
    made = believed(house, coming, dishes, row, found, sisters)
    return DishForecasts(tuple(dishes), row, found, made.mean, link, lasting, made.level_variance, made.notes)


def _own(coming: CoverForecast, has_past: NDArray[np.bool_], ahead: int) -> SeriesForecast:
    """Each dish by its share of the covers; has_past : [dish]."""
    past = coming.past
    y = past.sold[has_past]
    made = terms(past.days(ahead), coming.special, (), is_detailed=False)
    known = np.isfinite(past.covers) & (past.covers > 0)
    level = np.nanmean(past.covers) if known.any() else 1.0
    offset = np.log(np.where(known, past.covers, max(level, 0.5)))
    pick = _every_other(coming.series.origins)
    history = History(
        y=y,
        is_least=past.sold_out[has_past],
        offset=np.broadcast_to(offset, y.shape),
        terms=made,
        origins=coming.series.origins[pick],
        exposure=coming.exposure[pick],
        has_seasons=False,
    )
    return series_forecast(history, DESIGNS, ahead)


def _every_other(origins: Index) -> Index:
    """Places of every other origin, counted from today back: enough for a dish. Both [origin]."""
    return np.arange(len(origins))[::-1][::2][::-1]


def _links(found: SeriesForecast, covers: SeriesForecast) -> Array:
    """Correlation of each dish's scatter with the covers', shape (dish,): its past scores, shrunk to 0.3.

    All are then drawn nearer or further by one factor, so that the sum of all dishes scatters as it did.
    """
    own, common = found.scores, covers.scores[:1, _every_other(covers.origins)[:-1]]
    both = np.isfinite(own) & np.isfinite(common)
    a, b = np.where(both, own, 0.0), np.where(both, common, 0.0)
    count = both.sum(axis=(1, 2))
    product, square = (a * b).sum(axis=(1, 2)), (a**2).sum(axis=(1, 2))
    size = np.sqrt(square * (b**2).sum(axis=(1, 2)))
    seen = np.sqrt(seen_through_steps(square / np.maximum(count, 1)))
    raw = product / np.maximum(size * seen, 1e-9)
    shrunk = np.clip((count * raw + 40 * USUAL_LINK) / (count + 40), 0.0, 0.95)
    return np.asarray(np.clip(shrunk * _tightness(found, shrunk), 0.0, 0.95))


def _tightness(found: SeriesForecast, link: Array) -> float:
    """Factor on all links with which the dishes together scatter as far as their sum did, near 1 at first.

    link : [dish].
    """
    known = np.isfinite(found.past).all(axis=0)
    if not known.any():
        return 1.0
    mean = found.past_mean[:, known]
    moved = link[:, None] * np.sqrt(mean + found.spread.dispersion[:, None] * mean**2)
    came, shared = _products(found.past[:, known] - mean), _products(moved)
    prior = PRIOR_DAYS * shared / known.sum()
    square = (came + prior) / max(shared + prior, 1e-9)
    return float(np.sqrt(max(square, 0.0)))


def _products(values: Array) -> float:
    """Sum of the products of every dish with every other on the same night; values : [dish, night]."""
    return float((values.sum(axis=0) ** 2).sum() - (values**2).sum())


def _alike(
    house: House, coming: CoverForecast, dishes: Sequence[str], ahead: int
) -> tuple[Array, tuple[str, ...]]:
    """One portion a guest, in equal shares over the dishes on offer that day: no sale shows what is eaten.

    Returns [dish, ahead].
    """
    past = coming.past
    days = past.days(ahead)[past.n_days :]
    on = np.array([[house.dishes[dish].is_on(day, past.service) for day in days] for dish in dishes])
    share = on / np.maximum(on.sum(axis=0), 1)
    return share * coming.series.mean[0], (f"{service_title(past.service)}: {ALIKE}",)
