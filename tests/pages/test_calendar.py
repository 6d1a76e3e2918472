"""The calendar of a run as a value: what is in it, and that nothing is in it twice."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import sample_plan

from ordering.pages.calendar import calendar
from ordering.write.ics import calendar_bytes

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)


def titles(group: str) -> list[tuple[object, str]]:
    return [(e.begins, e.title) for e in calendar(HOUSE, PLAN).events if e.group == group]


def test_cut_offs_ring_before_their_time_in_the_zone_of_the_house() -> None:
    event = next(e for e in calendar(HOUSE, PLAN).events if e.group == "cut-off")
    assert event.begins == datetime(2026, 11, 26, 12, tzinfo=ZoneInfo("Europe/London"))
    assert event.title == "Order from Reed Quay Fish & Sons by 12:00"
    assert event.alarms == (timedelta(hours=3), timedelta(hours=1))


def test_what_is_foreseen_says_so() -> None:
    assert titles("cut-off")[-1][1] == "Later: order from Reed Quay Fish & Sons by 12:00"


def test_deliveries_hold_orders_and_what_is_on_its_way() -> None:
    days = [day for day, _ in titles("delivery")]
    assert days == [date(2026, 11, 28), date(2026, 11, 28), date(2026, 12, 1), date(2026, 12, 4)]


def test_a_day_of_starts_is_one_entry_named_for_the_longest() -> None:
    assert titles("start")[0] == (date(2026, 11, 26), "Start Rib of beef, 35 days and 2 more")
    assert titles("start")[2] == (date(2026, 12, 1), "Start Levain")


def test_ready_days_are_those_of_what_takes_days() -> None:
    assert [day for day, _ in titles("ready")] == [
        *(date(2026, 11, 27), date(2026, 11, 30), date(2026, 12, 6), date(2026, 12, 31)),
    ]


def test_two_cut_offs_for_one_delivery_day_are_two_entries() -> None:
    line = PLAN.buying.orders[0]
    other = replace(line, order_by=line.order_by + timedelta(hours=3))
    plan = replace(PLAN, buying=replace(PLAN.buying, orders=(line, other)))
    assert calendar_bytes(calendar(HOUSE, plan)).count(b"Order from Hollow Mill") == 2 + 4  # titles, alarms
