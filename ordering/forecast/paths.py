"""Sample paths of a series: its marginals, dealt out by normal scores; a stream for each dish and service."""

from __future__ import annotations

import zlib
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from ordering.forecast.series_forecast import SeriesForecast
from ordering.forecast.spread import count_quantile, stretched
from ordering.records.books import Books
from ordering.records.house import Dish, House
from ordering.records.plan import QUANTILES

Array = NDArray[np.float64]
Scores = NDArray[np.float32]  # only their sequence counts: half as many bytes are drawn and sorted sooner
Index = NDArray[np.int64]

PERSISTENCE = 0.97
NEAR_DAYS = 28
NEAR_FADE = 0.76  # mean of 0.97 to the days between two of 28 days
USUAL_SHARE = 0.1
PRIOR_ORIGINS = 4.0
OWN_ORIGINS = 12.0
STEP_POWER = 0.573  # log(2 / pi) / log(0.455)
UNKNOWN_DISPERSION = 0.2
EVEN_RANKS = (np.arange(50) + 0.5) / 50
FIRST_SALES = 8


def stream(seed: int, name: str) -> np.random.Generator:
    """Random numbers that depend on the seed and on the name alone."""
    return np.random.default_rng([seed, zlib.crc32(name.encode())])


def scores(rng: np.random.Generator, day: Index, lasting: float, n_paths: int) -> Scores:
    """Standard normal scores whose level lasts from day to day.

    Parameters
    ----------
    day : [slot], days from today, ascending
    lasting : share of the variance that lasts, fading by 0.97 a day

    Returns
    -------
    [slot, path]

    Notes
    -----
    The level of a day is 0.97 that of the day before and a share of its own that keeps its variance at 1;
    written out, a sum of every day's own share faded by the days since.
    """
    n_days = int(day.max()) + 1 if len(day) else 0
    fresh = rng.standard_normal((n_days, n_paths), dtype=np.float32)[day]
    if lasting <= 0:
        return fresh
    own = rng.standard_normal((n_days, n_paths), dtype=np.float32)
    level = (np.sqrt(lasting) * _faded(tuple(day.tolist()))).astype(np.float32) @ own
    return np.asarray(level + np.float32(np.sqrt(1 - lasting)) * fresh)


@lru_cache(maxsize=16)
def _faded(day: tuple[int, ...]) -> Array:
    """What is left on each slot's day of every earlier day's own share, [slot, day]; alike for all dishes."""
    since = np.array(day)[:, None] - np.arange(day[-1] + 1)
    share = np.where(since >= 0, PERSISTENCE ** np.maximum(since, 0), 0.0)
    share[:, 1:] *= np.sqrt(1 - PERSISTENCE**2)
    return share


def seen_through_steps(variance: Array) -> Array:
    """Share of the variance of a normal score that is seen where only the middle of its step is known.

    Any shape.

    variance : of those middles. The share is 1 where steps are narrow, 2 / pi of two equal steps, whose
    middles have the variance 0.455, and a power of the variance in between.
    """
    return np.asarray(np.minimum(variance, 1.0) ** STEP_POWER)


def lasting_shares(score: Array) -> Array:
    """Share of the variance of each series that lasts from day to day, shape (item,).

    Parameters
    ----------
    score : [item, origin, ahead], past normal scores, NaN where not known

    Notes
    -----
    The mean product of the scores of two days seen from one origin, over all items together; each item's own
    is shrunk to that. The scores of a dish that sells a few a day are the middles of wide steps: they vary
    less than the scores behind them, and say less of each other, by `seen_through_steps`.
    """
    near = score[:, :, :NEAR_DAYS]
    n = np.isfinite(near).sum(axis=2)
    total, square = np.nansum(near, axis=2), np.nansum(near**2, axis=2)
    pairs = n * (n - 1)
    variance = square.sum(axis=1) / np.maximum(n.sum(axis=1), 1)
    scale = NEAR_FADE * np.maximum(variance * seen_through_steps(variance), 1e-9)[:, None]
    product = np.where(pairs > 0, total**2 - square, 0.0) / scale
    origins = (n > 3).sum(axis=1)
    most = float(origins.max(initial=0))
    whole = product.sum() / max(float(pairs.sum()), 1.0)
    common = (most * whole + PRIOR_ORIGINS * USUAL_SHARE) / (most + PRIOR_ORIGINS)
    own = product.sum(axis=1) / np.maximum(pairs.sum(axis=1), 1)
    shrunk = (origins * own + OWN_ORIGINS * common) / (origins + OWN_ORIGINS)
    return np.asarray(np.clip(shrunk, 0.0, 0.8))


def even_ranks(n_paths: int) -> Array:
    """Ranks of the paths of a slot, ascending, evenly spread in 0 to 1. Returns [path].

    A Latin hypercube in each slot, so that even a few hundred paths have the marginal asked for.
    """
    return np.asarray((np.arange(n_paths) + 0.5) / n_paths)


def dealt(values: Array, score: Scores) -> Array:
    """Values [slot, path], ascending in each slot, dealt out so that who scores highest gets the most.

    Of equal scores the later path's counts for more, so that every machine deals alike.
    """
    found = np.empty(score.shape)
    unequal = score + 1e-12 * np.arange(score.shape[-1])
    np.put_along_axis(found, np.argsort(unequal, axis=-1), values, axis=-1)
    return found


def moved_by(common: Scores, own: Scores, share: float) -> Scores:
    """Scores with correlation `share` to the common ones, still standard normal."""
    return np.asarray(np.float32(share) * common + np.float32(np.sqrt(1 - share**2)) * own)


@dataclass(frozen=True, slots=True)
class Marginals:
    """mean : [slot], quantiles : [slot, quantile], paths : [slot, path]; whole numbers but the mean."""

    mean: Array
    quantiles: Array
    paths: Array


@dataclass(frozen=True, slots=True)
class Scatter:
    """How one series scatters about its mean.

    dispersion : [slot], alpha of variance = mean + alpha mean^2
    width : [slot, 2], how far out the tail is, as in `Spread`
    most : nothing beyond this is drawn
    """

    dispersion: Array
    width: Array
    most: float


def with_sure(mean: Array, scatter: Scatter, sure: Array, left: Array) -> tuple[Array, Scatter]:
    """Mean and scatter of what is still to come beside `sure` guests: only `left` of the variance stays.

    Parameters
    ----------
    mean : [slot], all that is expected; at least `sure`
    sure, left : [slot], guests that come for certain, share of the variance of all that is left
    """
    rest = np.maximum(mean - sure, 1e-3)
    variance = left * (mean + scatter.dispersion * mean**2)
    dispersion = np.where(sure > 0, np.maximum(variance - rest, 0.0) / rest**2, left * scatter.dispersion)
    return np.where(sure > 0, rest, mean), replace(scatter, dispersion=dispersion)


def drawn(mean: Array, scatter: Scatter, score: Scores, sure: Array | float = 0.0) -> Marginals:
    """The marginal of each slot, and paths that have it.

    Parameters
    ----------
    mean : [slot], beside `sure`, [slot], whole guests added without spread
    score : [slot, path], normal scores that say which path is high where

    Notes
    -----
    The mean given back is that of the distribution the paths are drawn from, however many there are.
    """
    n, usual = len(QUANTILES), len(QUANTILES) + len(EVEN_RANKS)
    nominal = ndtri(np.concatenate([QUANTILES, EVEN_RANKS, even_ranks(score.shape[1])]))
    certain = np.asarray(sure, dtype=np.float64).reshape(-1, 1)
    counts = certain + count_quantile(mean, scatter.dispersion, stretched(nominal, scatter.width))
    found = np.minimum(counts, scatter.most)
    return Marginals(found[:, n:usual].mean(axis=1), found[:, :n], dealt(found[:, usual:], score))


def scatter_of(found: SeriesForecast | None, row: int, mean: Array, day: Index, left: Array) -> Scatter:
    """Scatter of one series about its mean on the days given: no more than the series' most.

    row : its row in `found`, -1 when it has no past; mean, left : [slot], share of the spread that remains
    """
    if found is None or row < 0:
        return Scatter(UNKNOWN_DISPERSION * left, np.ones((len(day), 2)), np.inf)
    width, alpha = found.spread.width[row, found.bucket[day]], float(found.spread.dispersion[row])
    chance = 1 / np.maximum(mean, 1e-9)
    dispersion = width[:, 0] ** 2 * (alpha + chance) - chance
    return Scatter(dispersion * left, width, np.floor(found.most[row]))


def draw_keys(house: House, books: Books) -> Mapping[tuple[str, str], str]:
    """By (dish, service), the name of its stream of random numbers.

    It goes by the first days the dish was sold at the service and how much of it; where it never was, by
    what it is made of. So a dish renamed in house and books keeps its draws, a dish added changes none of
    the others, and those of one that sells stay the same from day to day. Dishes alike in all of this are
    told apart by the name on the menu.
    """
    first = books.sales.groupby(["dish", "service"], sort=False).head(FIRST_SALES)
    sold: dict[tuple[str, str], list[str]] = defaultdict(list)
    days = np.datetime_as_string(first["date"].to_numpy(), unit="D").tolist()
    for dish, service, day, n in zip(first["dish"], first["service"], days, first["sold"], strict=True):
        sold[str(dish), str(service)].append(f"{day.replace('-', '')} {n:g}")
    alike: dict[tuple[str, str], list[Dish]] = defaultdict(list)
    for one in house.dishes.values():
        for service in one.services:
            seen = "; ".join(sold.get((one.id, service), ()))
            alike[service, seen or f"{one.recipe} {one.portion:g} {one.price} {one.from_on}"].append(one)
    keys = {}
    for (service, what), dishes in alike.items():
        for n, one in enumerate(sorted(dishes, key=lambda d: (d.name, d.id))):
            keys[one.id, service] = f"dish {what} {service} {n}"
    return keys
