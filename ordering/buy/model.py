"""The decision as arrays of a mixed-integer program.

symbol  name                                              unit    shape
x       packs bought, by choice                           packs   [choice]
l       of use after the days looked at, by cover         item's  [cover]
z       delivery takes place, by drop                     0 or 1  [drop]
y       its fee is waived, by drop                        0 or 1  [drop]
u       short of the minimum order, by drop               money   [drop]

least   sum each x + fee (z - y) + u - worth l

use     sum quantity x >= span                            [span]
rest    sum quantity x - l >= quantity                    [rest]
drop    x <= high z                                       [choice due now]
minimum sum each x + u >= minimum z                       [drop]
waiver  sum each x >= waived over y,  y <= z              [drop with a fee]
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ordering.buy.choices import Choice, Problem
from ordering.records.house import Vendor
from ordering.records.plan import Array

FRESH = 1e-5
"""Part of its price by which a pack a day fresher is better: breaks ties, decides nothing else."""
PREFERRED = 2e-6


@dataclass(frozen=True, slots=True)
class Model:
    """`cost` [variable]; `rows` [row, variable] between `row_low` and `row_high` [row]; bounds and
    `kind` [variable] as SciPy's `milp` wants them. `names` says what block a row belongs to."""

    cost: Array
    rows: sparse.csr_array
    row_low: Array
    row_high: Array
    low: Array
    high: Array
    kind: NDArray[np.int64]
    names: tuple[str, ...]
    n_choices: int
    n_covers: int
    n_drops: int

    def x(self) -> slice:
        return slice(0, self.n_choices)

    def z(self) -> slice:
        start = self.n_choices + self.n_covers
        return slice(start, start + self.n_drops)


class _Rows:
    """Rows of a sparse matrix, gathered one after the other."""

    def __init__(self) -> None:
        self.at: list[int] = []
        self.columns: list[int] = []
        self.values: list[float] = []
        self.low: list[float] = []
        self.high: list[float] = []
        self.names: list[str] = []

    def add(self, name: str, terms: Sequence[tuple[int, float]], low: float, high: float = np.inf) -> None:
        self.at += [len(self.low)] * len(terms)
        self.columns += [column for column, _ in terms]
        self.values += [value for _, value in terms]
        self.low.append(low)
        self.high.append(high)
        self.names.append(name)


def build(problem: Problem, vendors: Mapping[str, Vendor]) -> Model:
    """Arrays of the whole decision, nothing fixed, nothing relaxed."""
    n, m, k = len(problem.choices), len(problem.covers), len(problem.drops)
    rows = _Rows()
    _cover_rows(rows, problem)
    _drop_rows(rows, problem, vendors)
    cost = np.zeros(n + m + 3 * k)
    low, high = np.zeros(len(cost)), np.full(len(cost), np.inf)
    kind = np.zeros(len(cost), dtype=np.int64)
    for i, c in enumerate(problem.choices):
        cost[i] = c.each * _tie(c, problem)
        high[i] = c.high
        if c.chance.is_now:
            low[i], kind[i] = (0, 1) if c.low <= 1 else (c.low, 3)
    for i, worth in enumerate(problem.worths):
        cost[n + i], high[n + i] = -worth, problem.covers[i].worth
    for i, (vendor_id, _) in enumerate(problem.drops):
        vendor = vendors[vendor_id]
        fee = float(vendor.delivery_fee)
        z, y, u = n + m + i, n + m + k + i, n + m + 2 * k + i
        cost[z], cost[y], cost[u] = fee, -fee, 1.0
        has_waiver = fee > 0 and vendor.fee_waived_over is not None
        high[z], high[y], high[u] = 1, float(has_waiver), float(vendor.minimum)
        kind[z], kind[y] = 1, int(has_waiver)
    matrix = sparse.csr_array((rows.values, (rows.at, rows.columns)), shape=(len(rows.low), len(cost)))
    row_low, row_high = np.array(rows.low), np.array(rows.high)
    return Model(cost, matrix, row_low, row_high, low, high, kind, tuple(rows.names), n, m, k)


def _tie(choice: Choice, problem: Problem) -> float:
    days_kept = problem.covers[choice.cover].window - choice.chance.day
    return 1.0 + FRESH * days_kept - PREFERRED * choice.offer.is_preferred


def _cover_rows(rows: _Rows, problem: Problem) -> None:
    n = len(problem.choices)
    of_cover: list[list[tuple[int, int, float]]] = [[] for _ in problem.covers]
    for i, c in enumerate(problem.choices):
        of_cover[c.cover].append((i, c.chance.day, c.offer.pack_quantity))
    for i, cover in enumerate(problem.covers):
        mine = of_cover[i]
        for span in cover.spans:
            terms = [(j, q) for j, day, q in mine if span.first <= day <= span.last]
            rows.add("use", terms, span.quantity)
        for first, quantity in cover.rest if cover.worth > 0 else ():
            terms = [(j, q) for j, day, q in mine if day >= first]
            rows.add("rest", [*terms, (n + i, -1.0)], quantity)


def _drop_rows(rows: _Rows, problem: Problem, vendors: Mapping[str, Vendor]) -> None:
    n, m, k = len(problem.choices), len(problem.covers), len(problem.drops)
    of_drop: dict[tuple[str, object], list[tuple[int, Choice]]] = {}
    for i, c in enumerate(problem.choices):
        if c.chance.is_now:
            of_drop.setdefault(c.drop, []).append((i, c))
    for i, drop in enumerate(problem.drops):
        vendor, z, y, u = vendors[drop[0]], n + m + i, n + m + k + i, n + m + 2 * k + i
        spent = [(j, c.each) for j, c in of_drop[drop]]
        if vendor.minimum > 0 or vendor.delivery_fee > 0:
            for j, c in of_drop[drop]:
                rows.add("drop", [(j, -1.0), (z, float(c.high))], 0.0)
        if vendor.minimum > 0:
            rows.add("minimum", [*spent, (u, 1.0), (z, -float(vendor.minimum))], 0.0)
        if vendor.delivery_fee > 0 and vendor.fee_waived_over is not None:
            rows.add("waiver", [*spent, (y, -float(vendor.fee_waived_over))], 0.0)
            rows.add("waiver", [(z, 1.0), (y, -1.0)], 0.0)
