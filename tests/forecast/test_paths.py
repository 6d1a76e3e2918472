"""Scores of sample paths: streams by name, levels that last, ranks spread evenly."""

import numpy as np
import pytest
from scipy.special import ndtri

from ordering.forecast.paths import (
    NEAR_DAYS,
    NEAR_FADE,
    PERSISTENCE,
    USUAL_SHARE,
    dealt,
    even_ranks,
    lasting_shares,
    moved_by,
    scores,
    seen_through_steps,
    stream,
)

DAYS = np.arange(40)


def test_a_stream_depends_on_seed_and_name_alone():
    assert stream(1, "duck").random() == stream(1, "duck").random()
    assert stream(1, "duck").random() != stream(2, "duck").random()
    assert stream(1, "duck").random() != stream(1, "pie").random()


def test_scores_are_standard_normal_and_last():
    found = scores(stream(1, "x"), DAYS, 0.5, 4000)
    assert found.mean() == pytest.approx(0, abs=0.05)
    assert found.std() == pytest.approx(1, abs=0.02)
    next_day = np.mean([np.corrcoef(found[n], found[n + 1])[0, 1] for n in range(39)])
    assert next_day == pytest.approx(0.5 * 0.97, abs=0.02)
    assert np.corrcoef(found[0], found[39])[0, 1] == pytest.approx(0.5 * 0.97**39, abs=0.06)


def test_what_lasts_is_found_again():
    found = scores(stream(3, "x"), DAYS, 0.6, 200).T
    assert lasting_shares(found[None])[0] == pytest.approx(0.6, abs=0.12)
    assert lasting_shares(scores(stream(3, "x"), DAYS, 0.0, 200).T[None])[0] < 0.06


def test_no_past_scores_mean_the_usual_share():
    assert lasting_shares(np.full((2, 3, 28), np.nan)).tolist() == pytest.approx([USUAL_SHARE] * 2)


def test_a_menu_teaches_a_dish_of_which_little_is_known():
    """Thirty dishes whose level lasts, eight origins each; another, of a single one, is taken as they are."""
    seen = np.stack([scores(stream(n, "x"), DAYS, 0.4, 8).T for n in range(30)])
    new = np.where(np.arange(8)[:, None] == 7, scores(stream(99, "x"), DAYS, 0.0, 8).T, np.nan)
    found = lasting_shares(np.concatenate([seen, new[None]]))
    assert found[:-1].mean() == pytest.approx(0.35, abs=0.08)
    assert 0.2 < found[-1] < 0.4


def test_what_lasts_is_found_in_counts_of_a_few_a_day():
    """Scores seen through wide steps: a dish sold or not; what lasts behind them is found all the same."""
    behind = scores(stream(5, "x"), DAYS, 0.5, 4000).T[None]
    rank = np.where(behind > 0, 0.75, 0.25)
    assert lasting_shares(ndtri(rank))[0] == pytest.approx(0.5, abs=0.12)


def test_ranks_are_even_and_dealt_in_the_sequence_of_the_scores():
    score = stream(1, "x").standard_normal((5, 50))
    rank = dealt(np.tile(even_ranks(50), (5, 1)), score)
    assert (np.sort(rank, axis=1) == (np.arange(50) + 0.5) / 50).all()
    assert (np.argsort(rank, axis=1) == np.argsort(score, axis=1)).all()


def test_correlation_with_the_common_scores_is_the_share():
    common, own = stream(1, "a").standard_normal((1, 20_000)), stream(1, "b").standard_normal((1, 20_000))
    mixed = moved_by(common, own, 0.7)
    assert np.corrcoef(common[0], mixed[0])[0, 1] == pytest.approx(0.7, abs=0.02)
    assert mixed.std() == pytest.approx(1, abs=0.02)


def test_a_level_has_faded_so_far_between_two_of_the_days_compared():
    """The mean of 0.97 to the days between, over all pairs of four weeks."""
    apart = np.abs(np.subtract.outer(np.arange(28), np.arange(28)))[np.triu_indices(28, 1)]
    assert NEAR_DAYS == 28
    assert pytest.approx((PERSISTENCE**apart).mean(), abs=0.005) == NEAR_FADE


def test_two_equal_steps_show_two_thirds_of_what_is_behind_them():
    """The signs of two normal scores correlate by 2 / pi asin of theirs (Sheppard 1899, from memory)."""
    middle = ndtri(0.75)
    assert seen_through_steps(np.array([middle**2]))[0] == pytest.approx(2 / np.pi, rel=1e-3)
    assert seen_through_steps(np.array([1.0, 1.2])).tolist() == [1.0, 1.0]


def test_four_origins_say_as_much_as_is_usual_and_a_dish_of_twelve_as_much_as_its_menu():
    """Two dishes, four origins of 28 days: 22 days above and 6 below what was expected, and half and half."""
    score = np.where(np.arange(28) < np.array([22, 14])[:, None], 1.0, -1.0)
    seen = (np.array([16.0, 0.0]) ** 2 - 28) / (28 * 27) / NEAR_FADE
    menu = (4 * seen.mean() + 4 * 0.1) / 8
    found = lasting_shares(np.repeat(score[:, None], 4, axis=1))
    assert found == pytest.approx((4 * seen + 12 * menu) / 16)
