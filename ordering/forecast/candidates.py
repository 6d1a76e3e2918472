"""Candidate forecasts of one or many series, from today and from earlier dates alike.

Axes: [item, origin, candidate, ahead]. An origin is the first day not known; the last origin is
today and the others are pseudo-forecasts, from which weights and spread are learnt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from ordering.forecast.regression import Products, censored_moments, cross_products, fit_counts
from ordering.forecast.regressors import Regressors, damped, fourier_pairs
from ordering.forecast.spread import believed_dispersion, dispersion_ratio

Array = NDArray[np.float64]
Index = NDArray[np.int64]

HALF_LIFE_DAYS = 730.0
OFFSETS = tuple(range(8, 365, 14))
FEWEST_DAYS = 21
# Of the first design's holidays: less is too low on one, more follows a single past one too far.
BORROWED = 0.5
COMMON = {"level", "weekday", "season"}
SHUT = 1e9  # stands for infinite
TOLERANCE = 1e-2  # of a coefficient, on the log scale: a closer fit tells nothing more and takes longer
REFIT = 3  # effects of weekday and season change little in six weeks; levels are followed at every origin
CENSORED_ROUNDS = 12


@dataclass(frozen=True, slots=True)
class History:
    """Consecutive days of one or many series that share regressors.

    y : [item, day], NaN where nothing is known; days run up to the day before today
    origins : days of the history from which forecasts are made, today last, pseudo-forecasts before it
    is_least : [item, day], True where `y` is only a lower bound
    offset : [item, day] known log exposure, such as log covers; zeros when none
    terms : regressors of the history and of at least 60 days more
    exposure : [origin, 322 + ahead], known log exposure of the days about each origin; [1, 1] when none
    has_seasons : whether last year's weeks tell of these; of shares of covers they do not
    """

    y: Array
    is_least: NDArray[np.bool_]
    offset: Array
    terms: Regressors
    origins: Index
    exposure: Array = field(default_factory=lambda: np.zeros((1, 1)))
    has_seasons: bool = True

    @property
    def n_days(self) -> int:
        """Length of the day axis."""
        return int(self.y.shape[1])


@dataclass(frozen=True, slots=True)
class Design:
    """Which regressors one family of candidates uses.

    trend_spread : how far a year's trend is believed to go, as a standard deviation on the log scale;
        0 for none
    trend_from : days of history from which there is a trend at all
    believed : how far effects are believed to go, as a part of what `regressors.PRIOR` says
    """

    trend_spread: float = 0.0
    trend_from: int = 0
    extra_pairs: int = 0
    half_life: float = HALF_LIFE_DAYS
    believed: float = 1.0


def origins_of(n_days: int) -> Index:
    """Origins, as days of the history: earlier dates first, today last. Returns [origin]."""
    first = min(FEWEST_DAYS, max(n_days - 1, 0))
    offsets = [offset for offset in OFFSETS if n_days - offset >= max(first, n_days // 4)]
    return np.array([n_days - offset for offset in reversed(offsets)] + [n_days])


def _penalty(terms: Regressors, design: Design, history_days: Index, ratio: Array) -> Array:
    """[item, origin, term + trend]; in units of Poisson information, so inflated by the dispersion."""
    has_trend = (design.trend_spread > 0) & (history_days >= design.trend_from)
    base = 1.0 / np.append(terms.prior * design.believed, design.trend_spread or 1.0) ** 2
    allowed = [fourier_pairs(int(n)) + design.extra_pairs * (n >= 330) for n in history_days]
    pairs = np.maximum(np.array(allowed), 0)
    shut = np.append(terms.pair, 0)[None, :] > pairs[:, None]
    shut[:, -1] |= ~has_trend
    return np.asarray(ratio[:, None, None] * np.where(shut, SHUT, base)[None], dtype=np.float64)


@dataclass(frozen=True, slots=True)
class _Problem:
    """Everything one batch of fits needs; axes [design, item, origin, ...] before they are flattened.

    used : the terms, trend included, that some fit may use; `x` and `penalty` hold no others
    """

    x: Array
    crossed: tuple[Products, ...]
    used: Index
    y: Array
    weights: Array
    penalty: Array
    offset: Array
    is_least: NDArray[np.bool_]

    def of(self, items: Index) -> _Problem:
        """The same problem of some of the items. items : places on the item axis, [item]."""
        return replace(
            self,
            y=self.y[:, items],
            weights=self.weights[:, items],
            penalty=self.penalty[:, items],
            offset=self.offset[:, items],
            is_least=self.is_least[items],
        )

    def fitted(self, start: Array | None, only: slice) -> Array:
        """Coefficients [design, item, origin, term] of the origins in `only`."""
        arrays = (self.y, self.weights, self.penalty, self.offset)
        whole = self.penalty.shape[:3]
        shape = self.penalty[:, :, only].shape
        y, weights, penalty, offset = (
            np.broadcast_to(a, (*whole, a.shape[-1]))[:, :, only].reshape(-1, a.shape[-1]) for a in arrays
        )
        begin = None if start is None else np.broadcast_to(start, shape).reshape(-1, shape[-1])
        return fit_counts(self.x, y, weights, penalty, offset, begin, TOLERANCE, self.crossed).reshape(shape)


def _problem(history: History, designs: Sequence[Design], ratio: Array) -> _Problem:
    """The fits to make, on the days on which anything is known. ratio : [item]."""
    rows = np.flatnonzero(np.isfinite(history.y).any(axis=0))
    n_days, origins = history.n_days, history.origins
    y = history.y[:, rows]
    known = np.isfinite(y)
    age = np.stack([0.5 ** ((n_days - rows) / design.half_life) for design in designs])
    before = rows[None, :] < origins[:, None]
    weights = known[None, :, None, :] * before[None, None] * age[:, None, None, :]
    penalty = np.stack([_penalty(history.terms, design, origins - rows[0], ratio) for design in designs])
    used = np.flatnonzero((penalty < SHUT).any(axis=(0, 1, 2)))
    x = np.column_stack([history.terms.x[rows], (rows - n_days) / 365.0])[:, used]
    return _Problem(
        x=x,
        crossed=cross_products(x),
        used=used,
        y=np.where(known, y, 0.0)[None, :, None, :],
        weights=weights,
        penalty=penalty[..., used],
        offset=history.offset[None, :, None, rows],
        is_least=history.is_least[:, rows] & known,
    )


def coefficients(history: History, designs: Sequence[Design]) -> tuple[Array, Array]:
    """Coefficients of every design for every series from every origin, and the counts they rest on.

    Returns
    -------
    beta : [design, item, origin, term + trend]; the trend is per year and counts from the origin
    y : [item, day], the history with every lower bound replaced by the expected count given at
        least what was sold, as today's fits see it

    Rows on or after an origin have no weight for it.
    """
    origins = history.origins
    fitted, of = _fits(len(origins))
    ratio = dispersion_ratio(history.y)
    problem = _problem(replace(history, origins=origins[fitted]), designs, ratio)
    last, earlier = slice(len(fitted) - 1, None), slice(0, len(fitted) - 1)
    final = problem.fitted(None, last)
    if problem.is_least.any():
        problem, final = _settled(problem, final, believed_dispersion(history.y, ratio), last)
    found = np.concatenate([problem.fitted(final, earlier), final], axis=2)
    beta = np.zeros((len(designs), len(history.y), len(origins), history.terms.x.shape[1] + 1))
    beta[..., problem.used] = found[:, :, of]
    rare = [kind not in COMMON for kind in history.terms.kinds]
    for n, design in enumerate(designs):
        if design.half_life < HALF_LIFE_DAYS:  # it has forgotten last year's holidays
            beta[n][..., :-1][..., rare] = BORROWED * beta[0][..., :-1][..., rare]
    beta[..., 0] += beta[..., -1] * (origins - history.n_days) / 365.0
    y = history.y.copy()
    rows = np.flatnonzero(np.isfinite(y).any(axis=0))
    y[:, rows] = np.where(np.isfinite(y[:, rows]), problem.y[:, :, 0].mean(axis=0), np.nan)
    return beta, y


def _fits(n_origins: int) -> tuple[Index, Index]:
    """Places of the origins that are fitted, [fit], and which of these fits each origin uses, [origin]."""
    place = np.arange(n_origins)
    used = np.maximum(place - (place - n_origins + 1) % REFIT, 0)
    fitted, of = np.unique(used, return_inverse=True)
    return fitted, of


def _settled(problem: _Problem, beta: Array, alpha: Array, last: slice) -> tuple[_Problem, Array]:
    """The problem with its lower bounds replaced, and today's fit of it, once neither moves the other.

    beta : [design, item, 1, term], today's fit to what was sold; alpha : [item], dispersion
    """
    items = np.flatnonzero(problem.is_least.any(axis=1))
    part, found = problem.of(items), beta[:, items]
    sold, alpha = part.y[0, :, 0], alpha[items]
    for _ in range(CENSORED_ROUNDS):
        part, alpha = _with_bounds(part, found, sold, alpha)
        before, found = found, part.fitted(found, last)
        if np.abs(found - before).max() < TOLERANCE / 2:
            break
    y = np.broadcast_to(problem.y, (len(beta), *problem.y.shape[1:])).copy()
    y[:, items] = part.y
    settled = beta.copy()
    settled[:, items] = found
    return replace(problem, y=y), settled


def _with_bounds(problem: _Problem, beta: Array, first: Array, alpha: Array) -> tuple[_Problem, Array]:
    """The problem with every lower bound replaced by the count expected above it, and the dispersions seen.

    beta : [design, item, 1, term], today's fit; first : [item, row], what was sold;
    alpha : [item], dispersion; that of series with bounds is learnt anew, from what is expected above them
    """
    item, at = np.nonzero(problem.is_least)
    y = np.broadcast_to(problem.y, (len(beta), *problem.y.shape[1:])).copy()
    new = alpha.copy()
    for n in np.unique(item):
        rows = at[item == n]
        eta = beta[:, n, 0] @ problem.x.T + problem.offset[:, n, 0]
        mean = np.exp(np.clip(eta, -30, 30))
        sold = np.broadcast_to(first[n, rows], (len(beta), len(rows)))
        expected, square = censored_moments(mean[:, rows], alpha[n], sold)
        y[:, n, 0, rows] = expected
        known = problem.weights[0, n, -1] > 0
        off = np.where(known, (y[:, n, 0] - mean) ** 2, 0.0)
        off[:, rows] += square - expected**2
        above = (off.sum() - mean[:, known].sum()) / (mean[:, known] ** 2).sum()
        new[n] = np.clip(above, 1e-3, 2.0)
    return replace(problem, y=y), new


def days_about(history: History, back: int, ahead: int) -> Index:
    """Days of the history about each origin, some outside it: [origin, back + ahead]."""
    return np.asarray(history.origins[:, None] + np.arange(-back, ahead)[None, :])


def counts_on(y: Array, days: Index) -> Array:
    """Counts [item, origin, day] on days [origin, day], NaN where not known. y : [item, day]."""
    n_days = y.shape[1]
    return np.where((days >= 0) & (days < n_days), y[:, np.clip(days, 0, n_days - 1)], np.nan)


def terms_on(history: History, days: Index) -> Array:
    """Regressors of days [origin, day] of the history, the trend from each origin last.

    Returns [origin, day, term + trend].
    """
    step = days - history.origins[:, None]
    trend = np.where(step < 0, step, damped(np.asarray(step + 1.0))) / 365.0
    x = history.terms.x[np.clip(days, 0, len(history.terms.x) - 1)]
    return np.concatenate([x, trend[:, :, None]], axis=2)
