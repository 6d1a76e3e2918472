"""What goes off is held only as far as one more is likelier to pay than to be thrown away."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from ordering.net.decide import cover, enough, quantile
from ordering.net.levels import critical_fractile
from ordering.net.spare import Spare


def days(*last):
    return np.array(last)


def poisson(n_days, mean, n_paths=2000, seed=5):
    return np.random.default_rng(seed).poisson(mean, (n_days, n_paths)).astype(float)


def test_what_is_good_for_a_day_is_the_newsvendors():
    needs = poisson(3, 20)
    held = cover(needs, 0.98, 0, Spare(8.0, 2.0, days(0, 1, 2)))
    assert held == pytest.approx(quantile(needs, critical_fractile(8, 2)), abs=0.01)


def test_the_chance_to_be_wanted_later_pays_too():
    """A fish comes on day 0 and no more before day 3. Good for all its life of four days, of which the last
    two want as much again, more of it is worth having than of one that is good on days 0 to 2 alone."""
    needs = np.vstack([poisson(3, 10), poisson(1, 10, seed=6)])
    short = cover(needs, 0.98, None, Spare(8.0, 4.0, days(2, 2, 2, 5)), 3).sum()
    long = cover(needs, 0.98, None, Spare(8.0, 4.0, days(3, 3, 3, 6)), 3).sum()
    level = quantile(needs[:3].sum(axis=0), 0.98)
    assert np.median(needs[:3].sum(axis=0)) < short < long <= level


def test_what_is_good_beyond_the_horizon_is_held_at_the_level():
    needs = poisson(3, 10)
    spare = Spare(8.0, 4.0, days(3, 3, 3))
    assert cover(needs, 0.98, None, spare) == pytest.approx(cover(needs, 0.98, None))


def test_whatever_it_wastes_there_is_enough_three_times_in_four():
    """What earns less than it wastes is on the menu all the same: a guest may ask for it."""
    needs = poisson(1, 20)
    assert cover(needs, 0.95, 0, Spare(1.0, 9.0, days(0))) == quantile(needs, 0.75)


@pytest.mark.parametrize("piece", [0.0, 1.0, 6.0])
@pytest.mark.parametrize(("margin", "thrown"), [(8.0, 4.0), (1.0, 9.0), (9.0, 1.0)])
def test_what_has_been_got_is_not_asked_for_again(piece, margin, thrown):
    """With what was asked for in the house, in whole packs, the next run asks for nothing."""
    needs, spare = poisson(1, 20), Spare(margin, thrown, days(0), piece)
    got = cover(needs, 0.98, 0, spare)[0]
    got = np.ceil(got / piece) * piece if piece else got
    assert cover(np.maximum(needs - got, 0.0), 0.98, 0, spare)[0] == pytest.approx(0.0, abs=1e-3)


def test_a_promise_is_kept_whatever_it_wastes():
    needs = poisson(1, 20)
    held = cover(needs, 0.98, 0, Spare(1.0, 9.0, days(0), promised=0.9))
    assert held == quantile(needs, 0.9)


@pytest.mark.parametrize("piece", [1.0, 4.0, 15.0])
def test_a_pack_more_is_opened_where_it_earns_more_than_it_wastes(piece):
    """Packs that cover what is asked earn as much as any number of packs (tried one by one), but never so few
    that there is enough less than three times in four."""
    margin, thrown, needs = 8.0, 3.0, poisson(1, 20)[0]
    asked = float(cover(needs[None, :], 0.99, 0, Spare(margin, thrown, days(0), piece))[0])
    packs = np.arange(0, 60 // piece + 2)
    earned = [
        (margin * np.minimum(needs, n * piece) - thrown * np.maximum(n * piece - needs, 0)).mean()
        for n in packs
    ]
    best = max(packs[int(np.argmax(earned))], np.ceil(np.quantile(needs, 0.75) / piece))
    assert np.ceil(asked / piece) == best
    assert asked <= cover(needs[None, :], 0.99, 0, Spare(margin, thrown, days(0)))[0] + 0.01


@given(
    st.integers(0, 10**6),
    st.floats(0.5, 20),
    st.floats(0.5, 20),
    st.sampled_from((0.0, 1.0, 5.0)),
    st.sampled_from((0.8, 0.95, 1.0)),
    st.integers(0, 5),
)
def test_bounds_and_order(seed, margin, thrown, piece, level, keeps):
    """No more than the level asks, no less than is enough three times in four; a dearer loss, a cheaper waste
    or a longer life never make it less."""
    rng = np.random.default_rng(seed)
    now = rng.poisson(rng.uniform(0, 9), (8, 60)).astype(float)
    needs = now.cumsum(axis=0)
    plain = quantile(needs, level)

    def held(margin=margin, thrown=thrown, keeps=keeps):
        spare = Spare(margin, thrown, np.arange(8) + keeps, piece)
        return spare.lowered(plain, needs, spare.wanted_later(now, 8), quantile(needs, spare.least))

    found, slack = held(), 1e-9 + plain / 200
    assert (found <= plain).all()
    assert (found >= np.minimum(plain, quantile(needs, 0.75)) - 1e-9).all()
    for more, less in pairwise([held(margin=2 * margin), found, held(margin=margin / 2)]):
        assert (more >= less - slack).all()
    for more, less in pairwise([held(thrown=thrown / 2), found, held(thrown=2 * thrown)]):
        assert (more >= less - slack).all()
    assert (held(keeps=keeps + 1) >= found - slack).all()


def test_how_often_it_is_enough_is_counted():
    needs = np.array([[1.0, 2, 3, 4], [1.0, 1, 1, 1]])
    assert enough(needs, np.array([3.0, 0.0])).tolist() == [0.75, 0.5]
