"""How good a forecast was: the usual measures, NaN actuals left out.

Sources: Hyndman and Athanasopoulos, Forecasting: Principles and Practice, 3rd ed., sections 5.8 and
5.9 (MAE, MASE, quantile score); WAPE, bias and coverage are common practice.
Every function gives NaN where nothing can be said.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

SEASON_DAYS = 7


def _pair(actual: ArrayLike, forecast: ArrayLike) -> tuple[Array, Array]:
    """Both as arrays of one shape, (n,), without the pairs in which one is not known."""
    a, f = np.asarray(actual, dtype=float), np.asarray(forecast, dtype=float)
    if a.shape != f.shape:
        raise ValueError(f"{a.shape} actuals and {f.shape} forecasts do not match")
    known = np.isfinite(a) & np.isfinite(f)
    return a[known], f[known]


def mae(actual: ArrayLike, forecast: ArrayLike) -> float:
    """Mean absolute error, in the unit of the actuals. ValueError: shapes differ."""
    a, f = _pair(actual, forecast)
    return float(np.abs(a - f).mean()) if a.size else float("nan")


def wape(actual: ArrayLike, forecast: ArrayLike) -> float:
    """Sum of absolute errors over the sum of actuals, a fraction. ValueError: shapes differ."""
    a, f = _pair(actual, forecast)
    return float(np.abs(a - f).sum() / a.sum()) if a.size and a.sum() > 0 else float("nan")


def bias(actual: ArrayLike, forecast: ArrayLike) -> float:
    """Forecast too high (positive) or too low, as a fraction of the sum of actuals."""
    a, f = _pair(actual, forecast)
    return float((f - a).sum() / a.sum()) if a.size and a.sum() > 0 else float("nan")


def seasonal_scale(history: ArrayLike, season: int = SEASON_DAYS) -> float:
    """Mean absolute difference between days a season apart: what MASE is measured in.

    Parameters
    ----------
    history : ndarray, shape (n_days,), consecutive days before the forecast; NaN where closed
    season : days in a season, 7 for a week
    """
    past = np.asarray(history, dtype=float)
    steps = np.abs(past[season:] - past[:-season])
    known = np.isfinite(steps)
    return float(steps[known].mean()) if known.any() else float("nan")


def mase(actual: ArrayLike, forecast: ArrayLike, scale: float) -> float:
    """Mean absolute error over `seasonal_scale` of the history (Hyndman and Koehler 2006)."""
    return mae(actual, forecast) / scale if scale > 0 else float("nan")


def quantile_scores(actual: ArrayLike, quantile: ArrayLike, level: ArrayLike) -> Array:
    """Quantile score of each forecast, with the factor 2 of the source. All of one shape.

    2 (1 - p) (q - y) where the actual y falls below the quantile q, 2 p (y - q) elsewhere.
    """
    y, q, p = (np.asarray(v, dtype=float) for v in (actual, quantile, level))
    return np.asarray(2 * np.where(y < q, (1 - p) * (q - y), p * (y - q)))


def pinball(actual: ArrayLike, quantiles: ArrayLike, levels: ArrayLike) -> float:
    """Mean quantile score over days and levels, in the unit of the actuals.

    Parameters
    ----------
    actual : ndarray, shape (n_days,)
    quantiles : ndarray, shape (n_days, n_levels)
    levels : ndarray, shape (n_levels,), between 0 and 1
    """
    y = np.asarray(actual, dtype=float)
    scores = quantile_scores(y[:, None], quantiles, np.asarray(levels, dtype=float)[None, :])
    known = np.isfinite(scores)
    return float(scores[known].mean()) if known.any() else float("nan")


def coverage(actual: ArrayLike, lower: ArrayLike, upper: ArrayLike) -> float:
    """Share of the actuals that fell within the interval, both ends included."""
    y, low = _pair(actual, lower)
    _, high = _pair(actual, upper)
    return float(((y >= low) & (y <= high)).mean()) if y.size else float("nan")
