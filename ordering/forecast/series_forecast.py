"""From the history of one or many series to their coming means and spread.

How much each candidate counts is learnt from pseudo-forecasts, by how far ahead they looked.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from ordering.forecast.candidates import (
    Design,
    History,
    coefficients,
    counts_on,
    days_about,
    terms_on,
)
from ordering.forecast.recent_level import (
    BACK,
    FURTHEST_BACK,
    SHIFT_BACK,
    as_last_year,
    with_levels,
    with_shifts,
)
from ordering.forecast.spread import (
    BUCKETS,
    Spread,
    believed_dispersion,
    bucket_of,
    dispersion_ratio,
    learnt_spread,
)

Array = NDArray[np.float64]
Index = NDArray[np.int64]

MOST_TIMES = 6.0
FEWEST_KNOWN = 7
SHARPNESS = 8.0
PRIOR_DAYS = 10.0


@dataclass(frozen=True, slots=True)
class SeriesForecast:
    """What is expected of each series, and how well that has gone.

    mean : [item, ahead], from today on; past_mean, past : [item, origin, ahead], pseudo-forecasts
    and what came (NaN where not known); origins : [origin], as days of the history, the last is today
    fitted : [item, day], what today's regressions make of the past
    wanted : [item, day], what came, with every lower bound replaced by what was expected above it
    ratio : [item], variance over mean
    most : [item], six times the most ever seen: no more is expected or drawn
    """

    mean: Array
    spread: Spread
    bucket: Index
    origins: Index
    past_mean: Array
    past: Array
    fitted: Array
    wanted: Array
    ratio: Array
    most: Array

    @property
    def scores(self) -> Array:
        """Past normal scores, moved and drawn to a width of 1, [item, origin, ahead]; NaN where not known."""
        return self.spread.standard(self.bucket)


def _fitted(history: History, beta: Array) -> Array:
    """What today's regressions make of the past, [item, day]; beta : [item, term + trend]."""
    x = history.terms.x[: history.n_days]
    trend = (np.arange(history.n_days) - history.n_days) / 365.0
    eta = beta[:, :-1] @ x.T + beta[:, -1:] * trend + history.offset
    return np.asarray(np.exp(np.clip(eta, -30, 30)))


def _learnt_enough(history: History) -> NDArray[np.bool_]:
    """[item, origin]: whether a series had a week of its own before the origin."""
    so_far = np.cumsum(np.isfinite(history.y), axis=1)
    return np.asarray(so_far[:, history.origins - 1] >= FEWEST_KNOWN)


def _candidates(history: History, betas: Array, ratio: Array, ahead: int) -> Array:
    """Candidates [item, origin, candidate, ahead]; betas : [design, item, origin, term + trend]."""
    back = FURTHEST_BACK if history.has_seasons else SHIFT_BACK
    days = days_about(history, back, ahead)
    x, y = terms_on(history, days).transpose(0, 2, 1), counts_on(history.y, days)
    seen = slice(back - SHIFT_BACK, None)
    quiet = np.where(history.terms.is_plain[days[:, seen].clip(0)], y[:, :, seen], np.nan)
    found = []
    for beta in betas:
        eta = np.matmul(beta.transpose(1, 0, 2), x).transpose(1, 0, 2) + history.exposure
        mean = np.exp(np.clip(eta, -30, 30, out=eta), out=eta)
        lifted = with_shifts(mean[:, :, seen], quiet, ratio)
        levels = with_levels(lifted, y[:, :, -BACK - ahead :], ratio)
        if history.has_seasons:
            levels[:, :, 2:] *= as_last_year(mean, y, ratio)[:, :, None]
        found.append(levels)
    return np.concatenate(found, axis=2)


def series_forecast(history: History, designs: Sequence[Design], ahead: int) -> SeriesForecast:
    """Combined forecast of `ahead` days for every series; designs : families of candidates."""
    betas, wanted = coefficients(history, designs)
    history = replace(history, y=wanted)
    ratio = dispersion_ratio(wanted)
    candidates = _candidates(history, betas, ratio, ahead)
    y = counts_on(history.y, days_about(history, 0, ahead))
    most = MOST_TIMES * np.maximum(np.nanmax(np.where(np.isfinite(history.y), history.y, 0), axis=1), 2.0)
    np.minimum(candidates, most[:, None, None, None], out=candidates)
    bucket = bucket_of(ahead)
    past = np.where(_learnt_enough(history)[:, :-1, None], y[:, :-1], np.nan)
    errors = np.abs(candidates[:, :-1] - past[:, :, None, :])
    mean = combined(candidates, weights(errors, bucket), bucket)
    spread = learnt_spread(past, mean[:, :-1], bucket, believed_dispersion(history.y, ratio))
    return SeriesForecast(
        mean=spread.moved(mean[:, -1], bucket),
        spread=spread,
        bucket=bucket,
        origins=history.origins,
        past_mean=mean[:, :-1],
        past=past,
        fitted=_fitted(history, betas[:, :, -1].mean(axis=0)),
        wanted=wanted,
        ratio=ratio,
        most=most,
    )


def weights(errors: Array, bucket: Index) -> Array:
    """Soft-min weights of the candidates.

    Parameters
    ----------
    errors : [item, origin, candidate, ahead], absolute errors, NaN for all candidates where the actual is
        not known
    bucket : [ahead]

    Returns
    -------
    [item, origin + 1, candidate, bucket]: entry o is learnt from every origin but o, so that a
    pseudo-forecast is never weighed by its own error; the last entry from all of them. Rows sum to 1.
    """
    within = (bucket[:, None] == np.arange(len(BUCKETS))).astype(float)
    known = np.isfinite(errors[:, :, :1])
    total, count = np.where(known, errors, 0.0) @ within, known @ within
    every, number = total.sum(axis=1, keepdims=True), count.sum(axis=1, keepdims=True)
    left = np.concatenate([every - total, every], axis=1)
    days = np.concatenate([number - count, number], axis=1)
    general = every.sum(axis=3, keepdims=True) / np.maximum(number.sum(axis=3, keepdims=True), 1e-9)
    error = (left + PRIOR_DAYS * general) / (days + PRIOR_DAYS)
    best = np.maximum(error.min(axis=2, keepdims=True), 1e-12)
    raw = np.maximum(error / best, 1.0) ** -SHARPNESS
    return np.asarray(raw / raw.sum(axis=2, keepdims=True))


def combined(candidates: Array, weight: Array, bucket: Index) -> Array:
    """[item, origin, ahead]: candidates [item, origin, candidate, ahead] by their weights."""
    found = np.empty((*candidates.shape[:2], candidates.shape[3]))
    for b in range(len(BUCKETS)):
        at = bucket == b
        found[..., at] = (weight[..., None, :, b] @ candidates[..., at])[:, :, 0]
    return found
