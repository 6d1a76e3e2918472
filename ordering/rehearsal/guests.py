"""What the guests of the past ate, as the books have it."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, timedelta

import numpy as np
import pandas as pd

from ordering.records.house import House
from ordering.records.plan import QUANTILES, Forecast, Slot

Sold = Mapping[date, Mapping[str, Mapping[str, float]]]  # portions by day, service and dish


def sold_by_day(sales: pd.DataFrame) -> Sold:
    """Portions sold by day, service and dish; sales : as in `Books`."""
    table: dict[date, dict[str, dict[str, float]]] = defaultdict(lambda: defaultdict(dict))
    days = sales["date"].dt.date
    for day, service, dish, n in zip(days, sales["service"], sales["dish"], sales["sold"], strict=True):
        table[day][service][dish] = float(n)
    return table


def by_dish(sold: Sold, days: Sequence[date]) -> dict[date, dict[str, float]]:
    """Portions by day and dish, all services together; days without sales stand there empty."""
    table: dict[date, dict[str, float]] = {}
    for day in days:
        table[day] = defaultdict(float)
        for dishes in sold.get(day, {}).values():
            for dish, n in dishes.items():
                table[day][dish] += n
    return table


def walk_ins(house: House, portions: dict[date, dict[str, float]]) -> dict[date, dict[str, float]]:
    """Portions by day and dish without those of private parties, which make no usual night."""
    for party in house.parties:
        day = portions.get(party.date, {})
        for dish, eaten in party.menu.items():
            if day.get(dish, 0.0) >= eaten:
                day[dish] -= eaten
    return portions


def foreseen(house: House, sold: Sold, days: tuple[date, ...]) -> Forecast:
    """What the books say came, as a forecast without spread; past their end the week four before."""
    last = max(sold, default=days[0])
    slots, dishes = [], sorted(house.dishes)
    columns = []
    for n, day in enumerate(days):
        known = day
        while known > last:
            known -= timedelta(days=28)
        for service in sold.get(known, {}):
            slots.append(Slot(day, service, n))
            columns.append([sold[known][service].get(dish, 0.0) for dish in dishes])
    mean = np.array(columns, dtype=float).reshape(len(slots), len(dishes)).T
    covers = mean.sum(axis=0)
    return Forecast(
        days=days,
        slots=tuple(slots),
        dishes=tuple(dishes),
        covers_mean=covers,
        covers_quantiles=np.repeat(covers[:, None], len(QUANTILES), axis=1),
        covers=covers[:, None],
        mean=mean,
        quantiles=np.repeat(mean[:, :, None], len(QUANTILES), axis=2),
        portions=mean[:, :, None],
        party=np.zeros_like(mean),
        booked=np.full(len(slots), np.nan),
    )
