"""What is left to later deliveries, and what is not because a vendor would not come for it."""

from datetime import date
from decimal import Decimal

import pytest
from buy.needs import bought, need, packs
from houses import house, ingredient, offer, vendor

BEEF = ingredient("beef", keeps_days=6, offers=(offer("farm", "beef", 2, 20),))
WANTED = {"beef": {6: 6}, "flour": {9: 12}}


def farm(*things, weekdays=(2, 5), minimum=40, **rest):
    return house(things, vendors=[vendor("farm", weekdays, minimum=Decimal(minimum), **rest)])


def flour(keeps_days=100, *more):
    return ingredient("flour", keeps_days=keeps_days, offers=(offer("farm", "flour", 5, 6), *more))


def needs(**more):
    return [need(item, days) for item, days in {**WANTED, **more}.items()]


def test_what_would_wait_for_a_delivery_below_its_minimum_is_bought_now():
    """Flour for Wednesday week, 18.00: nobody would bring it by itself."""
    buying = bought(farm(BEEF, flour(), delivery_fee=Decimal(5)), *needs())
    assert packs(buying.orders) == [("farm-beef", 5, 3), ("farm-flour", 5, 3)]
    assert buying.outlook == ()
    assert not any("foreseen" in note for note in buying.notes)


def test_a_part_of_a_need_left_to_such_a_delivery_is_bought_now_too():
    """The first five kilos are wanted on Tuesday, the rest on Wednesday week."""
    buying = bought(farm(BEEF, flour()), *needs(flour={8: 5, 9: 7}))
    assert packs(buying.orders) == [("farm-beef", 5, 3), ("farm-flour", 5, 3)]
    assert buying.outlook == ()


def test_it_waits_where_the_vendor_has_no_minimum():
    buying = bought(farm(BEEF, flour(), minimum=0), *needs())
    assert packs(buying.orders) == [("farm-beef", 5, 3)]
    assert packs(buying.outlook) == [("farm-flour", 9, 3)]


def test_it_waits_where_it_has_company_enough():
    buying = bought(farm(BEEF, flour()), *needs(beef={6: 6, 10: 4}))
    assert packs(buying.orders) == [("farm-beef", 5, 3)]
    assert packs(buying.outlook) == [("farm-beef", 9, 2), ("farm-flour", 9, 3)]


def test_company_comes_with_goods_of_the_next_delivery_that_keep():
    """Beef of Saturday week keeps from Wednesday on; the next run can fill the Wednesday with it."""
    buying = bought(farm(BEEF, flour()), *needs(beef={6: 6, 12: 4}))
    assert packs(buying.orders) == [("farm-beef", 5, 3)]


@pytest.mark.parametrize("weekdays", [(2, 5), (1, 2, 5), (0, 1, 2, 5)])
def test_no_other_later_delivery_helps_that_is_below_the_minimum_too(weekdays):
    buying = bought(farm(BEEF, flour(), weekdays=weekdays), *needs())
    assert packs(buying.orders) == [("farm-beef", 5, 3), ("farm-flour", 5, 3)]
    assert buying.outlook == ()


def test_what_does_not_keep_until_then_stays_and_is_said():
    buying = bought(farm(BEEF, flour(keeps_days=3)), *needs())
    assert packs(buying.orders) == [("farm-beef", 5, 3)]
    assert packs(buying.outlook) == [("farm-flour", 9, 3)]
    assert "delivery of 18.00, below the minimum of 40.00" in buying.outlook[0].note


def test_what_another_vendor_brings_later_is_not_bought_now_to_round_up():
    """A whole pack saves 1.00 now; for two fifths of one it pays to wait for the mill."""
    mill = offer("mill", "flour", 5, 7)
    home = house(
        [BEEF, flour(100, mill)],
        vendors=[vendor("farm", (2, 5), minimum=Decimal(40)), vendor("mill", (2,))],
    )
    buying = bought(home, *needs())
    assert packs(buying.orders) == [("farm-beef", 5, 3), ("farm-flour", 5, 2)]
    assert packs(buying.outlook) == [("mill-flour", 9, 1)]


def test_no_order_below_its_minimum_is_opened_for_it():
    """Nothing is ordered now: 18.00 of flour would be as far below the minimum now as later."""
    buying = bought(farm(flour()), need("flour", {9: 12}))
    assert buying.orders == ()
    assert packs(buying.outlook) == [("farm-flour", 9, 3)]


def test_a_large_pack_is_not_thrown_away_for_a_little_that_is_lacking():
    """A churn for 60.00 now, or a pot for 6.00 from Wednesday week on, of which one is wanted; both spoil."""
    pot = offer("farm", "cream", 1, 6, code="pot", from_on=date(2026, 12, 2))
    cream = ingredient("cream", keeps_days=5, offers=(offer("farm", "cream", 10, 60, code="churn"), pot))
    buying = bought(farm(BEEF, cream), need("beef", {6: 6}), need("cream", {9: 1}))
    assert packs(buying.orders) == [("farm-beef", 5, 3)]
    assert packs(buying.outlook) == [("pot", 9, 1)]
    assert "delivery of 6.00, below the minimum" in buying.outlook[0].note


def test_what_is_cheaper_later_by_less_than_a_dish_earns_is_bought_now():
    """As before, but the large one costs no more than is lost with the dishes."""
    pot = offer("farm", "cream", 1, 6, code="pot", from_on=date(2026, 12, 2))
    cream = ingredient("cream", keeps_days=5, offers=(offer("farm", "cream", 2, 11, code="jug"), pot))
    buying = bought(farm(BEEF, cream), need("beef", {6: 6}), need("cream", {9: 1}))
    assert packs(buying.orders) == [("farm-beef", 5, 3), ("jug", 5, 1)]
    assert buying.outlook == ()


N_DAYS = 21


def things(keeps_days):
    """Salt and herbs at 10.00 a pack."""
    return [
        ingredient("salt", offers=(offer("farm", "salt", 1, 10),)),
        ingredient("herbs", keeps_days=keeps_days, offers=(offer("farm", "herbs", 1, 10),)),
    ]


def home(keeps_days, minimum=40, **rest):
    return house(things(keeps_days), vendors=[vendor("farm", (1, 4), minimum=Decimal(minimum), **rest)])


def test_a_free_choice_is_left_alone():
    buying = bought(home(4, 0), need("salt", {9: 4}, N_DAYS), need("herbs", {11: 1, 15: 4}, N_DAYS))
    assert packs(buying.outlook) == [("farm-herbs", 11, 1), ("farm-herbs", 15, 4), ("farm-salt", 8, 4)]


def test_the_last_delivery_within_the_horizon_is_not_judged():
    buying = bought(home(1, 100), need("salt", {}, N_DAYS), need("herbs", {18: 1}, N_DAYS))
    assert packs(buying.outlook) == [("farm-herbs", 18, 1)]
    assert buying.outlook[0].note == ""
