"""Order lines pegged: which days each delivery must last, which dishes and services cause it.

Everything is read off cumulative curves. Deliveries up to and including one stand at a level C; the
curve of expected need says which day's need that level reaches, the required curve adds the safety, the
par is a level of its own, and what lies above all three is rounding. A delivery takes the piece from
the level that was there before it to its own.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import chain, groupby
from math import fsum

import numpy as np
from scipy import sparse

from ordering.amounts import EPS
from ordering.explain.run_facts import PLACES
from ordering.explain.trace import Trace, as_matrix
from ordering.records.buying import Buying, OrderLine, Shortfall
from ordering.records.house import House
from ordering.records.plan import (
    NO_DISHES,
    PAR,
    ROUNDING,
    SAFETY,
    Array,
    DeliveryWindow,
    Netting,
    Peg,
    Requirement,
)

_RANKS = {word: n for n, word in enumerate(NO_DISHES, 1)}
_NOTHING = 0.5 * 10**-PLACES

Cause = tuple[str, date | None]  # a dish and its service date, or a `*` word
Windows = Mapping[str, tuple[DeliveryWindow, ...]]


def pegging(buying: Buying, windows: Windows, traced: Trace, days: Sequence[date]) -> tuple[Peg, ...]:
    """What each line of orders and outlook is for. `traced` : the trace of the netting.

    A line is divided into what dishes are expected to draw, by service date, and `*consumables`,
    `*safety` (what the service level adds), `*par` and `*rounding` (packs, batches made whole, and
    what a minimum or a price break adds). Stock and receipts are used before anything is bought, so
    they do not appear. The rows of one line add up to its quantity.

    Returns
    -------
    rows in the order of the lines; within a line by service date, dish, then the rest
    """
    spans = list(chain.from_iterable(windows.values()))
    lines = (*buying.orders, *buying.outlook)
    if not lines:
        return ()
    row_of = {line.key: row for row, window in enumerate(spans) for line in window.lines}
    rows = [row_of[line.key] for line in lines]
    whole = np.array([window.quantity for window in spans])[rows]
    own = np.array([line.quantity for line in lines])
    causes, parts = _divided(traced, spans, days)
    taken = parts[rows]
    taken.data *= np.repeat(
        np.divide(own, whole, out=np.zeros(len(own)), where=whole > 0), np.diff(taken.indptr)
    )
    taken.data[taken.data <= _NOTHING] = 0.0
    taken.eliminate_zeros()
    ends, columns = taken.indptr.tolist(), taken.indices.tolist()
    quantities = np.round(taken.data, PLACES).tolist()
    pegs: list[Peg] = []
    for line, low, high in zip(lines, ends, ends[1:], strict=False):
        kept = quantities[low:high] or [0.0]
        of = [causes[column] for column in columns[low:high]] or [(ROUNDING, None)]
        largest = kept.index(max(kept))
        kept[largest] = round(kept[largest] + line.quantity - fsum(kept), 9)
        pegs += [
            Peg(line.vendor, line.code, line.deliver_on, name, on, quantity, line.unit)
            for (name, on), quantity in zip(of, kept, strict=True)
        ]
    return tuple(pegs)


def _divided(
    traced: Trace, spans: Sequence[DeliveryWindow], days: Sequence[date]
) -> tuple[list[Cause], sparse.csr_array]:
    """The parts of each window by what causes them, adding up to its quantity.

    Returns
    -------
    causes, in the order of the rows of a line, and parts, shape (n_windows, n_causes)
    """
    keys: list[Cause] = [
        (end, None if end in (PAR, ROUNDING) else day) for end in traced.ends for day in days
    ]
    causes = sorted({*keys, (SAFETY, None), (PAR, None), (ROUNDING, None)}, key=_rank)
    at = {cause: n for n, cause in enumerate(causes)}
    known = np.array([n for n, window in enumerate(spans) if window.item in traced.index], dtype=np.intp)
    ended = traced.ended(traced.source([(spans[n].item, spans[n].drawn) for n in known])).tocoo()
    untraced = np.array([0.0 if w.item in traced.index else w.drawn.sum() for w in spans])
    blocks = [(known[ended.row], np.array([at[key] for key in keys])[ended.col], ended.data)]
    for name, more in (
        (SAFETY, np.array([window.safety for window in spans])),
        (PAR, np.array([window.par for window in spans])),
        (ROUNDING, np.array([window.rounding for window in spans]) + untraced),
    ):
        blocks.append((np.arange(len(spans)), np.full(len(spans), at[name, None]), more))
    parts = as_matrix(blocks, len(spans), len(causes))
    parts.sort_indices()
    return causes, parts


def _rank(cause: Cause) -> tuple[int, date, str]:
    name, on = cause
    return _RANKS.get(name, 0), on or date.max, name


def delivery_windows(house: House, netting: Netting, buying: Buying, days: Sequence[date]) -> Windows:
    """Windows of every item with a line in orders or outlook, in order of delivery."""
    by_item: dict[str, list[OrderLine]] = {}
    for line in (*buying.orders, *buying.outlook):
        by_item.setdefault(line.item, []).append(line)
    lost: dict[str, list[Shortfall]] = {}
    for unmet in buying.unmet:
        lost.setdefault(unmet.item, []).append(unmet)
    return {
        item: _of_item(
            house, lines, _reachable(netting.requirements.get(item), lost.get(item, ()), days), days
        )
        for item, lines in by_item.items()
    }


@dataclass(frozen=True, slots=True)
class _Curves:
    """Cumulative expected and required need that deliveries can still meet, by day.

    Plain lists, for many look-ups of one value; `expected` begins with the zero before the first day, shape
    (n_days + 1,).
    """

    expected: Array
    wanted: list[float]
    required: list[float]
    stock_left: list[float]

    def met(self, low: float, high: float) -> Array:
        """Expected need by day that lies between two levels, shape (n_days,)."""
        levels = self.expected.clip(low, max(low, high))
        steps: Array = levels[1:] - levels[:-1]
        return steps


def _reachable(requirement: Requirement | None, unmet: Iterable[Shortfall], days: Sequence[date]) -> _Curves:
    """Curves without the need of days that no delivery can meet."""
    nothing = np.zeros(len(days))
    if requirement is None:
        return _Curves(np.zeros(len(days) + 1), *3 * [nothing.tolist()])
    expected = np.maximum.accumulate(np.maximum(requirement.expected, 0.0))
    required = np.maximum.accumulate(np.maximum(requirement.required, 0.0))
    lost = nothing.copy()
    for row in unmet:
        day = (row.needed_on - days[0]).days
        if 0 <= day < len(days):
            lost[day] += row.short
    if lost.any():
        needed = np.diff(required, prepend=0.0)
        part = np.divide(lost, needed, out=(lost > 0).astype(float), where=needed > EPS)
        left = 1.0 - part.clip(0.0, 1.0)
        expected, required = np.cumsum(np.diff(expected, prepend=0.0) * left), np.cumsum(needed * left)
    rising = np.concatenate(([0.0], expected))
    return _Curves(rising, expected.tolist(), required.tolist(), requirement.stock_left.tolist())


def _next_round(house: House, item: str, after: int, days: Sequence[date]) -> int | None:
    """Index of the first day after `after` on which a vendor of the item comes; None within sight."""
    vendors = [house.vendors[name] for name in {offer.vendor for offer in house.ingredients[item].offers}]
    return next((n for n in range(after + 1, len(days)) if any(v.delivers(days[n]) for v in vendors)), None)


def _of_item(
    house: House, lines: Iterable[OrderLine], curves: _Curves, days: Sequence[date]
) -> tuple[DeliveryWindow, ...]:
    ordered = sorted(lines, key=lambda line: (line.deliver_on, *line.key))
    end = len(days) - 1
    drops = [
        (min(max((on - days[0]).days, 0), end), tuple(group))
        for on, group in groupby(ordered, key=lambda line: line.deliver_on)
    ]
    item = ordered[0].item
    keeps, par = house.keeps_days(item), house.ingredients[item].par
    found: list[DeliveryWindow] = []
    level = 0.0
    for n, (day, group) in enumerate(drops):
        following = drops[n + 1][0] if n + 1 < len(drops) else _next_round(house, item, day, days)
        last = end if keeps is None else min(day + keeps, end)
        until = last if following is None else min(max(following - 1, day), last)
        if found and keeps is not None and found[-1].day + keeps < until:
            spoilt = curves.wanted[found[-1].day + keeps]
            level = min(level, max(found[-1].start, spoilt))
        start, level = level, level + sum(line.quantity for line in group)
        found.append(_window(group, (day, until, last), (start, level), par, curves))
    return tuple(found)


def _window(
    lines: tuple[OrderLine, ...],
    span: tuple[int, int, int],
    levels: tuple[float, float],
    par: float | None,
    curves: _Curves,
) -> DeliveryWindow:
    """One delivery, that lifts the level from one to the other.

    `span` : day, last day it must last, last day it is good. Where more comes than the days to the next
    delivery and the par ask for, it lasts longer. What comes before anything of it is wanted (to reach a
    minimum, to save a fee) is for the first day after.
    """
    (day, until, last), (start, level), required = span, levels, curves.required
    kept = 0.0
    if par:
        used = curves.wanted[day - 1] if day else 0.0
        kept = par + used - curves.stock_left[day]
    if kept <= required[until] + EPS:
        until = max(until, bisect_right(required, level + EPS, 0, last + 1) - 1)
        if required[until] <= start + EPS:
            until = min(bisect_right(required, start + EPS), last)
    wanted = curves.wanted[until]
    safe = max(wanted, required[until])
    drawn = curves.met(start, min(level, wanted))
    safety = max(0.0, min(level, safe) - max(start, wanted))
    for_par = max(0.0, min(level, kept) - max(start, safe))
    rounding = max(0.0, level - start - float(drawn.sum()) - safety - for_par)
    return DeliveryWindow(lines, day, until, start, wanted, drawn, safety, for_par, rounding)
