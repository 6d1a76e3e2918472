"""Quantiles and sample paths of one series from its mean, its spread and its scores."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ordering.forecast.paths import Scores, dealt, even_ranks
from ordering.forecast.series_forecast import SeriesForecast
from ordering.forecast.spread import GRID, count_quantile, recalibrated
from ordering.records.plan import QUANTILES

Array = NDArray[np.float64]
Index = NDArray[np.int64]

UNKNOWN_DISPERSION = 0.2
MOST_TIMES = 6.0
EVEN_RANKS = (np.arange(100) + 0.5) / 100


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
    calibration : [bucket, grid], rank to use for each of the grid; bucket : [slot], which of them
    most : nothing beyond this is drawn
    """

    dispersion: Array
    calibration: Array
    bucket: Index
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
    The mean given back is that of the calibrated distribution, the one the paths are drawn from.
    """
    n, usual = len(QUANTILES), len(QUANTILES) + len(EVEN_RANKS)
    nominal = np.concatenate([QUANTILES, EVEN_RANKS, even_ranks(score.shape[1])])
    ranks = np.stack([recalibrated(nominal, one) for one in scatter.calibration])[scatter.bucket]
    certain = np.asarray(sure, dtype=np.float64).reshape(-1, 1)
    found = np.minimum(certain + count_quantile(mean, scatter.dispersion, ranks), scatter.most)
    return Marginals(found[:, n:usual].mean(axis=1), found[:, :n], dealt(found[:, usual:], score))


def scatter_of(found: SeriesForecast | None, row: int, day: Index, left: Array) -> Scatter:
    """Scatter of one series on the days given: at most six times what was ever seen.

    row : its row in `found`, -1 when it has no past; left : [slot], share of the spread that remains
    """
    if found is None or row < 0:
        return Scatter(UNKNOWN_DISPERSION * left, GRID[None], np.zeros(len(day), dtype=np.int64), np.inf)
    bucket, spread = found.bucket[day], found.spread
    most = MOST_TIMES * max(float(found.most[row]), 2.0)
    dispersion = spread.dispersion[row, bucket] * left
    return Scatter(dispersion, spread.calibration[row], bucket, np.floor(most))
