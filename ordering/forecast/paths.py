"""Normal scores for sample paths: one stream for each dish and service, whatever else there is."""

from __future__ import annotations

import zlib

import numpy as np
from numpy.typing import NDArray

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
    since = day[:, None] - np.arange(n_days)
    share = np.where(since >= 0, PERSISTENCE ** np.maximum(since, 0), 0.0)
    share[:, 1:] *= np.sqrt(1 - PERSISTENCE**2)
    level = (np.sqrt(lasting) * share).astype(np.float32) @ own
    return np.asarray(level + np.float32(np.sqrt(1 - lasting)) * fresh)


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
    """Values [slot, path], ascending in each slot, dealt out so that who scores highest gets the most."""
    found = np.empty(score.shape)
    np.put_along_axis(found, np.argsort(score, axis=-1, kind="stable"), values, axis=-1)
    return found


def moved_by(common: Scores, own: Scores, share: float) -> Scores:
    """Scores with correlation `share` to the common ones, still standard normal."""
    return np.asarray(np.float32(share) * common + np.float32(np.sqrt(1 - share**2)) * own)
