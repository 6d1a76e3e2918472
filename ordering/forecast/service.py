"""One service: its past, its covers to come, its dishes, and what must be said about them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ordering.days import service_title, span
from ordering.forecast.bookings import PickUp, age_of, on_the_books, pick_up, without_parties
from ordering.forecast.covers import CoverForecast, coming_covers, quality_line, special_of
from ordering.forecast.history import ServicePast, asks_of_zeros, past_of, sound
from ordering.forecast.menu_mix import DishForecasts, dish_forecasts
from ordering.records.books import Books
from ordering.records.house import House, NamedEvent

Array = NDArray[np.float64]

SOON_DAYS = 60


@dataclass(frozen=True, slots=True)
class ServiceForecast:
    """Everything known of one service's coming days, as if it were open on each of them.

    covers_mean : [ahead], before calibration; portions : None when the service has no dishes
    """

    past: ServicePast
    coming: CoverForecast
    books: PickUp
    portions: DishForecasts | None
    notes: tuple[str, ...]
    quality: str


def needed_dishes(house: House, service: str) -> tuple[str, ...]:
    """Dishes of a service and those they are like, in the order of the menu."""
    served = {dish.id for dish in house.dishes.values() if service in dish.services}
    lenders = {house.dishes[dish].like for dish in served}
    return tuple(dish for dish in house.dishes if dish in served or dish in lenders)


def service_forecast(
    house: House, books: Books, service: str, on: date, ahead: int
) -> ServiceForecast | None:
    """Covers and portions of one service from `on`; None when the books have nothing of it."""
    dishes = needed_dishes(house, service)
    past = past_of(house, books, service, on, dishes)
    if past is None:
        return None
    special, note = special_of(house, past, ahead)
    asks = asks_of_zeros(house, past, dishes, special.holidays)
    past = sound(past, house.services[service].weekdays, special.holidays)
    if not np.isfinite(past.covers).any():
        return None
    coming = coming_covers(house, past, special, ahead)
    known = _on_the_books(house, books, coming, on, ahead)
    portions = dish_forecasts(house, coming, dishes, ahead, books.sisters) if dishes else None
    coming, portions = _moved(coming, portions, known)
    notes = [note, *past.notes, *asks, *_never_seen(house, past, service)]
    if past.is_portions:
        notes.append(f"{service_title(service)}: no covers in the books; portions sold stand in for them")
    notes += portions.notes if portions else ()
    quality = quality_line(service, coming.series, past.covers)
    return ServiceForecast(past, coming, known, portions, tuple(filter(None, notes)), quality)


def bookings_of(books: Books, service: str, on: date) -> pd.DataFrame:
    """Bookings of one service as they were known on the morning of `on`."""
    table = books.bookings
    return table[(table["service"] == service) & (table["taken_on"] <= pd.Timestamp(on))]


def _on_the_books(house: House, books: Books, coming: CoverForecast, on: date, ahead: int) -> PickUp:
    """What the bookings say; old ones say nothing."""
    past, expected = coming.past, coming.series
    taken, age = bookings_of(books, past.service, on), age_of(books.bookings, on)
    if taken.empty or age is None or age.is_old:
        return PickUp(np.full(ahead, np.nan), np.ones(ahead), np.ones(ahead), np.zeros(ahead))
    n_leads = ahead + age.days
    table = on_the_books(taken, past.first, past.n_days + ahead, n_leads)
    least = np.array([table[past.n_days + n, n + age.days] for n in range(ahead)])
    days = span(past.first + timedelta(days=past.n_days), ahead)
    least = without_parties(house, past.service, days, least)
    return pick_up(table, past.covers, expected.fitted[0], expected.mean[0], least, age.days)


def _moved(
    coming: CoverForecast, portions: DishForecasts | None, books: PickUp
) -> tuple[CoverForecast, DishForecasts | None]:
    """Covers and portions lifted or lowered by what is on the books.

    Who has booked counts as seen: the most that can be drawn rises too.
    """
    found = coming.series
    found = replace(found, mean=found.mean * books.lift, most=found.most * books.raised)
    if portions is not None:
        own = portions.series
        own = own and replace(own, most=own.most * books.raised)
        portions = replace(portions, mean=portions.mean * books.lift, series=own)
    return replace(coming, series=found), portions


def _never_seen(house: House, past: ServicePast, service: str) -> list[str]:
    """Named events to come whose effect the books cannot show yet."""
    known = np.isfinite(past.covers)

    def places(event: NamedEvent) -> list[int]:
        """Days of the event counted from the first of the books, today being `past.n_days`."""
        return [(day - past.first).days for day in event.dates]

    return [
        f"{service_title(service)}: {event.name} has no past date in the books; taken as an ordinary day"
        for event in house.events
        if (not event.services or service in event.services)
        and any(0 <= n - past.n_days < SOON_DAYS for n in places(event))
        and not any(0 <= n < past.n_days and known[n] for n in places(event))
    ]
