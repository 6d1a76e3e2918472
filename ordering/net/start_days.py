"""Start windows: on which days a recipe can be started from fresh material, and the preferred days.

A just-in-time start may fall on a day on which its material is past its date: what comes on Fridays and
keeps four days is gone by Wednesday. Then the batch is started on the latest day before on which the
material is there, as long as what is made keeps until it is needed. The days are worked out once, from
the bottom up: a bought item can be there from each delivery to its last day; a recipe can be started
on the days on which all its parts can be there; and what it makes can be there from the day it is ready
as long as it keeps. What would be started on a day the house is closed is started the last open day
before, where the material is there as well and what is made keeps.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from ordering.explode.graph import Graph
from ordering.net.shelf_life import Days, Flags, Parcel
from ordering.records.buying import Delivery
from ordering.records.house import House
from ordering.records.plan import Forecast

Number = TypeVar("Number", bound=np.generic)


def later(values: NDArray[Number], days: int) -> NDArray[Number]:
    """Values of each day that many days later, none before: from start to ready day. Both [day, ...]."""
    moved = np.zeros_like(values)
    moved[days:] = values[: max(0, len(values) - days)]
    return moved


def sooner(values: NDArray[Number], days: int) -> NDArray[Number]:
    """Values of each day that many days sooner, none at the end: from ready to start day. Both [day, ...]."""
    moved = np.zeros_like(values)
    moved[: max(0, len(values) - days)] = values[days:]
    return moved


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
        since = later(self.since + takes, takes)
        before = _latest(can)
        hard = np.where((before >= 0) & (last[before] >= day), before, day)
        soft = _latest(would)[hard]
        is_as_good = (soft >= since[hard]) & (soft >= takes) & (last[soft] >= day) & can[hard]
        on = np.maximum.accumulate(np.where(is_as_good, soft, hard))
        return on, would


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


@dataclass(frozen=True, slots=True)
class Reach:
    """Flags by day, [day]. there : the item can be there; news : more of it begins to be there."""

    there: Flags
    news: Flags


def windows_of(supply: Supply, forecast: Forecast) -> dict[str, Window]:
    """The window of every recipe whose starts it can move; what is not named starts just in time."""
    is_open = open_on(supply.house, forecast)
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
        preferred = start.there & is_open if is_ahead and is_open.any() else start.there
        has_hole = start.there.any() and not start.there[int(np.argmax(start.there)) :].all()
        is_movable = is_ahead or supply.offsets[item]
        if is_movable and (has_hole or not np.array_equal(preferred, start.there)):
            windows[item] = Window(start.there, preferred, np.maximum(_latest(start.news), 0))
    return windows


def open_on(house: House, forecast: Forecast) -> Flags:
    """Whether any service is open or let to a party, [day]."""
    parties = {p.date for p in house.parties}
    services = house.services
    return np.array([d in parties or any(house.is_open(d, s) for s in services) for d in forecast.days])


def _bought(supply: Supply, item: str) -> Reach:
    """Days on which a bought item can be there fresh: from each delivery to its last day.

    Before the first delivery that can still be ordered it is what is there or on its way. Where no
    calendar is known it can be had on any day from the first.
    """
    offers, n_days = supply.house.ingredients[item].offers, supply.n_days
    nothing, always = np.zeros(n_days, dtype=np.bool_), np.ones(n_days, dtype=np.bool_)
    if supply.graph.falls.get(item):
        return Reach(always, nothing if offers else always)
    arrival = min(supply.arrival.get(item, n_days), n_days)
    comes = [
        c.day
        for o in offers
        for c in supply.deliveries.get(o.vendor, ())
        if arrival <= c.day < n_days and o.holds_on(c.deliver_on)
    ]
    there = np.arange(n_days) >= arrival
    if comes:
        there[:] = False
        there[comes] = True
        there = _kept(there, supply.offsets[item])
    return _with_parcels(supply, item, Reach(there, nothing), arrival)


def _startable(supply: Supply, item: str, reach: Mapping[str, Reach]) -> Reach:
    """Days on which all parts of a recipe can be there when they are drawn."""
    there, news = np.ones(supply.n_days, dtype=np.bool_), np.zeros(supply.n_days, dtype=np.bool_)
    for line in supply.house.recipes[item].lines:
        part = reach.get(line.item)
        if part is not None and line.drawn > 0:
            if not line.is_optional:  # what is drawn beyond the last day looked at can be there
                there &= ~sooner(~part.there, line.at_days)
            news |= sooner(part.news, line.at_days)
    return Reach(there, news)


def _made(supply: Supply, item: str, start: Reach) -> Reach:
    """Days on which a made item can be there: from ready as long as it keeps."""
    recipe, keeps = supply.house.recipes[item], supply.offsets[item]
    if keeps is None and not (recipe.takes_days or recipe.par):
        keeps = 0  # what is made for the service is not a stock, whatever it is said to keep
    ready = later(start.there, recipe.takes_days)
    first = int(np.argmax(ready)) if ready.any() else supply.n_days
    there = np.ones_like(ready) if supply.graph.falls.get(item) else _kept(ready, keeps)
    return _with_parcels(supply, item, Reach(there, later(start.news, recipe.takes_days)), first)


def _with_parcels(supply: Supply, item: str, reach: Reach, first: int) -> Reach:
    """What is there or on its way counts before the first day on which more can be had.

    What was never counted, and of which nothing is on its way, may be there on any of those days.
    """
    there, news = reach.there.copy(), reach.news.copy()
    parcels = supply.parcels.get(item, ())
    if item in supply.unknown and not parcels:
        there[:first] = True
        return Reach(there, news)
    if 0 < first < supply.n_days:
        news[first] = True
    for parcel in parcels:
        if parcel.first < first:
            there[parcel.first : min(parcel.last + 1, first)] = True
            if 0 < parcel.first < supply.n_days:
                news[parcel.first] = True
    return Reach(there, news)


def _kept(flags: Flags, keeps: int | None) -> Flags:
    """Flagged days and as many after each as a thing keeps; None: all after. Both [day]."""
    latest = _latest(flags)
    since = np.arange(flags.size) - latest
    return (latest >= 0) & (since <= (flags.size if keeps is None else keeps))
