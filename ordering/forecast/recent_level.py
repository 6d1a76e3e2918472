"""What the last weeks say that the regression does not: levels that fade, shifts that stay."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.special import logsumexp

from ordering.forecast.known import known_quantiles

Array = NDArray[np.float64]

BACK = 28
LEVEL_DAYS = (28, 14, 7)
LEVEL_FADING = 0.99
WEEKDAY_SPREAD = 0.1
SHIFT_DAYS = (7, 10, 14, 21, 28, 42, 56, 84, 112, 140)
SHIFT_BACK = 196
SHIFT_SPREAD = 0.4
SHIFT_CHANCE = 0.01
WANDER = 0.1
WANDER_ORIGINS = 5.0
import os
from scipy.stats import chi2
ROBUST_LEVEL = float(os.environ.get("RL", "0.75"))
CHI_SQUARE = chi2.ppf(ROBUST_LEVEL, 1)
SHIFT_CHANCE = float(os.environ.get("SC", "0.01"))
WANDER = float(os.environ.get("WA", "0.1"))


def with_shifts(mean: Array, y: Array, ratio: Array) -> Array:
    """Means lifted for good where guests have stayed away, or come, since one of some days.

    Parameters
    ----------
    mean, y : [item, origin, 196 + ahead], what the regression makes of the days about each origin and what
        came, NaN where not known
    ratio : [item], variance over mean

    Returns
    -------
    [item, origin, 196 + ahead]

    Notes
    -----
    One level until a day and another since, or the same throughout: the evidence for each day is the ratio
    of two normal densities of the difference of the log levels (Bayes factor, Kass and Raftery 1995, from
    memory), whose variance is that of the counts and of how far levels wander anyway, learnt from all
    origins. A shift stays; everything else is left to `with_levels`.
    """
    back, ahead = SHIFT_BACK, mean.shape[2] - SHIFT_BACK
    known = np.isfinite(y[:, :, :back])
    came = np.cumsum(np.where(known, y[:, :, :back], 0.0)[:, :, ::-1], axis=2)
    meant = np.cumsum(np.where(known, mean[:, :, :back], 0.0)[:, :, ::-1], axis=2)
    since = np.array(SHIFT_DAYS) - 1
    before = np.minimum(2 * since + 29, back - 1)
    c, m = came[:, :, since], meant[:, :, since]
    c0, m0 = came[:, :, before] - c, meant[:, :, before] - m
    r = ratio[:, None, None]
    noise = r / np.maximum(m, 1e-9) + r / np.maximum(m0, 1e-9)
    step = np.log((c + r / 2) / (m + r / 2)) - np.log((c0 + r / 2) / (m0 + r / 2))
    usable = (m > 0) & (m0 > 2 * r) & (m > 2 * r)
    step = np.where(usable, step, 0.0)
    wander = _wander(np.where(usable, step**2, np.nan)[:, :-1], np.where(usable, noise, 0.0)[:, :-1])
    variance = noise + wander[:, None, :]
    wide = variance + SHIFT_SPREAD**2
    evidence = 0.5 * np.log(variance / wide) + step**2 / 2 * (1 / variance - 1 / wide) + np.log(SHIFT_CHANCE)
    evidence = np.where(usable, evidence, -np.inf)
    whole = np.logaddexp(0.0, logsumexp(evidence, axis=2))
    chance = np.exp(evidence - whole[:, :, None])
    lift = _lift(c, m, r, SHIFT_SPREAD)
    total = np.zeros(mean.shape)
    day = np.arange(-back, ahead)
    for k, days in enumerate(SHIFT_DAYS):
        total += np.where(day >= -days, (chance * lift)[:, :, k, None], 0.0)
    return mean * np.exp(total)


def _wander(square: Array, noise: Array) -> Array:
    """Variance of the differences beyond that of the counts, [item, span]; both [item, origin, span]."""
    n = np.isfinite(square).sum(axis=1)
    usual = known_quantiles(square.transpose(0, 2, 1), np.array([ROBUST_LEVEL]))[..., 0] / CHI_SQUARE
    excess = np.maximum(np.nan_to_num(usual) - noise.sum(axis=1) / np.maximum(n, 1), 0.0)
    return np.asarray((n * excess + WANDER_ORIGINS * WANDER**2) / (n + WANDER_ORIGINS))


def with_levels(mean: Array, y: Array, ratio: Array, spread: float) -> Array:
    """Candidates of one design: lifted by the residuals of the last 28, 14 and 7 days.

    Parameters
    ----------
    mean, y : [item, origin, 28 + ahead]; y NaN where not known
    ratio : [item], variance over mean
    spread : how far the level is believed to stray, as a standard deviation on the log scale

    Returns
    -------
    [item, origin, 1 + 3, ahead]: first the one of 28 days with each weekday lifted by its own
    residuals too, which follows a weekday pattern that has changed
    """
    known = np.isfinite(y[:, :, :BACK])
    came = np.where(known, y[:, :, :BACK], 0.0)
    meant = np.where(known, mean[:, :, :BACK], 0.0)
    ahead = mean[:, :, BACK:]
    fading = LEVEL_FADING ** np.arange(1, ahead.shape[2] + 1)
    found = []
    for days in LEVEL_DAYS:
        lift = _lift(came[:, :, -days:].sum(axis=2), meant[:, :, -days:].sum(axis=2), ratio[:, None], spread)
        found.append(ahead * np.exp(lift[:, :, None] * fading))
        if days == BACK:
            by_weekday = (*came.shape[:2], BACK // 7, 7)
            lifted = (meant * np.exp(lift)[:, :, None]).reshape(by_weekday).sum(axis=2)
            own = _lift(came.reshape(by_weekday).sum(axis=2), lifted, ratio[:, None, None], WEEKDAY_SPREAD)
            found.insert(0, found[0] * np.exp(own[:, :, np.arange(ahead.shape[2]) % 7]))
    return np.stack(found, axis=2)


def _lift(came: Array, meant: Array, ratio: Array, spread: float) -> Array:
    """Log of the level believed in after `came` where `meant` was expected.

    Notes
    -----
    The level is gamma about 1 with standard deviation `spread`, the counts Poisson in units of `ratio`:
    the mean of what is believed afterwards (Gelman and others, Bayesian Data Analysis, section 2.6, from
    memory). It is linear in what came, so that ups and downs of a small dish do not pull it below its
    mean, as the mean of their logs would.
    """
    prior = spread**-2
    return np.asarray(np.log((prior + came / ratio) / (prior + meant / ratio)))
