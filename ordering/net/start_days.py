"""Start windows: on which days a recipe can be started from fresh material, and the preferred days.

A just-in-time start may fall on a day on which its material is past its date: what comes on Fridays and
keeps four days is gone by Wednesday. Then the batch is started on the latest day before on which the
material is there, as long as what is made keeps until it is needed. The days are worked out once, from
the bottom up: a bought item can be there from each delivery to its last day; a recipe can be started
on the days on which all its parts can be there; and what it makes can be there from the day it is ready
as long as it keeps. What would be started on a day the house is closed is started the last open day
before, where the material is there as well and what is made keeps.

Sets of days are kept as bits of one integer, day 0 the lowest, so an intersection or a shift by days is
one operation, however long the horizon.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from ordering.explode.graph import Graph
from ordering.net.shelf_life import Days, Flags, Parcel
from ordering.records.buying import Delivery
from ordering.records.house import House
from ordering.records.plan import Forecast


@dataclass(frozen=True, slots=True)
class Window:
    """Days on which a recipe can be started, [day], by start day.

    allowed : its material can be there; preferred : and the house is open; since : the last day up to
    each on which material began to be there, before which no start is moved for the sake of open doors.
    """

    allowed: Flags
    preferred: Flags
    since: Days

    def ready_days(self, takes: int, last: Days) -> tuple[Days, Flags]:
        """When what is needed on each day is best ready, and the days on which a batch is best ready.

        last : [day] last day index on which what is ready that day may be used. What no allowed day can
        serve in time stays on its own day, short or not. Both by ready day, [day].
        """
        n_days = last.size
        day = np.arange(n_days)
        can, would = later(self.allowed, takes), later(self.preferred, takes)
        since = np.zeros(n_days, dtype=np.int64)
        since[takes:] = self.since[: max(0, n_days - takes)] + takes
        before = _latest(can)
        hard = np.where((before >= 0) & (last[before] >= day), before, day)
        soft = _latest(would)[hard]
        is_as_good = (soft >= since[hard]) & (soft >= takes) & (last[soft] >= day) & can[hard]
        on = np.maximum.accumulate(np.where(is_as_good, soft, hard))
        return on, would


def later(flags: Flags, days: int) -> Flags:
    """Flagged days as many days later. Both [day]."""
    moved = np.zeros_like(flags)
    moved[days:] = flags[: max(0, flags.size - days)]
    return moved


def _latest(flags: Flags) -> Days:
    """The latest flagged day up to each day; -1 before the first. Both [day]."""
    return np.maximum.accumulate(np.where(flags, np.arange(flags.size), -1))


@dataclass(frozen=True, slots=True)
class Supply:
    """What windows are worked out from: see `Problem` for the fields it shares."""

    house: House
    graph: Graph
    parcels: Mapping[str, tuple[Parcel, ...]]
    offsets: Mapping[str, int | None]
    arrival: Mapping[str, int]
    deliveries: Mapping[str, tuple[Delivery, ...]]
    unknown: frozenset[str]
    n_days: int

    @property
    def full(self) -> int:
        """The bits of all days."""
        return (1 << self.n_days) - 1


@dataclass(frozen=True, slots=True)
class Reach:
    """Bits by day. there : the item can be there; news : more of it begins to be there."""

    there: int
    news: int


def windows_of(supply: Supply, forecast: Forecast) -> dict[str, Window]:
    """The window of every recipe whose starts it can move; what is not named starts just in time."""
    open_days = _bits(open_on(supply.house, forecast), supply.n_days) or supply.full
    reach: dict[str, Reach] = {}
    windows: dict[str, Window] = {}
    for item in reversed(supply.graph.items):
        recipe = supply.house.recipes.get(item)
        if recipe is None:
            reach[item] = _bought(supply, item)
            continue
        start = _startable(supply, item, reach)
        reach[item] = _made(supply, item, start)
        is_ahead = bool(recipe.takes_days or recipe.par or recipe.largest)  # not made for the service alone
        preferred = start.there & open_days if is_ahead else start.there
        is_movable = is_ahead or supply.offsets[item]
        if is_movable and (preferred != start.there or _has_hole(start.there, supply.full)):
            windows[item] = _window(start, preferred, supply.n_days)
    return windows


def open_on(house: House, forecast: Forecast) -> list[int]:
    """Day indices on which any service is open or let to a party."""
    parties = {p.date for p in house.parties}
    return [
        t
        for t, day in enumerate(forecast.days)
        if day in parties or any(house.is_open(day, service) for service in house.services)
    ]


def _bought(supply: Supply, item: str) -> Reach:
    """Days on which a bought item can be there fresh: from each delivery to its last day.

    Before the first delivery that can still be ordered it is what is there or on its way. Where no
    calendar is known it can be had on any day from the first.
    """
    offers = supply.house.ingredients[item].offers
    if supply.graph.falls.get(item):
        return Reach(supply.full, 0 if offers else supply.full)
    arrival = min(supply.arrival.get(item, supply.n_days), supply.n_days)
    comes = {
        c.day
        for o in offers
        for c in supply.deliveries.get(o.vendor, ())
        if c.day >= arrival and o.holds_on(c.deliver_on)
    }
    keeps = supply.offsets[item]
    there = _kept(_bits(comes, supply.n_days), supply.n_days if keeps is None else min(keeps, supply.n_days))
    if not comes:
        there = supply.full & ~_span(0, arrival - 1)
    return _with_parcels(supply, item, Reach(there & supply.full, 0), arrival)


def _startable(supply: Supply, item: str, reach: Mapping[str, Reach]) -> Reach:
    """Days on which all parts of a recipe can be there when they are drawn."""
    there, news, beyond = supply.full, 0, supply.full << supply.n_days
    for line in supply.house.recipes[item].lines:
        part = reach.get(line.item)
        if part is not None and line.drawn > 0:
            if not line.is_optional:
                there &= (part.there | beyond) >> line.at_days
            news |= part.news >> line.at_days
    return Reach(there, news)


def _made(supply: Supply, item: str, start: Reach) -> Reach:
    """Days on which a made item can be there: from ready as long as it keeps."""
    takes, keeps = supply.house.recipes[item].takes_days, supply.offsets[item]
    ready = (start.there << takes) & supply.full
    if keeps is None:  # what is made for the service is not a stock, whatever it is said to keep
        keeps = supply.n_days if takes or supply.house.recipes[item].par else 0
    first = (ready & -ready).bit_length() - 1 if ready else supply.n_days
    there = _kept(ready, min(keeps, supply.n_days)) & supply.full
    if supply.graph.falls.get(item):
        there = supply.full
    return _with_parcels(supply, item, Reach(there, (start.news << takes) & supply.full), first)


def _with_parcels(supply: Supply, item: str, reach: Reach, first: int) -> Reach:
    """What is there or on its way counts before the first day on which more can be had.

    What was never counted, and of which nothing is on its way, may be there on any of those days.
    """
    there, news = reach.there, reach.news
    if item in supply.unknown and not supply.parcels.get(item):
        return Reach((there | _span(0, first - 1)) & supply.full, news)
    if 0 < first < supply.n_days:
        news |= 1 << first
    for parcel in supply.parcels.get(item, ()):
        if parcel.first < first:
            there |= _span(parcel.first, min(parcel.last, first - 1))
            news |= 1 << parcel.first if parcel.first else 0
    return Reach(there & supply.full, news & supply.full)


def _window(start: Reach, preferred: int, n_days: int) -> Window:
    news = _latest(_flags(start.news, n_days))
    return Window(_flags(start.there, n_days), _flags(preferred, n_days), np.maximum(news, 0))


def _has_hole(days: int, full: int) -> bool:
    """Whether a set of days has a day missing after its first."""
    return bool(days) and (days | ((days & -days) - 1)) != full


def _kept(days: int, keeps: int) -> int:
    """A set of days, each carried on for as many days as a thing keeps."""
    done = 0
    while done < keeps:
        step = min(done + 1, keeps - done)
        days |= days << step
        done += step
    return days


def _span(first: int, last: int) -> int:
    return ((1 << (last - first + 1)) - 1) << first if last >= first else 0


def _bits(days: Iterable[int], n_days: int) -> int:
    return sum(1 << day for day in set(days) if day < n_days)


def _flags(days: int, n_days: int) -> Flags:
    """Bits by day as flags, [day]."""
    text: Sequence[str] = format(days, f"0{n_days}b")
    return np.array([bit == "1" for bit in reversed(text)], dtype=np.bool_)
