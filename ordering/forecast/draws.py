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
EVEN_RANKS = (np.arange(100) + 0.5) / 100


@dataclass(frozen=True, slots=True)
class Drawn:
    """mean : [slot], quantiles : [slot, quantile], paths : [slot, path]; whole numbers but the mean."""

    mean: Array
    quantiles: Array
    paths: Array


def drawn(mean: Array, scatter: tuple[Array, list[Array]], score: Array) -> Drawn:
    """The marginal of each slot, and paths that have it.

    Parameters
    ----------
    mean : [slot]
    scatter : dispersion [slot], and for each slot the calibration over the grid of ranks
    score : [slot, path], normal scores that say which path is high where

    Notes
    -----
    The mean given back is that of the calibrated distribution, the one the paths are drawn from.
    """
    dispersion, calibration = scatter
    levels = np.concatenate([QUANTILES, EVEN_RANKS])
    ranks = np.concatenate([np.broadcast_to(levels, (len(mean), len(levels))), even_ranks(score)], axis=1)
    for n, one in enumerate(calibration):
        ranks[n] = recalibrated(ranks[n], one)
    found = count_quantile(mean, dispersion, ranks)
    n = len(QUANTILES)
    return Drawn(found[:, n : len(levels)].mean(axis=1), found[:, :n], found[:, len(levels) :])


def scatter_of(found: Outlook | None, row: int, day: Index, left: Array) -> tuple[Array, list[Array]]:
    """Dispersion and calibration of one series on the days given.

    row : its row in `found`, -1 when it has no past; left : [slot], share of the spread that remains
    """
    if found is None or row < 0:
        return UNKNOWN_DISPERSION * left, []
    bucket = found.bucket[day]
    return found.spread.dispersion[row, bucket] * left, [found.spread.calibration[row, b] for b in bucket]
