"""Small plans made by hand: a kitchen planned along one path, simply enough to be checked by eye.

`netted` plans every item day by day: stock, receipts, then makings in batches as late as possible. It
shares no code with the program and keeps no service level: what is expected is what is required, plus a
margin the test gives.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping
from datetime import date, datetime, time, timedelta
from decimal import Decimal

import numpy as np

from ordering.explain.pegging import delivery_windows, pegging
from ordering.explain.trace import trace
from ordering.records.books import Lot
from ordering.records.buying import Buying, OrderLine
from ordering.records.house import House
from ordering.records.plan import Forecast, ItemFlow, Netting, Opening, Peg, Plan, Requirement, Slot

ON = date(2026, 11, 26)


def days_from(n_days: int) -> tuple[date, ...]:
    return tuple(ON + timedelta(days=n) for n in range(n_days))


def forecast_of(portions: Mapping[str, list[float]], n_days: int, service: str = "dinner") -> Forecast:
    """A forecast without spread: `portions` of each dish by day, one service a day, two paths."""
    days = days_from(n_days)
    mean = np.array([np.resize(np.asarray(p, float), n_days) for p in portions.values()])
    covers = mean.sum(axis=0)
    return Forecast(
        days=days,
        slots=tuple(Slot(day, service, n) for n, day in enumerate(days)),
        dishes=tuple(portions),
        covers_mean=covers,
        covers_quantiles=np.repeat(covers[:, None], 7, axis=1),
        covers=np.repeat(covers[:, None], 2, axis=1),
        mean=mean,
        quantiles=np.repeat(mean[:, :, None], 7, axis=2),
        portions=np.repeat(mean[:, :, None], 2, axis=2),
        party=np.zeros_like(mean),
        booked=np.full(n_days, np.nan),
    )


def netted(
    house: House,
    forecast: Forecast,
    opening: Mapping[str, float] | None = None,
    margin: float = 0.0,
    receipts: Mapping[str, Mapping[int, float]] | None = None,
) -> Netting:
    """Every item planned along the one path; `margin` is added to what is required, as a share."""
    n_days = len(forecast.days)
    draws: dict[str, dict[str, np.ndarray]] = defaultdict(dict)
    for dish, portions in zip(forecast.dishes, forecast.mean, strict=True):
        draws[house.dishes[dish].recipe][f"dish:{dish}"] = portions * house.dishes[dish].portion
    for consumable in house.consumables:
        _add(draws[consumable.item], "*consumables", np.full(n_days, consumable.quantity))
    flows: dict[str, ItemFlow] = {}
    for item in _parents_first(house):
        coming = np.zeros(n_days)
        for day, quantity in (receipts or {}).get(item, {}).items():
            coming[day] += quantity
        flow = _flow(house, item, draws[item], (opening or {}).get(item, 0.0), coming)
        flows[item] = flow
        if item in house.recipes:
            recipe = house.recipes[item]
            for line in recipe.lines:
                drawn = np.zeros(n_days)
                for ready in np.flatnonzero(flow.planned):
                    on = ready - recipe.takes_days + line.at_days
                    if on >= 0:
                        drawn[on] += flow.planned[ready] / recipe.makes * line.drawn
                _add(draws[line.item], item, drawn)
    requirements = {
        item: Requirement(
            item,
            np.cumsum(flow.planned) * (1 + margin),
            np.cumsum(flow.planned),
            np.maximum(flow.opening + np.cumsum(flow.scheduled) - np.cumsum(flow.gross) + flow.gross, 0.0),
            0.95,
            "house policy",
        )
        for item, flow in flows.items()
        if item in house.ingredients
    }
    return Netting(flows, requirements, (), (), dict.fromkeys(flows, 0.95))


def _add(draws: dict[str, np.ndarray], parent: str, quantity: np.ndarray) -> None:
    draws[parent] = draws.get(parent, 0.0) + quantity


def _parents_first(house: House) -> list[str]:
    order: list[str] = []

    def visit(item: str) -> None:
        if item not in order:
            for recipe in house.recipes.values():
                if any(line.item == item for line in recipe.lines):
                    visit(recipe.id)
            order.append(item)

    for item in (*house.recipes, *house.ingredients):
        visit(item)
    return order


def _flow(
    house: House, item: str, draws: Mapping[str, np.ndarray], opening: float, coming: np.ndarray
) -> ItemFlow:
    n_days = len(coming)
    gross = sum(draws.values(), np.zeros(n_days))
    planned, projected = np.zeros(n_days), np.zeros(n_days)
    recipe = house.recipes.get(item)
    stock = opening
    for day in range(n_days):
        stock += coming[day]
        lack = gross[day] - stock
        if lack > 1e-9:
            planned[day] = (
                math.ceil(lack / recipe.makes - 1e-9) * recipe.makes if recipe and recipe.is_whole else lack
            )
        stock += planned[day] - gross[day]
        projected[day] = stock
    nothing = np.zeros(n_days)
    return ItemFlow(
        item, opening, gross, draws, coming, nothing, nothing, planned, nothing, projected, nothing
    )


def line(
    house: House,
    item: str,
    day: int,
    packs: int,
    pack_quantity: float,
    *,
    vendor: str = "quay",
    code: str = "",
) -> OrderLine:
    return OrderLine(
        vendor=vendor,
        code=code or f"Q-{item}",
        item=item,
        description=house.name_of(item),
        packs=packs,
        pack=f"{pack_quantity:g} {house.unit_of(item)}",
        quantity=packs * pack_quantity,
        unit=house.unit_of(item),
        price=Decimal("2.00"),
        amount=Decimal("2.00") * packs,
        order_by=datetime.combine(ON, time(15)),
        deliver_on=ON + timedelta(days=day),
    )


def pegged(house: House, netting: Netting, buying: Buying, forecast: Forecast) -> tuple[Peg, ...]:
    days = forecast.days
    windows = delivery_windows(house, netting, buying, days)
    return pegging(buying, windows, trace(house, netting.flows, len(days)), days)


def plan_of(house: House, forecast: Forecast, netting: Netting, buying: Buying, **more: object) -> Plan:
    lots = tuple(Lot(item, flow.opening) for item, flow in netting.flows.items() if flow.opening)
    windows = delivery_windows(house, netting, buying, forecast.days)
    given = {"shortages": (), "pegging": (), "windows": windows, **more}
    return Plan(
        on=ON,
        now=datetime.combine(ON, time()),
        next_run=ON + timedelta(days=7),
        days=forecast.days,
        forecast=forecast,
        opening=Opening(lots=lots),
        netting=netting,
        buying=buying,
        **given,
    )
