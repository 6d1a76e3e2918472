"""Which portions a lack of an item hits, gathered from netting and buying into one hole a day."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date

import numpy as np

from ordering.explain.content import parents, per_portion
from ordering.explain.trace import Trace, trace
from ordering.records.buying import Buying, Shortfall
from ordering.records.house import House
from ordering.records.optional import optional_users
from ordering.records.plan import Forecast, Netting

Portions = Mapping[tuple[str, date, str], float]

_NEAR = 1e-6
_MARGIN_ALONE = 0.05
"""Share of a lack below which what is expected is met and only the margin is not."""


@dataclass(frozen=True, slots=True)
class Hole:
    """What one item lacks on one day; `causes` the weightiest first; `portions` as in Shortfall.

    `expected` is the part of `short` that is expected to be wanted, the rest is what the service level
    adds; infinite where all of it is. `is_margin`: next to none of it is. `under_way`: recipes of batches
    under way that draw it. `users`: recipes that can go without it.
    """

    item: str
    on: date
    short: float
    causes: tuple[str, ...]
    portions: Portions = field(default_factory=dict)
    expected: float = math.inf
    under_way: tuple[str, ...] = ()
    users: tuple[str, ...] = ()

    @property
    def is_margin(self) -> bool:
        return self.expected < _MARGIN_ALONE * self.short

    @property
    def is_optional(self) -> bool:
        return bool(self.users) and not self.portions and not self.under_way

    def n_portions(self) -> float:
        return sum(self.portions.values())


def holes(
    house: House, netting: Netting, buying: Buying, forecast: Forecast, traced: Trace | None = None
) -> list[Hole]:
    """Every hole, one per item and day, the earliest and then the largest first.

    Where netting already says that an item lacks on a day, what buying says of it is the same lack
    with its margin, and is left out.
    """
    found = _from_netting(netting)
    known = {(hole.item, hole.on) for hole in found}
    unmet = [row for row in buying.unmet if row.short > _NEAR and (row.item, row.needed_on) not in known]
    rows = [row for row in unmet if row.item in netting.flows and row.needed_on in forecast.days]
    if rows:
        traced = traced or trace(house, netting.flows, len(forecast.days))
        found += _from_buying(house, netting, rows, forecast, traced)
    users = optional_users(house)
    found = [replace(hole, users=users.get(hole.item, ())) for hole in found]
    return sorted(found, key=lambda hole: (hole.on, -hole.n_portions(), hole.item))


def expected_portions(forecast: Forecast) -> dict[tuple[str, date, str], float]:
    """Mean portions by (dish, date, service), those above zero."""
    dishes, slots = np.nonzero(forecast.mean > 0)
    return {
        (forecast.dishes[d], forecast.slots[s].date, forecast.slots[s].service): float(forecast.mean[d, s])
        for d, s in zip(dishes.tolist(), slots.tolist(), strict=True)
    }


def _from_netting(netting: Netting) -> list[Hole]:
    short: dict[tuple[str, date], dict[str, float]] = {}
    portions: dict[tuple[str, date], dict[tuple[str, date, str], float]] = {}
    under_way: dict[tuple[str, date], tuple[str, ...]] = {}
    for row in netting.shortfalls:
        if row.short <= _NEAR:
            continue
        key = (row.item, row.needed_on)
        causes = short.setdefault(key, {})
        causes[row.cause] = causes.get(row.cause, 0.0) + row.short
        under_way[key] = row.under_way
        hit = portions.setdefault(key, {})
        for sold, number in row.portions.items():
            hit[sold] = hit.get(sold, 0.0) + number
    return [
        Hole(
            *key,
            sum(causes.values()),
            tuple(sorted(causes, key=lambda c: (-causes[c], c))),
            portions[key],
            under_way=under_way[key],
        )
        for key, causes in short.items()
    ]


def _from_buying(
    house: House, netting: Netting, rows: Sequence[Shortfall], forecast: Forecast, traced: Trace
) -> list[Hole]:
    """Holes of bought items, their lack traced up to the portions it hits."""
    n_days = len(forecast.days)
    drawn, kept = [], []
    for row in rows:
        day = (row.needed_on - forecast.days[0]).days
        at = np.zeros(n_days)
        at[day] = min(row.short, float(netting.flows[row.item].planned[day]))
        drawn.append((row.item, at))
        kept.append(at[day])
    ended = traced.ended(traced.source(drawn))
    above = parents(house)
    items = {row.item for row in rows}
    content = {item: per_portion(house, item, above) for item in items}
    needed = {item: per_portion(house, item, above, is_needed=True) for item in items}
    keys = [(end, day) for end in traced.ends for day in forecast.days]
    served = _by_day(expected_portions(forecast))
    found = []
    for n, (row, lack) in enumerate(zip(rows, kept, strict=True)):
        hit = _portions(traced.parts(ended, n, keys), (content[row.item], needed[row.item]), served)
        found.append(Hole(row.item, row.needed_on, row.short, (row.cause,), hit, lack))
    return found


def _by_day(expected: Portions) -> dict[tuple[str, date], dict[str, float]]:
    by_day: dict[tuple[str, date], dict[str, float]] = {}
    for (dish, on, service), number in expected.items():
        by_day.setdefault((dish, on), {})[service] = number
    return by_day


def _portions(
    quantity: Mapping[tuple[str, date], float],
    content: tuple[Mapping[str, float], Mapping[str, float]],
    served: Mapping[tuple[str, date], Mapping[str, float]],
) -> dict[tuple[str, date, str], float]:
    """Portions that a quantity lacking would have served, spread over the services of its day.

    content : by dish, what a portion holds of the item and what of that it cannot be served without: what
    is optional goes first
    """
    whole, needed = content
    hit = {}
    for (dish, on), lack in quantity.items():
        services = served.get((dish, on), {})
        total = sum(services.values())
        each = needed.get(dish, 0.0)
        spared = (whole.get(dish, 0.0) - each) * total
        number = min(max(0.0, lack - spared) / each, total) if each else 0.0
        for service, share in services.items():
            if number * share > _NEAR * total:
                hit[(dish, on, service)] = number * share / total
    return hit
