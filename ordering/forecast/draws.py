"""Quantiles and sample paths of one series from its mean, its spread and its scores."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ordering.forecast.outlook import Outlook
from ordering.forecast.paths import even_ranks
from ordering.forecast.spread import count_quantile, recalibrated
from ordering.records.plan import QUANTILES

Array = NDArray[np.float64]
Index = NDArray[np.int64]

UNKNOWN_DISPERSION = 0.2
MOST_TIMES = 6.0
EVEN_RANKS = (np.arange(100) + 0.5) / 100


@dataclass(frozen=True, slots=True)
class Drawn:
    """mean : [slot], quantiles : [slot, quantile], paths : [slot, path]; whole numbers but the mean."""

    mean: Array
    quantiles: Array
    paths: Array


@dataclass(frozen=True, slots=True)
class Scatter:
    """How one series scatters about its mean.

    dispersion : [slot], alpha of variance = mean + alpha mean^2; calibration : for each slot the rank
    to use for each of the grid, or none at all; most : nothing beyond this is drawn
    """

    dispersion: Array
    calibration: tuple[Array, ...]
    most: float


def drawn(mean: Array, scatter: Scatter, score: Array) -> Drawn:
    """The marginal of each slot, and paths that have it.

    Parameters
    ----------
    mean : [slot]
    score : [slot, path], normal scores that say which path is high where

    Notes
    -----
    The mean given back is that of the calibrated distribution, the one the paths are drawn from.
    """
    levels = np.concatenate([QUANTILES, EVEN_RANKS])
    ranks = np.concatenate([np.broadcast_to(levels, (len(mean), len(levels))), even_ranks(score)], axis=1)
    for n, one in enumerate(scatter.calibration):
        ranks[n] = recalibrated(ranks[n], one)
    found = np.minimum(count_quantile(mean, scatter.dispersion, ranks), scatter.most)
    n = len(QUANTILES)
    return Drawn(found[:, n : len(levels)].mean(axis=1), found[:, :n], found[:, len(levels) :])


def scatter_of(found: Outlook | None, row: int, day: Index, left: Array) -> Scatter:
    """Scatter of one series on the days given: at most six times what was ever seen.

    row : its row in `found`, -1 when it has no past; left : [slot], share of the spread that remains
    """
    if found is None or row < 0:
        return Scatter(UNKNOWN_DISPERSION * left, (), np.inf)
    bucket, spread = found.bucket[day], found.spread
    most = MOST_TIMES * max(float(found.most[row]), 2.0)
    calibration = tuple(spread.calibration[row, b] for b in bucket)
    return Scatter(spread.dispersion[row, bucket] * left, calibration, np.floor(most))
