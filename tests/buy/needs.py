"""Requirements and decisions for the buying tests, and what a delivery plan must do, checked day by day."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal

import numpy as np
from houses import MONDAY, house, ingredient, vendor

from ordering.buy.choices import BuyingProblem
from ordering.buy.deliveries import open_deliveries
from ordering.buy.model import Packs, build
from ordering.buy.orders import choose_orders
from ordering.buy.program import solved
from ordering.days import span
from ordering.records.buying import Buying, OrderLine
from ordering.records.house import House
from ordering.records.plan import Requirement

NOW = datetime(2026, 11, 23, 9, 0)
NEXT_RUN = date(2026, 11, 30)


def need(item: str, by_day: Mapping[int, float], n_days: int = 14, stock: float = 0.0) -> Requirement:
    """Certain need of these days, nothing in the house unless `stock` says what lies there unused."""
    daily = np.zeros(n_days)
    for day, quantity in by_day.items():
        daily[day] = quantity
    total = np.cumsum(daily)
    return Requirement(item, total, total, np.full(n_days, stock), 0.95)


def bought(
    home: House,
    *needs: Requirement,
    now: datetime = NOW,
    next_run: date = NEXT_RUN,
    **rest: object,
) -> Buying:
    """The buying decision of a house on Monday at nine, the next run a week later unless said."""
    n_days = len(needs[0].required)
    days = span(MONDAY, n_days)
    deliveries = open_deliveries(home, now, next_run, days)
    return choose_orders(home, {r.item: r for r in needs}, deliveries, days, **rest)  # type: ignore[arg-type]


def packs(lines: Iterable[OrderLine]) -> list[tuple[str, int, int]]:
    """(code, day counted from Monday, packs) of each line."""
    return sorted((line.code, (line.deliver_on - MONDAY).days, line.packs) for line in lines)


def money(buying: Buying) -> Decimal:
    """Goods and fees of the orders."""
    return sum((line.amount for line in buying.orders), Decimal(0)) + sum(buying.fees.values(), Decimal(0))


def cost_of_packs(question: BuyingProblem, chosen: Packs) -> float:
    """Cost of given packs with the best that later deliveries can add; infinite where they do not cover."""
    model = build(question)
    low, high = model.program.low.copy(), model.program.high.copy()
    for i, (c, n) in enumerate(zip(question.choices, chosen.tolist(), strict=True)):
        if c.delivery.is_now:
            if i in model.at.step:
                low[model.at.step[i]] = high[model.at.step[i]] = float(n > 0)
                n -= c.low if n else 0
            low[i] = high[i] = n
    found = solved(replace(model.program, low=low, high=high))
    return np.inf if found is None else found.cost


def lacking(
    daily: Sequence[float], deliveries: Iterable[tuple[int, float]], keeps_days: int | None
) -> list[float]:
    """What each day lacks when goods are used first in, first out and thrown away when they have spoilt."""
    lots = [[day, quantity] for day, quantity in sorted(deliveries)]
    short = []
    for day, wanted in enumerate(daily):
        for lot in lots:
            if lot[0] <= day and (keeps_days is None or day <= lot[0] + keeps_days):
                taken = min(lot[1], wanted)
                lot[1] -= taken
                wanted -= taken
        short.append(wanted)
    return short


def shop(*offers, keeps_days=None, par=None, item="rice", vendors=None, **rest):
    ids = sorted({o.vendor for o in offers})
    things = ingredient(item, offers=offers, keeps_days=keeps_days, par=par)
    return house([things], vendors=vendors or [vendor(i, (1,)) for i in ids], **rest)
