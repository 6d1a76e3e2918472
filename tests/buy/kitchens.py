"""Random kitchens for the buying stage: vendors, offers and requirement curves from a seed."""

from __future__ import annotations

from datetime import date, datetime, time
from decimal import Decimal

import numpy as np

from ordering.buy.deliveries import open_deliveries
from ordering.days import span
from ordering.records.buying import Delivery
from ordering.records.house import House, Ingredient
from ordering.records.plan import Requirement
from ordering.records.vendors import DeliveryDay, Offer, Vendor

ON = date(2026, 11, 26)
NEXT_RUN = date(2026, 12, 3)
NOW = datetime(2026, 11, 26, 9, 0)
PACKS = (0.5, 1.0, 2.0, 2.5, 5.0, 10.0)
KEEPS = (2, 3, 4, 5, 7, 10, 14, 21, 60, None, None, None)


def kitchen(
    n_items: int, n_vendors: int, seed: int, harsh: float = 1.0, n_days: int = 28, pars: float = 0.1
) -> tuple[House, dict[str, Requirement], dict[str, tuple[Delivery, ...]], tuple[date, ...]]:
    """House, requirements, deliveries and days; `harsh` scales minimums, `pars` is the share with a par."""
    rng = np.random.default_rng(seed)
    days = span(ON, n_days)
    vendors = {v.id: v for v in (_vendor(rng, i, harsh) for i in range(n_vendors))}
    ingredients = {}
    requirements = {}
    for i in range(n_items):
        item = f"item-{i:04d}"
        week = float(rng.lognormal(1.2, 1.0))
        offers = _offers(rng, item, list(vendors), week)
        par = round(week * float(rng.uniform(0.2, 0.8)), 1) if rng.random() < pars else None
        keeps = KEEPS[rng.integers(len(KEEPS))]
        ingredients[item] = Ingredient(item, item, "kg", keeps_days=keeps, par=par, offers=offers)
        requirements[item] = _requirement(rng, item, week, n_days)
    house = House("Random", vendors=vendors, ingredients=ingredients)
    return house, requirements, open_deliveries(house, NOW, NEXT_RUN, days), days


def _vendor(rng: np.random.Generator, i: int, harsh: float) -> Vendor:
    weekdays = sorted(rng.choice(6, size=int(rng.integers(2, 5)), replace=False).tolist())
    lead = int(rng.integers(1, 3))
    ahead = int(rng.random() < 0.1)
    deliveries = tuple(DeliveryDay(d, (d - lead) % 7, time(15), ahead) for d in weekdays)
    minimum = Decimal(int(rng.integers(4, 16) * 10 * harsh))
    fee = Decimal(int(rng.integers(0, 3) * 5))
    waived = minimum * 2 if fee and rng.random() < 0.6 else None
    return Vendor(
        f"vendor-{i:02d}",
        f"Vendor {i}",
        deliveries=deliveries,
        minimum=minimum,
        delivery_fee=fee,
        fee_waived_over=waived,
    )


def _offers(rng: np.random.Generator, item: str, vendors: list[str], week: float) -> tuple[Offer, ...]:
    price = float(rng.lognormal(1.8, 0.8))
    offers = []
    sellers = rng.choice(len(vendors), size=min(int(rng.integers(1, 4)), len(vendors)), replace=False)
    for s in sellers.tolist():
        sizes = rng.choice(len(PACKS), size=int(rng.integers(1, 3)), replace=False)
        ask = price * float(rng.uniform(0.9, 1.15))
        for k in sorted(sizes.tolist()):
            pack = PACKS[k] * (10 if week > 60 else 1)
            each = round(ask * pack * (1 - 0.04 * k) * float(rng.uniform(0.97, 1.03)), 2)
            breaks = ((4, Decimal(str(round(each * 0.94, 2)))),) if rng.random() < 0.15 else ()
            offers.append(
                Offer(
                    vendors[s],
                    f"{item}-{s}-{k}",
                    item,
                    f"{pack} kg",
                    pack,
                    Decimal(str(max(each, 0.1))),
                    breaks=breaks,
                    is_preferred=bool(rng.random() < 0.2),
                )
            )
    return tuple(offers)


def _requirement(rng: np.random.Generator, item: str, week: float, n_days: int) -> Requirement:
    shape = np.array([0.0, 0.5, 0.8, 1.0, 1.6, 1.8, 1.3])
    daily = week * np.array([shape[(ON.weekday() + t) % 7] for t in range(n_days)]) / shape.sum()
    daily *= rng.uniform(0.8, 1.2, n_days)
    stock = week * float(rng.uniform(0, 0.9))
    total = np.cumsum(daily)
    spread = 1.64 * float(rng.uniform(0.1, 0.4)) * np.sqrt(np.cumsum(daily**2))
    expected = np.maximum(total - stock, 0)
    required = np.maximum.accumulate(np.maximum(total + spread - stock, 0))
    left = np.maximum(stock - np.concatenate([[0.0], total[:-1]]), 0)
    return Requirement(item, required, expected, left, 0.95)
