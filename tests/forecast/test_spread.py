"""Quantiles of counts against SciPy's, of what is known against NumPy's; calibration from past ranks."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.stats import nbinom

from ordering.forecast.spread import (
    GRID,
    calibrated,
    count_cdf,
    count_quantile,
    learnt_spread,
    nan_quantiles,
    recalibrated,
)

LEVELS = np.array([0.0, 0.025, 0.1, 0.5, 0.9, 1.0])
SOME_UNKNOWN = st.one_of(st.just(float("nan")), st.floats(-1e6, 1e6))
RANKS = np.array([0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95])


@pytest.mark.parametrize("mean", [0.02, 0.4, 3.0, 12.0, 39.0])
@pytest.mark.parametrize("alpha", [0.001, 0.1, 1.0])
def test_small_counts_are_exact(mean, alpha):
    ours = count_quantile(np.array([mean]), np.array([alpha]), RANKS[None])[0]
    theirs = nbinom.ppf(RANKS, 1 / alpha, 1 / (1 + alpha * mean))
    assert ours.tolist() == theirs.tolist()


@pytest.mark.parametrize(("mean", "alpha"), [(45, 0.02), (300, 0.05), (30_000, 0.01), (80, 0.3)])
def test_large_counts_are_close(mean, alpha):
    ours = count_quantile(np.array([float(mean)]), np.array([alpha]), RANKS[None])[0]
    theirs = nbinom.ppf(RANKS, 1 / alpha, 1 / (1 + alpha * mean))
    deviation = np.sqrt(mean + alpha * mean**2)
    assert np.abs(ours - theirs).max() < 1 + 0.03 * deviation


def test_a_dish_that_hardly_sells_has_honest_quantiles():
    """One portion in fifty services: 0 at the median and at 19 in 20."""
    ours = count_quantile(np.array([0.02]), np.array([0.5]), RANKS[None])[0]
    assert ours.tolist() == [0, 0, 0, 0, 0, 0, 0]


def test_nothing_expected_is_nothing():
    assert count_quantile(np.array([0.0]), np.array([0.1]), RANKS[None]).max() == 0


def test_cdf_is_scipys():
    k = np.array([-1.0, 0.0, 3.0, 20.0])
    ours = count_cdf(k, np.full(4, 7.0), np.full(4, 0.2))
    assert ours == pytest.approx(nbinom.cdf(k, 5, 5 / 12), abs=1e-12)


def test_dispersion_is_found_again():
    rng = np.random.default_rng(0)
    mean = np.full((1, 60, 1200), 50.0)
    y = nbinom.rvs(1 / 0.08, 1 / (1 + 0.08 * 50.0), size=mean.shape, random_state=rng).astype(float)
    found = learnt_spread(y, mean, np.repeat([0, 1, 2], 400), np.array([0.11]))
    assert found.dispersion[0] == pytest.approx([0.08, 0.08, 0.08], rel=0.15)


def test_intervals_too_narrow_are_widened_and_too_wide_narrowed():
    rng = np.random.default_rng(1)
    uniform = rng.random((12, 40))
    extreme = np.where(uniform < 0.5, uniform**2, 1 - (1 - uniform) ** 2)
    central = 0.25 + uniform / 2
    wide = recalibrated(np.array([0.1, 0.9]), calibrated(extreme))
    narrow = recalibrated(np.array([0.1, 0.9]), calibrated(central))
    assert wide[0] < 0.1 < narrow[0]
    assert narrow[1] < 0.9 < wide[1]


def test_few_ranks_change_nothing():
    assert calibrated(np.full((2, 3), 0.9)).tolist() == GRID.tolist()


def test_calibration_keeps_ranks_in_sequence():
    ranks = np.random.default_rng(2).beta(0.3, 0.5, size=(12, 46))
    assert (np.diff(calibrated(ranks)) >= 0).all()


def test_what_is_believed_of_a_spread_counts_as_three_hundred_days_and_an_origin_before_for_less():
    """About ten, by the root of 40 too much and too little in turn: a variance of 10 + 0.3 x 100."""
    bucket = np.full(100, 2)
    mean = np.full((1, 1, 100), 10.0)
    wide = 10 + np.sqrt(40) * (-1.0) ** np.arange(100)[None, None]
    believed = np.array([0.1])
    alone = learnt_spread(wide, mean, bucket, believed).dispersion[0, 2]
    assert alone == pytest.approx((0.3 + 3 * 0.1) / 4)
    even = 10 + np.sqrt(20) * (-1.0) ** np.arange(100)[None, None]
    both = learnt_spread(np.append(even, wide, 1), np.append(mean, mean, 1), bucket, believed)
    assert both.dispersion[0, 2] == pytest.approx((0.3 + 0.85 * 0.1 + 3 * 0.1) / (1 + 0.85 + 3))


def test_quiet_days_that_scatter_more_say_as_much_of_the_spread_as_busy_ones():
    """Every other night at 400,000, a twentieth off; the others at 100,000, a fifth off: the mean of both."""
    n = 50_000
    mean = np.tile([4e5, 1e5], n)[None, None]
    y = mean * (1 + np.tile([0.05, 0.2, -0.05, -0.2], n // 2))
    found = learnt_spread(y, mean, np.zeros(2 * n, dtype=int), np.array([0.02])).dispersion[0, 0]
    assert found == pytest.approx((0.05**2 + 0.2**2) / 2, rel=0.01)


@pytest.mark.parametrize(("n_ranks", "trust"), [(9, 0.0), (10, 1 / 17), (60, 1 / 17)])
def test_nominal_ranks_count_as_sixteen_origins_and_fewer_than_ten_past_ones_as_none(n_ranks, trust):
    found = recalibrated(np.array([0.5]), calibrated(np.full((1, n_ranks), 0.9)))
    assert found[0] == pytest.approx(trust * 0.9 + (1 - trust) * 0.5)


@given(arrays(float, (3, 2, 9), elements=SOME_UNKNOWN))
def test_the_same_numbers_as_numpy_of_what_is_known(values):
    found = nan_quantiles(values, LEVELS)
    for place in np.ndindex(3, 2):
        known = values[place][np.isfinite(values[place])]
        if known.size:
            theirs = np.quantile(known, LEVELS, method="hazen")
            assert found[place] == pytest.approx(theirs, abs=1e-6)
        else:
            assert np.isnan(found[place]).all()


def test_the_middle_is_the_median():
    assert nan_quantiles(np.array([4.0, np.nan, 1.0, 9.0, 2.0]), np.array([0.5])) == pytest.approx([3.0])


def test_nothing_at_all_is_nothing_known():
    assert np.isnan(nan_quantiles(np.empty((2, 0)), LEVELS)).all()
