"""Forecasts that nobody issued, made afterwards from what was known on each order day."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pandas as pd

from ordering.days import format_day, span
from ordering.forecast.demand import forecast
from ordering.ledger.store import forecast_rows
from ordering.pipeline import Step
from ordering.records.books import Books
from ordering.records.house import House
from ordering.records.ledger import ISSUED_COLUMNS
from ordering.records.order_days import is_order_day, next_order_day
from ordering.review.scores import REMADE

LOOK_BACK = timedelta(days=21)  # so that services are seen one, two and three weeks ahead


def with_remade(
    house: House, books: Books, issued: pd.DataFrame, days: tuple[date, date], tell: Step = lambda _: None
) -> pd.DataFrame:
    """The forecasts as issued, and those of order days in whose week none was, made from the books of then.

    Parameters
    ----------
    issued : columns `ISSUED_COLUMNS`, of services in `days`
    days : first and last day of the services wanted, both included

    Returns
    -------
    Such a table again; made afterwards, a row has the run `remade`. House and calendar are those of today.
    """
    known = {stamp.date() for stamp in issued["issued_on"].unique()}
    made = [issued]
    for on in _order_days(house, days):
        week = {on + timedelta(days=n) for n in range(_gap(house, on))}
        if known.isdisjoint(week):
            tell(f"making the forecast of {format_day(on)} from what was known then")
            made.append(_made_on(house, books, on, days))
    return pd.concat([table for table in made if not table.empty] or [issued], ignore_index=True)


def _order_days(house: House, days: tuple[date, date]) -> list[date]:
    every = span(days[0] - LOOK_BACK, (days[1] - days[0] + LOOK_BACK).days + 1)
    return [day for day in every if is_order_day(house, day)]


def _gap(house: House, on: date) -> int:
    """Days until the next order day."""
    return (next_order_day(house, on) - on).days


def _made_on(house: House, books: Books, on: date, days: tuple[date, date]) -> pd.DataFrame:
    """The forecast of `on` for the services wanted, by the books of its morning."""
    made = forecast(
        house, as_known(books, on), span(on, (days[1] - on).days + 1), house.policy.seed, house.policy.paths
    )
    rows = [
        (REMADE, on.isoformat(), *row) for row in forecast_rows(made) if str(row[0]) >= days[0].isoformat()
    ]
    table = pd.DataFrame(rows, columns=list(ISSUED_COLUMNS))
    for column in ("issued_on", "date"):
        table[column] = pd.to_datetime(table[column]).astype("datetime64[ns]")
    return table.astype(dict.fromkeys(ISSUED_COLUMNS[5:], "float64"))


def as_known(books: Books, on: date) -> Books:
    """The books as they stood on the morning of a day: sales and covers before it, bookings up to it."""
    before = pd.Timestamp(on)
    return replace(
        books,
        sales=books.sales[books.sales["date"] < before],
        covers=books.covers[books.covers["date"] < before],
        bookings=books.bookings[books.bookings["taken_on"] <= before],
    )
