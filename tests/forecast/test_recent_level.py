"""Levels that fade and shifts that stay, told apart by what the last weeks show."""

import numpy as np
import pytest
from scipy.stats import chi2, norm

from ordering.forecast import recent_level
from ordering.forecast.recent_level import (
    BACK,
    FURTHEST_BACK,
    SHIFT_BACK,
    as_last_year,
    with_levels,
    with_shifts,
)


def test_recent_levels_lift_and_fade():
    mean = np.full((1, 1, 88), 50.0)
    y = np.where(np.arange(88) < 28, 75.0, np.nan)[None, None]
    found = with_levels(mean, y, np.array([1.0]))
    assert found.shape == (1, 1, 4, 60)
    assert (found[0, 0, 0] == 50).all()
    assert found[0, 0, 2, 0] > 70
    assert (np.diff(found[0, 0, 2]) < 0).all()
    assert found[0, 0, 2, 0] > found[0, 0, 3, 0] > 50


def test_chance_neither_lifts_nor_lowers_a_small_dish_on_average():
    """Thousands of dishes that sell what was expected but for chance: what is expected of them stays."""
    y = np.random.default_rng(1).poisson(1.5, (4000, 1, 88)).astype(float)
    found = with_levels(np.full(y.shape, 1.5), y, np.ones(4000))
    assert found[..., 0].mean(axis=(0, 1)) == pytest.approx(np.full(4, 1.5), rel=0.004)


def test_a_weekday_pattern_that_changed_is_followed():
    """Four weeks in which one weekday brought twice as many: it is lifted, the others are not."""
    mean = np.full((1, 1, 88), 500.0)
    y = np.where(np.arange(88) % 7 == 3, 1000.0, 500.0)[None, None].copy()
    y[:, :, 28:] = np.nan
    found = with_levels(mean, y, np.array([1.0]))[0, 0]
    assert found[1, 3] > 1.6 * found[1, 2]
    assert found[2, 3] == pytest.approx(found[2, 2], rel=0.02)


def seen(
    level: np.ndarray, n_origins: int = 25, ahead: int = 14, seed: int = 0
) -> tuple[np.ndarray, np.ndarray]:
    """Expected 50 a day, and Poisson counts about 50 x `level` [day] before the last origin; others at 50."""
    shape = (1, n_origins, SHIFT_BACK + ahead)
    times = np.ones(shape)
    times[0, -1, :SHIFT_BACK] = level
    y = np.random.default_rng(seed).poisson(50 * times).astype(float)
    y[:, :, SHIFT_BACK:] = np.nan
    return np.full(shape, 50.0), y


@pytest.mark.parametrize("since", [7, 14, 40, 100])
@pytest.mark.parametrize("times", [0.6, 1.5])
def test_a_shift_is_believed_and_stays(since, times):
    level = np.where(np.arange(-SHIFT_BACK, 0) >= -since, times, 1.0)
    mean, y = seen(level)
    lifted = with_shifts(mean, y, np.ones(1))
    assert lifted[0, -1, BACK:] == pytest.approx(np.full(14, 50 * times), rel=0.08)


def test_no_shift_is_read_into_chance():
    mean, y = seen(np.ones(SHIFT_BACK), n_origins=400)
    lifted = with_shifts(mean, y, np.ones(1))
    moved = np.abs(np.log(lifted[0, :, BACK] / 50))
    assert np.quantile(moved, 0.95) < 0.02


def test_a_level_that_wanders_anyway_is_not_taken_for_a_shift():
    """Earlier fortnights were as often a quarter above or below: the same fortnight today is no news."""
    calm, restless = [], []
    for seed in range(20):
        mean, y = seen(np.where(np.arange(-SHIFT_BACK, 0) >= -14, 1.25, 1.0), seed=seed)
        calm.append(with_shifts(mean, y, np.ones(1))[0, -1, -1])
        y[0, :-1:2, SHIFT_BACK - 14 : SHIFT_BACK] *= 1.25
        y[0, 1:-1:2, SHIFT_BACK - 14 : SHIFT_BACK] *= 0.8
        restless.append(with_shifts(mean, y, np.ones(1))[0, -1, -1])
    assert np.mean(calm) > 58
    assert np.mean(restless) < 53


@pytest.mark.parametrize(("since", "is_told"), [(330, False), (240, True)])
def test_a_shift_is_held_against_the_eleven_months_before_today(since, is_told):
    """Twice as many guests since then: what came in the same season of last year tells of no shift."""
    level = np.where(np.arange(-700, 0) >= -since, 2.0, 1.0)
    lifted = with_shifts(*seen(level[-SHIFT_BACK:], n_origins=2), np.ones(1))
    assert (lifted[0, -1, -1] > 60) == is_told


def test_days_not_known_show_no_shift():
    mean, y = seen(np.ones(SHIFT_BACK))
    y[:, :, :SHIFT_BACK] = np.nan
    assert (with_shifts(mean, y, np.ones(1)) == 50).all()


def test_the_robust_variance_is_that_of_a_normal():
    assert chi2.ppf(recent_level.ROBUST_LEVEL, 1) == pytest.approx(recent_level.CHI_SQUARE, abs=1e-6)


def test_half_of_what_the_last_weeks_add_is_left_after_two_months():
    """With a lift of two the log of it halves in 69 days (0.99 a day), so that 60 days on 0.55 is left."""
    mean = np.full((1, 1, 88), 5000.0)
    y = np.where(np.arange(88) < 28, 10_000.0, np.nan)[None, None]
    lift = np.log(with_levels(mean, y, np.array([1.0]))[0, 0, 2] / 5000)
    assert lift[0] == pytest.approx(np.log(2) * 0.99, rel=0.01)
    assert lift[59] / lift[0] == pytest.approx(0.99**59, rel=1e-6)


@pytest.mark.parametrize(("days_ago", "lifted"), [(4, [True, True]), (5, [True, False])])
def test_levels_are_of_the_last_twenty_eight_and_four_days(days_ago, lifted):
    y = np.full((1, 1, 28 + 7), 100.0)
    y[0, 0, 28 - days_ago] = 200.0
    found = with_levels(np.full(y.shape, 100.0), y, np.ones(1))[0, 0, 2:, 0]
    assert (found > 100).tolist() == lifted


def test_a_weekday_is_believed_to_stray_by_a_tenth():
    """A gamma of mean 1 and deviation 0.1 counts as a hundred guests: 4 x 150 for 100 are 700 of 500."""
    y = np.full((1, 1, 28 + 7), 100.0)
    y[0, 0, 0:28:7], y[0, 0, 1:28:7] = 150.0, 50.0
    found = with_levels(np.full(y.shape, 100.0), y, np.ones(1))[0, 0, 1]
    assert found[:3].tolist() == pytest.approx([140.0, 60.0, 100.0])


def test_guests_are_believed_to_stray_by_a_fifth():
    """A gamma of mean 1 and deviation 1 / 5 counts as 25 guests: four nights of 15 for 10."""
    y = np.full((1, 1, 28 + 7), 10.0)
    y[0, 0, 24:28] = 15.0
    found = with_levels(np.full(y.shape, 10.0), y, np.ones(1))[0, 0, -1, 0]
    assert np.log(found / 10) == pytest.approx(np.log((25 + 60) / (25 + 40)) * 0.99, rel=1e-3)


@pytest.mark.parametrize("step", [0.0, 0.3, -0.6])
def test_a_shift_is_as_likely_as_bayes_says(step):
    """One of three in a hundred that a level has moved since a day, by a standard deviation of 0.4."""
    shape = (1, 1, 1)
    moved = 0.03 * norm.pdf(step, scale=np.sqrt(0.01 + 0.4**2))
    found = recent_level._chances(np.full(shape, step), np.full(shape, 0.01), np.ones(shape, dtype=bool))
    assert found[0, 0, 0] == pytest.approx(moved / (moved + norm.pdf(step, scale=0.1)))


@pytest.mark.parametrize(("n_origins", "variance"), [(0, 0.01), (5, 0.005)])
def test_levels_are_believed_to_wander_by_a_tenth_until_five_origins_say_otherwise(n_origins, variance):
    square = np.where(np.arange(8) < n_origins, 0.0, np.nan)[None, :, None]
    assert recent_level._wander(square, np.zeros((1, 8, 1)))[0, 0] == pytest.approx(variance)


def last_year(feast: int, ahead: int = 30) -> np.ndarray:
    """Change of level after 1000 every day but for 9000 a year before one of the days ahead."""
    y = np.full((1, 1, FURTHEST_BACK + ahead), 1000.0)
    y[0, 0, FURTHEST_BACK + feast - 364] = 9000.0
    y[0, 0, FURTHEST_BACK:] = 5000.0  # to come: not looked at
    return as_last_year(np.full(y.shape, 1000.0), y, np.ones(1))[0, 0]


def test_a_level_rises_as_it_rose_last_year_for_a_week_on_either_side():
    """Eight thousand more in fifteen days: 23 for 15."""
    assert last_year(20) == pytest.approx(np.where(np.abs(np.arange(30) - 20) <= 7, 23 / 15, 1.0), rel=0.01)


def test_a_level_that_stood_as_high_last_year_falls_as_it_fell_then():
    assert last_year(0)[[0, 7, 8]] == pytest.approx([1.0, 1.0, 15 / 23], rel=0.01)


@pytest.mark.parametrize("known", [slice(20, None), slice(15)], ids=["begun since", "shut after it"])
def test_nothing_is_said_of_last_year_but_where_both_weeks_are_known(known):
    y = np.full((1, 1, FURTHEST_BACK + 45), np.nan)
    y[0, 0, known] = 9.0
    assert (as_last_year(np.full(y.shape, 7.0), y, np.ones(1))[0, 0, 15:] == 1).all()
