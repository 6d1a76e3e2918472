"""When a house orders next, and that a run orders for a closed order day after it."""

from dataclasses import replace
from datetime import date, timedelta

import houses
import numpy as np
import pytest

from ordering.pipeline import plan
from ordering.records.house import Closure, Service
from ordering.records.order_days import is_order_day, next_order_day

MONDAY = houses.MONDAY
THURSDAY = MONDAY + timedelta(days=3)
BOTH = {s: Service(s, houses.EVERY_DAY) for s in ("lunch", "dinner")}
HOME = houses.house(services=BOTH, order_weekdays=frozenset({0, 3}))


def closed(*closures):
    return replace(HOME, closures=closures)


def test_an_order_day_on_which_all_is_closed_is_passed_over():
    home = closed(Closure(THURSDAY, THURSDAY, why="Thanksgiving"))
    assert next_order_day(HOME, MONDAY) == THURSDAY
    assert next_order_day(home, MONDAY) == MONDAY + timedelta(days=7)
    assert (is_order_day(HOME, THURSDAY), is_order_day(home, THURSDAY)) == (True, False)


def test_a_day_of_which_one_service_is_closed_is_still_an_order_day():
    lunch, dinner = (Closure(THURSDAY, THURSDAY, frozenset({s})) for s in ("lunch", "dinner"))
    assert next_order_day(closed(lunch), MONDAY) == THURSDAY
    assert next_order_day(closed(lunch, dinner), MONDAY) == MONDAY + timedelta(days=7)


def test_a_weekday_without_a_service_may_be_an_order_day():
    home = replace(HOME, services={"dinner": Service("dinner", frozenset({4, 5}))})
    assert next_order_day(home, MONDAY) == THURSDAY


@pytest.mark.parametrize("last", [date(2027, 1, 3), date(9999, 12, 31)])
def test_a_long_closure_is_passed_over_and_an_endless_one_is_not(last):
    expected = date(2027, 1, 4) if last.year < 9999 else THURSDAY
    assert next_order_day(closed(Closure(THURSDAY, last)), MONDAY) == expected


@pytest.mark.parametrize(("weeks", "is_passed_over"), [(29, True), (31, False)])
def test_sixty_order_days_are_the_most_that_one_closure_takes_out(weeks, is_passed_over):
    """Two a week: half a year is a season, more is a calendar that nobody keeps."""
    last = THURSDAY + timedelta(days=7 * weeks - 1)
    expected = THURSDAY + timedelta(days=7 * weeks) if is_passed_over else THURSDAY
    assert next_order_day(closed(Closure(THURSDAY, last)), MONDAY) == expected


@pytest.mark.parametrize("is_shut", [False, True])
def test_the_run_before_a_closed_order_day_orders_for_it(is_shut):
    """Friday's fish is ordered on Thursday by 15:00; where Thursday is closed Monday must order it."""
    home = houses.house(
        [houses.ingredient("fish", keeps_days=3, offers=(houses.offer("quay", "fish"),))],
        [houses.recipe("plate", 1, {"fish": 0.25}, unit="each")],
        [houses.dish("hake", "plate", price=20)],
        [houses.vendor("quay", (4,), phone="1")],
        order_weekdays=frozenset({0, 3}),
        closures=(Closure(THURSDAY, THURSDAY),) if is_shut else (),
    )

    def eaten(days):
        return houses.forecast(home, {"hake": np.array([4.0 * (day.weekday() >= 4) for day in days])})

    made = plan(home, houses.books(), MONDAY, foreseen=eaten)
    friday = THURSDAY + timedelta(days=1)
    assert made.next_run == (MONDAY + timedelta(days=7) if is_shut else THURSDAY)
    assert (friday in {line.deliver_on for line in made.buying.orders}) == is_shut
    assert friday in {line.deliver_on for line in (*made.buying.orders, *made.buying.outlook)}
