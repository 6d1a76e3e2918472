"""Normal scores for sample paths: one stream for each dish and service, whatever else there is."""

from __future__ import annotations

import zlib

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Index = NDArray[np.int64]

PERSISTENCE = 0.97
NEAR_DAYS = 28
NEAR_FADE = 0.76  # mean of 0.97 to the days between two of 28 days
USUAL_SHARE = 0.2
PRIOR_ORIGINS = 6.0


def stream(seed: int, name: str) -> np.random.Generator:
    """Random numbers that depend on the seed and on the name alone."""
    return np.random.default_rng([seed, zlib.crc32(name.encode())])


def scores(rng: np.random.Generator, day: Index, lasting: float, n_paths: int) -> Array:
    """Standard normal scores whose level lasts from day to day.

    Parameters
    ----------
    day : [slot], days from today, ascending
    lasting : share of the variance that lasts, fading by 0.97 a day

    Returns
    -------
    [slot, path]
    """
    n_days = int(day.max()) + 1 if len(day) else 0
    own = rng.standard_normal((n_days, n_paths))
    fresh = rng.standard_normal((n_days, n_paths))
    level = np.empty_like(own)
    step = np.sqrt(1 - PERSISTENCE**2)
    for n in range(n_days):
        level[n] = own[n] if n == 0 else PERSISTENCE * level[n - 1] + step * own[n]
    return np.asarray(np.sqrt(lasting) * level[day] + np.sqrt(1 - lasting) * fresh[day])


def lasting_share(score: Array) -> float:
    """Share of the variance that lasts from day to day, from past scores [origin, ahead].

    The mean product of the scores of two days seen from one origin, shrunk to a fifth.
    """
    near = score[:, :NEAR_DAYS]
    known = np.isfinite(near)
    n = known.sum(axis=1)
    total, square = np.nansum(near, axis=1), np.nansum(near**2, axis=1)
    pairs = (n * (n - 1)).sum()
    if pairs < 20:
        return USUAL_SHARE
    variance = square.sum() / n.sum()
    seen = (total**2 - square).sum() / pairs / max(variance, 1e-9) / NEAR_FADE
    origins = float((n > 3).sum())
    shrunk = (origins * seen + PRIOR_ORIGINS * USUAL_SHARE) / (origins + PRIOR_ORIGINS)
    return float(np.clip(shrunk, 0.0, 0.8))


def even_ranks(score: Array) -> Array:
    """Places of the paths among each other, evenly spread in 0 to 1: the order of `score` kept.

    A Latin hypercube in each slot, so that even a few hundred paths have the marginal asked for.
    """
    n_paths = score.shape[-1]
    rank = np.empty(score.shape)
    ranks = np.broadcast_to((np.arange(n_paths) + 0.5) / n_paths, score.shape)
    np.put_along_axis(rank, np.argsort(score, axis=-1, kind="stable"), ranks, axis=-1)
    return rank


def moved_by(common: Array, own: Array, share: float | Array) -> Array:
    """Scores with correlation `share` to the common ones, still standard normal."""
    return np.asarray(share * common + np.sqrt(1 - np.asarray(share) ** 2) * own)
