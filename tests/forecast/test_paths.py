"""Scores of sample paths: streams by name, levels that last, ranks spread evenly."""

import numpy as np
import pytest

from ordering.forecast.paths import dealt, even_ranks, lasting_share, moved_by, scores, stream

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
    assert lasting_share(found) == pytest.approx(0.6, abs=0.12)
    assert lasting_share(scores(stream(3, "x"), DAYS, 0.0, 200).T) < 0.06


def test_no_past_scores_mean_the_usual_share():
    assert lasting_share(np.full((3, 28), np.nan)) == 0.2


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
