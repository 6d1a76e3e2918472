"""What each delivery of an item is for: which days it must last, and how its quantity divides.

Everything is read off cumulative curves. Deliveries up to and including one stand at a level C; the
curve of expected need says which day's need that level reaches, the required curve adds the safety, the
par is a level of its own, and what lies above all three is rounding. A delivery takes the piece from
the level that was there before it to its own.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby

import numpy as np

from ordering.records.house import House
from ordering.records.plan import Array, Buying, Netting, OrderLine, Requirement, Unmet

NEAR = 1e-9


@dataclass(frozen=True, slots=True)
class Window:
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
        return sum(line.quantity for line in self.lines)


@dataclass(frozen=True, slots=True)
class Curves:
    """Cumulative expected and required need that deliveries can still meet, shape (n_days,)."""

    expected: Array
    required: Array
    stock_left: Array

    def days_met(self, low: float, high: float) -> Array:
        """Expected need by day that lies between two levels, shape (n_days,)."""
        before = np.concatenate(([0.0], self.expected[:-1]))
        met: Array = np.clip(np.minimum(self.expected, high) - np.maximum(before, low), 0.0, None)
        return met


def windows(
    house: House, netting: Netting, buying: Buying, days: Sequence[date]
) -> dict[str, tuple[Window, ...]]:
    """Windows of every item with a line in orders or outlook, in order of delivery."""
    by_item: dict[str, list[OrderLine]] = {}
    for line in (*buying.orders, *buying.outlook):
        by_item.setdefault(line.item, []).append(line)
    lost: dict[str, list[Unmet]] = {}
    for unmet in buying.unmet:
        lost.setdefault(unmet.item, []).append(unmet)
    return {
        item: _of_item(
            house, item, lines, reachable(netting.requirements.get(item), lost.get(item, ()), days), days
        )
        for item, lines in by_item.items()
    }


def reachable(requirement: Requirement | None, unmet: Iterable[Unmet], days: Sequence[date]) -> Curves:
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
    left = 1.0 - np.divide(lost, required, out=(lost > 0).astype(float), where=required > NEAR).clip(0.0, 1.0)
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


def _of_item(
    house: House, item: str, lines: Iterable[OrderLine], curves: Curves, days: Sequence[date]
) -> tuple[Window, ...]:
    ordered = sorted(lines, key=lambda line: (line.deliver_on, line.vendor, line.code))
    groups = [(day, tuple(group)) for day, group in groupby(ordered, key=lambda line: line.deliver_on)]
    at = [(day - days[0]).days for day, _ in groups]
    keeps = house.keeps_days(item)
    made: list[Window] = []
    level, before = 0.0, None
    for n, (_, group) in enumerate(groups):
        day = min(max(at[n], 0), len(days) - 1)
        following = at[n + 1] if n + 1 < len(at) else next_delivery(house, item, day, days)
        last = min(day + keeps, len(days) - 1) if keeps is not None else len(days) - 1
        base = last if following is None else min(max(following - 1, day), last)
        if before is not None:
            level = _still_good(before, level, keeps, base, curves)
        window = _divided(house, group, (day, base, last), level, curves)
        made.append(window)
        before, level = (day, level), level + window.quantity
    return tuple(made)


def _still_good(
    before: tuple[int, float], level: float, keeps: int | None, until: int, curves: Curves
) -> float:
    """Level of earlier deliveries, less what of the last one will have spoilt before it is wanted."""
    day, start = before
    if keeps is None or day + keeps >= until:
        return level
    return min(level, max(start, float(curves.expected[day + keeps])))


def _divided(
    house: House, lines: tuple[OrderLine, ...], span: tuple[int, int, int], start: float, curves: Curves
) -> Window:
    """One delivery's lines, divided; `span` is (day, last day to cover at the least, last day good)."""
    day, until, last = span
    item = lines[0].item
    quantity = sum(line.quantity for line in lines)
    level = start + quantity
    made = house.ingredients.get(item)
    used = float(curves.expected[day - 1]) if day else 0.0
    par = made.par + used - float(curves.stock_left[day]) if made and made.par else 0.0
    if par <= float(curves.required[until]) + NEAR:
        held = np.flatnonzero(curves.required[: last + 1] <= level + NEAR)
        until = max(until, int(held[-1])) if len(held) else until
    wanted = float(curves.expected[until])
    safe = max(wanted, float(curves.required[until]))
    drawn = curves.days_met(start, min(level, wanted))
    safety = max(0.0, min(level, safe) - max(start, wanted))
    for_par = max(0.0, min(level, par) - max(start, safe))
    rounding = max(0.0, quantity - float(drawn.sum()) - safety - for_par)
    return Window(item, lines, day, until, start, drawn, safety, for_par, rounding)
