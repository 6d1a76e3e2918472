"""What is special about a day: public holidays, the days around them, named events."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache

from ordering.public_holidays import holidays_of
from ordering.records.house import House

OBSERVED = ("observed", "in lieu", "substitute", "振替")


@lru_cache(maxsize=32)
def _named(country: str, subdivision: str, first_year: int, last_year: int) -> Mapping[date, str]:
    return holidays_of(country, subdivision, range(first_year, last_year + 1))


def holiday_names(house: House, first: date, last: date) -> tuple[Mapping[date, str], str]:
    """Public holidays from `first` to `last` by name, and a note when they cannot be had.

    A day that stands in for a holiday is `observed`; of several names of one day the first counts.
    """
    if not house.holiday_country:
        return {}, ""
    try:
        named = _named(house.holiday_country, house.holiday_subdivision, first.year - 1, last.year + 1)
    except LookupError:
        where = "-".join(filter(None, (house.holiday_country, house.holiday_subdivision)))
        return {}, f"public holidays of {where} are not known: the forecast takes none into account"
    return {day: _plain(name) for day, name in named.items() if first <= day <= last}, ""


def _plain(name: str) -> str:
    single = name.split(";")[0].strip()
    if any(word in single.lower() for word in OBSERVED):
        return "observed"
    return single


@dataclass(frozen=True, slots=True)
class Special:
    """Days with a meaning of their own, by kind; a day can be of several kinds.

    `holidays` by name; `before` and `after` carry the name of the holiday they adjoin.
    """

    holidays: Mapping[date, str]
    before: Mapping[date, str]
    after: Mapping[date, str]
    bridge: frozenset[date]


def special_days(names: Mapping[date, str]) -> Special:
    """Day before, day after and bridge days of the holidays given.

    A bridge is a Monday before a Tuesday holiday or a Friday after a Thursday one.
    """
    one = timedelta(days=1)
    before = {day - one: name for day, name in names.items() if day - one not in names}
    after = {day + one: name for day, name in names.items() if day + one not in names}
    bridge = {day - one for day in names if day.weekday() == 1 and day - one not in names}
    bridge |= {day + one for day in names if day.weekday() == 3 and day + one not in names}
    return Special(names, before, after, frozenset(bridge))
