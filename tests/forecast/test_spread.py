"""Quantiles and normal scores of counts against SciPy's, of what is known against NumPy's; shift, width."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.special import ndtri
from scipy.stats import nbinom, norm, poisson

from ordering.forecast.spread import (
    FURTHEST,
    HALF,
    TENTH,
    count_cdf,
    count_quantile,
    count_scores,
    learnt_spread,
    nan_quantiles,
    shift_and_width,
    stretched,
)

LEVELS = np.array([0.0, 0.025, 0.1, 0.5, 0.9, 1.0])
SOME_UNKNOWN = st.one_of(st.just(float("nan")), st.floats(-1e6, 1e6))
RANKS = np.array([0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95])
SCORES = ndtri(RANKS)[None]


@pytest.mark.parametrize("mean", [0.02, 0.4, 3.0, 12.0, 39.0])
@pytest.mark.parametrize("alpha", [0.001, 0.1, 1.0])
def test_small_counts_are_exact(mean, alpha):
    ours = count_quantile(np.array([mean]), np.array([alpha]), SCORES)[0]
    theirs = nbinom.ppf(RANKS, 1 / alpha, 1 / (1 + alpha * mean))
    assert ours.tolist() == theirs.tolist()


@pytest.mark.parametrize(("mean", "alpha"), [(45, 0.02), (300, 0.05), (30_000, 0.01), (80, 0.3)])
def test_large_counts_are_close(mean, alpha):
    ours = count_quantile(np.array([float(mean)]), np.array([alpha]), SCORES)[0]
    theirs = nbinom.ppf(RANKS, 1 / alpha, 1 / (1 + alpha * mean))
    deviation = np.sqrt(mean + alpha * mean**2)
    assert np.abs(ours - theirs).max() < 1 + 0.03 * deviation


def test_a_dish_that_hardly_sells_has_honest_quantiles():
    """One portion in fifty services: 0 at the median and at 19 in 20."""
    ours = count_quantile(np.array([0.02]), np.array([0.5]), SCORES)[0]
    assert ours.tolist() == [0, 0, 0, 0, 0, 0, 0]


def test_nothing_expected_is_nothing():
    assert count_quantile(np.array([0.0]), np.array([0.1]), SCORES).max() == 0


def test_cdf_is_scipys():
    k = np.array([-1.0, 0.0, 3.0, 20.0])
    ours = count_cdf(k, np.full(4, 7.0), np.full(4, 0.2))
    assert ours == pytest.approx(nbinom.cdf(k, 5, 5 / 12), abs=1e-12)


@pytest.mark.parametrize("mean", [0.3, 4.0, 90.0])
def test_counts_that_scatter_less_than_chance_are_drawn_in(mean):
    """Half the deviation of a Poisson."""
    ours = count_quantile(np.array([mean]), np.array([-0.75 / mean]), SCORES)[0]
    poisson = count_quantile(np.array([mean]), np.array([0.0]), SCORES / 2)[0]
    assert ours == pytest.approx(poisson, abs=1)


@pytest.mark.parametrize("mean", [0.3, 2.0, 30.0, 41.0, 400.0])
def test_scores_of_counts_are_standard_normal_however_wide_the_steps(mean):
    """Over the whole distribution, each count as likely as SciPy says: mean, median, variance."""
    count = np.arange(3000.0)
    chance = nbinom.pmf(count, 1 / 0.1, 1 / (1 + 0.1 * mean))
    score = count_scores(count, np.full(3000, mean), np.full(3000, 0.1))
    weight = np.repeat(chance[:, None] / 3, 3, axis=1)
    assert (weight * score).sum() == pytest.approx(0, abs=0.03)
    assert (weight * score**2).sum() == pytest.approx(1, abs=0.17)
    assert weight[score < 0].sum() == pytest.approx(0.5, abs=0.08)


def test_no_rank_of_a_past_night_is_off_by_more_than_a_hundredth():
    """Of guests that come by chance alone, where the approximation of large counts is at its worst."""
    for mean in range(2, 120, 3):
        count = np.arange(mean * 4.0)
        found = norm.cdf(count_scores(count, np.full(count.shape, mean), np.full(count.shape, 1e-4)))[:, 1]
        middle = poisson.cdf(count, mean) - poisson.pmf(count, mean) / 2
        assert found == pytest.approx(middle, abs=0.0105), mean


def test_counts_without_dispersion_are_scipys_poisson_and_none_is_known_to_less_than_a_hundredth():
    count = np.arange(100.0)
    found = count_cdf(count, np.full(100, 39.0), np.zeros(100))
    assert found == pytest.approx(poisson.cdf(count, 39), abs=6e-4)
    low, high = count_quantile(np.array([1e6]), np.array([-1e-6]), np.array([[-1.0, 1.0]]))[0]
    assert (high - low) / 2e6 == pytest.approx(0.01, rel=0.05)


def test_quantiles_and_scores_are_of_one_distribution():
    """The middle of the step at a quantile lies within the step that was asked for."""
    for mean in (0.5, 6.0, 39.0, 41.0, 300.0):
        count = count_quantile(np.array([mean]), np.array([0.05]), SCORES)[0]
        one = np.full(len(count), mean), np.full(len(count), 0.05)
        assert (count_scores(count + 1, *one)[:, 1] > SCORES[0]).all()
        assert (count_scores(np.maximum(count - 1, 0), *one)[:, 1] < SCORES[0])[count > 0].all()


def test_one_wild_night_is_no_further_off_than_one_in_ten_thousand():
    found = count_scores(np.array([1e5, 0.0, 99.0]), np.array([50.0, 5e3, 2.0]), np.full(3, 0.01))
    assert (np.abs(found) == FURTHEST).all()
    assert norm.sf(FURTHEST) == pytest.approx(1e-4, rel=0.01)


def test_a_dispersion_taken_too_small_is_made_up_for_and_a_mean_too_low():
    """Counts of 50 that scatter by a dispersion of 0.08, where 0.02 and a tenth fewer were thought."""
    rng = np.random.default_rng(0)
    y = nbinom.rvs(1 / 0.08, 1 / (1 + 0.08 * 50.0), size=(1, 60, 600), random_state=rng).astype(float)
    bucket = np.repeat([0, 1, 2], 200)
    found = learnt_spread(y, np.full(y.shape, 45.0), bucket, np.array([0.02]))
    thought = np.sqrt(45 + 0.02 * 45**2)
    really = np.sqrt(50 + 0.08 * 50**2) / thought
    assert found.width[0, :, 0] == pytest.approx(np.full(3, really ** (15 / 19)), rel=0.1)
    moved = found.moved(np.full((1, 600), 45.0), bucket)
    assert moved == pytest.approx(45 + 15 / 39 * (48.6 - 45), rel=0.02)  # 48.6: the median of 50
    assert 1 < np.std(found.standard(bucket)) < 1.2 < np.std(found.score)


def test_a_past_score_is_that_of_the_middle_of_its_step():
    y = np.array([0.0, 1.0, 2.0, 5.0])
    found = learnt_spread(y[None, None], np.full((1, 1, 4), 2.0), np.zeros(4, dtype=int), np.array([0.1]))
    rank = nbinom.cdf(y, 10, 10 / 12) - nbinom.pmf(y, 10, 10 / 12) / 2
    assert found.score[0, 0] == pytest.approx(ndtri(rank))


def past(score: np.ndarray) -> np.ndarray:
    """Scores [origin, night] of one item as steps too narrow to be seen."""
    return np.clip(score, -FURTHEST, FURTHEST)[None, :, :, None]


@pytest.mark.parametrize("n_origins", [1, 4, 12])
def test_no_shift_counts_as_twenty_four_origins_and_no_widening_as_four(n_origins):
    """Scores 1.8 wide, moved by 0.4; an origin half as much as the fifth after it (Kish's number of them)."""
    score = past(np.tile(0.4 + 1.8 * norm.ppf((np.arange(999) + 0.5) / 999), (n_origins, 1)))
    shift, width = shift_and_width(score)
    recent = 0.5 ** (np.arange(n_origins) / 5.19)
    n = recent.sum() ** 2 / (recent**2).sum()
    assert shift == pytest.approx([0.4 * n / (n + 24)], rel=0.01, abs=1e-3)
    off = np.abs(score - shift)
    seen = np.quantile(off, [0.5, 0.9]) / [HALF, TENTH]
    assert width[0] == pytest.approx(seen ** (n / (n + 4)), rel=0.01)


def test_later_origins_say_more_of_the_width():
    even = norm.ppf((np.arange(999) + 0.5) / 999)
    _, wider = shift_and_width(past(np.stack([even, 1.1 * even])))
    _, narrower = shift_and_width(past(np.stack([1.1 * even, even])))
    assert wider[0, 0] > narrower[0, 0] + 0.001


def test_a_single_night_says_nothing_twice_over():
    """Of one night a half origin is believed, of none nothing."""
    shift, _ = shift_and_width(past(np.array([[2.0, np.nan]])))
    assert shift[0] == pytest.approx(2.0 * 0.5 / 24.5, rel=0.01)
    assert shift_and_width(past(np.full((2, 3), np.nan)))[0].tolist() == [0.0]
    assert shift_and_width(past(np.full((2, 3), np.nan)))[1].tolist() == [[1.0, 1.0]]


def test_feasts_and_closures_widen_the_tail_alone():
    score = norm.ppf((np.arange(999) + 0.5) / 999)
    score[[*range(60), *range(939, 999)]] *= 2
    _, width = shift_and_width(past(np.tile(score, (8, 1))))
    assert width[0, 0] == pytest.approx(1, abs=0.02)
    assert width[0, 1] > 1.3
    level = ndtri([0.6, 0.75, 0.95, 0.99])
    assert stretched(level, width)[0] == pytest.approx(level * [1, 1, width[0, 1], width[0, 1]], rel=0.02)


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
