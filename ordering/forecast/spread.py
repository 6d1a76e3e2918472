"""Spread of counts: negative binomial, with dispersion and calibration learnt from pseudo-forecasts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, gammaln, ndtri

Array = NDArray[np.float64]
Index = NDArray[np.int64]

BUCKETS = ((1, 7), (8, 14), (15, 60))
EXACT_BELOW = 40.0
GRID = np.concatenate([[0.0, 0.005], np.arange(1, 40) / 40.0, [0.995, 1.0]])
PRIOR_COUNT = 300.0  # nights that tell a variance to within a twelfth, the root of 2 / nights
PRIOR_ORIGINS = 16.0
FADING = 0.85
FEWEST_RANKS = 10
LEAST_DISPERSION = 1e-4
UNKNOWN_DISPERSION = 0.08


@dataclass(frozen=True, slots=True)
class Spread:
    """How counts scatter about their mean, by bucket of how far ahead.

    dispersion : [item, bucket], alpha of variance = mean + alpha mean^2
    calibration : [item, bucket, grid], the nominal rank to use in place of each rank of GRID
    score : [item, origin, ahead], past normal scores, NaN where not known
    """

    dispersion: Array
    calibration: Array
    score: Array


def count_cdf(y: Array, mean: Array, dispersion: Array) -> Array:
    """P(Y <= y) of a negative binomial; `dispersion` 0 or less is Poisson. All of one shape."""
    size = 1.0 / np.maximum(dispersion, LEAST_DISPERSION)
    mean = np.maximum(mean, 1e-9)
    return np.asarray(np.where(y < 0, 0.0, 1.0 - betainc(np.maximum(y, 0) + 1.0, size, mean / (size + mean))))


def middle_rank(y: Array, mean: Array, dispersion: Array) -> Array:
    """Middle of the step of the distribution function at what came. Shapes as in `count_cdf`."""
    size = 1.0 / np.maximum(dispersion, LEAST_DISPERSION)
    mean = np.maximum(mean, 1e-9)
    known = gammaln(y + size) - gammaln(size) - gammaln(y + 1)
    step = np.exp(known - size * np.log1p(mean / size) + y * np.log(mean / (size + mean)))
    return np.asarray(count_cdf(y, mean, dispersion) - step / 2)


def _table_quantile(mean: Array, dispersion: Array, rank: Array) -> Array:
    """Exact quantiles [row, rank] of small means, from the table of the distribution."""
    size = 1.0 / np.maximum(dispersion, LEAST_DISPERSION)
    deviation = np.sqrt(mean + mean**2 / size)
    top = int(np.ceil((mean + 9 * deviation + 12).max()))
    k = np.arange(1, top + 1)
    chance = (mean / (size + mean))[:, None]
    ratio = (size[:, None] + k - 1) / k * chance
    first = np.exp(-size * np.log1p(mean / size))
    mass = np.concatenate([first[:, None], first[:, None] * np.cumprod(ratio, axis=1)], axis=1)
    table = np.minimum(np.cumsum(mass, axis=1), 1.0)
    shift = 2.0 * np.arange(len(mean))[:, None]
    place = np.searchsorted((table + shift).ravel(), (np.minimum(rank, 1 - 1e-9) + shift).ravel())
    return np.asarray(np.minimum(place.reshape(rank.shape) - np.arange(len(mean))[:, None] * (top + 1), top))


def _wide_quantile(mean: Array, dispersion: Array, rank: Array) -> Array:
    """Quantiles of large means, rounded: a gamma with the same mean and variance.

    mean, dispersion : [row]; rank and what comes back: [row, rank].

    Notes
    -----
    Wilson and Hilferty (1931): the cube root of a gamma is close to normal. From memory.
    """
    shape = 1.0 / (np.maximum(dispersion, LEAST_DISPERSION) + 1.0 / mean)[:, None]
    score = ndtri(np.clip(rank, 1e-9, 1 - 1e-9))
    root = 1 - 1 / (9 * shape) + score / (3 * np.sqrt(shape))
    return np.asarray(np.floor(mean[:, None] * np.maximum(root, 0) ** 3 + 0.5))


def count_quantile(mean: Array, dispersion: Array, rank: Array) -> Array:
    """Quantiles of negative binomial counts.

    Parameters
    ----------
    mean, dispersion : ndarray, shape (row,)
    rank : ndarray, shape (row, rank) in 0 to 1

    Returns
    -------
    ndarray, shape (row, rank), whole numbers, never negative
    """
    found = np.zeros(rank.shape)
    small = (mean < EXACT_BELOW) & (mean > 1e-6)
    if small.any():
        found[small] = _table_quantile(mean[small], dispersion[small], rank[small])
    wide = mean >= EXACT_BELOW
    if wide.any():
        found[wide] = _wide_quantile(mean[wide], dispersion[wide], rank[wide])
    return found


def _dispersions(y: Array, mean: Array, bucket: Index, prior: Array) -> Array:
    """Shapes as in `learnt_spread`; returns [item, bucket].

    What each night missed is weighed by one over the square of its variance, or weekdays of many guests alone
    would say how far the others scatter (Davidian and Carroll, Variance function estimation, 1987, from
    memory).
    """
    recent = FADING ** np.arange(y.shape[1])[::-1]
    within = (bucket[:, None] == np.arange(len(BUCKETS))).astype(float)
    known = np.isfinite(y) * recent[:, None]
    weight = known / (1 + prior[:, None, None] * mean) ** 2
    above = weight * ((np.where(np.isfinite(y), y, 0.0) - mean) ** 2 - mean)
    missed, squared, nights = ((part @ within).sum(axis=1) for part in (above, weight * mean**2, known))
    each = squared / np.maximum(nights, 1)
    found = (missed + PRIOR_COUNT * prior[:, None] * each) / np.maximum(squared + PRIOR_COUNT * each, 1e-12)
    return np.clip(np.where(squared > 0, found, prior[:, None]), LEAST_DISPERSION, 4.0)


def learnt_spread(y: Array, mean: Array, bucket: Index, prior: Array) -> Spread:
    """Dispersion by bucket and recalibration from what pseudo-forecasts missed.

    Parameters
    ----------
    y, mean : [item, origin, ahead]; y NaN where not known
    bucket : [ahead]
    prior : [item], dispersion believed before any pseudo-forecast

    Notes
    -----
    A past rank is the middle of the step of the distribution function at what came. The map from
    nominal to past ranks is shrunk to nominal by the number of origins behind it.
    """
    dispersion = _dispersions(y, mean, bucket, prior)
    known = np.isfinite(y)
    came, meant = y[known], mean[known]
    spread = np.broadcast_to(dispersion[:, None, bucket], y.shape)[known]
    rank = np.full(y.shape, np.nan)
    rank[known] = middle_rank(came, meant, spread)
    calibration = np.stack([calibrated(rank[:, :, bucket == b]) for b in range(len(BUCKETS))], axis=1)
    return Spread(dispersion, calibration, ndtri(np.clip(rank, 1e-4, 1 - 1e-4)))


def calibrated(rank: Array) -> Array:
    """Maps of GRID [..., grid] learnt from past ranks [..., origin, ahead], NaN where not known.

    Later origins count for more, as they do for the dispersion these ranks were read with; how far a map is
    believed goes by the number of origins that many weights are worth (Kish, Survey Sampling, 1965, from
    memory).
    """
    known = np.isfinite(rank)
    recent = FADING ** np.arange(rank.shape[-2])[::-1]
    n_ranks = known.sum(axis=(-2, -1))
    seen = known.any(axis=-1) * recent
    n_origins = seen.sum(axis=-1) ** 2 / np.maximum((seen**2).sum(axis=-1), 1e-12)
    effective = np.minimum(n_origins, n_ranks / 2)
    trust = np.where(n_ranks >= FEWEST_RANKS, effective / (effective + PRIOR_ORIGINS), 0.0)[..., None]
    past = _weighted_quantiles(rank, known * recent[:, None], GRID[1:-1])
    mixed = np.broadcast_to(GRID, (*n_ranks.shape, len(GRID))).copy()
    mixed[..., 1:-1] = np.where(trust > 0, trust * past + (1 - trust) * GRID[1:-1], GRID[1:-1])
    return np.asarray(np.maximum.accumulate(np.clip(mixed, 0, 1), axis=-1))


def _weighted_quantiles(values: Array, weight: Array, levels: Array) -> Array:
    """Quantiles [..., level] over the last two axes, each value in the middle of its weight's share."""
    *lead, n_origins, n_ahead = values.shape
    flat = values.reshape(int(np.prod(lead)), n_origins * n_ahead)
    weights = np.broadcast_to(weight, values.shape).reshape(flat.shape)
    found = np.full((len(flat), len(levels)), np.nan)
    for row, (one, share) in enumerate(zip(flat, weights, strict=True)):
        kept = share > 0
        if kept.any():
            by_size = np.argsort(one[kept], kind="stable")
            share = share[kept][by_size]
            middle = (np.cumsum(share) - share / 2) / share.sum()
            found[row] = np.interp(levels, middle, one[kept][by_size])
    return found.reshape(*lead, len(levels))


def recalibrated(rank: Array, calibration: Array) -> Array:
    """Rank to read off the distribution for each nominal rank: `calibration` over GRID.

    calibration : [grid]; rank : any shape.
    """
    return np.asarray(np.interp(rank, GRID, calibration))


def nan_quantiles(values: Array, levels: Array) -> Array:
    """Quantiles along the last axis, NaN left out.

    Parameters
    ----------
    values : [..., n], NaN where nothing is known
    levels : [level], 0 to 1

    Returns
    -------
    [..., level], NaN where nothing at all is known

    Notes
    -----
    Hazen's rule: the i-th of n values in sequence stands for the level (i - 1/2) / n, and what lies
    between two is interpolated; the median is the usual one. The same numbers as NumPy's `quantile`
    with method "hazen" (a test holds them together), which knows no NaN.
    """
    if not values.shape[-1]:
        return np.full((*values.shape[:-1], len(levels)), np.nan)
    sequence = np.sort(values, axis=-1)
    last = np.isfinite(values).sum(axis=-1)[..., None] - 1
    place = np.clip((last + 1) * levels - 0.5, 0, np.maximum(last, 0))
    below = np.floor(place).astype(np.intp)
    low = np.take_along_axis(sequence, below, axis=-1)
    high = np.take_along_axis(sequence, np.minimum(below + 1, np.maximum(last, 0)), axis=-1)
    return np.asarray(low + (high - low) * (place - below))


def dispersion_ratio(y: Array) -> Array:
    """Variance over mean about a weekday's own recent average, at least 1, shape (item,).

    Robust: from the median absolute difference between a day and the same weekday a week earlier.
    """
    weekly = y[:, 7:] - y[:, :-7]
    known = np.isfinite(weekly)
    count = known.sum(axis=1)
    step = np.where(known, weekly, 0.0)
    level = np.where(known, y[:, 7:] + y[:, :-7], 0.0).sum(axis=1) / 2
    square = (step**2).sum(axis=1)
    n = np.maximum(count, 1)
    variance = square / n - (step.sum(axis=1) / n) ** 2
    typical = nan_quantiles(weekly**2, np.array([0.5]))[:, 0]
    seen = np.minimum(variance, 4.4 * typical) / 2 / np.maximum(level / n, 1e-9)
    prior = 1.0 + UNKNOWN_DISPERSION * np.nanmean(y, axis=1)
    trust = np.where(count >= 5, count / (count + 5), 0.0)
    return np.asarray(prior + trust * (np.maximum(1.0, np.where(count >= 5, seen, 1.0)) - prior))


def believed_dispersion(y: Array, ratio: Array) -> Array:
    """Alpha of a negative binomial, from the variance over mean of each series; shape (item,)."""
    level = np.nanmean(y, axis=1)
    return np.asarray(np.clip((ratio - 1) / np.maximum(level, 1e-9), 1e-3, 2.0))


def bucket_of(ahead: int) -> Index:
    """Bucket of each step 1 .. ahead, shape (ahead,); steps beyond 60 count as the last."""
    step = np.arange(1, ahead + 1)
    return np.asarray(np.minimum(np.searchsorted([low for low, _ in BUCKETS], step, side="right") - 1, 2))
