"""What deliveries must last for: cut-offs, closed days, lead times, shelf lives, waste and pars."""

from datetime import date, datetime

import numpy as np
import pytest
from buy.needs import bought, need, packs, shop
from houses import house, ingredient, offer, vendor

from ordering.records.plan import Requirement


def test_a_cut_off_missed_by_a_minute_is_a_shortage_and_nothing_is_bought_for_it():
    home = shop(offer("mill", "rice", 1, 2))
    in_time = bought(home, need("rice", {1: 4}), now=datetime(2026, 11, 23, 15, 0))
    assert packs(in_time.orders) == [("mill-rice", 1, 4)]
    late = bought(home, need("rice", {1: 4}), now=datetime(2026, 11, 23, 15, 1))
    assert late.orders == ()
    assert late.outlook == ()
    assert [(u.item, u.needed_on, u.short, u.cause) for u in late.unmet] == [
        ("rice", date(2026, 11, 24), 4.0, "no-delivery")
    ]


def test_a_delivery_lasts_until_the_next_one_the_next_run_can_order():
    """Tuesdays and Fridays by the day before; Tuesday of next week is ordered next Monday, so that Friday
    must last until then, and Friday of next week is outlook."""
    home = shop(offer("mill", "rice", 1, 2), vendors=[vendor("mill", (1, 4))])
    buying = bought(home, need("rice", dict.fromkeys(range(1, 14), 1)))
    assert packs(buying.orders) == [("mill-rice", 1, 3), ("mill-rice", 4, 4)]
    assert packs(buying.outlook) == [("mill-rice", 8, 3), ("mill-rice", 11, 3)]


def test_what_spoils_is_not_bought_a_delivery_early_to_round_up_once_instead_of_twice():
    """Lamb for Tuesday to Thursday fills three packs and a half, for Friday to Sunday five and a third.
    Friday's can be ordered on Thursday, when more is known."""
    butcher = vendor("butcher", (1, 4))
    home = shop(offer("butcher", "lamb", 1.5, 26), keeps_days=4, item="lamb", vendors=[butcher])
    wanted = need("lamb", {1: 1.5, 2: 1.75, 3: 2.0, 4: 2.5, 5: 3.25, 6: 2.25})
    buying = bought(home, wanted, next_run=date(2026, 11, 26))
    assert packs(buying.orders) == [("butcher-lamb", 1, 4)]
    assert packs(buying.outlook) == [("butcher-lamb", 4, 5)]


def test_a_closed_day_makes_the_delivery_before_it_last_longer():
    seller = vendor("mill", (1,), closed=frozenset({date(2026, 12, 1)}))
    home = shop(offer("mill", "rice", 1, 2), vendors=[seller])
    buying = bought(home, need("rice", dict.fromkeys(range(1, 20), 1), 20))
    assert packs(buying.orders) == [("mill-rice", 1, 14)]


def test_a_long_lead_is_ordered_now_for_the_week_it_is_delivered_in():
    seller = vendor("far", (4,), weeks_ahead=2)
    home = shop(offer("far", "rice", 1, 2), vendors=[seller])
    buying = bought(home, need("rice", dict.fromkeys(range(18, 28), 1), 28))
    assert packs(buying.orders) == [("far-rice", 18, 7)]


def test_a_cheap_long_lead_and_a_dear_short_one_share_the_work():
    """Far costs 1.00 and comes on day 18 at the earliest, near costs 3.00: near fills the days before,
    and only as far as the next run cannot; far is ordered now for its own week."""
    offers = offer("far", "rice", 1, "1.00"), offer("near", "rice", 1, "3.00")
    home = shop(*offers, vendors=[vendor("far", (4,), weeks_ahead=2), vendor("near", (1,))])
    buying = bought(home, need("rice", dict.fromkeys(range(1, 28), 1), 28))
    assert packs(buying.orders) == [("far-rice", 18, 7), ("near-rice", 1, 7)]
    assert [(line.code, line.packs) for line in buying.outlook][:2] == [("near-rice", 7), ("near-rice", 3)]


def test_nothing_is_bought_that_spoils_before_it_is_wanted():
    """The sack is cheaper by the kilo but keeps three days; two kilos are wanted in them."""
    offers = offer("mill", "rice", 25, 26, code="sack"), offer("mill", "rice", 1, "1.50", code="kilo")
    home = shop(*offers, keeps_days=3, vendors=[vendor("mill", (1, 4))])
    buying = bought(home, need("rice", {2: 1, 4: 1, 9: 20}))
    assert packs(buying.orders)[:1] == [("kilo", 1, 1)]
    assert all(code == "kilo" for code, _, _ in packs(buying.orders))


def test_a_pack_larger_than_what_is_used_in_time_is_bought_when_it_must_be_and_said():
    home = shop(offer("mill", "rice", 5, 26), keeps_days=3)
    buying = bought(home, need("rice", {2: 1}))
    assert packs(buying.orders) == [("mill-rice", 1, 1)]
    assert "about 4 kg more than will be used while it keeps" in buying.orders[0].note


@pytest.mark.parametrize(("wanted", "is_said"), [(4.92, False), (4.85, True)])
def test_a_rest_of_less_than_a_fiftieth_of_a_pack_is_not_said(wanted, is_said):
    buying = bought(shop(offer("mill", "rice", 5, 26), keeps_days=3), need("rice", {2: wanted}))
    assert ("more than will be used" in buying.orders[0].note) == is_said


def test_waste_is_not_claimed_beyond_the_horizon():
    home = shop(offer("mill", "rice", 5, 26), keeps_days=60)
    assert bought(home, need("rice", {2: 1})).orders[0].note == ""


@pytest.mark.parametrize(("keeps_days", "is_said"), [(11, True), (12, True), (13, False), (100, False)])
def test_waste_is_claimed_up_to_the_last_day_of_the_horizon(keeps_days, is_said):
    """Delivered on day 1 of 14, good through day 13, the last: seen to spoil; a day longer is not."""
    home = shop(offer("mill", "rice", 5, 26), keeps_days=keeps_days)
    note = bought(home, need("rice", {2: 1})).orders[0].note
    assert ("more than will be used" in note) is is_said


def test_what_spoils_before_the_next_delivery_is_out_of_reach():
    home = shop(offer("mill", "rice", 1, 2), keeps_days=2, vendors=[vendor("mill", (1,))])
    buying = bought(home, need("rice", {1: 1, 3: 1, 5: 1}))
    assert packs(buying.orders) == [("mill-rice", 1, 2)]
    assert [(u.needed_on, u.cause) for u in buying.unmet] == [(date(2026, 11, 28), "expires")]


@pytest.mark.parametrize(
    ("offers", "seller", "cause"),
    [
        ((), vendor("mill", (1,)), "no-offer"),
        ((offer("mill", "rice", until=date(2026, 11, 20)),), vendor("mill", (1,)), "no-offer"),
        ((offer("mill", "rice", until=date(2026, 11, 23)),), vendor("mill", (1,)), "no-offer"),
        ((offer("mill", "rice"),), vendor("mill", ()), "no-delivery"),
        (
            (offer("mill", "rice"),),
            vendor("mill", (1,), closed=frozenset({date(2026, 11, 24)})),
            "vendor-closed",
        ),
    ],
)
def test_need_out_of_reach_has_its_cause(offers, seller, cause):
    home = house([ingredient("rice", offers=offers)], vendors=[seller])
    buying = bought(home, need("rice", {3: 2}, 7))
    assert [(u.short, u.cause) for u in buying.unmet] == [(2.0, cause)]
    assert buying.orders == ()


def test_a_par_is_back_after_each_delivery():
    """Par 6, 2 left, 1 used a day: 4 on Tuesday, and what was used since on Friday."""
    n = 14
    left = np.maximum(2.0 - np.arange(n), 0.0)
    used = np.maximum(np.arange(1, n + 1) - 2.0, 0.0)
    home = shop(offer("mill", "rice", 1, 2), par=6, vendors=[vendor("mill", (1, 4))])
    buying = bought(home, Requirement("rice", used, used, left, 0.95))
    assert packs(buying.orders) == [("mill-rice", 1, 5), ("mill-rice", 4, 3)]


def test_a_par_is_kept_where_nothing_is_forecast():
    home = shop(offer("mill", "rice", 1, 2), par=6)
    assert packs(bought(home, need("rice", {}, stock=2.5)).orders) == [("mill-rice", 1, 4)]
    assert bought(home, need("rice", {}, stock=6.0)).orders == ()
