"""Covers of one service: fit and forecast."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from ordering.days import span
from ordering.forecast.candidates import Design, History, counts_on, days_about, origins_of
from ordering.forecast.history import ServicePast
from ordering.forecast.recent_level import SHIFT_BACK
from ordering.forecast.regressors import terms
from ordering.forecast.series_forecast import SeriesForecast, series_forecast
from ordering.forecast.special_days import Special, holiday_names, special_days
from ordering.records.house import House

Array = NDArray[np.float64]

NO_SEASON = -9

DESIGNS = (
    Design(trend_spread=0.5),
    Design(extra_pairs=3),
    Design(trend_spread=0.5, extra_pairs=NO_SEASON),
    Design(extra_pairs=NO_SEASON, half_life=30.0),
)


@dataclass(frozen=True, slots=True)
class CoverForecast:
    """Covers of one service, past and to come: `exposure` is log covers about each origin."""

    past: ServicePast
    special: Special
    series: SeriesForecast
    exposure: Array


def days_of(past: ServicePast, ahead: int) -> tuple[date, ...]:
    """The days of the past and `ahead` more."""
    return span(past.first, past.n_days + ahead)


def special_of(house: House, past: ServicePast, ahead: int) -> tuple[Special, str]:
    """Holidays about the past and the days to come, and a note when they cannot be had."""
    end = past.first + timedelta(days=past.n_days + ahead)
    names, note = holiday_names(house, past.first - timedelta(days=7), end + timedelta(days=6))
    return special_days(names), note


def coming_covers(house: House, past: ServicePast, special: Special, ahead: int) -> CoverForecast:
    """Forecast of one service's covers as if it were open every day."""
    events = [event for event in house.events if not event.services or past.service in event.services]
    made = terms(days_of(past, ahead), special, events)
    y = past.covers[None]
    history = History(
        y, np.zeros(y.shape, dtype=bool), np.zeros(y.shape), made, origins_of(past.n_days), np.zeros(y.shape)
    )
    found = series_forecast(history, DESIGNS, ahead)
    return CoverForecast(past, special, found, _exposure(history, found, ahead))


def _exposure(history: History, found: SeriesForecast, ahead: int) -> Array:
    """Log covers about each origin, [origin, day]: what came before it, what was forecast after it."""
    y = counts_on(history.y, days_about(history, SHIFT_BACK, 0))
    mean = np.concatenate([found.past_mean[0], found.mean[0][None]], axis=0)
    level = np.nanmean(history.y)
    before = np.where(np.isfinite(y[0]), y[0], level)
    return np.asarray(np.log(np.maximum(np.concatenate([before, mean], axis=1), 0.5)))
