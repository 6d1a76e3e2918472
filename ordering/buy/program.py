"""A linear program in arrays, with whole numbers or without, handed to HiGHS.

It is stopped by gap and nodes, never by the clock, and runs in one thread: the same program, the same answer.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import highspy
import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ordering.records.plan import Array

ENDLESS = 2**31 - 1
_BY_ROW, _LEAST, _HAS_ANSWER = 2, 1, 2


@dataclass(frozen=True, slots=True)
class Program:
    """Least `cost` x where `row_low` <= `rows` x <= `row_high` and `low` <= x <= `high`.

    Shapes [column] and [row]; x is a whole number where `is_whole` [column].
    """

    cost: Array
    rows: sparse.csr_array
    row_low: Array
    row_high: Array
    low: Array
    high: Array
    is_whole: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Answer:
    """`x` [column] and its `cost`; `bound`, the cost that no x undercuts."""

    x: Array
    cost: float
    bound: float


class _Silent(highspy.Highs):
    """Never called back: enabling that prints a banner before output can be turned off."""

    def enableCallbacks(self) -> None:
        pass


def relaxation(program: Program) -> Program:
    """The same program with parts of everything allowed."""
    return replace(program, is_whole=np.zeros(len(program.is_whole), dtype=bool))


def restricted(program: Program, x: Array, is_free: NDArray[np.bool_]) -> Program:
    """The program of the free columns alone, all others held at `x`. x, is_free : [column]."""
    columns = program.rows[:, is_free]
    touched = np.flatnonzero(np.diff(columns.indptr))
    held = program.rows[touched] @ np.where(is_free, 0.0, x)
    return Program(
        program.cost[is_free],
        columns[touched],
        program.row_low[touched] - held,
        program.row_high[touched] - held,
        program.low[is_free],
        program.high[is_free],
        program.is_whole[is_free],
    )


def solved(
    program: Program,
    gap: float = 0.0,
    nodes: int = ENDLESS,
    without: Sequence[str] = (),
    start: Array | None = None,
) -> Answer | None:
    """The best x found, within `gap` of the least cost as a part of it or after `nodes` branchings.

    without : heuristics of HiGHS that are left out
    start : [column], an x to improve; what costs more is not searched
    None: there is no x within the bounds, or none was found within `nodes`.
    """
    solver = _Silent()  # type: ignore[no-untyped-call]  # the library leaves it without hints
    solver.setOptionValue("output_flag", False)
    solver.setOptionValue("threads", 1)
    solver.setOptionValue("mip_rel_gap", gap)
    solver.setOptionValue("mip_max_nodes", nodes)
    solver.setOptionValue("mip_allow_restart", False)  # a third of the time, for no better bound
    for heuristic in without:
        solver.setOptionValue(f"mip_heuristic_run_{heuristic}", False)
    n_rows, n_columns = program.rows.shape
    solver.passModel(
        n_columns,
        n_rows,
        program.rows.nnz,
        _BY_ROW,
        _LEAST,
        0.0,
        program.cost,
        program.low,
        program.high,
        program.row_low,
        program.row_high,
        program.rows.indptr.astype(np.int32),
        program.rows.indices.astype(np.int32),
        program.rows.data.astype(np.float64),
        program.is_whole.astype(np.int32),
    )
    if start is not None:
        known = highspy.HighsSolution()
        known.col_value, known.value_valid = start.tolist(), True
        solver.setSolution(known)
    solver.run()
    info = solver.getInfo()
    if info.primal_solution_status != _HAS_ANSWER:
        return None
    x = np.array(solver.getSolution().col_value)
    cost = float(program.cost @ x)
    bound = float(info.mip_dual_bound) if program.is_whole.any() else cost
    return Answer(x, cost, bound)
