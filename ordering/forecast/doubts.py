"""What in the past cannot be taken as it stands: closed days written as 0, slips of the pen, gaps."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from ordering.days import WEEKDAY_NAMES, service_title

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

ABSURD_TIMES = 5.0
LEAST_USUAL = 4.0
NOT_BY_CHANCE = 8.0
LONG_RUN = 10
WEEKS_LOOKED_AT = 12
OFF_THE_MENU = 14.0


def without_absurd(y: Array) -> tuple[Array, Flags]:
    """The values with absurdly high ones taken out, and where those were. All [day].

    Absurd is more than five times what nine days in ten stay below, in the whole past and in the
    last 28 days known, so that a house that has really grown is believed within days.
    """
    nowhere = np.zeros(y.shape, dtype=bool)
    known = y[np.isfinite(y)]
    if known.size < 8 or known.max() <= ABSURD_TIMES * LEAST_USUAL:
        return y, nowhere
    usual = max(np.quantile(known[-28:], 0.9), LEAST_USUAL)
    if known.max() <= ABSURD_TIMES * usual:
        return y, nowhere
    usual = max(np.quantile(known, 0.9), usual)
    is_absurd = np.isfinite(y) & (y > ABSURD_TIMES * usual)
    if not 0 < is_absurd.sum() <= 0.02 * known.size + 1:
        return y, nowhere
    return np.where(is_absurd, np.nan, y), is_absurd


def without_closed_zeros(y: Array, weekday: NDArray[np.int64], is_holiday: Flags) -> Array:
    """The values with zeros that can only mean closed taken out. All [day].

    A lone 0 where the same weekday usually brings many is a day the house was shut, and so is a long
    run of zeros that ended. Zeros of a weekday that is usually 0, of a holiday, or of a run that
    has not ended stay as they are.
    """
    found = _without_long_runs(y)
    found[np.isfinite(unlikely_zeros(found, weekday)) & ~is_holiday] = np.nan
    return found


def unlikely_zeros(y: Array, weekday: NDArray[np.int64]) -> Array:
    """What is usual on each day whose lone 0 cannot be chance, NaN on all others, [day].

    Usual is the median of the same weekday, eight weeks before and after; fewer than a quarter of these
    are 0. A Poisson of mean 8 is 0 once in 3,000 times.
    """
    usual = np.full(y.shape, np.nan)
    if np.count_nonzero(y >= NOT_BY_CHANCE) < 2:
        return usual
    known = np.flatnonzero(np.isfinite(y))
    at = known[np.argsort(weekday[known], kind="stable")]
    edge = np.searchsorted(weekday[at], np.arange(8))
    place = np.flatnonzero(y[at] == 0)
    of, many = weekday[at[place]], np.concatenate([[0], np.cumsum(y[at] >= NOT_BY_CHANCE)])
    first, last = np.maximum(place - 8, edge[of]), np.minimum(place + 9, edge[of + 1])
    may_be = (last - first >= 4) & (2 * (many[last] - many[first]) >= last - first)
    for n, low, high in zip(place[may_be], first[may_be], last[may_be], strict=True):
        near = y[at[low:high]]
        middle = np.median(near)
        if middle >= NOT_BY_CHANCE and (near == 0).mean() < 0.25:
            usual[at[n]] = middle
    return usual


def _without_long_runs(y: Array) -> Array:
    """Without runs of zeros that ended and are longer than chance; [day]."""
    found = y.copy()
    at = np.flatnonzero(np.isfinite(y))
    values = y[at]
    if not values.any() or np.median(values[values > 0]) < NOT_BY_CHANCE:
        return found
    for first, last in _long_runs(values):
        found[at[first:last]] = np.nan
    return found


def _long_runs(values: Array) -> list[tuple[int, int]]:
    """First place of each long run of zeros that ended, and the place after it; values : [known day]."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], (values == 0).astype(int), [0]]))).tolist()
    runs = zip(edges[::2], edges[1::2], strict=True)
    return [(first, last) for first, last in runs if last - first >= LONG_RUN and last < len(values)]


def never_open(y: Array, weekday: NDArray[np.int64], listed: frozenset[int]) -> frozenset[int]:
    """Weekdays listed as open on which the last twelve weeks show no service at all. y, weekday : [day].

    Nothing is concluded from fewer than eight of those weeks, or from weeks with no service.
    """
    recent, days = np.isfinite(y[-7 * WEEKS_LOOKED_AT :]), weekday[-7 * WEEKS_LOOKED_AT :]
    n_weeks = len(recent) // 7
    if n_weeks < 8:
        return frozenset()
    by_week = recent[-7 * n_weeks :].reshape(n_weeks, 7).any(axis=1)
    if by_week.sum() < 8:
        return frozenset()
    return frozenset(w for w in listed if not recent[days == w].any())


def off_the_menu(sold: Array) -> Flags:
    """Days inside a dish's life on which it cannot have been on offer. Both [day].

    A run of days with nothing sold in which its usual rate would have sold 14 or more; a run
    that reaches today is not one, since the dish may have died.
    """
    known = np.flatnonzero(np.isfinite(sold))
    values = sold[known]
    away = np.zeros(sold.shape, dtype=bool)
    if not values.any():
        return away
    rate = values.sum() / max((values > 0).sum(), 1) * min((values > 0).mean() * 2, 1.0)
    for first, last in _long_runs(values):
        away[known[first:last]] = (last - first) * rate >= OFF_THE_MENU
    return away


def notes_on_past(service: str, y: Array, first: date, absurd: Array, shut: frozenset[int]) -> list[str]:
    """What a reader of the forecast should know about one service's past. y : [day].

    absurd : values taken out as absurd, NaN elsewhere, shape of `y`
    """
    found = []
    for n in np.flatnonzero(np.isfinite(absurd))[:5]:
        when = (first + timedelta(days=int(n))).isoformat()
        found.append(
            f"{service_title(service)}: {absurd[n]:.0f} covers on {when} is more than "
            f"{ABSURD_TIMES:.0f} times a busy day; left out"
        )
    found += [
        f"{service_title(service)}: {WEEKDAY_NAMES[w]} is listed as open, but the last "
        f"{WEEKS_LOOKED_AT} weeks show no service on it; taken as closed unless guests have booked"
        for w in sorted(shut)
    ]
    at = np.flatnonzero(np.isfinite(y))
    if not at.size:
        return found
    if len(y) - at[-1] > 15:
        last = (first + timedelta(days=int(at[-1]))).isoformat()
        found.append(f"{service_title(service)}: the books end on {last}; what came since is not known")
    if at.size < 56:
        found.append(
            f"{service_title(service)}: the books hold only {at.size} services of it; expect a rough forecast"
        )
    return found
