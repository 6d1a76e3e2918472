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
from itertools import groupby
from math import fsum

import numpy as np

from ordering.amounts import EPS
from ordering.explain.run_facts import CONSUMABLES
from ordering.explain.trace import PAR, ROUNDING, Trace, trace
from ordering.records.buying import Buying, OrderLine, Shortfall
from ordering.records.house import House
from ordering.records.plan import Array, Forecast, Netting, Peg, Requirement

SAFETY = "*safety"

_RANKS = {CONSUMABLES: 1, SAFETY: 2, PAR: 3, ROUNDING: 4}
_PLACES = 6
_NOTHING = 0.5 * 10**-_PLACES

Parts = Mapping[tuple[str, date | None], float]


Key = tuple[str, str, date]


def pegging(
    house: House, netting: Netting, buying: Buying, forecast: Forecast, traced: Trace | None = None
) -> tuple[Peg, ...]:
    """What each line of orders and outlook is for. `traced`: the trace of the netting, where it is known.

    A line is divided into what dishes are expected to draw, by service date, and `*consumables`,
    `*safety` (what the service level adds), `*par` and `*rounding` (packs, batches made whole, and
    what a minimum or a price break adds). Stock and receipts are used before anything is bought, so
    they do not appear. The rows of one line add up to its quantity.

    Returns
    -------
    rows in the order of the lines; within a line by service date, dish, then the rest
    """
    days = forecast.days
    spans = [w for item in windows(house, netting, buying, days).values() for w in item]
    parts = divided(traced or trace(house, netting.flows, len(days)), spans, days)
    by_line = {line_key(line): (w, p) for w, p in zip(spans, parts, strict=True) for line in w.lines}
    pegs: list[Peg] = []
    for line in (*buying.orders, *buying.outlook):
        window, part = by_line[line_key(line)]
        pegs += _rows(line, part, line.quantity / window.quantity if window.quantity else 0.0)
    return tuple(pegs)


def divided(traced: Trace, spans: Sequence[DeliveryWindow], days: Sequence[date]) -> list[Parts]:
    """The parts of each window by (dish or `*` word, service date), adding up to its quantity."""
    known = [n for n, window in enumerate(spans) if window.item in traced.index]
    ended = traced.ended(traced.source([(spans[n].item, spans[n].drawn) for n in known]))
    keys = [(end, None if end in (PAR, ROUNDING) else day) for end in traced.ends for day in days]
    found = {n: traced.parts(ended, row, keys) for row, n in enumerate(known)}
    out: list[Parts] = []
    for n, window in enumerate(spans):
        parts = found.get(n)
        if parts is None:
            parts = {(ROUNDING, None): float(window.drawn.sum())}
        for name, quantity in ((SAFETY, window.safety), (PAR, window.par), (ROUNDING, window.rounding)):
            if quantity:
                parts[(name, None)] = parts.get((name, None), 0.0) + quantity
        out.append(parts)
    return out


def _rows(line: OrderLine, parts: Parts, share: float) -> list[Peg]:
    """Pegs of one line, rounded so that they add up to its quantity to the last place."""
    kept = {key: round(q * share, _PLACES) for key, q in parts.items() if q * share > _NOTHING}
    if not kept:
        kept = {(ROUNDING, None): round(line.quantity, _PLACES)}
    largest = max(kept, key=lambda key: (kept[key], key[0]))
    kept[largest] = round(kept[largest] + line.quantity - fsum(kept.values()), 9)
    return [
        Peg(line.vendor, line.code, line.deliver_on, name, on, quantity, line.unit)
        for (name, on), quantity in sorted(kept.items(), key=lambda row: _rank(row[0]))
    ]


def _rank(key: tuple[str, date | None]) -> tuple[int, date, str]:
    name, on = key
    return _RANKS.get(name, 0), on or date.max, name


def line_key(line: OrderLine) -> Key:
    """What tells a line from every other: vendor, code and day, as in pegging.csv."""
    return line.vendor, line.code, line.deliver_on


@dataclass(frozen=True, slots=True)
class DeliveryWindow:
    """All lines of one item that come on one day.

    `day` is that day and `until` the last day they must last (indices); `start` is the level of all
    deliveries before; `drawn`, shape (n_days,), is the expected need they meet. `drawn.sum() + safety +
    par + rounding` is the quantity of the lines.
    """

    item: str
    lines: tuple[OrderLine, ...]
    day: int
    until: int
    start: float
    drawn: Array
    safety: float
    par: float
    rounding: float

    @property
    def quantity(self) -> float:
        """What comes on that day in all, in the item's unit."""
        return sum(line.quantity for line in self.lines)


@dataclass(frozen=True, slots=True)
class Curves:
    """Cumulative expected and required need that deliveries can still meet, shape (n_days,)."""

    expected: Array
    required: Array
    stock_left: Array

    def days_met(self, low: Sequence[float], high: Sequence[float]) -> Array:
        """Expected need by day that lies between two levels, for each pair, shape (n_pairs, n_days)."""
        before = np.concatenate(([0.0], self.expected[:-1]))
        bottom, top = np.asarray(low)[:, None], np.asarray(high)[:, None]
        met: Array = np.clip(np.minimum(self.expected, top) - np.maximum(before, bottom), 0.0, None)
        return met


def windows(
    house: House, netting: Netting, buying: Buying, days: Sequence[date]
) -> dict[str, tuple[DeliveryWindow, ...]]:
    """Windows of every item with a line in orders or outlook, in order of delivery."""
    by_item: dict[str, list[OrderLine]] = {}
    for line in (*buying.orders, *buying.outlook):
        by_item.setdefault(line.item, []).append(line)
    lost: dict[str, list[Shortfall]] = {}
    for unmet in buying.unmet:
        lost.setdefault(unmet.item, []).append(unmet)
    return {
        item: _of_item(
            house, item, lines, reachable(netting.requirements.get(item), lost.get(item, ()), days), days
        )
        for item, lines in by_item.items()
    }


def reachable(requirement: Requirement | None, unmet: Iterable[Shortfall], days: Sequence[date]) -> Curves:
    """Curves without the need of days that no delivery can meet."""
    nothing = np.zeros(len(days))
    if requirement is None:
        return Curves(nothing, nothing, nothing)
    required = np.diff(np.maximum.accumulate(np.maximum(requirement.required, 0.0)), prepend=0.0)
    expected = np.diff(np.maximum.accumulate(np.maximum(requirement.expected, 0.0)), prepend=0.0)
    lost = nothing.copy()
    for row in unmet:
        day = (row.needed_on - days[0]).days
        if 0 <= day < len(days):
            lost[day] += row.short
    left = 1.0 - np.divide(lost, required, out=(lost > 0).astype(float), where=required > EPS).clip(0.0, 1.0)
    return Curves(np.cumsum(expected * left), np.cumsum(required * left), requirement.stock_left)


def next_delivery(house: House, item: str, after: int, days: Sequence[date]) -> int | None:
    """Index of the first day after `after` on which a vendor of the item comes; None within sight."""
    vendors = (
        {offer.vendor for offer in house.ingredients[item].offers} if item in house.ingredients else set()
    )
    for day in range(after + 1, len(days)):
        for vendor in (house.vendors[v] for v in vendors if v in house.vendors):
            weekdays = {delivery.weekday for delivery in vendor.deliveries}
            if days[day].weekday() in weekdays and days[day] not in vendor.closed:
                return day
    return None


@dataclass(frozen=True, slots=True)
class _Step:
    """One delivery on the cumulative curves: it lifts the level from `start` to `level`.

    `wanted`, `safe` and `kept` are the levels up to which it is for dishes, for safety and for the par.
    """

    lines: tuple[OrderLine, ...]
    day: int
    until: int
    start: float
    level: float
    wanted: float
    safe: float
    kept: float


def _of_item(
    house: House, item: str, lines: Iterable[OrderLine], curves: Curves, days: Sequence[date]
) -> tuple[DeliveryWindow, ...]:
    steps = _steps(house, item, lines, curves, days)
    drawn = curves.days_met([s.start for s in steps], [min(s.level, s.wanted) for s in steps])
    total = drawn.sum(axis=1).tolist()
    return tuple(_window(item, step, drawn[n], total[n]) for n, step in enumerate(steps))


def _window(item: str, step: _Step, drawn: Array, for_dishes: float) -> DeliveryWindow:
    """One step as a window; drawn : [day]."""
    safety = max(0.0, min(step.level, step.safe) - max(step.start, step.wanted))
    for_par = max(0.0, min(step.level, step.kept) - max(step.start, step.safe))
    rounding = max(0.0, step.level - step.start - for_dishes - safety - for_par)
    return DeliveryWindow(
        item, step.lines, step.day, step.until, step.start, drawn, safety, for_par, rounding
    )


def _steps(
    house: House, item: str, lines: Iterable[OrderLine], curves: Curves, days: Sequence[date]
) -> list[_Step]:
    ordered = sorted(lines, key=lambda line: (line.deliver_on, line.vendor, line.code))
    groups = [(day, tuple(group)) for day, group in groupby(ordered, key=lambda line: line.deliver_on)]
    at = [min(max((day - days[0]).days, 0), len(days) - 1) for day, _ in groups]
    keeps = house.keeps_days(item)
    levels = _Levels(house.ingredients[item].par if item in house.ingredients else None, curves)
    steps: list[_Step] = []
    level = 0.0
    for n, (_, group) in enumerate(groups):
        following = at[n + 1] if n + 1 < len(at) else next_delivery(house, item, at[n], days)
        last = len(days) - 1 if keeps is None else min(at[n] + keeps, len(days) - 1)
        base = last if following is None else min(max(following - 1, at[n]), last)
        if steps and keeps is not None and steps[-1].day + keeps < base:
            spoilt = levels.expected[steps[-1].day + keeps]
            level = min(level, max(steps[-1].start, spoilt))
        start, level = level, level + sum(line.quantity for line in group)
        steps.append(levels.step(group, (at[n], base, last), start, level))
    return steps


class _Levels:
    """The curves of one item as plain lists, for many look-ups of one value."""

    def __init__(self, par: float | None, curves: Curves) -> None:
        self.par = par
        self.expected: list[float] = curves.expected.tolist()
        self.required: list[float] = curves.required.tolist()
        self.stock_left: list[float] = curves.stock_left.tolist()

    def step(
        self, lines: tuple[OrderLine, ...], span: tuple[int, int, int], start: float, level: float
    ) -> _Step:
        """One delivery; `span` is (day, last day it must last, last day it is good).

        Where more comes than the days to the next delivery and the par ask for, it lasts longer. What
        comes before anything of it is wanted (to reach a minimum, to save a fee) is for the first day after.
        """
        day, until, last = span
        kept = 0.0
        if self.par:
            used = self.expected[day - 1] if day else 0.0
            kept = self.par + used - self.stock_left[day]
        if kept <= self.required[until] + EPS:
            until = max(until, bisect_right(self.required, level + EPS, 0, last + 1) - 1)
            if self.required[until] <= start + EPS:
                until = min(bisect_right(self.required, start + EPS), last)
        wanted = self.expected[until]
        return _Step(lines, day, until, start, level, wanted, max(wanted, self.required[until]), kept)
