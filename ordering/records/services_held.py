"""Services held on past days, and the consumables they used up."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import date, timedelta

import pandas as pd

from ordering.records.books import Books
from ordering.records.house import House

Sitting = tuple[date, str]  # a day and its service
DAYS_BEFORE = 56  # further back than this it is not looked how many covers a portion sold stands for


@dataclass(frozen=True, slots=True)
class ServiceHeld:
    """A service that was held. `covers`: how many came, parties included; None: the books do not say."""

    day: date
    service: str
    covers: float | None


def services_held(house: House, books: Books, first: date, before: date) -> list[ServiceHeld]:
    """Services held from `first` to the day before `before`, in the order of days and of the house.

    Held is what the covers book or the sales have guests of, and every private party. Days after the last
    that the books have of a service are not yet written down: there the calendar tells, and how many came
    nobody knows. Where covers are missing, they are what was sold, by the covers a portion of the other
    days of that service; the portions themselves where the books have no covers of it at all, as in the
    forecast.
    """
    since = first - timedelta(days=DAYS_BEFORE)
    came, sold = _summed(books.covers, "covers", since, before), _summed(books.sales, "sold", since, before)
    latest: dict[str, date] = {}
    for day, service in (*came, *sold):
        latest[service] = max(latest.get(service, day), day)
    rates: dict[str, float] = {}
    found = []
    for n in range(max(0, (before - first).days)):
        day = first + timedelta(days=n)
        for service in house.services:
            at = (day, service)
            covers = with_parties(house, at, came)
            if covers is None and sold.get(at, 0.0) > 0:
                if service not in rates:
                    rates[service] = _covers_a_portion(service, came, sold)
                covers = sold[at] * rates[service]
            if covers is None and at not in came and at not in sold and day > latest.get(service, date.min):
                found += [ServiceHeld(day, service, None)] if house.is_open(day, service) else []
            elif covers:
                found.append(ServiceHeld(day, service, covers))
    return found


def consumed(house: House, held: Iterable[ServiceHeld]) -> dict[str, dict[date, float]]:
    """What consumables these services used up, by item and day, in the item's unit.

    Where it is not known how many came, nothing is used up by the cover.
    """
    by_day: dict[date, list[float]] = defaultdict(list)
    for one in held:
        by_day[one.day].append(one.covers or 0.0)
    used: dict[str, dict[date, float]] = {}
    for consumable in house.consumables:
        days = used.setdefault(consumable.item, {})
        for day, covers in by_day.items():
            times = {"service": float(len(covers)), "day": 1.0, "cover": sum(covers)}[consumable.per]
            days[day] = days.get(day, 0.0) + times * consumable.quantity
    return used


def _summed(table: pd.DataFrame, column: str, since: date, before: date) -> dict[Sitting, float]:
    days = table["date"]
    past = table[(days >= pd.Timestamp(since)) & (days < pd.Timestamp(before))]
    sums: dict[Sitting, float] = {}
    for day, service, n in zip(past["date"], past["service"], past[column], strict=True):
        at = (day.date(), str(service))
        sums[at] = sums.get(at, 0.0) + float(n)
    return sums


def with_parties(house: House, at: Sitting, came: Mapping[Sitting, float]) -> float | None:
    """Covers by the book, and of parties that cannot be among them; None where the books have neither."""
    parties = [p for p in house.parties if (p.date, p.service) == at]
    guests = float(sum(p.covers for p in parties))
    covers = came.get(at)
    if covers is None:
        return guests or None
    is_hired = any(p.is_instead for p in parties)
    return covers if is_hired or covers >= guests else covers + guests


def _covers_a_portion(service: str, came: dict[Sitting, float], sold: dict[Sitting, float]) -> float:
    both = [at for at in came.keys() & sold.keys() if at[1] == service]
    portions = sum(sold[at] for at in both)
    covers = sum(came[at] for at in both)
    return covers / portions if portions > 0 and covers > 0 else 1.0
