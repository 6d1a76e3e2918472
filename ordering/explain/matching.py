"""First in, first out, and sparse matrices gathered block by block."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy import sparse

from ordering.records.plan import Array

Ints = NDArray[np.int64]
Block = tuple[Ints, Ints, Array]

NOTHING = 1e-12


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
    keep = quantity > NOTHING * max(1.0, top)
    middle = low[keep] + quantity[keep] / 2
    return (
        np.searchsorted(supplied, middle, side="left"),
        np.searchsorted(used, middle, side="left"),
        quantity[keep],
    )


class Entries:
    """Entries of one sparse matrix, gathered block by block; equal places add up."""

    def __init__(self) -> None:
        self._blocks: list[Block] = []

    def add(self, rows: Ints, columns: Ints, values: Array) -> None:
        self._blocks.append((rows, columns, values))

    def matrix(self, n_rows: int, n_columns: int) -> sparse.csr_array:
        if not self._blocks:
            return sparse.csr_array((n_rows, n_columns))
        rows, columns, values = (np.concatenate(parts) for parts in zip(*self._blocks, strict=True))
        return sparse.coo_array((values, (rows, columns)), shape=(n_rows, n_columns)).tocsr()


def pruned(matrix: sparse.csr_array) -> sparse.csr_array:
    """The same matrix without what is too small to matter."""
    matrix.data[matrix.data < NOTHING] = 0.0
    matrix.eliminate_zeros()
    return matrix
