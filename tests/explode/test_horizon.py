"""How far ahead a run looks."""

import houses

from ordering.explode.horizon import horizon_days


def home(takes, vendor=None, keeps=None, at=0, order_weekdays=frozenset({3}), made_keeps=None):
    offers = (houses.offer("v", "rib"),)
    return houses.house(
        [houses.ingredient("rib", keeps_days=keeps, offers=offers)],
        [
            houses.recipe(
                "aged", 1, [houses.line("rib", 1.4, at_days=at)], takes_days=takes, keeps_days=made_keeps
            )
        ],
        [houses.dish("steak", "aged", 0.3)],
        [vendor or houses.vendor("v", [2, 5], lead_days=1)],
        order_weekdays=order_weekdays,
    )


def test_a_house_without_long_stages_looks_three_weeks_ahead():
    assert horizon_days(home(1)) == 21
    assert horizon_days(houses.house()) == 21


def test_a_stage_of_35_days_with_a_long_lead_looks_nine_weeks_ahead():
    """7 to the next run, 14 + 1 from cut-off to door, 35 of ageing, 7 to the next delivery."""
    slow = houses.vendor("v", [2], lead_days=1, weeks_ahead=2)
    assert horizon_days(home(35, slow)) == 7 + 15 + 35 + 7


def test_what_keeps_less_than_a_week_raw_and_made_need_not_last_until_the_next_delivery():
    """Three days raw and three made: hung by the third day, it serves what is due up to the sixth."""
    slow = houses.vendor("v", [2], lead_days=1, weeks_ahead=2)
    assert horizon_days(home(35, slow, keeps=3, made_keeps=0)) == 7 + 15 + 35 + 3
    assert horizon_days(home(35, slow, keeps=3, made_keeps=3)) == 7 + 15 + 35 + 6
    assert horizon_days(home(35, slow, keeps=3, made_keeps=9)) == 7 + 15 + 35 + 7
    assert horizon_days(home(35, slow, keeps=3)) == 7 + 15 + 35 + 7


def test_what_is_added_on_a_later_day_is_needed_later():
    assert horizon_days(home(35, at=5)) == 7 + 1 + 30 + 7
    assert horizon_days(home(35)) == 7 + 1 + 35 + 7


def test_a_run_twice_a_week_looks_less_far():
    assert horizon_days(home(35, order_weekdays=frozenset({0, 3}))) == 4 + 1 + 35 + 7


def test_no_house_looks_further_than_four_hundred_days():
    assert horizon_days(home(900)) == 400
