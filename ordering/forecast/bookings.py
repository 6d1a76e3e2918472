"""Covers on the books: how they grew in the past, and what they say about the coming services."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ordering.records.house import House

Array = NDArray[np.float64]
Index = NDArray[np.int64]

FEWEST_PAST = 20
PRIOR_PAST = 10.0
STALE_DAYS = 7
FEWEST_GAPS, GAPS_SEEN = 5, 60
LARGEST_LIFT = 3.0


@dataclass(frozen=True, slots=True)
class PickUp:
    """What the books say of each coming day; shape [ahead].

    booked : covers on the books now, NaN where nothing is known
    lift : factor on the expected covers, 1 where the past shows nothing
    left : share of the spread that remains once the books are known
    sure : covers of those booked that the past shows will come, 0 where it shows nothing; the rest of what is
        expected is still to be picked up
    raised : the largest lift of a day of which no more is known than who has booked, 1 where there is none
    """

    booked: Array
    lift: Array
    left: Array
    sure: Array
    raised: float = 1.0


def on_the_books(table: pd.DataFrame, first: date, n_days: int, n_leads: int) -> Array:
    """Covers on the books by day of service and days before it, [day, lead]; NaN where not known.

    An entry stands for the days after it too, for up to a week, until another is taken.

    table : columns of `bookings`, of one service
    """
    found = np.full((n_leads, n_days), np.nan)
    day = (table["date"] - pd.Timestamp(first)).dt.days.to_numpy()
    lead = (table["date"] - table["taken_on"]).dt.days.to_numpy()
    inside = (day >= 0) & (day < n_days) & (lead >= 0) & (lead < n_leads)
    found[lead[inside], day[inside]] = table["booked"].to_numpy(dtype=float)[inside]
    leads = np.arange(n_leads)[:, None]
    taken = np.where(np.isfinite(found), leads, n_leads + STALE_DAYS)
    taken = np.minimum.accumulate(taken[::-1])[::-1]
    stands = np.take_along_axis(found, np.minimum(taken, n_leads - 1), axis=0)
    return np.asarray(np.where(taken - leads <= STALE_DAYS, stands, np.nan).T)


@dataclass(frozen=True, slots=True)
class Age:
    """Days since the newest bookings were taken, and whether they should have been taken again since."""

    days: int
    is_old: bool


def age_of(table: pd.DataFrame, on: date) -> Age | None:
    """How old the newest bookings of a house are on the morning of a day; None where there are none.

    They are old when more days have passed than usually do between one taking and the next, and in any
    case after a week. Who has booked since is not in them: held against what used to be on the books so
    long before, they would show an empty house.

    table : columns of `bookings`, of all services
    """
    taken = np.unique(table["taken_on"].to_numpy())
    taken = taken[taken <= np.datetime64(on)]
    if not taken.size:
        return None
    days = int((np.datetime64(on) - taken[-1]) / np.timedelta64(1, "D"))
    gaps = np.diff(taken[-GAPS_SEEN:]) / np.timedelta64(1, "D")
    usual = float(np.quantile(gaps, 0.95)) if gaps.size >= FEWEST_GAPS else float(STALE_DAYS)
    return Age(days, days > min(usual, STALE_DAYS))


def last_booked(table: pd.DataFrame, days: Sequence[date]) -> Array:
    """Covers on the books of each day as last written down, however long ago; NaN where nothing is.

    Returns [day].

    table : columns of `bookings`, of one service, as known today
    """
    latest = table.sort_values("taken_on", kind="stable").groupby("date")["booked"].last()
    return np.asarray(latest.reindex(pd.DatetimeIndex(list(days))), dtype=np.float64)


def without_parties(house: House, service: str, days: Sequence[date], booked: Array) -> Array:
    """Booked covers of each day less the guests of private parties that may stand among them.

    booked : [day], as what comes back.

    Whether a party is in the bookings too, nobody says. Where so many are booked it is taken to be, for
    what is left is the least.
    """
    left = booked.copy()
    at = {day: n for n, day in enumerate(days)}
    for party in house.parties:
        n = at.get(party.date) if party.service == service else None
        if n is not None and left[n] >= party.covers:
            left[n] -= party.covers
    return left


def pick_up(
    books: Array, covers: Array, expected: Array, coming: Array, least: Array | None = None, age: int = 0
) -> PickUp:
    """How far covers on the books move the expectation of each coming day.

    Parameters
    ----------
    books : [day, lead], past and coming days on one axis, today being `len(covers)`
    covers : [day], what came, NaN where not known
    expected : [day], what the regression expects of the past days
    coming : [ahead], expected covers of the coming days
    least : [ahead], walk-ins that have booked; None: as in `books`
    age : days since the bookings were taken: they are held against what was on the books that much earlier

    Notes
    -----
    Covers are what is booked and what is picked up from now on. At each lead the share of the expectation
    that is usually on the books by then is learnt, and by how much covers came out above expectation when
    the books stood above that share: a regression through the origin, weighted by expectation and shrunk to
    one more guest for one more booked (additive pick-up). Common practice, no source. Where the past of the
    books is too short to learn from, no fewer are expected than have booked.
    """
    today, ahead = len(covers), len(coming)
    booked, lift, left = np.full(ahead, np.nan), np.ones(ahead), np.ones(ahead)
    sure = np.zeros(ahead)
    raised = 1.0
    for n in range(min(ahead, books.shape[1])):
        if today + n >= len(books):
            break
        lead = min(n + age, books.shape[1] - 1)
        booked[n] = books[today + n, lead]
        if not np.isfinite(booked[n]) or coming[n] <= 0:
            continue
        past = np.isfinite(books[:today, lead]) & np.isfinite(covers) & (expected > 0)
        if past.sum() < FEWEST_PAST:
            arranged = booked[n] if least is None else least[n]
            lift[n] = max(1.0, arranged / coming[n])
            raised = max(raised, float(lift[n]))
            continue
        then, now = books[:today, lead][past], booked[n] / coming[n]
        lift[n], left[n], kept = _moved(then, covers[past], expected[past], now)
        sure[n] = np.floor(kept * booked[n])
    return PickUp(booked, lift, left, sure, raised)


def _moved(booked: Array, covers: Array, expected: Array, now: float) -> tuple[float, float, float]:
    """Lift, share of the spread left, and share of those booked that come for sure, at one lead.

    booked, covers, expected : [past day].

    `now` is the share of the expectation on the books today.
    """
    usual = booked.sum() / expected.sum()
    above = booked / expected - usual
    came = covers / expected - covers.sum() / expected.sum()
    strength = float((expected * above**2).sum())
    prior = strength * PRIOR_PAST / len(booked)
    slope = max((float((expected * above * came).sum()) + prior) / max(strength + prior, 1e-9), 0.0)
    explained = slope**2 * strength / max(float((expected * came**2).sum()), 1e-9)
    held = float(np.quantile(covers[booked >= 3] / booked[booked >= 3], 0.1)) if (booked >= 3).any() else 0.0
    kept = min(held, 1.0)
    lift = max(1 + slope * (now - usual), kept * now, 1 / LARGEST_LIFT)
    return min(lift, LARGEST_LIFT), 1 - min(max(explained, 0.0), 0.9), kept
