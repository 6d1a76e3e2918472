from datetime import date, datetime, time

from houses import MONDAY, house, ingredient, offer, vendor

from ordering.buy.deliveries import first_arrival, item_deliveries, open_deliveries
from ordering.days import span
from ordering.records.vendors import DeliveryDay, Vendor

DAYS = span(MONDAY, 28)
NEXT_RUN = date(2026, 11, 30)


def days_of(home, now=datetime(2026, 11, 23, 9), next_run=NEXT_RUN, days=DAYS):
    deliveries = open_deliveries(home, now, next_run, days)["farm"]
    return [(c.day, c.order_by, c.is_now) for c in deliveries]


def one(*deliveries, **rest):
    return house(vendors=[Vendor("farm", "Farm", deliveries=deliveries, **rest)])


def test_the_cut_off_weekday_is_the_latest_one_at_or_before_the_delivery():
    """Saturday by Thursday is two days before; Wednesday by Wednesday is the same morning."""
    home = one(DeliveryDay(5, 3, time(15)), DeliveryDay(2, 2, time(6)), DeliveryDay(0, 4, time(12)))
    assert days_of(home, days=DAYS[:8]) == [
        (2, datetime(2026, 11, 25, 6), True),
        (5, datetime(2026, 11, 26, 15), True),
        (7, datetime(2026, 11, 27, 12), True),
    ]


def test_a_cut_off_counts_to_its_minute_and_not_one_later():
    home = one(DeliveryDay(1, 0, time(15)))
    assert days_of(home, now=datetime(2026, 11, 23, 15, 0))[0][0] == 1
    assert days_of(home, now=datetime(2026, 11, 23, 15, 1))[0][0] == 8


def test_a_delivery_on_the_day_of_the_run_can_still_be_ordered_early_enough():
    home = one(DeliveryDay(0, 0, time(7)))
    assert days_of(home, now=datetime(2026, 11, 23))[0][0] == 0
    assert days_of(home, now=datetime(2026, 11, 23, 7, 1))[0][0] == 7


def test_what_must_be_said_before_the_day_of_the_next_run_is_due_now():
    """A cut-off at one minute past midnight on the day of the next run can wait for it."""
    home = one(DeliveryDay(0, 6, time(23, 59)), DeliveryDay(1, 0, time(0, 0)))
    assert [(day, is_now) for day, _, is_now in days_of(home, days=DAYS[6:9])] == [(1, True), (2, False)]


def test_a_long_lead_counts_whole_weeks_before_the_cut_off_weekday():
    home = one(DeliveryDay(4, 3, time(12), weeks_ahead=2))
    assert days_of(home) == [
        (18, datetime(2026, 11, 26, 12), True),
        (25, datetime(2026, 12, 3, 12), False),
    ]


def test_a_vendor_does_not_come_on_days_it_is_closed():
    home = one(DeliveryDay(2, 1, time(15)), closed=frozenset({date(2026, 11, 25)}))
    assert [day for day, _, _ in days_of(home)] == [9, 16, 23]


def test_of_two_ways_to_order_one_delivery_the_later_cut_off_counts():
    home = one(DeliveryDay(4, 3, time(12), weeks_ahead=1), DeliveryDay(4, 3, time(12)))
    assert days_of(home, days=DAYS[:7]) == [(4, datetime(2026, 11, 26, 12), True)]


def test_a_vendor_with_nothing_left_has_no_chances():
    home = one(DeliveryDay(1, 0, time(8)))
    deliveries = open_deliveries(home, datetime(2026, 11, 23, 9), NEXT_RUN, DAYS[:5])
    assert deliveries == {"farm": ()}


def test_the_first_arrival_is_that_of_the_quickest_offer_that_holds_then():
    salt = ingredient(
        "salt",
        offers=(
            offer("slow", "salt"),
            offer("quick", "salt", until=date(2026, 11, 23)),
        ),
    )
    home = house([salt, ingredient("air")], vendors=[vendor("slow", (4,)), vendor("quick", (1,))])
    deliveries = open_deliveries(home, datetime(2026, 11, 23, 9), NEXT_RUN, DAYS)
    assert first_arrival(home, deliveries, DAYS) == {"salt": 4, "air": 28}


def test_an_offer_holds_on_its_first_and_on_its_last_day():
    salt = ingredient(
        "salt", offers=(offer("farm", "salt", from_on=date(2026, 11, 25), until=date(2026, 12, 2)),)
    )
    home = house([salt], vendors=[vendor("farm", (2,))])
    deliveries = open_deliveries(home, datetime(2026, 11, 23, 9), NEXT_RUN, DAYS)
    assert [delivery.day for _, delivery in item_deliveries(home, "salt", deliveries)] == [2, 9]
