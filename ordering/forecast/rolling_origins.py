"""Rolling origins on the house's own past: the forecast beside two that need no program."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from ordering.accuracy import bias, coverage, mase, pinball, seasonal_scale, wape
from ordering.days import format_day, span
from ordering.forecast.covers import seasonal_naive
from ordering.forecast.demand import forecast
from ordering.forecast.history import ServicePast, past_of, sound
from ordering.records.backtest_results import (
    ALL_DISHES,
    FOUR_WEEKS,
    HORIZONS,
    METHODS,
    NAIVE,
    OURS,
    Accuracy,
    Backtest,
    BacktestDay,
)
from ordering.records.books import Books
from ordering.records.house import House
from ordering.records.plan import QUANTILES, Forecast

Array = NDArray[np.float64]
Tell = Callable[[str], None]

AHEAD = 60
BETWEEN = 21
FEWEST_BEFORE, LAST_BEFORE = 56, 14
LEVELS = np.array(QUANTILES)
LOW, HIGH = QUANTILES.index(0.10), QUANTILES.index(0.90)
STEPS = {"1-7": slice(0, 7), "8-14": slice(7, 14), "15-60": slice(14, AHEAD)}


@dataclass(frozen=True, slots=True)
class _Case:
    """One series from all origins; actual : [origin, ahead], by method mean and quantiles likewise."""

    service: str
    series: str
    actual: Array
    mean: dict[str, Array]
    quantiles: dict[str, Array]
    scale: float


def backtest(
    house: House, books: Books, on: date, n_origins: int = 12, tell: Tell = lambda _: None
) -> Backtest:
    """Accuracy of the forecast on the past before `on`, at three horizons, covers and dishes.

    Parameters
    ----------
    n_origins : forecasts made, three weeks apart, the last of them two weeks before `on`
    tell : called with a few words before each forecast

    Returns
    -------
    Backtest; without rows when the books are too short. Private parties are left out, and so are
    services where a dish sold out: nobody knows what would have been sold.
    """
    pasts = pasts_of(house, books, on)
    origins = _origins(pasts, on, n_origins)
    notes = [] if origins else [_too_short(pasts, on)]
    made = []
    for n, origin in enumerate(origins):
        tell(f"forecast of {origin}, {n + 1} of {len(origins)}")
        made.append(forecast(house, books, span(origin, AHEAD), house.policy.seed, 1))
    cases = [case for past in pasts for case in _cases(house, past, origins, made)] if origins else []
    rows = [_accuracy(case, horizon, method) for case in cases for horizon in HORIZONS for method in METHODS]
    rows += _pooled(cases)
    if origins and not any(row.n for row in rows):
        notes.append("No service is known in the days after any of these forecasts: nothing to compare with.")
    days = tuple(day for past in pasts for day in _compared(past, origins, made, cases))
    return Backtest(on, origins, tuple(row for row in rows if row.n), days, tuple(notes))


def pasts_of(house: House, books: Books, on: date) -> list[ServicePast]:
    """Past of every service that the books know, sold-out services of a dish unknown."""
    found = []
    for service in house.services:
        past = past_of(house, books, service, on, tuple(house.dishes))
        if past is not None:
            past = sound(past, house.services[service].weekdays, frozenset())
            found.append(replace(past, sold=np.where(past.sold_out, np.nan, past.sold)))
    return found


def _origins(pasts: Sequence[ServicePast], on: date, n_origins: int) -> tuple[date, ...]:
    if not pasts:
        return ()
    first = min(past.first for past in pasts) + timedelta(days=FEWEST_BEFORE)
    days = [on - timedelta(days=LAST_BEFORE + BETWEEN * n) for n in range(n_origins)]
    return tuple(sorted(day for day in days if day >= first))


def _too_short(pasts: Sequence[ServicePast], on: date) -> str:
    """How much past there is and how much is needed, and from when on there will be enough."""
    needed = FEWEST_BEFORE + LAST_BEFORE
    why = f"{needed} are needed: {FEWEST_BEFORE} to learn from and {LAST_BEFORE} to forecast"
    if not pasts:
        return f"Too short for a backtest: the books hold no covers and no sales before {_long(on)}; {why}."
    first = min(past.first for past in pasts)
    there = f"covers and sales begin on {_long(first)}, {(on - first).days} days before {_long(on)}"
    enough = _long(first + timedelta(days=needed))
    return f"Too short for a backtest: {there}; {why}. Try again from {enough} on."


def _long(day: date) -> str:
    return f"{format_day(day)} {day.year}"


def _cases(house: House, past: ServicePast, origins: Sequence[date], made: Sequence[Forecast]) -> list[_Case]:
    found = [_case(past, "*", past.covers, origins, _of_covers(house, past.service, made))]
    for n, dish in enumerate(house.dishes):
        if past.service in house.dishes[dish].services and np.isfinite(past.sold[n]).any():
            found.append(_case(past, dish, past.sold[n], origins, _of_dish(past.service, n, made)))
    return found


def _case(
    past: ServicePast, series: str, y: Array, origins: Sequence[date], ours: tuple[Array, Array]
) -> _Case:
    """One series to be scored. y : [day]; ours : [origin, ahead] and its quantiles."""
    at = np.array([(origin - past.first).days for origin in origins])
    rows = at[:, None] + np.arange(AHEAD)[None, :]
    actual = np.where((rows >= 0) & (rows < len(y)), y[np.clip(rows, 0, len(y) - 1)], np.nan)
    actual = np.where(np.isfinite(ours[0]), actual, np.nan)
    naive, four = seasonal_naive(y, at, AHEAD), _four_weeks(y, at)
    spread = np.array([_deviation(y[: max(n, 0)]) for n in at])[:, None]
    weeks = np.arange(AHEAD)[None, :] // 7 + 1
    mean = {OURS: ours[0], NAIVE: naive, FOUR_WEEKS: four}
    quantiles = {
        OURS: ours[1],
        NAIVE: _around(naive, spread * np.sqrt(weeks)),
        FOUR_WEEKS: _around(four, spread * np.sqrt(1.25 / 2)),
    }
    known = np.isfinite(actual)
    for values in mean.values():
        known &= np.isfinite(values)
    before = y[: max(int(at.min()), 0)] if len(at) else y
    return _Case(
        past.service, series, np.where(known, actual, np.nan), mean, quantiles, seasonal_scale(before)
    )


def _four_weeks(y: Array, at: NDArray[np.int64]) -> Array:
    """Mean of the same weekday's last four known values at each origin, [origin, ahead]."""
    found = np.full((len(at), AHEAD), np.nan)
    for o, origin in enumerate(at):
        for w in range(7):
            same = y[: max(origin, 0)][::-1][(6 - w) :: 7][:8]
            same = same[np.isfinite(same)][:4]
            if same.size:
                found[o, w::7] = same.mean()
    return found


def _deviation(y: Array) -> float:
    """Standard deviation of the difference between a day and the same weekday a week later. y : [day]."""
    steps = y[7:] - y[:-7]
    steps = steps[np.isfinite(steps)]
    return float(np.sqrt(np.mean(steps**2))) if steps.size else float("nan")


def _around(mean: Array, deviation: Array) -> Array:
    """Normal quantiles [origin, ahead, level] about a mean, never negative."""
    return np.asarray(np.maximum(mean[..., None] + deviation[..., None] * ndtri(LEVELS), 0.0))


def _of_covers(house: House, service: str, made: Sequence[Forecast]) -> tuple[Array, Array]:
    """Walk-ins as forecast: of private parties the past holds none either.

    Mean [origin, ahead] and quantiles [origin, ahead, quantile].
    """
    guests: dict[date, int] = defaultdict(int)
    for party in house.parties:
        if party.service == service:
            guests[party.date] += party.covers
    mean = np.full((len(made), AHEAD), np.nan)
    quantiles = np.full((len(made), AHEAD, len(LEVELS)), np.nan)
    for o, one in enumerate(made):
        for n, slot in enumerate(one.slots):
            if slot.service == service and n not in one.unknown and one.covers_mean[n] > 0:
                certain = guests.get(slot.date, 0)
                mean[o, slot.day] = one.covers_mean[n] - certain
                quantiles[o, slot.day] = one.covers_quantiles[n] - certain
    return mean, quantiles


def _of_dish(service: str, dish: int, made: Sequence[Forecast]) -> tuple[Array, Array]:
    """Mean [origin, ahead] and quantiles [origin, ahead, quantile] of one dish."""
    mean = np.full((len(made), AHEAD), np.nan)
    quantiles = np.full((len(made), AHEAD, len(LEVELS)), np.nan)
    for o, one in enumerate(made):
        for n, slot in enumerate(one.slots):
            if slot.service == service and n not in one.unknown and one.mean[dish, n] > 0:
                certain = one.party[dish, n]
                mean[o, slot.day] = one.mean[dish, n] - certain
                quantiles[o, slot.day] = one.quantiles[dish, n] - certain
    return mean, quantiles


def _accuracy(case: _Case, horizon: str, method: str) -> Accuracy:
    steps = STEPS[horizon]
    y, f, q = case.actual[:, steps], case.mean[method][:, steps], case.quantiles[method][:, steps]
    return Accuracy(
        case.service,
        case.series,
        horizon,
        method,
        int(np.isfinite(y).sum()),
        wape(y, f),
        mase(y, f, case.scale),
        bias(y, f),
        pinball(y.ravel(), q.reshape(-1, len(LEVELS)), LEVELS),
        coverage(y, q[..., LOW], q[..., HIGH]),
    )


def _pooled(cases: Sequence[_Case]) -> list[Accuracy]:
    """All dishes of a service as one: errors and actuals added up, MASE the mean of the dishes'."""
    found = []
    for service in dict.fromkeys(case.service for case in cases):
        dishes = [case for case in cases if case.service == service and case.series != "*"]
        if not dishes:
            continue
        whole = _Case(
            service,
            ALL_DISHES,
            np.concatenate([case.actual for case in dishes]),
            {m: np.concatenate([case.mean[m] for case in dishes]) for m in METHODS},
            {m: np.concatenate([case.quantiles[m] for case in dishes]) for m in METHODS},
            float("nan"),
        )
        for horizon in HORIZONS:
            for method in METHODS:
                scaled = [_accuracy(case, horizon, method).mase for case in dishes]
                known = [value for value in scaled if np.isfinite(value)]
                mean = float(np.mean(known)) if known else float("nan")
                found.append(replace(_accuracy(whole, horizon, method), mase=mean))
    return found


def _compared(
    past: ServicePast, origins: Sequence[date], made: Sequence[Forecast], cases: Sequence[_Case]
) -> list[BacktestDay]:
    """Covers day by day, each from the latest forecast at most a week before."""
    case = next((c for c in cases if c.service == past.service and c.series == "*"), None)
    found: dict[date, BacktestDay] = {}
    if case is None:
        return []
    for o, origin in enumerate(origins):
        for step in range(7):
            if np.isfinite(case.actual[o, step]):
                day = origin + timedelta(days=step)
                q = case.quantiles[OURS][o, step]
                mean = float(case.mean[OURS][o, step])
                actual = float(case.actual[o, step])
                found[day] = BacktestDay(
                    past.service, day, origin, actual, mean, float(q[LOW]), float(q[HIGH])
                )
    return [found[day] for day in sorted(found)]
