"""A delivery is decided by the last run before its last cut-off: an order holds nothing that can wait."""

from datetime import datetime, time, timedelta

import houses
from houses import MONDAY, dish, house, ingredient, offer, recipe
from hypothesis import given, settings
from hypothesis import strategies as st
from strategies import LAW

from ordering.pipeline import plan
from ordering.records.books import CountedLot
from ordering.records.house import Policy
from ordering.records.order_days import next_order_day
from ordering.records.vendors import DeliveryDay, Vendor

WEEKDAYS = st.sets(st.integers(0, 6), min_size=1, max_size=4)
CUT_OFFS = st.lists(
    st.tuples(st.integers(0, 6), st.integers(0, 6), st.sampled_from([0, 9, 15]), st.integers(0, 1)),
    min_size=1,
    max_size=5,
)


def kitchen(order_days, cut_offs):
    """Two portions a day of something that keeps for three days, for long enough to want many deliveries."""
    comes = tuple(DeliveryDay(day, by, time(hour), weeks) for day, by, hour, weeks in cut_offs)
    return house(
        [ingredient("fish", keeps_days=3, offers=(offer("sea", "fish", 1, 10),))],
        [recipe("plate", 1, {"fish": 1})],
        [dish("fish", "plate", price=30)],
        [Vendor("sea", "Sea", "orders@sea.example", deliveries=comes)],
        order_weekdays=frozenset(order_days),
        policy=Policy(paths=1),
    )


def planned(home, on):
    def foreseen(days):
        return houses.forecast(home, {"fish": [2.0] * len(days)}, on=on)

    books = houses.books(counts=(CountedLot(on, "fish", 0.0),))
    return plan(home, books, on, foreseen=foreseen).buying


def last_cut_off(home, deliver_on):
    """The latest of all moments at which a delivery of that day can be ordered, found by looking at each."""
    found = []
    for one in home.vendors["sea"].deliveries:
        if one.weekday == deliver_on.weekday():
            day = deliver_on - timedelta(weeks=one.weeks_ahead)
            while day.weekday() != one.order_by_weekday:
                day -= timedelta(days=1)
            found.append(datetime.combine(day, one.order_by_time))
    return max(found)


@settings(LAW, max_examples=15)
@given(WEEKDAYS, CUT_OFFS, st.integers(0, 6))
def test_an_order_holds_the_deliveries_that_the_next_run_comes_too_late_for_and_no_others(
    order_days, cut_offs, start
):
    home, on = kitchen(order_days, cut_offs), MONDAY + timedelta(days=start)
    next_run = datetime.combine(next_order_day(home, on), time())
    buying = planned(home, on)
    for line in buying.orders:
        assert line.order_by == last_cut_off(home, line.deliver_on) < next_run
    for line in buying.outlook:
        assert line.order_by == last_cut_off(home, line.deliver_on) >= next_run


def test_a_house_with_two_order_days_commits_half_a_week_on_each():
    """Fish comes every day, told the day before at 15:00: Monday's run orders up to Thursday's delivery, told
    on Wednesday, and Thursday's run the rest of the week.
    """
    cut_offs = [(day, (day - 1) % 7, 15, 0) for day in range(7)]
    home = kitchen({0, 3}, cut_offs)
    for first, last in ((0, 3), (3, 7)):
        on = MONDAY + timedelta(days=first)
        days = {line.deliver_on for line in planned(home, on).orders}
        assert days
        assert max(days) <= MONDAY + timedelta(days=last)
        later = {line.deliver_on for line in planned(home, on).outlook}
        assert min(later) > MONDAY + timedelta(days=last)
