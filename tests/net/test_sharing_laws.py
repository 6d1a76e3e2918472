"""What is scarce is shared in turn: held against maximum flows, on random lots and asks."""

import math

import numpy as np
import pytest
import strategies
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from ordering.net.allocation import Claim, refused
from ordering.net.shelf_life import Parcel

law = settings(strategies.LAW, max_examples=150)

PARCELS = st.lists(st.tuples(st.integers(0, 8), st.integers(0, 5), st.integers(1, 9)), max_size=7)
ASKS = st.lists(st.tuples(st.integers(0, 8), st.integers(1, 9), st.integers(0, 4)), min_size=1, max_size=9)


def most_given(parcels, asks):
    """The most that can be given of parcels to asks, (day, quantity): a maximum flow."""
    n, end = len(parcels), len(parcels) + len(asks) + 1
    pipes = np.zeros((end + 1, end + 1), dtype=np.int32)
    for i, (first, days, quantity) in enumerate(parcels, start=1):
        pipes[0, i] = quantity
        for k, (on, _) in enumerate(asks, start=1):
            pipes[i, n + k] = 99 if first <= on <= first + days else 0
    for k, (_, quantity) in enumerate(asks, start=1):
        pipes[n + k, end] = quantity
    return maximum_flow(csr_array(pipes), 0, end).flow_value


def missing(parcels, asks):
    """What each ask goes without, in turn, as the program has it."""
    there = [Parcel(first, first + days, float(q)) for first, days, q in parcels]
    asked = [
        Claim((0.0, 0, 0.0, 0.0, ""), on, np.array([float(q)]), float(piece), slot=k)
        for k, (on, q, piece) in enumerate(asks)
    ]
    found = {ask.slot: float(short[0]) for ask, short in refused(there, asked)}
    return [found.get(k, 0.0) for k in range(len(asks))]


@law
@given(PARCELS, ASKS)
def test_whoever_ranks_first_is_given_all_that_can_be_given_beside_those_before(parcels, asks):
    """A maximum flow, ask by ask, says the same."""
    short = missing(parcels, [(on, q, 0) for on, q, _ in asks])
    given_so_far = 0
    for k, (_, q, _) in enumerate(asks):
        most = most_given(parcels, [(on, quantity) for on, quantity, _ in asks[: k + 1]])
        assert short[k] == pytest.approx(q - (most - given_so_far))
        given_so_far = most


@law
@given(PARCELS, ASKS)
def test_what_is_short_adds_up_to_what_must_be_got_and_no_more(parcels, asks):
    """Of asks in whole pieces too; what they then still draw can be drawn, and nobody goes without a piece
    that is there beside what those before it and after it draw."""
    short = missing(parcels, asks)
    wanted = [(on, q) for on, q, _ in asks]
    assert sum(short) == pytest.approx(sum(q for _, q in wanted) - most_given(parcels, wanted))
    without = [
        min(q, math.ceil(one / piece - 1e-9) * piece) if piece else one
        for one, (_, q, piece) in zip(short, asks, strict=True)
    ]
    drawn = [(on, round(q - w)) for (on, q), w in zip(wanted, without, strict=True)]
    assert most_given(parcels, drawn) == sum(q for _, q in drawn)
    for k, (on, q, piece) in enumerate(asks):
        if without[k]:
            more = drawn[k][1] + min(max(piece, 1), q - drawn[k][1])
            others = [*drawn[:k], (on, more), *drawn[k + 1 :]]
            assert most_given(parcels, others) < sum(quantity for _, quantity in others)
