"""From what is drawn of an item to the dishes it ends in, on the expected path.

Two kinds of node for every item and day: *drawn* (what is taken out of stock that day) and *made*
(what becomes ready that day). What is drawn goes into its parents' makings or ends in a dish; what is
made meets later draws first in, first out. Both steps are sparse matrices, applied in turn to all
sources at once until everything has ended somewhere.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ordering.amounts import EPS
from ordering.explain.run_facts import DISH
from ordering.records.house import House, Recipe
from ordering.records.plan import CONSUMABLES, PAR, ROUNDING, Array, ItemFlow

Ints = NDArray[np.int64]
Block = tuple[Ints, Ints, Array]

Key = TypeVar("Key")


@dataclass(frozen=True, slots=True)
class Trace:
    """The two steps, ready to be applied.

    Rows and columns of nodes are `index[item] * n_days + day`; columns of ends are
    `column * n_days + day` with `ends[column]` a dish id or one of `*consumables`, `*par`, `*rounding`.
    The rows of `to_made` and `to_end` together add up to 1, as do those of `to_drawn` and `left`.
    """

    n_days: int
    index: Mapping[str, int]
    ends: tuple[str, ...]
    to_made: sparse.csr_array
    to_end: sparse.csr_array
    to_drawn: sparse.csr_array
    left: sparse.csr_array

    def ended(self, drawn: sparse.csr_array) -> sparse.csr_array:
        """Where what is drawn ends.

        Parameters
        ----------
        drawn : shape (n_sources, n_items * n_days), quantity drawn of an item on a day

        Returns
        -------
        shape (n_sources, n_ends * n_days), rows adding up to those of `drawn`, in its units
        """
        ended: sparse.csr_array = drawn @ self.to_end
        for _ in self.index:  # no chain of recipes is longer than there are items
            made = _pruned(drawn @ self.to_made)
            if made.nnz == 0:
                break
            drawn = _pruned(made @ self.to_drawn)
            ended = ended + made @ self.left + drawn @ self.to_end
        return ended

    def parts(self, ended: sparse.csr_array, row: int, keys: Sequence[Key]) -> dict[Key, float]:
        """One row of `ended` as quantity by key: what the columns stand for, end by end, day by day.

        Columns of one key add up.
        """
        low, high = int(ended.indptr[row]), int(ended.indptr[row + 1])
        found: dict[Key, float] = {}
        columns, quantities = ended.indices[low:high].tolist(), ended.data[low:high].tolist()
        for column, quantity in zip(columns, quantities, strict=True):
            key = keys[column]
            found[key] = found.get(key, 0.0) + quantity
        return found

    def source(self, rows: list[tuple[str, Array]]) -> sparse.csr_array:
        """Sources for `ended`: one row each, an item and what is drawn of it by day, shape (n_days,)."""
        first = np.array([self.index[item] * self.n_days for item, _ in rows], dtype=np.intp)
        drawn = np.array([by_day for _, by_day in rows]).reshape(len(rows), self.n_days)
        row, day = np.nonzero(drawn)
        return as_matrix([(row, first[row] + day, drawn[row, day])], len(rows), len(self.index) * self.n_days)


def as_matrix(blocks: Sequence[Block], n_rows: int, n_columns: int) -> sparse.csr_array:
    """Blocks of (row, column, value), each of shape (n,), as one sparse matrix; equal places add up."""
    if not blocks:
        return sparse.csr_array((n_rows, n_columns))
    rows, columns, values = (np.concatenate(parts) for parts in zip(*blocks, strict=True))
    return sparse.coo_array((values, (rows, columns)), shape=(n_rows, n_columns)).tocsr()


@dataclass(frozen=True, slots=True)
class _Laying:
    """The blocks of the four matrices while they are laid."""

    house: House
    flows: Mapping[str, ItemFlow]
    n_days: int
    index: Mapping[str, int]
    column: Mapping[str, int]
    to_made: list[Block] = field(default_factory=list)
    to_end: list[Block] = field(default_factory=list)
    to_drawn: list[Block] = field(default_factory=list)
    left: list[Block] = field(default_factory=list)

    def end(self, name: str, days: Ints) -> Ints:
        """Columns of an end on days, both shape (n,)."""
        return self.column[name] * self.n_days + days


def trace(house: House, flows: Mapping[str, ItemFlow], n_days: int) -> Trace:
    """Both steps for every item with a flow."""
    ends = (*house.dishes, CONSUMABLES, PAR, ROUNDING)
    index, column = ({name: n for n, name in enumerate(names)} for names in (flows, ends))
    laying = _Laying(house, flows, n_days, index, column)
    for flow in flows.values():
        _lay_uses(laying, flow)
        if flow.item in house.recipes:
            _lay_makings(laying, flow, house.recipes[flow.item])
    nodes, n_ends = len(flows) * n_days, len(ends) * n_days
    return Trace(
        n_days,
        index,
        ends,
        as_matrix(laying.to_made, nodes, nodes),
        as_matrix(laying.to_end, nodes, n_ends),
        as_matrix(laying.to_drawn, nodes, nodes),
        as_matrix(laying.left, nodes, n_ends),
    )


def _lay_uses(laying: _Laying, flow: ItemFlow) -> None:
    """What is drawn on a day, by who draws it; what serves no day in sight ends as rounding."""
    at = laying.index[flow.item] * laying.n_days
    total = sum(flow.by_parent.values(), np.zeros(laying.n_days))
    rest = np.ones(laying.n_days)
    for parent, quantity in flow.by_parent.items():
        (days,) = np.nonzero(quantity > EPS)
        share = quantity[days] / total[days]
        if parent in laying.index and parent in laying.house.recipes:
            recipe, made = laying.house.recipes[parent], laying.index[parent] * laying.n_days
            for drawn_on, ready, part in _makings_fed(flow.item, recipe, laying.flows[parent], days, share):
                laying.to_made.append((at + drawn_on, made + ready, part))
                rest[drawn_on] -= part
        else:
            dish = parent.removeprefix(DISH)
            name = dish if dish in laying.house.dishes and dish != parent else CONSUMABLES
            laying.to_end.append((at + days, laying.end(name, days), share))
            rest[days] -= share
    (lost,) = np.nonzero(rest > EPS)
    laying.to_end.append((at + lost, laying.end(ROUNDING, lost), rest[lost]))


def _makings_fed(item: str, parent: Recipe, flow: ItemFlow, days: Ints, share: Array) -> list[Block]:
    """Draws of one parent as (day drawn, day that making is ready, share of the day's draw).

    days, share : one entry a day on which the parent draws, shape (n,).

    A line with `at_days` is drawn that long after the start. Where a recipe names the item twice, at
    different times, a day's draw is split by what the makings it can belong to ask for.
    """
    asked: dict[int, float] = {}
    for line in parent.lines:
        if line.item == item:
            offset = parent.takes_days - line.at_days
            asked[offset] = asked.get(offset, 0.0) + line.drawn
    asked = asked or {parent.takes_days: 1.0}
    n_days = len(flow.planned)
    if len(asked) == 1:
        (offset,) = asked
        here = days + offset < n_days
        return [(days[here], days[here] + offset, share[here])]
    parts = np.zeros((len(asked), len(days)))
    for row, (offset, quantity) in enumerate(asked.items()):
        inside = days + offset < n_days
        parts[row, inside] = quantity * flow.planned[days[inside] + offset]
    total = parts.sum(axis=0)
    weights = np.divide(parts, total, out=np.zeros_like(parts), where=total > EPS)
    blocks = []
    for offset, weight in zip(asked, weights, strict=True):
        here = weight > 0
        blocks.append((days[here], days[here] + offset, share[here] * weight[here]))
    return blocks


def _lay_makings(laying: _Laying, flow: ItemFlow, recipe: Recipe) -> None:
    """What is made ready on a day meets later draws; what nobody draws is par or rounding."""
    at = laying.index[flow.item] * laying.n_days
    made = flow.planned + flow.in_process
    planned = np.where(made > EPS, made, 0.0)
    other = flow.scheduled + flow.by_product
    other[0] += flow.opening
    supplies = np.maximum(np.column_stack((other, planned)).ravel(), 0.0)
    served = np.clip(flow.gross - flow.short, 0.0, None)
    uses = np.column_stack((np.maximum(flow.expired, 0.0), served)).ravel()
    supply, use, quantity = fifo(supplies, uses)
    here = (supply % 2 == 1) & (use % 2 == 1)
    made_on, drawn_on = supply[here] // 2, use[here] // 2
    share = quantity[here] / planned[made_on]
    laying.to_drawn.append((at + made_on, at + drawn_on, share))
    rest = np.ones(laying.n_days)
    np.subtract.at(rest, made_on, share)
    for_par = _par_share(rest, planned, recipe)
    for name, part in ((PAR, for_par), (ROUNDING, rest - for_par)):
        (days,) = np.nonzero(part > EPS)
        laying.left.append((at + days, laying.end(name, days), part[days]))


def _par_share(rest: Array, planned: Array, recipe: Recipe) -> Array:
    """The share of each making that nobody draws and that keeps the par: the newest of what is in date.

    Both arrays and what comes back [day].
    """
    amount = rest * planned
    n_days = amount.size
    keeps = n_days if recipe.keeps_days is None else recipe.keeps_days
    total = np.concatenate(([0.0], np.cumsum(amount)))
    day = np.arange(n_days)
    newer = total[np.minimum(day + keeps, n_days - 1) + 1] - total[day + 1]
    kept = np.clip((recipe.par or 0.0) - newer, 0.0, amount)
    return np.asarray(np.divide(kept, planned, out=np.zeros_like(rest), where=planned > 0))


def fifo(supplies: Array, uses: Array) -> Block:
    """First in, first out: which supply meets which use.

    Parameters
    ----------
    supplies, uses : shapes (n_supplies,) and (n_uses,), in the order of time, same unit, not negative

    Returns
    -------
    supply, use, quantity : each of shape (n_pieces,); what no use takes is in no piece
    """
    supplied, used = np.cumsum(supplies), np.cumsum(uses)
    top = min(supplied[-1], used[-1]) if len(supplied) and len(used) else 0.0
    edges = np.unique(np.concatenate(([0.0], supplied, used)))
    edges = edges[edges <= top]
    low, quantity = edges[:-1], np.diff(edges)
    keep = quantity > EPS * max(1.0, top)
    middle = low[keep] + quantity[keep] / 2
    return (
        np.searchsorted(supplied, middle, side="left"),
        np.searchsorted(used, middle, side="left"),
        quantity[keep],
    )


def _pruned(matrix: sparse.csr_array) -> sparse.csr_array:
    """The same matrix without what is too small to matter."""
    matrix.data[matrix.data < EPS] = 0.0
    matrix.eliminate_zeros()
    return matrix
