"""The decision at least cost, as far as gap and nodes of the search allow.

One integer program (`model.py`); the greedy stands in where the solver finds nothing. It is not given to the
solver as a start: HiGHS 1.16 then returns costs that its own columns do not have.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from ordering.buy.choices import BuyingProblem
from ordering.buy.greedy import greedy
from ordering.buy.model import Model, Packs, build
from ordering.buy.program import Answer, solved
from ordering.records.buying import DeliveryKey

GAPS = ((600, 5e-4, 1000), (1500, 1e-3, 20), (10**9, 2e-3, 1))
"""Whole-number choices up to which the search stops within a part of the least cost, or after so many
branchings; held to a tenth of a per cent of the day's spend in `tests/bench/buying.py near`."""


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
    first = greedy(problem)
    if not problem.choices:
        return Decision(first, 0.0, 0.0, 0.0, frozenset())
    model = build(problem)
    n_whole = int(model.program.is_whole.sum())
    gap, nodes = next((gap, nodes) for most, gap, nodes in GAPS if n_whole <= most)
    found = solved(model.program, gap, nodes)
    if found is None:
        return Decision(first, np.inf, -np.inf, None, frozenset())
    packs = model.packs(problem, found.x)
    spent = today(problem, packs)
    gap = max(0.0, found.cost - found.bound) / spent if spent > 0 else 0.0
    return Decision(packs, found.cost, found.bound, gap, _closed(model, problem, found.x))


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


def cost_of_packs(model: Model, problem: BuyingProblem, packs: Packs) -> float:
    """Cost of given packs, with the best that later deliveries can add; infinite when they do not cover."""
    found = _completed(model, problem, packs)
    return np.inf if found is None else found.cost


def _completed(model: Model, problem: BuyingProblem, packs: Packs) -> Answer | None:
    """The program with the packs due now fixed."""
    low, high = model.program.low.copy(), model.program.high.copy()
    for column, value in _columns_of(model, problem, packs).items():
        low[column] = high[column] = value
    return solved(replace(model.program, low=low, high=high), *GAPS[0][1:])


def _columns_of(model: Model, problem: BuyingProblem, packs: Packs) -> dict[int, float]:
    """Values of the columns of deliveries due now."""
    values: dict[int, float] = {}
    for i, c in enumerate(problem.choices):
        if c.delivery.is_now:
            n = int(packs[i])
            if i in model.at.step:
                values[model.at.step[i]] = float(n > 0)
                n -= c.low if n > 0 else 0
            values[i] = float(n)
    return values
