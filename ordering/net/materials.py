"""Which parcels a start takes, and how much of it they allow."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from ordering.amounts import shown
from ordering.days import said
from ordering.net.problem import Problem, draws_begun
from ordering.net.stock import DUST
from ordering.records.house import RecipeLine
from ordering.records.plan import Array, ItemFlow, Opening

LONG_DAYS = 2  # a stage of this many days or more says from which parcels it is to be made


@dataclass(slots=True)
class Heap:
    """What is left of one parcel on the expected path. `words` tell it from its siblings."""

    first: int
    last: int
    left: float
    words: str


@dataclass(slots=True)
class Store:
    """Parcels of every item that listed starts take from, and what others draw from them by day."""

    problem: Problem
    heaps: dict[str, list[Heap]] = field(default_factory=lambda: defaultdict(list))
    others: dict[str, Array] = field(default_factory=dict)
    done: int = 0

    def live_until(self, day: int) -> None:
        """Let others draw their expected share on the days before `day`."""
        for t in range(self.done, min(day, self.problem.n_days)):
            for item, drawn in self.others.items():
                need = float(drawn[t])
                for heap in self.usable(item, t):
                    given = min(heap.left, need)
                    heap.left -= given
                    need -= given
        self.done = max(self.done, day)

    def usable(self, item: str, day: int) -> list[Heap]:
        return [h for h in self.heaps[item] if h.first <= day <= h.last and h.left > DUST]


def store_of(
    problem: Problem, opening: Opening, flows: Mapping[str, ItemFlow], recipes: Collection[str]
) -> Store:
    """Stock of the parts of these recipes and what will fall out of others, parts made the same day taken
    apart into theirs."""
    items, makers = _parts(problem, recipes)
    first = problem.forecast.days[0]
    store = Store(problem)
    n_days = problem.n_days
    for lot in opening.lots:
        if lot.item in items:
            ready = 0 if lot.ready_on is None else max(0, (lot.ready_on - first).days)
            last = n_days if lot.use_by is None else (lot.use_by - first).days
            words = "" if lot.use_by is None else f"use by {said(lot.use_by)}"
            store.heaps[lot.item].append(Heap(ready, last, lot.quantity, words))
    for order in opening.scheduled:
        if order.item in items:
            due = max(0, (order.due_on - first).days)
            last = n_days if order.use_by is None else (order.use_by - first).days
            words = f"coming {said(first if due == 0 else order.due_on)}"
            store.heaps[order.item].append(Heap(due, last, order.quantity, words))
    for item in sorted(items):
        offset, falls = problem.offsets[item], flows[item].by_product
        for t in np.flatnonzero(falls > DUST).tolist():
            last = n_days if offset is None else t + offset
            words = f"coming off {said(problem.forecast.days[t])}"
            store.heaps[item].append(Heap(t, last, float(falls[t]), words))
        store.heaps[item].sort(key=lambda h: (h.last, h.first, h.words, h.left))
        flow = flows[item]
        mine = sum((flow.by_parent[r] for r in makers if r in flow.by_parent), np.zeros(n_days))
        for use in problem.graph.uses.get(item, ()):
            if use.recipe in makers:  # what is under way draws before what is yet to be started
                mine = mine - draws_begun(problem, use)
        store.others[item] = np.maximum(0.0, flow.gross - mine)
    return store


def _parts(problem: Problem, recipes: Collection[str]) -> tuple[set[str], set[str]]:
    """Items drawn by recipes and by their same-day parts; and the recipes that draw them."""
    items: set[str] = set()
    makers = set(recipes)
    ring = sorted(recipes)
    while ring:
        drawn = {x.item for r in ring for x in _lines(problem, r)} - items
        items |= drawn
        ring = sorted(
            i for i in drawn if i in problem.house.recipes and not problem.house.recipes[i].takes_days
        )
        makers.update(ring)
    return items, makers


def _lines(problem: Problem, recipe_id: str) -> list[RecipeLine]:
    """Lines of a recipe that are planned, in a fixed order: what goes round in a circle is set aside."""
    aside = {one.item for one in problem.graph.set_aside if one.recipe == recipe_id}
    lines = (x for x in problem.house.recipes[recipe_id].lines if x.item not in aside)
    return sorted(lines, key=lambda x: (x.item, x.at_days, x.drawn))


def take(store: Store, recipe_id: str, day: int, batches: float) -> tuple[str, ...]:
    """Take what a start needs; says the parcels, first expired first out, and what is still to come."""
    said_of: list[str] = []
    for line in _lines(store.problem, recipe_id):
        said_of.extend(_taken(store, line.item, day + line.at_days, line.drawn * batches))
    return tuple(said_of)


def _taken(store: Store, item: str, day: int, quantity: float) -> Iterable[str]:
    house = store.problem.house
    name, unit = house.name_of(item), house.unit_of(item)
    for heap in store.usable(item, day):
        given = min(heap.left, quantity)
        heap.left -= given
        quantity -= given
        if given > DUST:
            yield f"{shown(given, unit)} {name}" + (f", {heap.words}" if heap.words else "")
        if quantity <= DUST:
            return
    recipe = house.recipes.get(item)
    if recipe is not None and not recipe.takes_days:
        yield from take(store, item, day, quantity / recipe.makes)
    elif quantity > DUST:
        yield f"{shown(quantity, unit)} {name}, still to come"
