"""Spread of counts: negative binomial, moved and drawn wider as pseudo-forecasts show."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, gammaln, ndtri

Array = NDArray[np.float64]
Index = NDArray[np.int64]

BUCKETS = ((1, 7), (8, 14), (15, 60))
EXACT_BELOW = 40.0  # from here on gammas are off by a hundredth of the ranks at most, and quicker
PARTS = (np.arange(3) + 0.5) / 3  # of the step of the distribution function at a count
MIDDLE = 1  # of the parts
HALF, TENTH = 0.674490, 1.644854  # normal scores that half and a tenth of all are further from 0 than
FURTHEST = 3.72  # no score of a past night counts for more: one in ten thousand
EDGES = np.linspace(-FURTHEST, FURTHEST, 373)[1:]  # of the bins past scores are counted in, 0.02 wide
SHIFT_ORIGINS, WIDTH_ORIGINS = 24.0, 4.0
FADING = 0.875  # half in five origins
LEAST_DISPERSION = 1e-4
UNKNOWN_DISPERSION = 0.08


@dataclass(frozen=True, slots=True)
class Spread:
    """How counts scatter about their mean, by bucket of how far ahead.

    dispersion : [item], alpha of variance = mean + alpha mean^2, as weeks differ from one another
    shift : [item, bucket], deviations by which counts came above the mean
    width : [item, bucket, 2], scale of the normal scores about that, of the middle half and the outer tenth
    score : [item, origin, ahead], past normal scores, NaN where not known
    """

    dispersion: Array
    shift: Array
    width: Array
    score: Array

    def moved(self, mean: Array, bucket: Index) -> Array:
        """The means [item, ahead] with what pseudo-forecasts so far ahead have missed; bucket : [ahead]."""
        deviation = np.sqrt(mean + self.dispersion[:, None] * mean**2)
        return np.maximum(mean + self.shift[:, bucket] * deviation, 0.02 * mean)

    def standard(self, bucket: Index) -> Array:
        """Past scores [item, origin, ahead] about the shift, drawn to a width of 1; bucket : [ahead]."""
        return np.asarray((self.score - self.shift[:, None, bucket]) / self.width[:, None, bucket, 0])


def count_cdf(y: Array, mean: Array, dispersion: Array) -> Array:
    """P(Y <= y) of a negative binomial; `dispersion` 0 or less is Poisson. All of one shape."""
    size = 1.0 / np.maximum(dispersion, LEAST_DISPERSION)
    mean = np.maximum(mean, 1e-9)
    return np.asarray(np.where(y < 0, 0.0, 1.0 - betainc(np.maximum(y, 0) + 1.0, size, mean / (size + mean))))


def count_scores(y: Array, mean: Array, dispersion: Array) -> Array:
    """Normal scores [..., part] of three parts of the step of the distribution function at what came.

    Of counts that are a negative binomial's indeed these are standard normal, however wide the steps.
    y, mean, dispersion : all of one shape; y NaN where not known, as what comes back.

    Notes
    -----
    Czado, Gneiting and Held, Predictive model assessment for count data, Biometrics 65, 2009, from memory.
    """
    shape = _gamma_shape(mean, dispersion)[..., None]
    root = np.cbrt(np.maximum(y[..., None] - 0.5 + PARTS, 0.0) / np.maximum(mean, 1e-9)[..., None])
    found = (root - 1 + 1 / (9 * shape)) * 3 * np.sqrt(shape)
    small = np.isfinite(y) & (mean < EXACT_BELOW)
    few = y[small], mean[small], dispersion[small]
    rank = count_cdf(*few)[:, None] - _mass(*few)[:, None] * (1 - PARTS)
    found[small] = ndtri(np.clip(rank, 0.0, 1.0))
    return np.clip(found, -FURTHEST, FURTHEST)


def _mass(y: Array, mean: Array, dispersion: Array) -> Array:
    """P(Y = y) of a negative binomial. Shapes as in `count_cdf`."""
    size, mean = 1.0 / np.maximum(dispersion, LEAST_DISPERSION), np.maximum(mean, 1e-9)
    known = gammaln(y + size) - gammaln(size) - gammaln(y + 1)
    return np.asarray(np.exp(known - size * np.log1p(mean / size) + y * np.log(mean / (size + mean))))


def _gamma_shape(mean: Array, dispersion: Array) -> Array:
    """Shape of the gamma with the mean and variance of a count; both of one shape."""
    return np.asarray(1.0 / np.maximum(dispersion + 1.0 / np.maximum(mean, 1e-9), LEAST_DISPERSION))


def _table_quantile(mean: Array, dispersion: Array, score: Array) -> Array:
    """Exact quantiles [row, score] of small means, from the table of the distribution.

    Of counts that scatter less than chance it is the Poisson's, whose scores are drawn in.
    """
    size = 1.0 / np.maximum(dispersion, LEAST_DISPERSION)
    deviation = np.sqrt(mean + mean**2 / size)
    top = int(np.ceil((mean + 9 * deviation + 12).max()))
    k = np.arange(1, top + 1)
    chance = (mean / (size + mean))[:, None]
    ratio = (size[:, None] + k - 1) / k * chance
    first = np.exp(-size * np.log1p(mean / size))
    mass = np.concatenate([first[:, None], first[:, None] * np.cumprod(ratio, axis=1)], axis=1)
    drawn_in = np.sqrt(np.clip(1 + dispersion * mean, 0.01, 1.0))[:, None]
    table = np.clip(ndtri(np.minimum(np.cumsum(mass, axis=1), 1.0)), -9.0, 9.0)
    shift = 20.0 * np.arange(len(mean))[:, None]
    wanted = np.clip(score * drawn_in, -9.0, 5.9)  # the table ends at one in a thousand million
    place = np.searchsorted((table + shift).ravel(), (wanted + shift).ravel())
    return np.asarray(np.minimum(place.reshape(score.shape) - np.arange(len(mean))[:, None] * (top + 1), top))


def _wide_quantile(mean: Array, dispersion: Array, score: Array) -> Array:
    """Quantiles of large means, rounded: a gamma with the same mean and variance.

    mean, dispersion : [row]; score and what comes back: [row, score].

    Notes
    -----
    Wilson and Hilferty (1931): the cube root of a gamma is close to normal. From memory.
    """
    shape = _gamma_shape(mean, dispersion)[:, None]
    root = 1 - 1 / (9 * shape) + score / (3 * np.sqrt(shape))
    return np.asarray(np.floor(mean[:, None] * np.maximum(root, 0) ** 3 + 0.5))


def count_quantile(mean: Array, dispersion: Array, score: Array) -> Array:
    """Quantiles of negative binomial counts.

    Parameters
    ----------
    mean, dispersion : ndarray, shape (row,); dispersion below 0 where counts scatter less than chance
    score : ndarray, shape (row, score), normal scores of the ranks

    Returns
    -------
    ndarray, shape (row, score), whole numbers, never negative
    """
    found = np.zeros(score.shape)
    small = (mean < EXACT_BELOW) & (mean > 1e-6)
    if small.any():
        found[small] = _table_quantile(mean[small], dispersion[small], score[small])
    wide = mean >= EXACT_BELOW
    if wide.any():
        found[wide] = _wide_quantile(mean[wide], dispersion[wide], score[wide])
    return found


def learnt_spread(y: Array, mean: Array, bucket: Index, dispersion: Array) -> Spread:
    """What pseudo-forecasts missed, by bucket of how far ahead they looked.

    Parameters
    ----------
    y, mean : [item, origin, ahead]; y NaN where not known
    bucket : [ahead]
    dispersion : [item], that of weeks among one another
    """
    parts = count_scores(y, mean, np.broadcast_to(dispersion[:, None, None], y.shape))
    learnt = [shift_and_width(parts[:, :, bucket == b]) for b in range(len(BUCKETS))]
    shift, width = (np.stack(one, axis=1) for one in zip(*learnt, strict=True))
    return Spread(dispersion, shift, width, parts[..., MIDDLE])


def shift_and_width(parts: Array) -> tuple[Array, Array]:
    """Where past normal scores lie and how wide, [item] and [item, 2]: 0 and 1 as far as little is known.

    parts : [item, origin, ahead, part], NaN where not known

    Notes
    -----
    The median of the scores, and the distances from it that half and nine tenths keep within, against those
    of a normal: what closures and feasts did once moves neither far. Later origins count for more; how far
    all is believed goes by the number of origins that so many weights are worth (Kish, Survey Sampling, 1965,
    from memory).
    """
    known = np.isfinite(parts)
    recent = FADING ** np.arange(parts.shape[1])[::-1]
    seen = known.any(axis=(2, 3)) * recent
    n = seen.sum(axis=1) ** 2 / np.maximum((seen**2).sum(axis=1), 1e-12)
    n = np.minimum(n, known.sum(axis=(1, 2, 3)) / (2 * parts.shape[3]))
    item, origin, *_ = np.nonzero(known)
    bins = np.searchsorted(EDGES, parts[known]) + len(EDGES) * item
    mass = np.bincount(bins, recent[origin], len(parts) * len(EDGES)).reshape(len(parts), -1)
    below = np.cumsum(mass, axis=1) / np.maximum(mass.sum(axis=1, keepdims=True), 1e-12)
    shift, width, reach = np.zeros(len(parts)), np.ones((len(parts), 2)), EDGES - EDGES[0]
    for row in np.flatnonzero(n):
        shift[row] = n[row] / (n[row] + SHIFT_ORIGINS) * np.interp(0.5, below[row], EDGES)
        high, low = (np.interp(shift[row] + side * reach, EDGES, below[row]) for side in (1, -1))
        away = np.interp([0.5, 0.9], high - low, reach) / [HALF, TENTH]
        width[row] = np.maximum(away, 0.2) ** (n[row] / (n[row] + WIDTH_ORIGINS))
    return shift, width


def stretched(score: Array, width: Array) -> Array:
    """Normal scores [row, score] whose outer tenth is as far out as `width` says against the middle half.

    score : [score]; width : [row, 2]
    """
    outer = np.clip((np.abs(score) - HALF) / (TENTH - HALF), 0.0, 1.0)
    return np.asarray(score * (1 + (width[:, 1:] / width[:, :1] - 1) * outer))


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
