"""Ways to buy one ingredient in whole packs: the few that can be part of a good decision.

Delivery by delivery, each plan so far is carried on by buying nothing, or enough to last to one of a few
days, in packs of one offer or of two of the same vendor; the best few of each set of deliveries are kept.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from ordering.buy.curve import NOTHING
from ordering.buy.desk import UNMET, Desk
from ordering.records.plan import Array


@dataclass(frozen=True, slots=True)
class Width:
    """Plans kept from day to day (twice as many in the end), and of each set of deliveries at most."""

    plans: int
    per_set: int


WIDE = Width(40, 6)
NARROW = Width(24, 4)
"""Measured: the narrow search costs a tenth of a per cent more and takes two thirds of the time."""


@dataclass(frozen=True, slots=True)
class Terms:
    """What buying helps or costs elsewhere: `rebate` [pair], part of the money spent that a minimum or a
    waiver is worth; `charge` [drop of this ingredient], money for using a delivery."""

    rebate: Array
    charge: Array


@dataclass(frozen=True, slots=True)
class Patterns:
    """packs, spent : [plan, pair], whole packs and money for them;  cost : [plan], money with later
    deliveries and without fees, ties broken."""

    packs: Array
    spent: Array
    cost: Array


def patterns(
    this: Desk, terms: Terms | None = None, known: Sequence[Array] = (), width: Width = WIDE
) -> Patterns:
    """Good plans that meet what must be met, cheapest first, the `known` ones among them whatever they
    cost. With `terms` the search prices goods and deliveries accordingly."""
    plans = np.zeros((1, len(this.pack)))
    for i in range(len(this.days)):
        plans = _kept(this, _carried_on(this, plans, i), i, terms, width)
    plans = _apart(np.concatenate([plans[_is_met(this, plans)], *known]))
    money = spent(this, plans)
    cost = money @ this.tie + later_cost(this, plans)
    by_cost = np.argsort(cost, kind="stable")
    return Patterns(plans[by_cost], money[by_cost], cost[by_cost])


def _is_met(this: Desk, plans: Array) -> NDArray[np.bool_]:
    is_met = np.ones(len(plans), dtype=bool)
    by_day = plans @ this.to_day
    for first, last, quantity in this.must:
        inside = [i for i, day in enumerate(this.days) if first <= day <= last]
        is_met &= by_day[:, inside].sum(axis=1) >= quantity - 1e-7 * max(1.0, quantity)
    return is_met


def _carried_on(this: Desk, plans: Array, i: int) -> Array:
    """Every plan with every way of buying on day `i`, and with nothing."""
    by_day = (plans @ this.to_day)[:, : i + 1]
    level = this.level[list(this.targets[i])][:, None]
    lacking = level - by_day.sum(axis=1)
    for a in range(1, i + 1):
        if this.spoilt[a - 1] < this.level[-1]:
            lacking = np.maximum(lacking, level - this.spoilt[a - 1] - by_day[:, a:].sum(axis=1))
    par = [quantity - by_day[:, first:].sum(axis=1) for first, quantity in this.pars[i]]
    lacking = np.vstack([lacking, *par])
    target, plan = np.nonzero(lacking > NOTHING)
    here = np.flatnonzero(this.day_of == i)
    found = [plans]
    for j in here:
        found += _bought(this, plans[plan], lacking[target, plan], int(j), here)
    return np.concatenate(found)


def _bought(this: Desk, plans: Array, lacking: Array, j: int, here: NDArray[np.int64]) -> list[Array]:
    """Enough of pair `j`; one pack less; that and another of the same vendor; enough to reach a break."""
    up = np.ceil(lacking / this.pack[j] - NOTHING)
    is_more = up > 1
    fewer = _with(plans[is_more], j, up[is_more] - 1)
    rest = lacking[is_more] - (up[is_more] - 1) * this.pack[j]
    found = [_with(plans, j, up), fewer]
    found += [
        _with(fewer, int(k), np.ceil(rest / this.pack[k] - NOTHING))
        for k in here
        if k != j and this.drop_of[k] == this.drop_of[j]
    ]
    for low in this.steps[j][0][1:]:
        is_near = (up < low) & (2 * up >= low)
        found.append(_with(plans[is_near], j, low - plans[is_near, j]))
    return found


def _with(plans: Array, j: int, packs: Array) -> Array:
    more = plans.copy()
    more[:, j] += packs
    return more


def spent(this: Desk, plans: Array) -> Array:
    """Money for the packs of each plan, shape [plan, pair], price steps reached counted in."""
    money = plans * this.each
    for j, (lows, each) in enumerate(this.steps):
        if len(lows) > 1:
            at = np.searchsorted(lows, plans[:, j], side="right") - 1
            money[:, j] = plans[:, j] * each[np.maximum(at, 0)]
    return money


def later_cost(this: Desk, plans: Array) -> Array:
    """Money for what the plans leave to later deliveries, shape [plan], less the worth of what is of use
    after the days looked at. First delivered is first used."""
    left = _left(this, plans)
    cost: Array = this.price @ left - this.base
    return cost + _par_cost(this, plans, left)


def _par_cost(this: Desk, plans: Array, left: Array) -> Array:
    """Money for what later deliveries must bring for the par alone, shape [plan]."""
    cost = np.zeros(len(plans))
    for goods, open_need, quantity, price in this.later_pars:
        lacking = quantity - (plans @ this.to_day) @ goods - open_need @ left
        cost = np.maximum(cost, price * lacking)
    return cost


def _left(this: Desk, plans: Array) -> Array:
    """Need of each stretch that the plans leave open, shape [stretch, plan]."""
    goods = np.ascontiguousarray((plans @ this.to_day).T)
    left = np.repeat(this.wanted[:, None], len(plans), axis=1)
    for want, good in zip(left, this.good, strict=True):
        for i in good:
            taken = np.minimum(goods[i], want)
            goods[i] -= taken
            want -= taken
    return left


def _open_cost(this: Desk, plans: Array, i: int) -> Array:
    """Money for what is still to be bought after day `i`: a whole pack of it at the least."""
    left = _left(this, plans)
    is_owed = (this.price >= UNMET) & (this.guess[i] < UNMET)
    owed = np.where(is_owed, this.guess[i], 0.0) @ left
    cost: Array = np.where(is_owed, 0.0, this.price) @ left
    cost += _par_cost(this, plans, left)
    return cost + np.where(owed > NOTHING, np.maximum(owed, this.one_pack[i]), 0.0)


def _kept(this: Desk, plans: Array, i: int, terms: Terms | None, width: Width) -> Array:
    """The best few of each set of deliveries, and of all."""
    plans = _apart(plans)
    uses = (plans @ this.to_drop) > 0
    factor = this.tie if terms is None else this.tie - terms.rebate
    cost = spent(this, plans) @ factor + _open_cost(this, plans, i)
    if terms is not None:
        cost += uses @ terms.charge
    used = uses @ (2.0 ** np.arange(uses.shape[1]))
    ranked = np.lexsort((cost, used))
    starts = np.flatnonzero(np.diff(used[ranked], prepend=-1.0))
    ranks = np.arange(len(plans)) - np.repeat(starts, np.diff(np.append(starts, len(plans))))
    best = ranked[ranks < width.per_set]
    best = best[np.argsort(cost[best], kind="stable")]
    return plans[best[: width.plans * (2 if i + 1 == len(this.days) else 1)]]


def _apart(plans: Array) -> Array:
    """The plans, each of them once, in a sequence that depends on nothing but the plans."""
    _, first = np.unique(plans @ _marks(plans.shape[1]), return_index=True)
    return plans[first]


@cache
def _marks(n: int) -> Array:
    """Square roots of the first primes: no two sums of whole multiples are alike."""
    primes: list[int] = []
    number = 2
    while len(primes) < n:
        if all(number % prime for prime in primes):
            primes.append(number)
        number += 1
    return np.array([math.sqrt(prime) for prime in primes])
