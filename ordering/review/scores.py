"""Forecasts as they were issued against what came, service by service, at the lead times that mattered."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import Any

import numpy as np
import pandas as pd

from ordering.accuracy import bias, coverage, wape
from ordering.amounts import plural
from ordering.records.house import House
from ordering.records.review_results import Pair, Score

Key = tuple[date, str, str]
Actuals = Mapping[Key, float]

COVERS = "*"
REMADE = "remade"  # stands as the run of a forecast that was not issued but made afterwards
ALL_DISHES = "all dishes"
BANDS = (
    ("0 to 7 days", 0, 7),
    ("8 to 14 days", 8, 14),
    ("over 14 days", 15, 10_000),
)
NAIVE_WEEKS = 8
WEEK = timedelta(weeks=1)


@dataclass(slots=True)
class WeeklyChange:
    """How far a service's figure moved from one week to the next: days in sequence, and the sum so far."""

    days: list[date] = field(default_factory=list)
    total: list[float] = field(default_factory=list)

    def mean_before(self, day: date) -> float | None:
        """Mean absolute change over every two weeks known before a day; None where there was none."""
        n = bisect_left(self.days, day)
        return self.total[n - 1] / n if n and self.total[n - 1] > 0 else None


Changes = Mapping[tuple[str, str], WeeklyChange]  # by service and dish


@dataclass(frozen=True, slots=True)
class Hosted:
    """Private parties: guests and portions by (date, service, dish or `*`); services all to themselves."""

    portions: Mapping[Key, float] = field(default_factory=dict)
    alone: frozenset[tuple[date, str]] = frozenset()

    def walk_ins(self, came: Actuals) -> dict[Key, float]:
        """What came without the parties; nothing is known of services they had to themselves."""
        return {k: n - self.portions.get(k, 0.0) for k, n in came.items() if k[:2] not in self.alone}


def hosted(house: House) -> Hosted:
    """The private parties of a house."""
    portions: dict[Key, float] = defaultdict(float)
    for party in house.parties:
        portions[party.date, party.service, COVERS] += party.covers
        for dish, n in party.menu.items():
            portions[party.date, party.service, dish] += n
    return Hosted(portions, frozenset((p.date, p.service) for p in house.parties if p.is_instead))


def weekly_changes(came: Actuals) -> dict[tuple[str, str], WeeklyChange]:
    """By service and dish, each day's distance from the same weekday a week before, where both are known."""
    found: dict[tuple[str, str], WeeklyChange] = {}
    for day, service, dish in sorted(came):
        before = came.get((day - WEEK, service, dish))
        if before is not None:
            change = found.setdefault((service, dish), WeeklyChange())
            so_far = change.total[-1] if change.total else 0.0
            change.days.append(day)
            change.total.append(so_far + abs(came[day, service, dish] - before))
    return found


def actuals(
    house: House, sales: pd.DataFrame, covers: pd.DataFrame
) -> tuple[dict[tuple[date, str, str], float], set[tuple[date, str, str]]]:
    """What came by (date, service, dish), covers as dish `*`; and the keys of dishes that ran out.

    Private parties are in it, as they are in a forecast as issued: where the books have fewer guests or
    portions than theirs, the books are taken to leave them out.
    """
    came: dict[tuple[date, str, str], float] = {}
    ran_out: set[tuple[date, str, str]] = set()
    for day, service, n in zip(covers["date"].dt.date, covers["service"], covers["covers"], strict=True):
        came[day, str(service), COVERS] = float(n)
    keys = zip(sales["date"].dt.date, sales["service"], sales["dish"], strict=True)
    for key, n, is_out in zip(keys, sales["sold"], sales["sold_out"], strict=True):
        came[key] = float(n)
        if is_out:
            ran_out.add(key)
    parties = hosted(house)
    for key, n in parties.portions.items():
        if key in came and came[key] < n and key[:2] not in parties.alone:
            came[key] += n
    return came, ran_out


def pairs(
    issued: pd.DataFrame,
    came: Actuals,
    leads: tuple[int, int],
    changes: Changes | None = None,
    parties: Hosted | None = None,
) -> list[Pair]:
    """Each service of `issued` with what came, by the freshest forecast so many days ahead (least, most).

    `issued` has the columns of a ledger's forecasts; a service that nothing was recorded of is left out.
    Without `changes` the pairs have no scale. `parties` are in the forecast and in what came, and so the
    naive forecast is given them too.
    """
    parties = parties or Hosted()
    walk_ins = parties.walk_ins(came)
    lead = (issued["date"] - issued["issued_on"]).dt.days
    within = issued[(lead >= leads[0]) & (lead <= leads[1])].sort_values("issued_on", kind="stable")
    freshest = within.drop_duplicates(["date", "service", "dish"], keep="last")
    found = []
    rows: Iterable[Any] = freshest.itertuples(index=False)
    for row in rows:
        key = (row.date.date(), str(row.service), str(row.dish))
        if key not in came:
            continue
        issued_on = row.issued_on.date()
        quantiles = (float(row.q05), float(row.q10), float(row.q90), float(row.q95))
        known = naive(walk_ins, key, issued_on)
        known = None if known is None else known + parties.portions.get(key, 0.0)
        change = (changes or {}).get(key[1:])
        scale = change.mean_before(issued_on) if change else None
        found.append(
            Pair(
                *(*key, issued_on, came[key], float(row.mean), *quantiles),
                naive=known,
                scale=scale,
                is_remade=row.run == REMADE,
            )
        )
    return sorted(found, key=lambda p: (p.served_on, p.service, p.dish))


def naive(came: Actuals, key: tuple[date, str, str], issued_on: date) -> float | None:
    """Seasonal naive: the same weekday's last value known on the day of issue, up to eight weeks back."""
    day, service, dish = key
    for n in range(1, NAIVE_WEEKS + 1):
        earlier = day - timedelta(weeks=n)
        if earlier < issued_on and (earlier, service, dish) in came:
            return came[earlier, service, dish]
    return None


def score(name: str, lead: str, compared: Sequence[Pair]) -> Score:
    """Accuracy over some services; at least one is needed.

    WAPE and bias are those of `ordering.accuracy`, coverage the share of services inside the interval. MASE
    is the mean absolute scaled error of Hyndman and Koehler, Another look at measures of forecast accuracy,
    International Journal of Forecasting 22 (2006), 679-688, with a week as the season: each miss over the
    mean change from week to week in what was known when that forecast was issued.
    """
    actual = np.array([p.actual for p in compared])
    mean = np.array([p.mean for p in compared])
    known = [p for p in compared if p.naive is not None]
    naive_wape, gain = _against_naive(known)
    has_any = actual.sum() > 0
    return Score(
        name=name,
        lead=lead,
        n=len(compared),
        actual=float(actual.sum()),
        forecast=float(mean.sum()),
        bias=bias(actual, mean) if has_any else None,
        wape=wape(actual, mean) if has_any else None,
        inside_80=_inside(compared, "q10", "q90"),
        inside_90=_inside(compared, "q05", "q95"),
        naive_wape=naive_wape,
        gain=gain,
        mase=_mase(compared),
    )


def _mase(compared: Sequence[Pair]) -> float | None:
    scaled = [abs(p.actual - p.mean) / p.scale for p in compared if p.scale is not None]
    return sum(scaled) / len(scaled) if scaled else None


def _inside(compared: Sequence[Pair], low: str, high: str) -> float:
    actual = np.array([p.actual for p in compared])
    return float(
        coverage(
            actual,
            np.array([getattr(p, low) for p in compared]),
            np.array([getattr(p, high) for p in compared]),
        )
    )


def _against_naive(known: Sequence[Pair]) -> tuple[float | None, float | None]:
    actual = np.array([p.actual for p in known])
    if not len(actual) or actual.sum() <= 0:
        return None, None
    of_naive = wape(actual, np.array([p.naive for p in known], dtype=float))
    ours = wape(actual, np.array([p.mean for p in known]))
    return of_naive, (1 - ours / of_naive if of_naive > 0 else None)


def _by_dish(came: Actuals) -> dict[str, dict[Key, float]]:
    """What came, by dish."""
    found: dict[str, dict[Key, float]] = {}
    for key, n in came.items():
        found.setdefault(key[2], {})[key] = n
    return found


def cover_scores(
    issued: pd.DataFrame, came: Actuals, services: Iterable[str], parties: Hosted | None = None
) -> tuple[Score, ...]:
    """Covers by service and by how many days ahead the forecast was issued."""
    covers, came = issued[issued["dish"] == COVERS], _by_dish(came).get(COVERS, {})
    parties = parties or Hosted()
    changes = weekly_changes(parties.walk_ins(came))
    found = []
    for service in services:
        for lead, least, most in BANDS:
            compared = [
                p for p in pairs(covers, came, (least, most), changes, parties) if p.service == service
            ]
            if compared:
                found.append(score(service, lead, compared))
    return tuple(found)


def dish_scores(
    issued: pd.DataFrame,
    came: Actuals,
    ran_out: set[tuple[date, str, str]],
    leads: Mapping[str, int],
    parties: Hosted | None = None,
) -> tuple[Score, ...]:
    """Portions by dish, by the freshest forecast still in time for its longest preparation.

    `leads` is that time in days by dish. Services where the dish ran out show only a lower bound of demand
    and are left out. The most sold dishes come first.
    """
    parties = parties or Hosted()
    changes = weekly_changes(parties.walk_ins(came))
    by_dish = {str(dish): table for dish, table in issued.groupby("dish") if dish != COVERS}
    came_of = _by_dish(came)
    found: list[Score] = []
    every: list[Pair] = []
    for dish, table in by_dish.items():
        lead = leads.get(dish, 0)
        fresh = pairs(table, came_of.get(dish, {}), (lead, 10_000), changes, parties)
        compared = [p for p in fresh if (p.served_on, p.service, dish) not in ran_out]
        if compared:
            found.append(score(dish, f"{plural(lead, 'day')} or more", compared))
            every += compared
    ranked = sorted(found, key=lambda s: (-s.actual, s.name))
    return (score(ALL_DISHES, "in time for each", every), *ranked) if every else ()
