"""How good the forecast of one service has been lately, in a line that does not flatter."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from ordering.accuracy import bias, wape
from ordering.forecast.series_forecast import SeriesForecast
from ordering.forecast.spread import calibrated, recalibrated

Array = NDArray[np.float64]
Index = NDArray[np.int64]

LATELY_AHEAD = 14
WEEKS_BACK = 8
FEWEST_DAYS = 14


def seasonal_naive(y: Array, origins: Index, ahead: int) -> Array:
    """The same weekday's last value known at each origin, up to eight weeks back; NaN when none.

    y : [day]; origins : [origin], days of `y`. Returns [origin, ahead].
    """
    step = np.arange(ahead)
    found = np.full((len(origins), ahead), np.nan)
    for week in range(1, WEEKS_BACK + ahead // 7 + 2):
        rows = origins[:, None] + step[None, :] - 7 * week
        usable = (rows >= 0) & (rows < origins[:, None])
        value = np.where(usable, y[np.clip(rows, 0, len(y) - 1)], np.nan)
        found = np.where(np.isfinite(found), found, value)
    return found


def quality_line(service: str, found: SeriesForecast, y: Array) -> str:
    """Bias, WAPE and coverage of the pseudo-forecasts up to 14 days ahead, beside seasonal naive.

    Parameters
    ----------
    found : forecast of the covers of one service; its pseudo-forecasts are each weighed, and their
        intervals calibrated, without themselves
    y : [day], the covers they were made of
    """
    actual, mean = found.past[0, :, :LATELY_AHEAD], found.past_mean[0, :, :LATELY_AHEAD]
    naive = seasonal_naive(y, found.origins[:-1], LATELY_AHEAD)
    both = np.isfinite(actual) & np.isfinite(naive)
    if both.sum() < FEWEST_DAYS or not np.nansum(actual):
        return f"{service}: too little past to say how good the forecast is"
    ours, theirs = wape(actual[both], mean[both]), wape(actual[both], naive[both])
    held = _held(found)
    head = (
        f"{service}: up to {LATELY_AHEAD} days ahead, from {len(actual)} earlier days: "
        f"bias {100 * bias(actual, mean):+.0f} %, WAPE {100 * ours:.0f} %, "
        f"8-times-in-10 interval held {100 * held:.0f} % of the time"
    )
    if ours < theirs:
        return f"{head}; better than seasonal naive (WAPE {100 * theirs:.0f} %)"
    return f"{head}; no better than seasonal naive (WAPE {100 * theirs:.0f} %): check it against last week"


def _held(found: SeriesForecast) -> float:
    """Share of past actuals within the 80 % interval, calibrated without the origin itself."""
    rank = ndtr(found.spread.score[0, :, :LATELY_AHEAD])
    n_origins = len(rank)
    without = np.where(np.eye(n_origins, dtype=bool)[:, :, None], np.nan, rank)
    bucket = found.bucket[:LATELY_AHEAD]
    inside = np.zeros(rank.shape, dtype=bool)
    for b in np.unique(bucket):
        at = bucket == b
        maps = calibrated(without[:, :, at])
        for o in range(n_origins):
            low, high = recalibrated(np.array([0.1, 0.9]), maps[o])
            inside[o, at] = (rank[o, at] >= low) & (rank[o, at] <= high)
    return float(inside[np.isfinite(rank)].mean())
