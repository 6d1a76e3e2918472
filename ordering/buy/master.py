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
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ordering.buy.program import Program, relaxation, solved
from ordering.buy.settle import ENOUGH, Index, Menu
from ordering.records.plan import Array

FEW = 3
"""Plans of an ingredient left to choose from in whole plans where the relaxation mixes them; measured."""
GAP = 2e-3
NODES = 20


@dataclass(frozen=True, slots=True)
class Master:
    """Columns v, z, y, u; a `one` row for each ingredient, then the `open` rows and what follows them.

    `link` [open row]: ingredient times number of drops plus drop;  `minimums`, `waivers`: drops whose
    rows follow the `open` ones, in this sequence.
    """

    program: Program
    link: Index
    minimums: Index
    waivers: Index
    n_items: int
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


def master_of(menu: Menu) -> Master:
    n_items, n, k = len(menu.start) - 1, len(menu.cost), len(menu.fee)
    item = np.repeat(np.arange(n_items), np.diff(menu.start))
    plan, drop = np.nonzero(menu.spent > ENOUGH)
    link, at_link = np.unique(item[plan] * k + drop, return_inverse=True)
    minimums = np.flatnonzero(menu.minimum > 0)
    can_waive = np.isfinite(menu.waived) & (menu.fee > 0)
    waivers = np.flatnonzero(can_waive)
    spent = menu.spent[plan, drop]
    blocks = [
        _block([item], [np.arange(n)], [np.ones(n)]),
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
    heights = [n_items, len(link), len(minimums), len(waivers), len(waivers)]
    n_rows, width = sum(heights), n + 3 * k
    row_low, row_high = np.full(n_rows, -np.inf), np.zeros(n_rows)
    row_low[:n_items] = row_high[:n_items] = 1.0
    is_whole = np.ones(width, dtype=bool)
    is_whole[n + 2 * k :] = False
    program = Program(
        cost=np.concatenate([menu.cost, menu.fee, -menu.fee, np.ones(k)]),
        rows=_stacked(blocks, heights, width),
        row_low=row_low,
        row_high=row_high,
        low=np.zeros(width),
        high=np.concatenate([np.ones(n + k), can_waive.astype(float), menu.minimum]),
        is_whole=is_whole,
    )
    return Master(program, link, minimums, waivers, n_items, n, k)


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


def relaxed(master: Master) -> Relaxed | None:
    """Least cost with parts of plans allowed, and what it says about goods and deliveries."""
    found = solved(relaxation(master.program))
    if found is None:
        return None
    n, n_items, n_drops = master.n_plans, master.n_items, master.n_drops
    dual = -found.price[n_items:]
    rebate = np.zeros(n_drops)
    after = len(master.link)
    for drops in (master.minimums, master.waivers):
        rebate[drops] += dual[after : after + len(drops)]
        after += len(drops)
    charge = np.zeros(n_items * n_drops)
    charge[master.link] = dual[: len(master.link)]
    reduced = master.program.cost - master.program.rows.T @ found.price
    return Relaxed(found.cost, found.x[:n], reduced[:n], rebate, charge.reshape(n_items, n_drops))


def whole(master: Master, menu: Menu, at: Relaxed) -> Index:
    """One plan for each ingredient: as the relaxation has it where that is whole, else the best of the few
    it would rather take."""
    is_in = at.share > 1e-6
    for s, e in itertools.pairwise(menu.start.tolist()):
        if at.share[s:e].max() < 1 - 1e-6:
            is_in[s + np.argsort(at.reduced[s:e], kind="stable")[:FEW]] = True
    plans = np.flatnonzero(is_in)
    program, n = master.program, master.n_plans
    columns = np.concatenate([plans, np.arange(n, len(program.cost))])
    few = replace(
        program,
        cost=program.cost[columns],
        rows=program.rows[:, columns],
        low=program.low[columns],
        high=program.high[columns],
        is_whole=program.is_whole[columns],
    )
    found = solved(few, GAP, NODES)
    if found is None:
        return _largest(menu, at.share)
    taken = np.zeros(n)
    taken[plans] = found.x[: len(plans)]
    return _largest(menu, taken)


def _largest(menu: Menu, share: Array) -> Index:
    pairs = itertools.pairwise(menu.start.tolist())
    return np.array([s + int(np.argmax(share[s:e])) for s, e in pairs], dtype=np.int64)
