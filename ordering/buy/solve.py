"""The decision at least cost, as far as gap and nodes of the search allow.

One integer program (`model.py`). A small one is left to the solver. Of a large one the solver gives the bound
and a start; parts of it are then decided anew, which finds in seconds what branching does not in a minute.
"""

from __future__ import annotations

from collections.abc import Sequence
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from ordering.buy.choices import BuyingProblem
from ordering.buy.model import Model, Packs, build
from ordering.buy.program import Answer, Program, relaxation, restricted, solved
from ordering.buy.requirements import EPS
from ordering.records.buying import DeliveryKey

SMALL = (300, 5e-4, 1000, ("feasibility_jump",))
"""Whole-number choices up to which the solver is left alone, within a part of the least cost or after so many
branchings; heuristics of the solver that do not pay."""
GAP = 1e-3
"""Part of the day's spend within which of the least cost a larger decision is done."""
START = (GAP, 1, ("feasibility_jump", "rins", "root_reduced_cost"))
"""Gap, branchings and heuristics left out for more choices: for the bound, and for packs to improve."""
PART = (5 * GAP, 1, ("feasibility_jump", "root_reduced_cost"))
"""The same for each part of these, the gap as a part of its own cost."""
TOGETHER = 6
"""Ingredients decided anew at a time, those of the same vendors. Half and twice as many cost more, by
`tests/bench/buying.py near`."""
DOUBT = 1e-2
"""Part of the day's spend from which a vendor is in doubt: all its ingredients are decided anew. Half of it
takes more work, twice as much costs more, by the same."""


@dataclass(frozen=True, slots=True)
class Decision:
    """What is bought, and how good it is known to be.

    packs : [choice], whole for deliveries due now, zero for later ones
    cost, bound : money, later deliveries included; no packs cost less than `bound`
    gap : what lies between them, as a part of what the deliveries due now cost
    closed : later deliveries that are better left out
    """

    packs: Packs
    cost: float
    bound: float
    gap: float
    closed: frozenset[DeliveryKey]


def decide(problem: BuyingProblem) -> Decision:
    """Whole packs for every delivery due now, at least cost as far as gap and nodes allow."""
    model = build(problem)
    if not problem.choices:
        return Decision(np.zeros(0, dtype=np.int64), 0.0, 0.0, 0.0, frozenset())
    most, *limits = SMALL
    is_small = model.program.is_whole.sum() <= most
    found = _found(model.program, *(limits if is_small else START), model.fullest(problem))
    if not is_small:
        found = _improved(model, problem, found)
    packs = model.packs(problem, found.x)
    spent = today(problem, packs)
    gap = max(0.0, found.cost - found.bound) / spent if spent > 0 else 0.0
    return Decision(packs, found.cost, found.bound, gap, _closed(model, problem, found.x))


def _found(program: Program, *limits: Any) -> Answer:
    answer = solved(program, *limits)
    if answer is None:
        raise RuntimeError("every need can be met by a delivery, and the solver finds none that do")
    return answer


def _improved(model: Model, problem: BuyingProblem, found: Answer) -> Answer:
    """A few ingredients at a time decided anew with their deliveries, all others held: fix and optimize.

    After Helber and Sahling, A fix-and-optimize approach for the multi-level capacitated lot sizing problem,
    2010 (from memory). The bound of the whole stays. Vendors in doubt are decided anew as long as that saves
    more than it leaves open.
    """
    vendors = _vendors(problem)
    order = sorted(range(len(problem.items)), key=lambda i: (vendors[i], i))
    few = [set(order[at : at + TOGETHER]) for at in range(0, len(order), TOGETHER)]
    found, saved = _round(model, problem, found, few), np.inf
    while saved > max(0.0, found.cost - found.bound):  # by rounding it can be below
        before = found.cost
        found = _round(model, problem, found, _doubted(model, problem, found))
        saved = before - found.cost
    return found


def _round(model: Model, problem: BuyingProblem, found: Answer, parts: Sequence[AbstractSet[int]]) -> Answer:
    """One part after the other decided anew, until the whole is near enough to its bound."""
    near = GAP * today(problem, model.packs(problem, found.x))
    for part in parts:
        if found.cost - found.bound > near:
            found = _anew(model, problem, found, part)
    return found


def _doubted(model: Model, problem: BuyingProblem, found: Answer) -> list[set[int]]:
    """Ingredients of each vendor, first where deliveries are, in money, the furthest from what parts take."""
    parts = _found(relaxation(model.program))
    away = {terms.key[0]: 0.0 for terms in problem.deliveries}
    for i, terms in enumerate(problem.deliveries, model.at.take):
        away[terms.key[0]] += abs(found.x[i] - parts.x[i]) * (terms.fee + terms.minimum)
    vendors = _vendors(problem)
    least = DOUBT * today(problem, model.packs(problem, found.x))
    first = sorted((v for v in away if away[v] > least), key=lambda vendor: (-away[vendor], vendor))
    return [{i for i, some in enumerate(vendors) if vendor in some} for vendor in first]


def _vendors(problem: BuyingProblem) -> list[list[str]]:
    """Who sells it, by ingredient."""
    sellers: list[set[str]] = [set() for _ in problem.items]
    for c in problem.choices:
        sellers[c.item].add(c.delivery.vendor)
    return [sorted(some) for some in sellers]


def _anew(model: Model, problem: BuyingProblem, found: Answer, part: AbstractSet[int]) -> Answer:
    """Ingredients of one part at the least cost that the rest leaves them."""
    items, deliveries = model.owners(problem)
    keys = {c.key for c in problem.choices if c.item in part}
    is_free = np.isin(items, list(part)) | np.isin(
        deliveries, [i for i, t in enumerate(problem.deliveries) if t.key in keys]
    )
    program = restricted(model.program, found.x, is_free)
    better = solved(program, *PART, found.x[is_free])
    if better is None or better.cost >= program.cost @ found.x[is_free] - EPS:
        return found
    x = found.x.copy()
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
