"""Lots that go past their date: not counted on after their last day, made up for in time, and told."""

from dataclasses import replace

import houses
import numpy as np
import pytest
import strategies
from houses import MONDAY, day, dish, ingredient, recipe
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.net.netting import net_all
from ordering.records.books import Lot
from ordering.records.house import Policy
from ordering.records.plan import Opening

plain = settings(strategies.LAW, max_examples=40)


def ageing(sold, *lots, takes=3, keeps=4, coming=(), price=10, policy=None):
    """Ribs hung `takes` days and good for `keeps` more, a steak of one kilo."""
    home = houses.house(
        [ingredient("rib", offers=(houses.offer("farm", "rib", 1, price),))],
        [recipe("aged", 1, {"rib": 1.5}, takes_days=takes, keeps_days=keeps)],
        [dish("steak", "aged")],
        [houses.vendor("farm")],
        policy=policy or Policy(0.95, 4, 1),
    )
    demand = houses.forecast(home, {"steak": np.asarray(sold, dtype=float)})
    return net_all(home, Opening(lots, tuple(coming)), demand, {}, {"rib": 0})


def begun(found, n_days):
    """Kilos begun by day index."""
    started = np.zeros(n_days)
    for start in found.starts:
        started[(start.start_on - MONDAY).days] += start.quantity
    return started


def test_what_follows_a_lot_s_last_day_is_begun_in_full_and_in_time():
    """Twenty kilos good until day 3, two wanted a day: day 4 is hung for on day 1 as if none were there."""
    found = ageing([2.0] * 8, Lot("aged", 20.0, day(3)))
    assert begun(found, 8)[:5].tolist() == [0, 2, 2, 2, 2]
    assert found.flows["aged"].expired.tolist() == [0, 0, 0, 0, 12, 0, 0, 0]
    assert found.requirements["rib"].required[:5].tolist() == [0, 3, 6, 9, 12]
    assert found.shortfalls == ()


@pytest.mark.parametrize(("level", "wanted"), [(0.6, 4.0), (0.95, 9.0)])
def test_it_is_so_on_every_path(level, wanted):
    """Whatever a path leaves of the lot, the days after its last are hung for in full on that path."""
    sold = np.array([[1.0, 4.0, 9.0]] * 8)
    found = ageing(sold, Lot("aged", 40.0, day(3)), keeps=0, policy=Policy(level, 3, 1))
    assert found.flows["aged"].expired[4] == pytest.approx((36 + 24 + 4) / 3)
    assert begun(found, 8)[:5].tolist() == [0, wanted, wanted, wanted, wanted]
    assert found.shortfalls == ()


def test_a_lot_that_ends_before_anything_can_be_ready_leaves_a_hole_that_is_said():
    found = ageing([2.0] * 8, Lot("aged", 20.0, day(1)))
    assert [(s.item, s.needed_on, s.short, s.cause) for s in found.shortfalls] == [
        ("aged", day(2), 2.0, "expires")
    ]
    assert begun(found, 8)[:3].tolist() == [2, 2, 2]


def test_a_lot_in_process_and_one_on_its_way_end_on_their_own_last_day():
    found = ageing([0.0] * 3 + [2.0] * 6, Lot("aged", 9.0, day(5), day(3)))
    assert found.flows["aged"].expired.tolist() == [0, 0, 0, 0, 0, 0, 3, 0, 0]
    assert begun(found, 9)[:6].tolist() == [0, 0, 0, 2, 2, 2]
    coming = houses.coming("rib", 12.0, day(1), day(2))
    found = ageing([0.0] * 4 + [2.0] * 4, coming=[coming], keeps=0)
    assert found.flows["rib"].expired.tolist() == [0, 0, 0, 6, 0, 0, 0, 0]
    assert found.requirements["rib"].required.tolist() == [0, 0, 0, 3, 6, 6, 6, 6]


@plain
@given(strategies.cases(), st.data())
def test_more_of_a_lot_than_can_be_used_in_time_is_thrown_away_and_changes_nothing_else(case, data):
    """A lot of more than anybody can want by its last day, and ten more of it: the plan is the same."""
    item = data.draw(st.sampled_from(sorted([*case.house.ingredients, *case.house.recipes])))
    last = data.draw(st.integers(0, len(case.forecast.days) - 2))
    plans = []
    for quantity in (1e6, 1e6 + 10):
        lots = (*case.opening.lots, Lot(item, quantity, day(last)))
        deliveries = houses.deliveries("v", range(0, len(case.forecast.days), 3))
        plans.append(
            net_all(case.house, replace(case.opening, lots=lots), case.forecast, deliveries, case.arrival)
        )
    one, other = plans
    assert [(s.start_on, s.recipe) for s in one.starts] == [(s.start_on, s.recipe) for s in other.starts]
    for a, b in zip(one.starts, other.starts, strict=True):
        assert a.batches == pytest.approx(b.batches)
    for name, need in one.requirements.items():
        assert need.required == pytest.approx(other.requirements[name].required, abs=1e-6)
    assert [(s.item, s.needed_on) for s in one.shortfalls] == [
        (s.item, s.needed_on) for s in other.shortfalls
    ]
    more = np.zeros(len(case.forecast.days))
    more[last + 1] = 10.0
    assert other.flows[item].expired - one.flows[item].expired == pytest.approx(more, abs=1e-6)
    mine = [lot for lot in one.expiring if lot.item == item and lot.use_by == day(last)]
    assert len([lot for lot in mine if lot.there_on is None]) == 1
    if not one.flows[item].by_product.any():  # what has yet to come off a batch is no lot
        told = sum(lot.unused for lot in mine)
        assert told == pytest.approx(one.flows[item].expired[last + 1], abs=1e-6)


def test_each_lot_that_will_be_left_is_told_with_its_last_day_and_how_much_the_dearest_first():
    found = ageing(
        [2.0] * 12,
        Lot("aged", 7.0, day(2)),
        Lot("aged", 20.0, day(9), day(4)),
        Lot("rib", 3.0, day(0)),
        takes=9,
        keeps=0,
        price=4,
    )
    told = [
        (x.item, x.use_by, x.quantity, x.unused, x.there_on, x.is_ordered, x.cost) for x in found.expiring
    ]
    assert told == [
        ("aged", day(9), 20.0, 8.0, day(4), False, 48.0),
        ("rib", day(0), 3.0, 3.0, None, False, 12.0),
        ("aged", day(2), 7.0, 1.0, None, False, 6.0),
    ]


def test_lots_of_one_item_with_the_same_dates_are_one():
    found = ageing([2.0] * 6, Lot("aged", 5.0, day(2)), Lot("aged", 4.0, day(2)))
    assert [(x.quantity, x.unused) for x in found.expiring] == [(9.0, 3.0)]


def test_what_is_ordered_and_will_not_be_wanted_is_told_as_ordered():
    found = ageing([0.0] * 6, coming=[houses.coming("rib", 3.0, day(1), day(4))])
    assert [(x.item, x.is_ordered, x.there_on, x.use_by) for x in found.expiring] == [
        ("rib", True, day(1), day(4))
    ]


@pytest.mark.parametrize(
    ("sold", "is_told"),
    [
        ([9.9, 9.9, 9.9, 0.0], False),  # left over on one path of four: a quiet evening may come
        ([9.9, 9.9, 0.0, 0.0], False),  # as likely as not
        ([9.9, 0.0, 0.0, 0.0], True),  # likely
        ([9.3, 9.3, 9.3, 9.3], True),  # a slice of fifteen
        ([9.6, 9.6, 9.6, 9.6], False),  # a few slices are no news
    ],
)
def test_only_what_is_likely_and_worth_saying_is_told(sold, is_told):
    found = ageing([sold, *[[0.0] * 4] * 5], Lot("aged", 10.0, day(0)))
    assert bool(found.expiring) is is_told


def test_what_has_no_date_or_outlives_the_days_looked_ahead_is_not_told():
    lots = (Lot("aged", 50.0), Lot("aged", 50.0, day(5)), Lot("aged", 50.0, day(40)))
    assert ageing([1.0] * 6, *lots).expiring == ()


def test_a_waste_of_unknown_cost_comes_last():
    found = ageing([0.0] * 6, Lot("aged", 1.0, day(1)), Lot("rib", 1.0, day(1)), price=None)
    assert [(x.item, x.cost) for x in found.expiring] == [("aged", None), ("rib", None)]
