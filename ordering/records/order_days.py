"""The days on which a house orders: its order weekdays, but none on which all of it is closed."""

from __future__ import annotations

from datetime import date

from ordering.days import next_on
from ordering.records.house import House

_MOST_SKIPPED = 60  # order days in one closure, after which the calendar no longer counts


def is_order_day(house: House, day: date) -> bool:
    """Whether the house orders on that day."""
    return day.weekday() in house.order_weekdays and not _is_shut(house, day)


def next_order_day(house: House, day: date) -> date:
    """The first order day strictly after `day` on which somebody is there.

    The run before a closed one must order for it. A house without order weekdays orders on Mondays.
    """
    weekdays = house.order_weekdays or {0}
    first = found = next_on(day, weekdays)
    for _ in range(_MOST_SKIPPED):
        if not _is_shut(house, found):
            return found
        found = next_on(found, weekdays)
    return first


def _is_shut(house: House, day: date) -> bool:
    """Whether the calendar closes every service of the day; a weekday without one is no such day."""
    services = house.services
    return bool(services) and all(any(c.covers(day, s) for c in house.closures) for s in services)
