"""Batched count regression against statsmodels, and the censored mean against plain sums."""

import numpy as np
import pytest
import statsmodels.api as sm
from scipy.stats import nbinom

from ordering.forecast.regression import censored_moments, fit_counts


def problem(n_rows: int = 300, seed: int = 0) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    rng = np.random.default_rng(seed)
    weekday = np.eye(7)[np.arange(n_rows) % 7][:, 1:]
    rare = (rng.random(n_rows) < 0.03).astype(float)
    rare[4] = 1.0
    x = np.column_stack([np.ones(n_rows), weekday, rng.standard_normal(n_rows), rare])
    beta = np.concatenate([[3.0], 0.3 * rng.standard_normal(6), [0.2, 0.8]])
    y = rng.poisson(np.exp(x @ beta)).astype(float)
    return x, y, rng.random(n_rows)


def test_the_same_numbers_as_statsmodels():
    x, y, weights = problem()
    ours = fit_counts(x, y[None], weights[None], np.zeros((1, x.shape[1])))[0]
    theirs = sm.GLM(y, x, family=sm.families.Poisson(), var_weights=weights).fit(tol=1e-12)
    assert ours == pytest.approx(theirs.params, abs=1e-7)


def test_the_same_numbers_with_an_offset_and_left_out_rows():
    x, y, _ = problem(seed=1)
    offset = np.log(np.linspace(1, 3, len(y)))
    weights = np.ones(len(y))
    weights[:60] = 0
    none = np.zeros((1, x.shape[1]))
    ours = fit_counts(x, y[None], weights[None], none, offset[None])[0]
    kept = sm.GLM(y[60:], x[60:], family=sm.families.Poisson(), offset=offset[60:]).fit(tol=1e-12)
    assert ours == pytest.approx(kept.params, abs=1e-7)


def test_a_batch_is_its_members_one_by_one():
    x, y, weights = problem(seed=2)
    rng = np.random.default_rng(9)
    many = rng.poisson(y, size=(40, len(y))).astype(float)
    penalty = np.tile(np.linspace(0, 5, x.shape[1]), (40, 1))
    together = fit_counts(x, many, np.tile(weights, (40, 1)), penalty)
    for n in range(40):
        alone = fit_counts(x, many[n : n + 1], weights[None], penalty[n : n + 1])
        assert together[n] == pytest.approx(alone[0], abs=1e-9)


def test_a_start_changes_the_way_and_not_the_end():
    x, y, weights = problem(seed=3)
    none = np.zeros((1, x.shape[1]))
    cold = fit_counts(x, y[None], weights[None], none)
    warm = fit_counts(x, y[None], weights[None], none, start=cold + 0.3)
    assert warm == pytest.approx(cold, abs=1e-8)


def test_a_penalty_pulls_towards_nothing():
    x, y, weights = problem(seed=4)
    strong = np.zeros((1, x.shape[1]))
    strong[0, 1:] = 1e9
    beta = fit_counts(x, y[None], weights[None], strong)[0]
    assert np.abs(beta[1:]).max() < 1e-5
    assert beta[0] == pytest.approx(np.log(np.average(y, weights=weights)), abs=1e-6)


@pytest.mark.parametrize(("mean", "alpha", "sold"), [(8, 0.2, 10), (3, 0.5, 1), (20, 0.05, 12), (6, 1e-4, 9)])
def test_expected_given_at_least_what_was_sold(mean, alpha, sold):
    """The tail mean and mean square added up term by term from the distribution itself."""
    size = 1 / alpha
    k = np.arange(sold, 400)
    mass = nbinom.pmf(k, size, size / (size + mean))
    expected, square = censored_moments(np.array([float(mean)]), alpha, np.array([float(sold)]))
    assert expected[0] == pytest.approx((k * mass).sum() / mass.sum(), rel=1e-6)
    assert square[0] == pytest.approx((k**2 * mass).sum() / mass.sum(), rel=1e-6)


def test_expected_is_never_below_what_was_sold_nor_out_of_hand():
    sold = np.array([0.0, 1.0, 30.0, 500.0])
    ours, _ = censored_moments(np.array([2.0, 2.0, 1.0, 1.0]), 0.3, sold)
    assert (ours >= sold).all()
    assert (ours <= np.maximum(3 * sold, sold + 3)).all()
