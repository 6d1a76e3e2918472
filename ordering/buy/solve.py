"""The decision at least cost, as far as gap and nodes of the search allow.

One integer program (`model.py`). A small one is left to the solver. Of a large one the solver gives the bound
and a start; parts of it are then decided anew, which finds in seconds what branching does not in a minute.
Where it finds no whole packs, the least cost with parts of packs allowed is rounded up.
"""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

import numpy as np

from ordering.buy.choices import BuyingProblem
from ordering.buy.model import Model, Packs, build
from ordering.buy.program import Answer, relaxation, restricted, solved
from ordering.buy.requirements import EPS
from ordering.records.buying import DeliveryKey

NEEDLESS = ("feasibility_jump",)
"""Heuristics left out of small programs: a quarter of their time, and the same packs without it."""
SEARCHED = ((300, 5e-4, 1000), (1500, 1e-3, 20))
"""Whole-number choices up to which the search stops within a part of the least cost, or after so many
branchings."""
START = (2e-3, 1, ("feasibility_jump", "rins", "root_reduced_cost"))
"""The same for more choices, and heuristics left out there: for the bound, and for packs to improve."""
PART = (2e-3, 1, ("feasibility_jump", "root_reduced_cost"))
"""The same for each part of these."""
TOGETHER = 6
"""Ingredients decided anew at a time, those of the same vendors."""
WHOLE = 2
"""Vendors in most doubt, all ingredients of one decided anew together."""
FAR, ROUNDS = 5e-3, 2
"""Gap, as a part of the day's spend, from which that is done for every vendor, and how often at most.

These are held to a tenth of a per cent of the day's spend in `tests/bench/buying.py near`."""


@dataclass(frozen=True, slots=True)
class Decision:
    """What is bought, and how good it is known to be.

    packs : [choice], whole for deliveries due now, zero for later ones
    cost, bound : money, later deliveries included; no packs cost less than `bound`
    gap : what lies between them, as a part of what the deliveries due now cost; None: not known
    closed : later deliveries that are better left out
    """

    packs: Packs
    cost: float
    bound: float
    gap: float | None
    closed: frozenset[DeliveryKey]


def decide(problem: BuyingProblem) -> Decision:
    """Whole packs for every delivery due now, at least cost as far as gap and nodes allow."""
    model = build(problem)
    if not problem.choices:
        return Decision(np.zeros(0, dtype=np.int64), 0.0, 0.0, 0.0, frozenset())
    n_whole = int(model.program.is_whole.sum())
    for most, gap, nodes in SEARCHED:
        if n_whole <= most:
            found = solved(model.program, gap, nodes, NEEDLESS)
            break
    else:
        found = _improved(model, problem, solved(model.program, *START, model.fullest(problem)))
    if found is None:
        parts = solved(relaxation(model.program))
        if parts is None:
            raise RuntimeError("every need can be met by a delivery, and the solver finds none that do")
        return Decision(model.packs(problem, parts.x), np.inf, -np.inf, None, frozenset())
    packs = model.packs(problem, found.x)
    return Decision(
        packs,
        found.cost,
        found.bound,
        _gap(model, problem, found),
        _closed(model, problem, found.x),
    )


def _gap(model: Model, problem: BuyingProblem, found: Answer) -> float:
    spent = today(problem, model.packs(problem, found.x))
    return max(0.0, found.cost - found.bound) / spent if spent > 0 else 0.0


def _improved(model: Model, problem: BuyingProblem, found: Answer | None) -> Answer | None:
    """A few ingredients at a time decided anew with their deliveries, all others held: fix and optimize.

    After Helber and Sahling, A fix-and-optimize approach for the multi-level capacitated lot sizing problem,
    2010 (from memory). The bound of the whole stays.
    """
    if found is None:
        return None
    vendors = _vendors(problem)
    order = sorted(range(len(problem.items)), key=lambda i: (vendors[i], i))
    few = [set(order[at : at + TOGETHER]) for at in range(0, len(order), TOGETHER)]
    found = _anew(model, problem, found, _doubted(model, problem, found)[:WHOLE] + few)
    for _ in range(ROUNDS):
        if _gap(model, problem, found) > FAR:
            found = _anew(model, problem, found, _doubted(model, problem, found))
    return found


def _doubted(model: Model, problem: BuyingProblem, found: Answer) -> list[set[int]]:
    """Ingredients of each vendor, first where deliveries are, in money, the furthest from what parts take."""
    parts = solved(relaxation(model.program))
    away = {terms.key[0]: 0.0 for terms in problem.deliveries}
    for i, terms in enumerate(problem.deliveries, model.at.take):
        off = 0.0 if parts is None else abs(found.x[i] - parts.x[i])
        away[terms.key[0]] += off * (terms.fee + terms.minimum)
    vendors = _vendors(problem)
    first = sorted(away, key=lambda vendor: (-away[vendor], vendor))
    return [{i for i, some in enumerate(vendors) if vendor in some} for vendor in first]


def _vendors(problem: BuyingProblem) -> list[list[str]]:
    """Who sells it, by ingredient."""
    sellers: list[set[str]] = [set() for _ in problem.items]
    for c in problem.choices:
        sellers[c.item].add(c.delivery.vendor)
    return [sorted(some) for some in sellers]


def _anew(model: Model, problem: BuyingProblem, found: Answer, parts: Sequence[AbstractSet[int]]) -> Answer:
    """Ingredients of one part after the other at the least cost that the rest leaves them."""
    x, (items, deliveries) = found.x, model.owners(problem)
    for part in parts:
        is_mine = np.isin(items, list(part))
        keys = {c.key for c in problem.choices if c.item in part}
        is_free = is_mine | np.isin(
            deliveries, [i for i, t in enumerate(problem.deliveries) if t.key in keys]
        )
        program = restricted(model.program, x, is_free)
        better = solved(program, *PART, x[is_free])
        if better is not None and better.cost < program.cost @ x[is_free] - EPS:
            x = x.copy()
            x[is_free] = better.x
    return replace(found, x=x, cost=float(model.program.cost @ x))


def _closed(model: Model, problem: BuyingProblem, x: np.ndarray) -> frozenset[DeliveryKey]:
    return frozenset(
        terms.key
        for i, terms in enumerate(problem.deliveries)
        if not terms.is_now and (terms.minimum > 0 or terms.fee > 0) and x[model.at.take + i] < 0.5
    )


def today(problem: BuyingProblem, packs: Packs) -> float:
    """Money for the deliveries due now: goods and fees."""
    goods: dict[DeliveryKey, float] = {}
    for c, n in zip(problem.choices, packs, strict=True):
        if n and c.delivery.is_now:
            goods[c.key] = goods.get(c.key, 0.0) + float(n) * c.each
    fees = 0.0
    for terms in problem.deliveries:
        value = goods.get(terms.key, 0.0)
        is_waived = terms.waived_over is not None and value >= terms.waived_over
        fees += terms.fee if value > 0 and not is_waived else 0.0
    return sum(goods.values()) + fees
