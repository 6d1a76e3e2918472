"""Weeks of the review, in which spend is held against the weekly budget, are those of ISO 8601.

A week runs from Monday to Sunday, and the first week of a year is the one with its first Thursday: the rule
and 1977-78 were read, the rest recomputed. The program prints no week numbers.
"""

import re
from datetime import date, timedelta
from decimal import Decimal

import pytest
from houses import house

from ordering.records.house import Policy
from ordering.review.spending import DayMoney, weeks

NUMBERED = [
    ("1977-01-01", "1976-W53-6"),
    ("1978-01-01", "1977-W52-7"),
    ("1978-01-02", "1978-W01-1"),
    ("2008-12-29", "2009-W01-1"),
    ("2010-01-03", "2009-W53-7"),
    ("2022-12-31", "2022-W52-6"),
    ("2026-12-31", "2026-W53-4"),
    ("2027-01-03", "2026-W53-7"),
    ("2027-01-04", "2027-W01-1"),
]
HOME = house(policy=Policy(weekly_budget=Decimal(700)))


def weeks_of(first, last, sold=None):
    return weeks(HOME, (first, last), (), (), (), DayMoney(sold or {}, {}))


def thursday_of_week_1(year):
    """The first Thursday of the year, by the rule."""
    return next(day for n in range(1, 8) if (day := date(year, 1, n)).weekday() == 3)


@pytest.mark.parametrize(("day", "number"), NUMBERED)
def test_a_day_lies_in_its_numbered_week_at_its_place(day, number):
    """Counting the program's weeks from the one with the year's first Thursday gives the published number."""
    year, week, weekday = map(int, re.fullmatch(r"(\d+)-W(\d+)-(\d)", number).groups())
    on = date.fromisoformat(day)
    thursday = thursday_of_week_1(year)
    found = weeks_of(thursday - timedelta(days=3), on + timedelta(days=7 - on.isoweekday()))
    n = next(n for n, one in enumerate(found, start=1) if one.first_on <= on <= one.last_on)
    assert found[0].first_on <= thursday <= found[0].last_on
    assert (n, (on - found[n - 1].first_on).days + 1) == (week, weekday)


def test_the_year_2026_has_53_weeks():
    found = weeks_of(
        thursday_of_week_1(2026) - timedelta(days=3), thursday_of_week_1(2027) - timedelta(days=4)
    )
    assert len(found) == 53
    assert (found[-1].first_on, found[-1].last_on) == (date(2026, 12, 28), date(2027, 1, 3))


def test_week_53_is_one_week_with_one_budget_across_new_year():
    """Money of 31 December 2026 and of 3 January 2027 is of one week, that of the 4th of the next."""
    sold = {
        date(2026, 12, 31): Decimal(100),
        date(2027, 1, 3): Decimal(20),
        date(2027, 1, 4): Decimal(3),
    }
    found = weeks_of(date(2026, 12, 28), date(2027, 1, 10), sold)
    assert [one.theoretical for one in found] == [120, 3]
    assert [one.budget for one in found] == [700, 700]
