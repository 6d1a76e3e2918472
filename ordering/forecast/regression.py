"""Many penalised Poisson regressions at once, all on the same regressors.

Fits share `x`, so the weighted cross products of every fit come out of one matrix product; that is
what makes pseudo-forecasts at many earlier dates, for every dish of a menu, affordable.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc

Array = NDArray[np.float64]

LARGEST_LOG = 30.0  # a first step that goes too far does not overflow
MOST_STEPS = 25  # two or three are usual
RARE, AT_ONCE = 0.08, 32  # for speed alone: no number changes


@dataclass(frozen=True, slots=True)
class Products:
    """Products of pairs of terms, by pair; `rows` are the only rows where they are not zero."""

    first: NDArray[np.intp]
    second: NDArray[np.intp]
    rows: NDArray[np.intp] | slice
    values: Array


def censored_moments(mean: Array, dispersion: Array | float, sold: Array) -> tuple[Array, Array]:
    """Expected count, and expected square of it, given that it is at least what was sold.

    Parameters
    ----------
    mean, sold : ndarray, same shape, portions
    dispersion : alpha of a negative binomial with variance mean + alpha mean^2; not negative

    Returns
    -------
    two of ndarray, same shape; the expected count is never below `sold`, nor three times above it

    Notes
    -----
    With size r = 1 / alpha, y pmf_r(y) = mean pmf_{r+1}(y - 1) where the second has success
    probability unchanged, hence E[Y | Y >= s] = mean P(Y' >= s - 1) / P(Y >= s), and once more for
    E[Y (Y - 1) | Y >= s]. From the definition of the distribution; no outside source needed.
    """
    alpha = np.maximum(dispersion, 1e-6)
    size = 1.0 / alpha
    chance = mean / (size + mean)

    def at_least(count: Array, more: int) -> Array:
        """Chance that the count with `more` added to its size is at least this; any shape."""
        return np.where(count > 0, betainc(np.maximum(count, 1e-9), size + more, chance), 1.0)

    whole = at_least(sold, 0)
    is_likely = whole > 1e-12
    whole = np.maximum(whole, 1e-12)
    expected = np.where(is_likely, mean * at_least(sold - 1, 1) / whole, sold)
    pairs = np.where(is_likely, mean**2 * (1 + alpha) * at_least(sold - 2, 2) / whole, sold**2)
    expected = np.clip(expected, sold, np.maximum(sold * 3.0, sold + 3.0))
    return np.asarray(expected), np.asarray(np.maximum(pairs + expected, expected**2))


def fit_counts(
    x: Array,
    y: Array,
    weights: Array,
    penalty: Array,
    offset: Array | None = None,
    start: Array | None = None,
    tolerance: float = 1e-9,
    crossed: tuple[Products, ...] | None = None,
) -> Array:
    """Coefficients of log-link Poisson regressions by iteratively reweighted least squares.

    Parameters
    ----------
    x : ndarray, shape (n_rows, n_terms), shared by all fits
    y : ndarray, shape (n_fits, n_rows), counts, not negative
    weights : ndarray, shape (n_fits, n_rows), not negative; 0 leaves the row out
    penalty : ndarray, shape (n_fits, n_terms): half this times the coefficient squared is taken off
        the log-likelihood; 0 for plain maximum likelihood
    offset : ndarray, shape (n_fits, n_rows), added to the linear predictor
    start : ndarray, shape (n_fits, n_terms), coefficients to begin from
    tolerance : a fit stops by itself once its next step would move no coefficient by more than this: steps
        near the end are about the square of those before
    crossed : `cross_products(x)`, from callers who fit on the same `x` more than once

    Returns
    -------
    ndarray, shape (n_fits, n_terms)

    Notes
    -----
    McCullagh and Nelder, Generalized Linear Models, 2nd ed., section 2.5 (from memory). Each fit
    stops alone, so that what else is in the batch does not change it.
    """
    crossed = crossed or cross_products(x)
    shift = np.zeros_like(y) if offset is None else offset
    found = np.empty(penalty.shape)
    for first in range(0, len(penalty), AT_ONCE):
        part = slice(first, first + AT_ONCE)
        counts, begin = (y[part], weights[part]), None if start is None else start[part]
        found[part] = _fitted(x, crossed, counts, (begin, shift[part]), penalty[part], tolerance)
    return found


def _fitted(
    x: Array,
    crossed: tuple[Products, ...],
    counts: tuple[Array, Array],
    predictor: tuple[Array | None, Array],
    penalty: Array,
    tolerance: float,
) -> Array:
    """Coefficients of a handful of fits, few enough for their rows to stay in the processor's cache.

    Returns [fit, term]; x : [day, term]; counts and predictor : [fit, day]; penalty : [fit, term].
    """
    (y, weights), (start, shift) = counts, predictor
    n_fits, n_terms = penalty.shape
    if start is None:
        total = np.maximum(weights.sum(axis=1, keepdims=True), 1e-12)
        typical = (weights * y).sum(axis=1, keepdims=True) / total
        beta = np.zeros((n_fits, n_terms))
        eta = np.log(np.maximum(np.where(weights > 0, (y + typical) / 2, typical), 1e-6))
    else:
        beta = start.copy()
        eta = np.clip(beta @ x.T + shift, -LARGEST_LOG, LARGEST_LOG)
    active = np.arange(n_fits)
    for _ in range(MOST_STEPS):
        moved = _step(x, crossed, (y, weights), (eta, shift), penalty)
        going = np.abs(moved - beta[active]).max(axis=1) ** 2 > tolerance
        beta[active] = moved
        active = active[going]
        if not active.size:
            break
        y, weights, shift, penalty = y[going], weights[going], shift[going], penalty[going]
        eta = np.clip(moved[going] @ x.T + shift, -LARGEST_LOG, LARGEST_LOG)
    return beta


def cross_products(x: Array) -> tuple[Products, ...]:
    """Cross products of the columns of `x`, pairs that never meet left out. x : [day, term].

    Columns that are nearly always zero, such as holidays, are multiplied on their own few rows.
    """
    n_terms = x.shape[1]
    is_rare = (x != 0).mean(axis=0) < RARE
    rows = np.flatnonzero(x[:, is_rare].any(axis=1))
    first, second = np.triu_indices(n_terms)
    has_rare = is_rare[first] | is_rare[second]
    found = []
    for among, at in ((~has_rare, slice(None)), (has_rare, rows)):
        i, j = first[among], second[among]
        values = x[at][:, i] * x[at][:, j]
        met = values.any(axis=0)
        found.append(Products(i[met], j[met], at, np.ascontiguousarray(values[:, met])))
    return tuple(found)


def _step(
    x: Array,
    crossed: tuple[Products, ...],
    counts: tuple[Array, Array],
    predictor: tuple[Array, Array],
    penalty: Array,
) -> Array:
    """One reweighted least squares step of every active fit. Shapes as in `_fitted`."""
    y, weights = counts
    eta, shift = predictor
    mean = np.exp(eta)
    working = weights * mean
    n_terms = x.shape[1]
    information = np.zeros((len(y), n_terms, n_terms))
    for part in crossed:
        sums = working[:, part.rows] @ part.values
        information[:, part.first, part.second] = information[:, part.second, part.first] = sums
    diagonal = np.arange(n_terms)
    information[:, diagonal, diagonal] += penalty + 1e-10 * (1 + working.sum(axis=1, keepdims=True))
    score = (working * (eta - shift - 1) + weights * y) @ x
    return np.asarray(np.linalg.solve(information, score[:, :, None])[:, :, 0])
