"""The books of a house as arrays: what came to each service, what was sold of each dish."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ordering.days import format_day, service_said, span
from ordering.forecast.doubts import (
    NOT_BY_CHANCE,
    never_open,
    notes_on_past,
    off_the_menu,
    unlikely_zeros,
    without_absurd,
    without_closed_zeros,
)
from ordering.records.books import Books
from ordering.records.house import House

Array = NDArray[np.float64]

MOST_DAYS = 5 * 365
ASKED_DAYS = 28  # of older days nobody knows any more


@dataclass(frozen=True, slots=True)
class ServicePast:
    """One service's past, day by day up to the day before today.

    covers : [day], NaN where the service was closed or nothing is known
    sold : [dish, day], NaN where the dish was not on or nothing is known
    sold_out : [dish, day]
    is_portions : no covers in the books, portions sold stand in for them
    shut : weekdays listed as open that the past shows closed
    notes : what could not be taken as it stands
    """

    service: str
    first: date
    covers: Array
    sold: Array
    sold_out: NDArray[np.bool_]
    is_portions: bool = False
    shut: frozenset[int] = frozenset()
    notes: tuple[str, ...] = ()

    @property
    def n_days(self) -> int:
        """Length of the day axis."""
        return len(self.covers)

    def days(self, ahead: int = 0) -> tuple[date, ...]:
        """Every day of the history, oldest first, and `ahead` more."""
        return span(self.first, self.n_days + ahead)


def _of_service(table: pd.DataFrame, service: str, on: date) -> pd.DataFrame:
    day, of = table["date"].to_numpy(), table["service"].to_numpy()
    first, today = np.datetime64(on - timedelta(days=MOST_DAYS)), np.datetime64(on)
    wanted: NDArray[np.bool_] = (of == service) & (day >= first) & (day < today)
    return table[wanted]


def past_of(house: House, books: Books, service: str, on: date, dishes: Sequence[str]) -> ServicePast | None:
    """One service's past before `on`; None when the books have nothing of it."""
    covers = _of_service(books.covers, service, on)
    sales = _of_service(books.sales, service, on)
    item = pd.Index(list(dishes)).get_indexer(pd.Index(sales["dish"]))
    sales, item = sales[item >= 0], item[item >= 0]
    if covers.empty and sales.empty:
        return None
    starts = [table["date"].min() for table in (covers, sales) if not table.empty]
    first = min(starts).date()
    n_days = (on - first).days
    came = _filled_covers(covers, first, n_days)
    sold, sold_out = _filled_sales(sales, item, (len(dishes), n_days), first)
    is_portions = not np.isfinite(came).any()
    if is_portions:
        came = np.where(np.isfinite(sold).any(axis=0), np.nansum(sold, axis=0), np.nan)
    sold = _on_the_menu(house, service, first, sold, came, dishes)
    return _without_parties(house, ServicePast(service, first, came, sold, sold_out, is_portions), dishes)


def sound(past: ServicePast, listed: frozenset[int], holidays: Collection[date]) -> ServicePast:
    """The past without what cannot be taken as it stands, with notes on what that was."""
    weekday = (past.first.weekday() + np.arange(past.n_days)) % 7
    is_holiday = np.array([day in holidays for day in past.days()], dtype=bool)
    plausible, is_absurd = without_absurd(past.covers)
    covers = without_closed_zeros(plausible, weekday, is_holiday)
    shut = never_open(covers, weekday, listed)
    absurd = np.where(is_absurd, past.covers, np.nan)
    notes = notes_on_past(past.service, covers, past.first, absurd, shut)
    sold = past.sold.copy()
    for n in range(len(sold)):
        sold[n], _ = without_absurd(sold[n])
        sold[n, off_the_menu(sold[n])] = np.nan
        sold[n, past.sold_out[n] & (sold[n] == 0)] = np.nan
        sold[n, np.isfinite(_doubted(past, n, sold[n], is_holiday))] = np.nan
    return replace(past, covers=covers, sold=sold, shut=shut, notes=tuple(notes))


def _doubted(past: ServicePast, row: int, sold: Array, is_holiday: NDArray[np.bool_]) -> Array:
    """What is usual where a dish sold nothing though it always does; NaN elsewhere. Of no holiday; [day]."""
    if not (sold == 0).any():
        return np.full(sold.shape, np.nan)
    weekday = (past.first.weekday() + np.arange(past.n_days)) % 7
    usual = unlikely_zeros(np.where(past.sold_out[row] & (sold == 0), np.nan, sold), weekday)
    return np.where(is_holiday | ~(past.covers > 0), np.nan, usual)


def asks_of_zeros(
    house: House, past: ServicePast, dishes: Sequence[str], holidays: Collection[date]
) -> tuple[str, ...]:
    """Questions about dishes that sold nothing lately, on days on which that is no chance."""
    is_holiday = np.array([day in holidays for day in past.days()], dtype=bool)
    found = []
    for row, dish in enumerate(dishes):
        if not (past.sold[row, -ASKED_DAYS:] == 0).any():
            continue
        usual = _doubted(past, row, past.sold[row], is_holiday)
        for n in np.flatnonzero(np.isfinite(usual)):
            if n >= past.n_days - ASKED_DAYS:
                day = format_day(past.first + timedelta(days=int(n)))
                name = house.dishes[dish].name
                at = service_said(past.service)
                found.append((n, f"0 {name} sold at {at} on {day} where {usual[n]:.0f} are usual"))
    what = "sold out? Mark it in the sales book (sold_out: yes); left out of the forecast until then"
    return tuple(f"{text}: {what}" for _, text in sorted(found))


def _filled_covers(table: pd.DataFrame, first: date, n_days: int) -> Array:
    """Covers by day, NaN where none are written: [day]."""
    came = np.full(n_days, np.nan)
    at = (table["date"] - pd.Timestamp(first)).dt.days.to_numpy()
    came[at] = table["covers"].to_numpy(dtype=float)
    return came


def _filled_sales(
    table: pd.DataFrame, item: NDArray[np.intp], shape: tuple[int, int], first: date
) -> tuple[Array, NDArray[np.bool_]]:
    """Sold and sold out, [dish, day]; item : [row of the table], its dish."""
    sold, sold_out = np.full(shape, np.nan), np.zeros(shape, dtype=bool)
    at = (table["date"] - pd.Timestamp(first)).dt.days.to_numpy()
    sold[item, at] = table["sold"].to_numpy(dtype=float)
    sold_out[item, at] = table["sold_out"].to_numpy(dtype=bool)
    return sold, sold_out


def _on_the_menu(
    house: House, service: str, first: date, sold: Array, came: Array, dishes: Sequence[str]
) -> Array:
    """Sold, with 0 on days a dish was on the menu and other dishes sold, NaN off the menu.

    sold : [dish, day], as what comes back; came : [day].
    """
    kept = _kept(sold, came)
    filled = sold.copy()
    n_days = len(came)
    for n, dish in enumerate(dishes):
        known = np.isfinite(sold[n])
        if not known.any():
            continue
        record = house.dishes[dish]
        start = (record.from_on - first).days if record.from_on else int(known.argmax())
        stop = (record.until_on - first).days + 1 if record.until_on else n_days
        on = np.zeros(n_days, dtype=bool)
        on[max(start, 0) : max(stop, 0)] = True
        filled[n] = np.where(known, sold[n], np.where(on & kept, 0.0, np.nan))
    return filled


def _kept(sold: Array, came: Array) -> NDArray[np.bool_]:
    """Days whose sales are on record: where nothing was sold that is a 0.

    sold : [dish, day]; came and what comes back: [day].

    A day with guests and no row at all is one too, unless a house that sells so much cannot
    have sold nothing.
    """
    kept = np.asarray(np.isfinite(sold).any(axis=0))
    at = np.flatnonzero(kept)
    both = kept & np.isfinite(came)
    if not both.any():
        return kept
    a_day = np.nansum(sold[:, both]) / max(int(np.isfinite(came[at[0] : at[-1] + 1]).sum()), 1)
    if a_day < NOT_BY_CHANCE:
        kept[at[0] : at[-1] + 1] |= np.isfinite(came[at[0] : at[-1] + 1])
    return kept


def _without_parties(house: House, past: ServicePast, dishes: Sequence[str]) -> ServicePast:
    """The past without private parties: their covers and portions are not walk-ins."""
    covers, sold = past.covers.copy(), past.sold.copy()
    for party in house.parties:
        at = (party.date - past.first).days
        if party.service != past.service or not 0 <= at < past.n_days:
            continue
        if party.is_instead:
            covers[at], sold[:, at] = np.nan, np.nan
            continue
        if covers[at] >= party.covers:
            covers[at] -= party.covers
        for n, dish in enumerate(dishes):
            if sold[n, at] >= party.menu.get(dish, 0.0):
                sold[n, at] -= party.menu.get(dish, 0.0)
    return ServicePast(past.service, past.first, covers, sold, past.sold_out, past.is_portions)
