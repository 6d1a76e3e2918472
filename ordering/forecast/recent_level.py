"""What the last weeks say that the regression does not: levels that fade, shifts that stay."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from ordering.forecast.spread import nan_quantiles

Array = NDArray[np.float64]

BACK = 28
LEVEL_DAYS = (28, 4)
LEVEL_FADING = 0.99
LEVEL_SPREAD = 0.2  # how far a level is believed to stray, as a standard deviation on the log scale
WEEKDAY_SPREAD = 0.1
SHIFT_DAYS = (7, 10, 14, 21, 28, 42, 56, 84, 112, 140, 182, 230)
SHIFT_BACK = 322
LAST_YEAR, ABOUT = 364, 7  # the same weekday a year ago, and days looked at on either side of it
FURTHEST_BACK = LAST_YEAR + ABOUT
SHIFT_SPREAD = 0.4
SHIFT_CHANCE = 0.03
WANDER = 0.1
WANDER_ORIGINS = 5.0
ROBUST_LEVEL, CHI_SQUARE = 0.75, 1.323304  # that quantile of a chi-square of one degree of freedom


def with_shifts(mean: Array, y: Array, ratio: Array) -> Array:
    """Means lifted for good where guests have stayed away, or come, since one of some days.

    Parameters
    ----------
    mean, y : [item, origin, 322 + ahead], what the regression makes of the days about each origin and what
        came, NaN where not known
    ratio : [item], variance over mean

    Returns
    -------
    [item, origin, 28 + ahead], means of the last four weeks and of the days to come

    Notes
    -----
    One level until a day and another since, or the same throughout: the evidence for each day is the ratio
    of two normal densities of the difference of the log levels (Bayes factor, Kass and Raftery 1995, from
    memory), whose variance is that of the counts and of how far levels wander anyway, learnt from all
    origins. A shift stays; everything else is left to `with_levels`.
    """
    since, before = _sums(mean, y)
    r = ratio[:, None, None]
    is_known = (since[1] > 2 * r) & (before[1] > 2 * r)
    step = np.where(is_known, _log_ratio(*since, r) - _log_ratio(*before, r), 0.0)
    noise = np.where(is_known, r / np.maximum(since[1], 1e-9) + r / np.maximum(before[1], 1e-9), 0.0)
    wander = _wander(np.where(is_known, step**2, np.nan)[:, :-1], noise[:, :-1])
    chance = _chances(step, noise + wander[:, None, :], is_known)
    lift = chance * _lift(*since, r, SHIFT_SPREAD)
    has_shifted = np.arange(-BACK, mean.shape[2] - SHIFT_BACK) >= -np.array(SHIFT_DAYS)[:, None]
    return np.asarray(mean[:, :, SHIFT_BACK - BACK :] * np.exp(lift @ has_shifted))


def _sums(mean: Array, y: Array) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """What came and was expected since each day of a possible shift; the same of as long before and 28 days.

    Each [item, origin, shift].
    """
    known = np.isfinite(y[:, :, :SHIFT_BACK])
    came, meant = (np.where(known, part[:, :, :SHIFT_BACK], 0.0) for part in (y, mean))
    days_ago, first = np.arange(SHIFT_BACK, 0, -1)[:, None], np.array(SHIFT_DAYS)
    is_since = days_ago <= first
    is_before = ~is_since & (days_ago <= 2 * first + BACK)
    since, before = is_since.astype(float), is_before.astype(float)
    return (came @ since, meant @ since), (came @ before, meant @ before)


def _log_ratio(came: Array, meant: Array, ratio: Array) -> Array:
    """Log of what came over what was meant, half a usual count added to both: all of one shape."""
    return np.asarray(np.log((came + ratio / 2) / (meant + ratio / 2)))


def _chances(step: Array, variance: Array, is_known: NDArray[np.bool_]) -> Array:
    """Probability of a shift on each of the days, [item, origin, shift]; what is left is of none."""
    wide = variance + SHIFT_SPREAD**2
    evidence = 0.5 * np.log(variance / wide) + step**2 / 2 * (1 / variance - 1 / wide)
    odds = np.where(is_known, np.log(SHIFT_CHANCE) + evidence, -np.inf)
    whole = np.logaddexp(0.0, logsumexp(odds, axis=2))
    return np.asarray(np.exp(odds - whole[:, :, None]))


def _wander(square: Array, noise: Array) -> Array:
    """Variance of the differences beyond that of the counts, [item, span]; both [item, origin, span]."""
    n = np.isfinite(square).sum(axis=1)
    usual = nan_quantiles(square.transpose(0, 2, 1), np.array([ROBUST_LEVEL]))[..., 0] / CHI_SQUARE
    excess = np.maximum(np.nan_to_num(usual) - noise.sum(axis=1) / np.maximum(n, 1), 0.0)
    return np.asarray((n * excess + WANDER_ORIGINS * WANDER**2) / (n + WANDER_ORIGINS))


def as_last_year(mean: Array, y: Array, ratio: Array) -> Array:
    """How much more, as a factor, came a year before each day ahead than a year before the origin.

    What a season does within weeks is no yearly wave. Each day is told by the fifteen about it.

    Parameters
    ----------
    mean, y : [item, origin, 371 + ahead]; y NaN where not known
    ratio : [item], variance over mean

    Returns
    -------
    [item, origin, ahead], against the mean; 1 where nothing is known of one of the two
    """
    known = np.isfinite(y[:, :, :FURTHEST_BACK])
    ahead = np.arange(mean.shape[2] - FURTHEST_BACK)
    first, end = (np.minimum(ahead + days, FURTHEST_BACK) for days in (0, 2 * ABOUT + 1))
    until = np.zeros((*known.shape[:2], FURTHEST_BACK + 1))

    def about(values: Array) -> Array:
        """Sums [item, origin, ahead] of the days known; values : [item, origin, 371 + ahead]."""
        np.cumsum(np.where(known, values[:, :, :FURTHEST_BACK], 0.0), axis=2, out=until[:, :, 1:])
        return until[:, :, end] - until[:, :, first]

    meant = about(mean)
    lift = _lift(about(y), meant, ratio[:, None, None], LEVEL_SPREAD)
    return np.where(np.minimum(meant, meant[:, :, :1]) > 0, np.exp(lift - lift[:, :, :1]), 1.0)


def with_levels(mean: Array, y: Array, ratio: Array) -> Array:
    """Candidates of one design: as it is, and lifted by the residuals of the last 28 and 4 days.

    Parameters
    ----------
    mean, y : [item, origin, 28 + ahead]; y NaN where not known
    ratio : [item], variance over mean

    Returns
    -------
    [item, origin, 2 + 2, ahead]: the second is that of 28 days with each weekday lifted by its own
    residuals too, which follows a weekday pattern that has changed
    """
    known = np.isfinite(y[:, :, :BACK])
    came = np.where(known, y[:, :, :BACK], 0.0)
    meant = np.where(known, mean[:, :, :BACK], 0.0)
    ahead = mean[:, :, BACK:]
    fading = LEVEL_FADING ** np.arange(1, ahead.shape[2] + 1)
    found = []
    for days in LEVEL_DAYS:
        lift = _lift(
            came[:, :, -days:].sum(axis=2), meant[:, :, -days:].sum(axis=2), ratio[:, None], LEVEL_SPREAD
        )
        found.append(ahead * np.exp(lift[:, :, None] * fading))
        if days == BACK:
            by_weekday = (*came.shape[:2], BACK // 7, 7)
            lifted = (meant * np.exp(lift)[:, :, None]).reshape(by_weekday).sum(axis=2)
            own = _lift(came.reshape(by_weekday).sum(axis=2), lifted, ratio[:, None, None], WEEKDAY_SPREAD)
            found.insert(0, found[0] * np.exp(own[:, :, np.arange(ahead.shape[2]) % 7]))
    return np.stack([ahead, *found], axis=2)


def _lift(came: Array, meant: Array, ratio: Array, spread: float) -> Array:
    """Log of the level believed in after `came` where `meant` was expected. All of one shape.

    Notes
    -----
    The level is gamma about 1 with standard deviation `spread`, the counts Poisson in units of `ratio`:
    the mean of what is believed afterwards (Gelman and others, Bayesian Data Analysis, section 2.6, from
    memory). It is linear in what came, so that ups and downs of a small dish do not pull it below its
    mean, as the mean of their logs would.
    """
    prior = spread**-2
    return np.asarray(np.log((prior + came / ratio) / (prior + meant / ratio)))
