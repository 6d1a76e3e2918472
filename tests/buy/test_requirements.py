import numpy as np
import pytest
from buy.needs import need
from houses import deliveries, ingredient, offer

from ordering.buy.requirements import CoverSpan, delivery_constraints
from ordering.records.plan import Requirement


def covered(by_day, arrivals, keeps_days=None, n_days=14, par=None, now_until=7, stock=0.0):
    rice = offer("mill", "rice")
    thing = ingredient("rice", offers=(rice,), keeps_days=keeps_days, par=par)
    pairs = [(rice, c) for c in deliveries("mill", arrivals, now_until=now_until)["mill"]]
    return delivery_constraints(thing, pairs, need("rice", by_day, n_days, stock))


def test_goods_that_keep_need_one_condition_for_each_delivery():
    found = covered({2: 1, 5: 2, 9: 4}, (1, 4, 8), now_until=20)
    assert found.spans == (CoverSpan(1, 1, 1.0), CoverSpan(1, 4, 3.0), CoverSpan(1, 8, 7.0))


def test_goods_that_spoil_must_come_late_enough_for_their_day():
    """Two days' keeping: the need of day 5 is for the delivery of day 4 alone."""
    found = covered({2: 1, 5: 2}, (1, 4), keeps_days=2, n_days=7)
    assert CoverSpan(4, 4, 2.0) in found.spans
    assert CoverSpan(1, 4, 3.0) in found.spans


def test_need_before_the_first_delivery_is_out_of_reach():
    found = covered({0: 1, 3: 2}, (2,))
    assert found.need[-1] == 2
    assert found.unreached.tolist() == [1] + [0] * 13


def test_need_after_all_has_spoilt_is_out_of_reach():
    found = covered({3: 2, 5: 1}, (2,), keeps_days=2)
    assert (found.need[-1], found.unreached[5]) == (2, 1)


def test_ten_days_are_looked_at_and_as_long_as_a_delivery_must_last():
    assert covered({20: 1}, range(1, 28), n_days=28).window == 9
    assert covered({20: 1}, (1, 15), n_days=28).window == 14
    assert covered({20: 1}, (1,), n_days=28).window == 27


def test_what_is_wanted_after_the_days_looked_at_is_worth_having_while_it_keeps():
    found = covered({3: 1, 12: 4}, range(1, 28), n_days=28).wanted_later
    assert (found.quantity, found.day) == (4, (10 + 27) / 2)
    assert covered({3: 1, 12: 4}, range(1, 28), keeps_days=1, n_days=28).wanted_later.quantity == 0


def test_a_par_is_asked_after_each_delivery():
    found = covered({}, (1, 4), par=5.0, stock=2.0, now_until=20)
    assert found.spans == (CoverSpan(1, 1, 3.0, True), CoverSpan(1, 4, 3.0, True))


def test_a_par_of_goods_that_spoil_is_asked_of_what_is_still_good():
    found = covered({}, (1, 4), par=5.0, keeps_days=2, now_until=20)
    assert found.spans == (CoverSpan(1, 1, 5.0, True), CoverSpan(4, 4, 5.0, True))


def test_nothing_needed_is_nothing_to_cover():
    assert covered({}, (1,)) is None
    assert covered({0: 3}, ()).pairs == ()


def test_a_curve_that_falls_is_read_as_level():
    """A quantile of a cumulative need may fall by a hair between days."""
    rice = offer("mill", "rice")
    curve = np.array([0.0, 2.0, 1.9, 3.0])
    pairs = [(rice, c) for c in deliveries("mill", (1,))["mill"]]
    found = delivery_constraints(
        ingredient("rice", offers=(rice,)), pairs, Requirement("rice", curve, curve, curve, 0.9)
    )
    assert found.need.tolist() == [0, 2, 2, 3]


@pytest.mark.parametrize(("day", "expected"), [(1, 3.0), (4, 4.0)])
def test_a_delivery_can_bring_what_is_wanted_before_it_spoils(day, expected):
    found = covered({2: 1, 4: 2, 8: 2}, (1, 4), keeps_days=4)
    assert found.useful(day) == expected
