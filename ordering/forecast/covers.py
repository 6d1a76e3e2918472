"""Covers of one service: fit, forecast, and how good it has been lately, in a line that does not flatter."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from ordering.accuracy import bias, wape
from ordering.amounts import percent
from ordering.days import service_title
from ordering.forecast.candidates import Design, History, counts_on, days_about, origins_of
from ordering.forecast.history import ServicePast
from ordering.forecast.recent_level import SHIFT_BACK
from ordering.forecast.regressors import Special, holiday_names, special_days, terms
from ordering.forecast.series_forecast import SeriesForecast, series_forecast
from ordering.forecast.spread import shift_and_width, stretched
from ordering.records.house import House

Array = NDArray[np.float64]
Index = NDArray[np.int64]

NO_SEASON = -9

DESIGNS = (
    Design(trend_spread=0.5),
    Design(extra_pairs=3),
    Design(trend_spread=0.5, extra_pairs=NO_SEASON),
    Design(extra_pairs=NO_SEASON, half_life=30.0),
)
LATELY_AHEAD = 14
WEEKS_BACK = 8
FEWEST_DAYS = 14
NOTABLE = 0.03  # a lean worth telling


@dataclass(frozen=True, slots=True)
class CoverForecast:
    """Covers of one service, past and to come: `exposure` is log covers about each origin."""

    past: ServicePast
    special: Special
    series: SeriesForecast
    exposure: Array


def special_of(house: House, past: ServicePast, ahead: int) -> tuple[Special, str]:
    """Holidays about the past and the days to come, and a note when they cannot be had."""
    end = past.first + timedelta(days=past.n_days + ahead)
    names, note = holiday_names(house, past.first - timedelta(days=7), end + timedelta(days=6))
    return special_days(names), note


def coming_covers(house: House, past: ServicePast, special: Special, ahead: int) -> CoverForecast:
    """Forecast of one service's covers as if it were open every day."""
    events = [event for event in house.events if not event.services or past.service in event.services]
    made = terms(past.days(ahead), special, events)
    y = past.covers[None]
    history = History(y, np.zeros(y.shape, dtype=bool), np.zeros(y.shape), made, origins_of(past.n_days))
    found = series_forecast(history, DESIGNS, ahead)
    return CoverForecast(past, special, found, _exposure(history, found, ahead))


def _exposure(history: History, found: SeriesForecast, ahead: int) -> Array:
    """Log covers about each origin, [origin, day]: what came before it, what was forecast after it."""
    y = counts_on(history.y, days_about(history, SHIFT_BACK, 0))
    mean = np.concatenate([found.past_mean[0], found.mean[0][None]], axis=0)
    level = np.nanmean(history.y)
    before = np.where(np.isfinite(y[0]), y[0], level)
    return np.asarray(np.log(np.maximum(np.concatenate([before, mean], axis=1), 0.5)))


def seasonal_naive(y: Array, origins: Index, ahead: int) -> Array:
    """The same weekday's last value known at each origin, up to eight weeks back; NaN when none.

    y : [day]; origins : [origin], days of `y`. Returns [origin, ahead].
    """
    found = np.full((len(origins), ahead), np.nan)
    for week in range(WEEKS_BACK, 0, -1):
        rows = origins[:, None] + np.arange(ahead) % 7 - 7 * week
        value = np.where(rows >= 0, y[np.clip(rows, 0, len(y) - 1)], np.nan)
        found = np.where(np.isfinite(value), value, found)
    return found


def quality_line(service: str, found: SeriesForecast, y: Array) -> str:
    """How far off earlier forecasts up to 14 days ahead were, beside last week's same day, and how wide.

    Parameters
    ----------
    found : forecast of the covers of one service; its pseudo-forecasts are each weighed, and their
        intervals calibrated, without themselves
    y : [day], the covers they were made of
    """
    actual, mean = found.past[0, :, :LATELY_AHEAD], found.past_mean[0, :, :LATELY_AHEAD]
    naive = seasonal_naive(y, found.origins[:-1], LATELY_AHEAD)
    both = np.isfinite(actual) & np.isfinite(naive)
    if both.sum() < FEWEST_DAYS or not np.nansum(actual):
        return f"{service_title(service)}: too little past to say how good the forecast is"
    ours, theirs = wape(actual[both], mean[both]), wape(actual[both], naive[both])
    is_better, high = ours < theirs, bias(actual, mean)
    off = f"{percent(ours)} off up to {LATELY_AHEAD} days ahead"
    if abs(high) >= NOTABLE:
        off += f", {percent(abs(high))} too {'high' if high > 0 else 'low'} in all"
    beside = f"{'better' if is_better else 'no better'} than last week's same day ({percent(theirs)} off)"
    return (
        f"{service_title(service)}: {off}, {beside}"
        f"{'' if is_better else ': check it against last week'}; "
        f"{percent(_held(found))} of services came within the range meant to hold 80 % "
        f"({len(actual)} earlier forecasts)"
    )


def _held(found: SeriesForecast) -> float:
    """Share of past actuals within the 80 % interval, moved and drawn wide without the origin itself."""
    score, bucket = found.spread.score[0, :, :LATELY_AHEAD], found.bucket[:LATELY_AHEAD]
    without = np.where(np.eye(len(score), dtype=bool)[:, :, None], np.nan, score)[..., None]
    inside = np.zeros(score.shape, dtype=bool)
    for b in np.unique(bucket):
        at = bucket == b
        shift, width = shift_and_width(without[:, :, at])
        reach = width[:, :1] * stretched(ndtri([0.9]), width)
        inside[:, at] = np.abs(score[:, at] - shift[:, None]) <= reach
    return float(inside[np.isfinite(score)].mean())
