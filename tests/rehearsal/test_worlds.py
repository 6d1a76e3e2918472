"""The invented worlds: their true odds are those by which guests come, and do not say who will come."""

from datetime import timedelta

import numpy as np
import pytest
from bench import worlds

AHEAD = 14


def told(kind, seed=1):
    """The odds of the last two weeks by dish, [day, path], how guests come, and who came, [day]."""
    home, record, crowd = worlds.lived(worlds.WORLDS[kind], seed)
    days = tuple(worlds.LAST - timedelta(days=AHEAD - 1 - n) for n in range(AHEAD))
    covers = record.covers.set_index("date")["covers"].reindex([str(day) for day in days], fill_value=0.0)
    return worlds.odds(home, record, crowd, seed)(days), crowd, home, covers.to_numpy()


@pytest.mark.parametrize("kind", ["steady", "growing", "festive", "new menu", "parties"])
def test_the_odds_are_those_by_which_guests_come(kind):
    foreseen, crowd, home, _ = told(kind)
    for n, dish in enumerate(foreseen.dishes):
        share = np.broadcast_to(crowd.mix.get(dish, worlds.MIX[dish]), crowd.rate.shape)
        expected = float((crowd.rate * share)[-AHEAD:].sum())
        expected += sum(party.menu.get(dish, 0.0) for party in home.parties if party.date in foreseen.days)
        assert foreseen.mean[n].sum() == pytest.approx(expected, rel=0.02, abs=1)
        nights = foreseen.portions[n].std(axis=1) ** 2  # of a binomial part of a Poisson number
        assert nights.mean() == pytest.approx(float((crowd.rate * share)[-AHEAD:].mean()), rel=0.12, abs=0.5)


def test_who_has_booked_is_known_and_narrows_the_night():
    foreseen, crowd, _, covers = told("booked")
    is_open = crowd.rate[-AHEAD:] > 0
    expected, wide = (
        crowd.rate[-AHEAD:][is_open],
        np.sqrt(crowd.rate + 0.12 * crowd.rate**2)[-AHEAD:][is_open],
    )
    missed = foreseen.covers_mean[is_open] - covers[is_open]
    assert np.abs(missed).mean() < 0.5 * np.abs(expected - covers[is_open]).mean()
    assert (foreseen.covers[is_open].std(axis=1) < 0.5 * wide).all()


def test_a_spell_is_known_until_yesterday_and_then_anybodys_guess():
    foreseen, crowd, _, _ = told("rough", seed=2)
    is_open, last = crowd.rate[-AHEAD:] > 0, crowd.spell[-AHEAD - 1]
    assert abs(last) > 0.1
    of_usual = foreseen.covers_mean[is_open] / crowd.rate[-AHEAD:][is_open]
    assert np.log(of_usual[:3].mean()) == pytest.approx(last * 0.95**2, abs=0.06)
    spread = foreseen.covers.std(axis=1)[is_open] / foreseen.covers_mean[is_open]
    assert spread[-3:].mean() > 1.1 * spread[:3].mean()
