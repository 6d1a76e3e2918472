"""What one netting is about, laid out for arrays: demand by recipe, parcels by item, limits."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import product

import numpy as np

from ordering.days import next_on
from ordering.explode.graph import Graph, Use, falls_of, folded, recipe_graph
from ordering.net.dates import last_offset
from ordering.net.stock import Flags, Parcel
from ordering.net.windows import Supply, Window, windows_of
from ordering.records.house import House
from ordering.records.plan import Array, Chance, Forecast, Opening


@dataclass(frozen=True, slots=True)
class Sooner:
    """Batches begun sooner than they would be, on every path: see `net/sooner.py`.

    day, ready, last : indices of the day they are begun, ready, and last good; quantity of item : what they
    take of a lot whose last day index is `lot_last`
    """

    day: int
    batches: float
    ready: int
    last: int
    item: str
    quantity: float
    lot_last: int


@dataclass(frozen=True, slots=True)
class Frame:
    """Everything a sweep over the items needs and does not change.

    consumables : by item, [day, path]; parcels : by item, what is there or on its way; offsets : by
    item, days from ready to last day; arrival : by item, first day index on which a purchase can be
    there; decided_days : day indices below it are decided by this run; unknown : items never counted;
    windows : by recipe whose starts are not all just in time, the days on which it can be started;
    begun : by recipe, batches under way as (day index of their start, batches);
    par_off : by recipe whose par waits for what goes into it, [day] whether it is not kept that evening;
    sooner : by recipe, batches begun sooner to use up a lot.
    """

    house: House
    graph: Graph
    forecast: Forecast
    consumables: Mapping[str, Array]
    parcels: Mapping[str, tuple[Parcel, ...]]
    offsets: Mapping[str, int | None]
    arrival: Mapping[str, int]
    decided_days: int
    unknown: frozenset[str] = frozenset()
    windows: Mapping[str, Window] = field(default_factory=dict)
    begun: Mapping[str, tuple[tuple[int, float], ...]] = field(default_factory=dict)
    par_off: Mapping[str, Flags] = field(default_factory=dict)
    sooner: Mapping[str, tuple[Sooner, ...]] = field(default_factory=dict)

    @property
    def n_days(self) -> int:
        return len(self.forecast.days)

    @property
    def n_paths(self) -> int:
        return int(self.forecast.portions.shape[2])


def frame_of(
    house: House,
    opening: Opening,
    forecast: Forecast,
    arrival: Mapping[str, int],
    chances: Mapping[str, tuple[Chance, ...]] | None = None,
) -> Frame:
    """The frame of one netting. Recipes that carry over their own output are folded, see `folded`."""
    house = folded(house)
    graph = recipe_graph(house)
    first = forecast.days[0]
    offsets = {i: last_offset(house, i) for i in graph.items}
    parcels = opening_parcels(house, opening, forecast)
    supply = Supply(
        house, graph, parcels, offsets, arrival, chances or {}, opening.unknown, len(forecast.days)
    )
    return Frame(
        house=house,
        graph=graph,
        forecast=forecast,
        consumables=consumables(house, forecast),
        parcels=parcels,
        offsets=offsets,
        arrival=arrival,
        decided_days=min(len(forecast.days), (next_on(first, house.order_weekdays or {0}) - first).days),
        unknown=opening.unknown,
        windows=windows_of(supply, forecast),
        begun=_begun(opening, first),
    )


def _begun(opening: Opening, first: date) -> dict[str, tuple[tuple[int, float], ...]]:
    begun: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for one in opening.begun:
        begun[one.recipe].append(((one.started_on - first).days, one.batches))
    return {recipe: tuple(sorted(starts)) for recipe, starts in begun.items()}


def draws_begun(frame: Frame, use: Use) -> Array:
    """What batches under way still draw by one line, [day]. What their first day draws is drawn."""
    drawn = np.zeros(frame.n_days)
    for started, batches in frame.begun.get(use.recipe, ()):
        day = started + use.at_days
        if use.at_days > 0 and 0 <= day < frame.n_days:
            drawn[day] += batches * use.quantity
    return drawn


def consumables(house: House, forecast: Forecast) -> dict[str, Array]:
    """What consumables draw: by item, [day, path]; only where the house is open or let to a party."""
    n_days, n_paths = len(forecast.days), forecast.portions.shape[2]
    parties = {(p.date, p.service) for p in house.parties}
    is_open = [(s.date, s.service) in parties or house.is_open(s.date, s.service) for s in forecast.slots]
    drawn: dict[str, Array] = {}
    for consumable in house.consumables:
        use = drawn.setdefault(consumable.item, np.zeros((n_days, n_paths)))
        days_done: set[int] = set()
        for k, slot in enumerate(forecast.slots):
            if not is_open[k] or (consumable.per == "day" and slot.day in days_done):
                continue
            days_done.add(slot.day)
            use[slot.day] += consumable.quantity * (forecast.covers[k] if consumable.per == "cover" else 1.0)
    return drawn


def opening_parcels(house: House, opening: Opening, forecast: Forecast) -> dict[str, tuple[Parcel, ...]]:
    """Lots, what falls out of batches under way after today, and open orders, as parcels by item."""
    first, n_days = forecast.days[0], len(forecast.days)
    parcels: dict[str, list[Parcel]] = defaultdict(list)
    own = {(lot.item, lot.ready_on) for lot in opening.lots if lot.ready_on is not None}
    for lot in opening.lots:
        ready = 0 if lot.ready_on is None else max(0, (lot.ready_on - first).days)
        last = n_days if lot.use_by is None else (lot.use_by - first).days
        if last >= ready:
            parcels[lot.item].append(Parcel(ready, last, lot.quantity, "in-process" if ready else "opening"))
    for order in opening.scheduled:
        due = max(0, (order.due_on - first).days)
        last = _last_of(house, order.item, due, n_days)
        if order.use_by is not None:
            last = (order.use_by - first).days
        parcels[order.item].append(Parcel(due, last, order.quantity, "scheduled"))
    for item, falls in falls_of(house).items():  # also what goes round in a circle: these batches are begun
        for fall, one in product(falls, opening.begun):
            ready_on = one.started_on + timedelta(days=fall.after_days)
            if one.recipe == fall.recipe and ready_on > first and (item, ready_on) not in own:
                ready = (ready_on - first).days
                last = _last_of(house, item, ready, n_days)
                parcels[item].append(Parcel(ready, last, fall.quantity * one.batches, "by-product"))
    return {i: tuple(sorted(p, key=_rank)) for i, p in parcels.items()}


def _rank(parcel: Parcel) -> tuple[int, int, float, str]:
    return parcel.last, parcel.first, float(np.sum(parcel.quantity)), parcel.kind


def _last_of(house: House, item: str, ready: int, n_days: int) -> int:
    offset = last_offset(house, item)
    return n_days if offset is None else ready + offset
