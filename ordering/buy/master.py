"""The choice among plans as a linear program, and in whole plans among the few that count.

symbol  name                                     unit    shape
v       plan is taken                            0 or 1  [plan]
z       delivery takes place                     0 or 1  [drop]
y       its fee is waived                        0 or 1  [drop]
u       short of the minimum order               money   [drop]

least   sum cost v + fee (z - y) + u

one     sum v = 1                                [ingredient]
open    sum v of plans that use the drop <= z    [ingredient and drop]
minimum sum spent v + u >= minimum z             [drop with a minimum]
waiver  sum spent v >= waived y,  y <= z         [drop with a fee that can be waived]
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy import sparse
from scipy.optimize import Bounds, LinearConstraint, linprog, milp

from ordering.buy.settle import ENOUGH, Index, Menu
from ordering.records.plan import Array

FEW = 3
"""Plans of an ingredient left to choose from in whole plans where the relaxation mixes them; measured."""
GAP = 2e-3
NODES = 20


@dataclass(frozen=True, slots=True)
class Master:
    """Columns v, z, y, u; `one` rows are equalities, the rest `rows` @ column <= 0.

    `link` [open row]: ingredient times number of drops plus drop;  `minimums`, `waivers`: drops whose
    rows follow the `open` ones, in this sequence.
    """

    cost: Array
    high: Array
    one: sparse.csr_array
    rows: sparse.csr_array
    link: Index
    minimums: Index
    waivers: Index
    n_plans: int
    n_drops: int


@dataclass(frozen=True, slots=True)
class Relaxed:
    """share : [plan], part of each that is taken;  reduced : [plan], money it costs too much
    rebate : [drop], what a unit of money spent there is worth;  charge : [ingredient, drop], money."""

    cost: float
    share: Array
    reduced: Array
    rebate: Array
    charge: Array


def master(menu: Menu) -> Master:
    n_items, n, k = len(menu.start) - 1, len(menu.cost), len(menu.fee)
    item = np.repeat(np.arange(n_items), np.diff(menu.start))
    plan, drop = np.nonzero(menu.spent > ENOUGH)
    link, at_link = np.unique(item[plan] * k + drop, return_inverse=True)
    minimums = np.flatnonzero(menu.minimum > 0)
    can_waive = np.isfinite(menu.waived) & (menu.fee > 0)
    waivers = np.flatnonzero(can_waive)
    spent = menu.spent[plan, drop]
    blocks = [
        _block(
            [at_link, np.arange(len(link))], [plan, n + link % k], [np.ones(len(plan)), -np.ones(len(link))]
        ),
        _sums(minimums, plan, drop, -spent, [(n, menu.minimum), (n + 2 * k, -np.ones(k))]),
        _sums(waivers, plan, drop, -spent, [(n + k, menu.waived)]),
        _block(
            [np.arange(len(waivers))] * 2,
            [n + k + waivers, n + waivers],
            [np.ones(len(waivers)), -np.ones(len(waivers))],
        ),
    ]
    width = n + 3 * k
    return Master(
        cost=np.concatenate([menu.cost, menu.fee, -menu.fee, np.ones(k)]),
        high=np.concatenate([np.ones(n + k), can_waive.astype(float), menu.minimum]),
        one=sparse.csr_array((np.ones(n), (item, np.arange(n))), shape=(n_items, width)),
        rows=_stacked(blocks, [len(link), len(minimums), len(waivers), len(waivers)], width),
        link=link,
        minimums=minimums,
        waivers=waivers,
        n_plans=n,
        n_drops=k,
    )


_Block = tuple[NDArray[np.int64], NDArray[np.int64], Array]


def _block(rows: list[Index], columns: list[Index], values: list[Array]) -> _Block:
    return np.concatenate(rows), np.concatenate(columns), np.concatenate(values)


def _sums(which: Index, plan: Index, drop: Index, values: Array, others: list[tuple[int, Array]]) -> _Block:
    """A row for each drop of `which`: the plans' values there, and one entry in each other block."""
    at = np.searchsorted(which, drop)
    is_in = (at < len(which)) & (which[np.minimum(at, len(which) - 1)] == drop) if len(which) else drop < 0
    rows, columns, parts = [at[is_in]], [plan[is_in]], [values[is_in]]
    for first, entries in others:
        rows.append(np.arange(len(which)))
        columns.append(first + which)
        parts.append(entries[which])
    return _block(rows, columns, parts)


def _stacked(blocks: list[_Block], heights: list[int], width: int) -> sparse.csr_array:
    firsts = np.concatenate([[0], np.cumsum(heights)])
    rows = np.concatenate([block[0] + first for block, first in zip(blocks, firsts, strict=False)])
    columns = np.concatenate([block[1] for block in blocks])
    values = np.concatenate([block[2] for block in blocks])
    return sparse.csr_array((values, (rows, columns)), shape=(int(firsts[-1]), width))


def relaxed(program: Master) -> Relaxed | None:
    """Least cost with parts of plans allowed, and what it says about goods and deliveries."""
    n_items = program.one.shape[0]
    found = linprog(  # type: ignore[call-overload]  # the stubs know no sparse rows
        program.cost,
        A_ub=program.rows,
        b_ub=np.zeros(program.rows.shape[0]),
        A_eq=program.one,
        b_eq=np.ones(n_items),
        bounds=[(0.0, float(high)) for high in program.high],
        method="highs",
    )
    if found.x is None:
        return None
    dual = -found.ineqlin.marginals
    rebate = np.zeros(program.n_drops)
    after = len(program.link)
    for drops in (program.minimums, program.waivers):
        rebate[drops] += dual[after : after + len(drops)]
        after += len(drops)
    charge = np.zeros(n_items * program.n_drops)
    charge[program.link] = dual[: len(program.link)]
    reduced = program.cost - program.one.T @ found.eqlin.marginals + program.rows.T @ dual
    n = program.n_plans
    return Relaxed(
        float(found.fun), found.x[:n], reduced[:n], rebate, charge.reshape(n_items, program.n_drops)
    )


def whole(program: Master, menu: Menu, at: Relaxed) -> Index:
    """One plan for each ingredient: as the relaxation has it where that is whole, else the best of the few
    it would rather take."""
    is_in = at.share > 1e-6
    for s, e in itertools.pairwise(menu.start.tolist()):
        if at.share[s:e].max() < 1 - 1e-6:
            is_in[s + np.argsort(at.reduced[s:e], kind="stable")[:FEW]] = True
    plans = np.flatnonzero(is_in)
    columns = np.concatenate([plans, np.arange(program.n_plans, len(program.cost))])
    n_short = program.n_drops
    found = milp(
        program.cost[columns],
        integrality=np.concatenate([np.ones(len(columns) - n_short), np.zeros(n_short)]),
        bounds=Bounds(0.0, program.high[columns]),
        constraints=[
            LinearConstraint(program.rows[:, columns], -np.inf, 0.0),
            LinearConstraint(program.one[:, columns], 1.0, 1.0),
        ],
        options={"mip_rel_gap": GAP, "node_limit": NODES},
    )
    if found.x is None:
        return _largest(menu, at.share)
    taken = np.zeros(program.n_plans)
    taken[plans] = found.x[: len(plans)]
    return _largest(menu, taken)


def _largest(menu: Menu, share: Array) -> Index:
    pairs = itertools.pairwise(menu.start.tolist())
    return np.array([s + int(np.argmax(share[s:e])) for s, e in pairs], dtype=np.int64)
