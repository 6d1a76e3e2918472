"""The decision at least cost, as far as gap and nodes of the search allow.

A small decision is one integer program. A larger one is split by ingredient: a search lists good whole-pack
plans of each, a linear program over the plans sets what deliveries and minimums are worth, the search is run
again on these terms where it matters, and the choice is settled in whole plans. A greedy is the first
incumbent, the better of the two is taken, and the whole program with rounding cuts bounds what is possible.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

import numpy as np

from ordering.buy.choices import Choice, Problem
from ordering.buy.desk import Desk, desk
from ordering.buy.fallback import Packs, greedy
from ordering.buy.master import Relaxed, master_of, relaxed, whole
from ordering.buy.model import Model, build, with_cuts
from ordering.buy.patterns import NARROW, WIDE, Patterns, Terms, Width, patterns
from ordering.buy.program import Program, relaxation, solved
from ordering.buy.settle import Index, Menu, settled
from ordering.records.plan import Array

SMALL = 40
"""Whole-pack choices up to which the decision is left to one integer program; measured."""
FEW = 2
"""Ingredients up to which it is left to one program whatever the number of choices."""
GAP = 0.0
NODES = 5000
LARGE = 400
"""Ingredients from which the search is narrower; measured."""
REPAID = 0.05
"""Part of the money spent from which a minimum or a waiver calls for another search."""


@dataclass(frozen=True, slots=True)
class Decision:
    """`packs` [choice], whole for deliveries due now, zero for later ones; `cost` and `bound` in money, later
    deliveries included; `gap` is what lies between them, as a part of what the deliveries due now cost."""

    packs: Packs
    cost: float
    bound: float
    gap: float | None

    def gap_with(self, more: float) -> float | None:
        """The gap once goods for so much money are bought beyond what was decided."""
        if self.gap is None or more <= 0:
            return self.gap
        spent = (self.cost - self.bound) / self.gap if self.gap > 0 else self.cost
        return (max(0.0, self.cost - self.bound) + more) / (spent + more)


def decide(problem: Problem) -> Decision:
    """Whole packs for every delivery due now, at least cost as far as gap and nodes allow."""
    if not problem.choices:
        return Decision(np.zeros(0, dtype=np.int64), 0.0, 0.0, 0.0)
    model = build(problem)
    first = greedy(problem)
    if len(problem.covers) <= FEW or sum(c.chance.is_now for c in problem.choices) <= SMALL:
        found, bound = _in_one(model, problem)
    else:
        found, bound = by_plans(problem, first), bound_of(model)
    best, cost = first, cost_of_packs(model, problem, first)
    if found is not None:
        found_cost = cost_of_packs(model, problem, found)
        if found_cost < cost:
            best, cost = found, found_cost
    return Decision(best, cost, bound, _gap(today(problem, best), cost, bound))


def _gap(spent: float, cost: float, bound: float) -> float | None:
    if spent <= 0:
        return 0.0
    return max(0.0, cost - bound) / spent if np.isfinite(bound) and np.isfinite(cost) else None


def today(problem: Problem, packs: Packs) -> float:
    """Money for the deliveries due now: goods, fees, and what is short of minimums."""
    goods = dict.fromkeys(problem.drops, 0.0)
    for c, n in zip(problem.choices, packs, strict=True):
        if n and c.chance.is_now:
            goods[c.drop] += float(n) * c.each
    money = 0.0
    for vendor, value in zip(problem.sellers, goods.values(), strict=True):
        if value > 0:
            is_waived = vendor.fee_waived_over is not None and value >= float(vendor.fee_waived_over)
            money += value + (0.0 if is_waived else float(vendor.delivery_fee))
            money += max(0.0, float(vendor.minimum) - value)
    return money


def cost_of_packs(model: Model, problem: Problem, packs: Packs) -> float:
    """Cost of given packs, with the best that later deliveries can add; infinite when they do not cover."""
    n, program = model.n_choices, model.program
    is_now = np.array([c.chance.is_now for c in problem.choices])
    cost, low, high = program.cost.copy(), program.low.copy(), program.high.copy()
    cost[n + len(problem.covers) :] = 0.0
    low[:n][is_now] = high[:n][is_now] = packs[is_now]
    is_kept = model.is_named("use", "rest")
    found = solved(
        Program(
            cost=cost,
            rows=program.rows[np.flatnonzero(is_kept)],
            row_low=program.row_low[is_kept],
            row_high=program.row_high[is_kept],
            low=low,
            high=high,
            is_whole=np.zeros(len(cost), dtype=bool),
        )
    )
    if found is None:
        return np.inf
    goods = sum(float(k) * c.each for k, c in zip(packs, problem.choices, strict=True) if c.chance.is_now)
    return found.cost - goods + today(problem, packs)


def _in_one(model: Model, problem: Problem) -> tuple[Packs | None, float]:
    found = solved(model.program, GAP, NODES)
    if found is None:
        return None, -np.inf
    is_now = np.array([c.chance.is_now for c in problem.choices])
    packs = np.where(is_now, np.rint(found.x[: model.n_choices]), 0).astype(np.int64)
    return packs, found.bound


def bound_of(model: Model) -> float:
    """Cost that no decision can undercut, whole packs or not."""
    found = solved(relaxation(with_cuts(model).program))
    return found.cost if found else -np.inf


def by_plans(problem: Problem, first: Packs) -> Packs | None:
    """Whole packs by search, prices and settling; `first` are packs to start from. None: no solution."""
    desks = _desks(problem)
    known = [_plan_of(this, first) for this in desks]
    width = WIDE if len(desks) <= LARGE else NARROW
    terms = _fee_shares(problem, desks)
    found = [patterns(this, its, [plan], width) for this, its, plan in zip(desks, terms, known, strict=True)]
    menu = _menu(problem, desks, found)
    program = master_of(menu)
    at = relaxed(program)
    if at is not None and _searched_again(desks, found, at, width):
        menu = _menu(problem, desks, found)
        program = master_of(menu)
        at = relaxed(program)
    if at is None:
        return None
    return _packs(problem, desks, menu, found, settled(menu, whole(program, menu, at)))


def _fee_shares(problem: Problem, desks: Sequence[Desk]) -> list[Terms | None]:
    """For each ingredient its share of the fees of the deliveries it can come with; None where none has one.

    Without it plans of few deliveries would not be looked for among so many that cost the same.
    """
    fee = np.array([float(seller.delivery_fee) for seller in problem.sellers])
    sharing = np.bincount(np.concatenate([this.drops for this in desks]), minlength=len(fee))
    share = fee / np.maximum(sharing, 1)
    return [
        Terms(np.zeros(len(this.pack)), share[this.drops]) if share[this.drops].any() else None
        for this in desks
    ]


def _searched_again(desks: Sequence[Desk], found: list[Patterns], at: Relaxed, width: Width) -> bool:
    """Plans added for ingredients that a minimum or a waiver would pay to buy more of; whether there are."""
    again = [i for i, this in enumerate(desks) if (at.rebate[this.drop_of] > REPAID).any()]
    for i in again:
        terms = Terms(at.rebate[desks[i].drop_of], at.charge[i, desks[i].drops])
        found[i] = patterns(desks[i], terms, [found[i].packs], width)
    return bool(again)


def _desks(problem: Problem) -> list[Desk]:
    own: list[list[tuple[int, Choice]]] = [[] for _ in problem.covers]
    for index, choice in enumerate(problem.choices):
        own[choice.cover].append((index, choice))
    drop_index: dict[tuple[str, date], int] = {drop: i for i, drop in enumerate(problem.drops)}
    return [desk(cover, own[i], drop_index, problem.worths[i]) for i, cover in enumerate(problem.covers)]


def _plan_of(this: Desk, packs: Packs) -> Array:
    return np.array([[float(packs[list(steps)].sum()) for steps in this.choices]])


def _menu(problem: Problem, desks: Sequence[Desk], found: Sequence[Patterns]) -> Menu:
    start = np.concatenate([[0], np.cumsum([len(f.cost) for f in found])])
    spent = np.zeros((int(start[-1]), len(problem.drops)))
    for i, (this, plans) in enumerate(zip(desks, found, strict=True)):
        spent[start[i] : start[i + 1], this.drops] = plans.spent @ this.to_drop
    asked = problem.sellers
    return Menu(
        start=start,
        cost=np.concatenate([f.cost for f in found]),
        spent=spent,
        fee=np.array([float(v.delivery_fee) for v in asked]),
        waived=np.array([np.inf if v.fee_waived_over is None else float(v.fee_waived_over) for v in asked]),
        minimum=np.array([float(v.minimum) for v in asked]),
    )


def _packs(
    problem: Problem, desks: Sequence[Desk], menu: Menu, found: Sequence[Patterns], chosen: Index
) -> Packs:
    packs = np.zeros(len(problem.choices), dtype=np.int64)
    for i, (this, plans) in enumerate(zip(desks, found, strict=True)):
        plan = plans.packs[int(chosen[i] - menu.start[i])]
        for steps, n in zip(this.choices, plan, strict=True):
            reached = [k for k in steps if problem.choices[k].low <= n] or [steps[0]]
            packs[reached[-1]] = round(float(n))
    return packs
