"""Which plan for each ingredient, all deliveries considered: fees, waivers, minimums.

Improves a set of plans one ingredient at a time, and by closing or opening one delivery at a time with every
ingredient concerned answering to it, until nothing improves.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from ordering.records.plan import Array

Index = NDArray[np.int64]

ENOUGH = 1e-7
SWEEPS = 20
NEAR = 0.002
"""A closed or opened delivery is followed up if it costs no more than this part extra; measured."""


@dataclass(frozen=True, slots=True)
class Menu:
    """All plans of all ingredients under each other: R plans, K drops (deliveries due now).

    start : [item + 1], first plan of each ingredient;  cost : [R] money without fees, ties broken
    spent : [R, K] money by drop;  fee, waived, minimum : [K], money (`waived` is infinite for never)
    """

    start: Index
    cost: Array
    spent: Array
    fee: Array
    waived: Array
    minimum: Array

    def plans(self, item: int) -> slice:
        return slice(int(self.start[item]), int(self.start[item + 1]))


@dataclass(frozen=True, slots=True)
class _State:
    """A plan for each ingredient, what is spent by drop, and the money in all."""

    chosen: Index
    total: Array
    cost: float


def surcharge(menu: Menu, total: Array, at: Index | slice = slice(None)) -> Array:
    """Fee and what is short of the minimum on goods of value `total` at the drops `at`; nothing for none."""
    fee = np.where(total >= menu.waived[at] - ENOUGH, 0.0, menu.fee[at])
    return np.where(total > ENOUGH, fee + np.maximum(menu.minimum[at] - total, 0.0), 0.0)


def _state(menu: Menu, chosen: Index) -> _State:
    total = menu.spent[chosen].sum(axis=0)
    return _State(chosen, total, float(menu.cost[chosen].sum() + surcharge(menu, total).sum()))


def settled(menu: Menu, chosen: Index) -> Index:
    """The plans, improved until neither a single plan nor a single delivery can be changed with profit."""
    uses = np.asfortranarray(menu.spent > ENOUGH)
    items = np.arange(len(menu.start) - 1)
    concerned = [
        np.flatnonzero(np.add.reduceat(column, menu.start[:-1]) > 0) for column in uses.T.astype(int)
    ]
    best = _one_by_one(menu, _state(menu, chosen), items)
    for _ in range(SWEEPS):
        before = best.cost
        closed = _uses_of_closed(uses, best)
        for drop in range(len(menu.fee)):
            tried = _answered(menu, best, uses, closed, drop)
            if tried is not None and tried.cost < best.cost + NEAR * abs(best.cost):
                tried = _one_by_one(menu, tried, concerned[drop])
                if tried.cost < best.cost - ENOUGH:
                    best = tried
                    closed = _uses_of_closed(uses, best)
        best = _one_by_one(menu, best, items)
        if best.cost > before - ENOUGH:
            break
    return best.chosen


def _one_by_one(menu: Menu, state: _State, items: Index) -> _State:
    """Each ingredient in turn takes its best plan, the others standing, until none changes."""
    chosen, total = state.chosen.copy(), state.total.copy()
    for _ in range(SWEEPS):
        is_same = True
        for item in items:
            plans = menu.plans(item)
            spent = menu.spent[plans]
            now = int(chosen[item]) - plans.start
            at = np.flatnonzero(spent.any(axis=0))
            price = menu.cost[plans] + surcharge(menu, total[at] - spent[now, at] + spent[:, at], at).sum(
                axis=1
            )
            best = int(np.argmin(price))
            if price[best] < price[now] - ENOUGH:
                chosen[item] = plans.start + best
                total += spent[best] - spent[now]
                is_same = False
        if is_same:
            break
    return _state(menu, chosen)


def _uses_of_closed(uses: NDArray[np.bool_], state: _State) -> Index:
    """How many drops each plan uses that no chosen plan does, shape [plan]."""
    counts: Index = uses[:, state.total <= ENOUGH].sum(axis=1)
    return counts


def _answered(menu: Menu, state: _State, uses: NDArray[np.bool_], closed: Index, drop: int) -> _State | None:
    """Plans when a delivery is closed, or opened if it was not; None when that cannot be or helps nobody."""
    is_closing = bool(state.total[drop] > ENOUGH)
    still = closed + uses[:, drop] if is_closing else closed - uses[:, drop]
    price = np.where(still > 0, np.inf, menu.cost)
    best = np.minimum.reduceat(price, menu.start[:-1])
    moving = uses[state.chosen, drop] if is_closing else best < menu.cost[state.chosen] - ENOUGH
    if not moving.any() or np.isinf(best[moving]).any():
        return None
    chosen = state.chosen.copy()
    for item in np.flatnonzero(moving):
        plans = menu.plans(int(item))
        chosen[item] = plans.start + int(np.argmin(price[plans]))
    return _state(menu, chosen)
