"""Lots that will likely go past their date before they are used, so that they can be put on the menu."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta

import numpy as np

from ordering.net.problem import Problem
from ordering.net.stakes import Worth
from ordering.net.stock import Taken
from ordering.records.plan import Array, Expiring

KINDS = ("opening", "in-process", "scheduled")  # what is there or on its way; what is yet to be begun is not
LIKELY = 0.5  # told when this share of the paths leaves more of a lot than is worth saying
LEAST_SHARE = 0.05  # of a lot; a smaller rest is not worth saying

# (kind, first and last day index) of parcels that are one lot to the kitchen: quantity, left, [path]
Lots = Mapping[tuple[str, int, int], tuple[float, Array]]


def left_over(taken: Iterable[Taken], n_days: int) -> Lots:
    """What is left of the lots of one item whose last day is in sight; parcels of the same dates are one."""
    lots: dict[tuple[str, int, int], tuple[float, Array]] = {}
    for one in taken:
        parcel = one.parcel
        if parcel.kind in KINDS and parcel.last + 1 < n_days:
            key = parcel.kind, parcel.first, parcel.last
            quantity, left = lots.get(key, (0.0, np.zeros_like(one.left)))
            lots[key] = quantity + parcel.mean, left + one.left
    return {key: (quantity, left) for key, (quantity, left) in lots.items() if _is_likely(quantity, left)}


def _is_likely(quantity: float, left: Array) -> bool:
    return int(np.count_nonzero(left > LEAST_SHARE * quantity)) > LIKELY * left.size


def expiring(problem: Problem, lots: Mapping[str, Lots], value: Worth) -> tuple[Expiring, ...]:
    """Lots that will likely be left, by item, as records: the dearest waste first, unknown cost last."""
    first = problem.forecast.days[0]
    found = []
    for item, mine in lots.items():
        for (kind, there, last), (quantity, left) in mine.items():
            unused = float(left.mean())
            each = None if item in value.unpriced else value.cost.get(item)
            found.append(
                Expiring(
                    item=item,
                    use_by=first + timedelta(days=last),
                    quantity=quantity,
                    unused=unused,
                    there_on=None if kind == "opening" else first + timedelta(days=there),
                    is_ordered=kind == "scheduled",
                    cost=None if each is None else each * unused,
                )
            )
    return tuple(sorted(found, key=_rank))


def _rank(lot: Expiring) -> tuple[float, str, str, str]:
    cost = 0.0 if lot.cost is None else round(lot.cost, 6)
    return -cost, lot.use_by.isoformat(), lot.item, str(lot.there_on)
