"""The decision as arrays of a mixed-integer program.

symbol  name                                              unit    shape
x       packs bought, by choice                           packs   [choice]
l       of use after the days looked at, by cover         item's  [cover]
s       price step reached, by choice due now             0 or 1  [choice due now at a break]
z       delivery takes place, by drop                     0 or 1  [drop]
y       its fee is waived, by drop                        0 or 1  [drop]
u       short of the minimum order, by drop               money   [drop]

least   sum each x (ties broken) + fee (z - y) + u - worth l

use     sum quantity x >= span                            [span]
rest    sum quantity x - l >= quantity                    [rest]
step    low s <= x <= high s                              [choice due now at a break]
drop    x <= high z                                       [choice due now, drop with fee or minimum]
minimum sum each x + u >= minimum z                       [drop with a minimum]
waiver  sum each x >= waived over y,  y <= z              [drop with a fee that can be waived]
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ordering.buy.choices import Choice, Problem, tie
from ordering.buy.program import Program


@dataclass(frozen=True, slots=True)
class Model:
    """The decision as a program, choices as its first columns; `names` [row] says what block a row is of."""

    program: Program
    names: tuple[str, ...]
    n_choices: int

    def is_named(self, *names: str) -> NDArray[np.bool_]:
        """[row], whether it belongs to one of these blocks."""
        return np.array([name in names for name in self.names], dtype=bool)


@dataclass(frozen=True, slots=True)
class _Columns:
    """First column of each block, and how many there are in all."""

    worth: int
    step: Mapping[int, int]
    take: int
    waive: int
    short: int
    count: int


class _Rows:
    """Rows of a sparse matrix, gathered one after the other."""

    def __init__(self) -> None:
        self.at: list[int] = []
        self.columns: list[int] = []
        self.values: list[float] = []
        self.low: list[float] = []
        self.names: list[str] = []

    def add(self, name: str, terms: Sequence[tuple[int, float]], low: float) -> None:
        self.at += [len(self.low)] * len(terms)
        self.columns += [column for column, _ in terms]
        self.values += [value for _, value in terms]
        self.low.append(low)
        self.names.append(name)


def build(problem: Problem) -> Model:
    """Arrays of the whole decision, nothing fixed, nothing relaxed."""
    at = _columns(problem)
    cost, high = np.zeros(at.count), np.full(at.count, np.inf)
    is_whole = np.zeros(at.count, dtype=bool)
    for i, c in enumerate(problem.choices):
        cost[i], high[i], is_whole[i] = c.each * tie(c, problem.covers[c.cover]), c.high, c.chance.is_now
    for i, cover in enumerate(problem.covers):
        cost[at.worth + i], high[at.worth + i] = -problem.worths[i], max(cover.worth, 0.0)
    for column in at.step.values():
        high[column], is_whole[column] = 1.0, True
    for i, vendor in enumerate(problem.sellers):
        fee = float(vendor.delivery_fee)
        has_waiver = fee > 0 and vendor.fee_waived_over is not None
        z, y, u = at.take + i, at.waive + i, at.short + i
        cost[z], cost[y], cost[u] = fee, -fee, 1.0
        high[z], high[y], high[u] = 1.0, float(has_waiver), float(vendor.minimum)
        is_whole[z] = is_whole[y] = True
    rows = _Rows()
    _cover_rows(rows, problem, at)
    _drop_rows(rows, problem, at)
    matrix = sparse.csr_array((rows.values, (rows.at, rows.columns)), shape=(len(rows.low), at.count))
    low = np.array(rows.low)
    program = Program(cost, matrix, low, np.full(len(low), np.inf), np.zeros(at.count), high, is_whole)
    return Model(program, tuple(rows.names), len(problem.choices))


def _columns(problem: Problem) -> _Columns:
    n, m, k = len(problem.choices), len(problem.covers), len(problem.drops)
    stepped = [i for i, c in enumerate(problem.choices) if c.chance.is_now and c.low > 1]
    take = n + m + len(stepped)
    step = {i: n + m + at for at, i in enumerate(stepped)}
    return _Columns(n, step, take, take + k, take + 2 * k, take + 3 * k)


def _cover_rows(rows: _Rows, problem: Problem, at: _Columns) -> None:
    of_cover: list[list[tuple[int, int, float]]] = [[] for _ in problem.covers]
    for i, c in enumerate(problem.choices):
        of_cover[c.cover].append((i, c.chance.day, c.offer.pack_quantity))
    for i, cover in enumerate(problem.covers):
        mine = of_cover[i]
        for span in cover.spans:
            rows.add("use", [(j, q) for j, day, q in mine if span.first <= day <= span.last], span.quantity)
        for first, quantity in cover.rest if cover.worth > 0 else ():
            terms = [(j, q) for j, day, q in mine if day >= first]
            rows.add("rest", [*terms, (at.worth + i, -1.0)], quantity)


def _drop_rows(rows: _Rows, problem: Problem, at: _Columns) -> None:
    of_drop: dict[tuple[str, object], list[tuple[int, Choice]]] = {}
    for i, c in enumerate(problem.choices):
        if c.chance.is_now:
            of_drop.setdefault(c.drop, []).append((i, c))
    for i, step in at.step.items():
        rows.add("step", [(i, 1.0), (step, -float(problem.choices[i].low))], 0.0)
        rows.add("step", [(i, -1.0), (step, float(problem.choices[i].high))], 0.0)
    for i, (drop, vendor) in enumerate(zip(problem.drops, problem.sellers, strict=True)):
        z, y, u = at.take + i, at.waive + i, at.short + i
        spent = [(j, c.each) for j, c in of_drop[drop]]
        if vendor.minimum > 0 or vendor.delivery_fee > 0:
            for j, c in of_drop[drop]:
                rows.add("drop", [(j, -1.0), (z, float(c.high))], 0.0)
        if vendor.minimum > 0:
            rows.add("minimum", [*spent, (u, 1.0), (z, -float(vendor.minimum))], 0.0)
        if vendor.delivery_fee > 0 and vendor.fee_waived_over is not None:
            rows.add("waiver", [*spent, (y, -float(vendor.fee_waived_over))], 0.0)
            rows.add("waiver", [(z, 1.0), (y, -1.0)], 0.0)


def with_cuts(model: Model) -> Model:
    """The same program with a rounding cut for each `use` row and each pack size in it.

    Mixed-integer rounding: where sum q x + later >= b with whole x, dividing by a pack d and rounding up
    gives sum g(q / d) x + later / (d f) >= ceil(b / d), f the fraction of b / d and g(t) = floor(t) +
    min(1, fraction of t / f). Whatever is whole satisfies it; what is relaxed comes much closer to whole
    (Nemhauser and Wolsey 1990; from memory).
    """
    program, is_use = model.program, model.is_named("use")
    kept = sparse.coo_array(program.rows[np.flatnonzero(is_use)])
    wanted = program.row_low[is_use]
    order = np.lexsort((kept.col, kept.row))
    row, column, quantity = kept.row[order], kept.col[order], kept.data[order]
    is_whole = program.is_whole[column]
    packs = np.unique(np.column_stack([row, quantity])[is_whole], axis=0)
    of_row, pack = packs[:, 0].astype(np.int64), packs[:, 1]
    part = wanted[of_row] / pack
    low, part = np.ceil(part), part - np.floor(part)
    is_cut = (part > 1e-6) & (part < 1 - 1e-6)
    of_row, pack, low, part = of_row[is_cut], pack[is_cut], low[is_cut], part[is_cut]
    first = np.searchsorted(row, np.arange(len(wanted) + 1))
    length = np.diff(first)[of_row]
    cut = np.repeat(np.arange(len(low)), length)
    entry = np.arange(len(cut)) - np.repeat(np.cumsum(length) - length, length) + first[of_row][cut]
    ratio = quantity[entry] / pack[cut]
    floor = np.floor(ratio + 1e-9)
    rounded = floor + np.minimum(1.0, np.maximum(ratio - floor, 0.0) / part[cut])
    values = np.where(is_whole[entry], rounded, ratio / part[cut])
    cuts = sparse.csr_array((values, (cut, column[entry])), shape=(len(low), len(program.cost)))
    more = replace(
        program,
        rows=sparse.csr_array(sparse.vstack([program.rows, cuts])),
        row_low=np.concatenate([program.row_low, low]),
        row_high=np.full(len(program.row_low) + len(low), np.inf),
    )
    return Model(more, model.names + ("cut",) * len(low), model.n_choices)
