"""Pasts and houses for forecast tests, made by seeded rules that each test can read off."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pandas as pd

from ordering.records.books import Books
from ordering.records.house import Dish, House, Service

ON = date(2026, 11, 26)
EVERY_DAY = frozenset(range(7))


def home(*dishes: Dish, weekdays: frozenset[int] = EVERY_DAY, **rest: object) -> House:
    """A house with one service, dinner."""
    rest.setdefault("services", {"dinner": Service("dinner", weekdays)})
    return House("Test house", dishes={d.id: d for d in dishes}, **rest)


def plate(item: str, **rest: object) -> Dish:
    rest.setdefault("services", frozenset({"dinner"}))
    return Dish(item, item.capitalize(), "recipe", 1.0, **rest)


def days_before(n_days: int, on: date = ON) -> list[date]:
    return [on - timedelta(days=n_days - n) for n in range(n_days)]


def weekly(n_days: int, level: float = 50.0, seed: int = 0, on: date = ON) -> np.ndarray:
    """Covers with a weekday pattern, a yearly wave and some scatter beyond Poisson."""
    rng = np.random.default_rng(seed)
    days = days_before(n_days, on)
    weekday = np.array([1.0, 0.7, 0.8, 0.9, 1.1, 1.4, 1.1])[[d.weekday() for d in days]]
    wave = np.exp(0.15 * np.sin(2 * np.pi * np.array([d.toordinal() for d in days]) / 365.25))
    return rng.poisson(level * weekday * wave * np.exp(0.1 * rng.standard_normal(n_days))).astype(float)


def covers_table(values: np.ndarray, on: date = ON, service: str = "dinner") -> pd.DataFrame:
    """Rows of covers; NaN is a day without a row."""
    days = days_before(len(values), on)
    rows = [(d, service, v) for d, v in zip(days, values, strict=True) if np.isfinite(v)]
    table = pd.DataFrame(rows, columns=["date", "service", "covers"])
    return table.astype({"date": "datetime64[ns]", "covers": "float64"})


def sales_table(
    sold: dict[str, np.ndarray],
    on: date = ON,
    sold_out: dict[str, np.ndarray] | None = None,
    service: str = "dinner",
) -> pd.DataFrame:
    """Rows of sales, zeros left out as a till leaves them out."""
    gone = sold_out or {}
    rows = []
    for dish, values in sold.items():
        days = days_before(len(values), on)
        flags = gone.get(dish, np.zeros(len(values), dtype=bool))
        rows += [(d, service, dish, v, f) for d, v, f in zip(days, values, flags, strict=True) if v > 0]
    table = pd.DataFrame(rows, columns=["date", "service", "dish", "sold", "sold_out"])
    return table.astype({"date": "datetime64[ns]", "sold": "float64", "sold_out": "bool"})


def books_of(
    covers: np.ndarray | None = None, sold: dict[str, np.ndarray] | None = None, **rest: object
) -> Books:
    """Books of one service, dinner, up to the day before `ON`."""
    known = {}
    if covers is not None:
        known["covers"] = covers_table(covers)
    if sold is not None:
        known["sales"] = sales_table(sold, sold_out=rest.pop("sold_out", None))
    return Books(**known, **rest)


def menu_of(covers: np.ndarray, shares: dict[str, float], seed: int = 3) -> dict[str, np.ndarray]:
    """Portions sold, each dish with a stream of its own."""
    return {
        dish: np.random.default_rng([seed, n]).poisson(np.nan_to_num(covers) * share).astype(float)
        for n, (dish, share) in enumerate(shares.items())
    }


def ordinary(n_days: int = 400) -> tuple[House, Books]:
    covers = weekly(n_days)
    house = home(plate("duck"), plate("pie"), plate("oysters"), holiday_country="GB")
    return house, books_of(covers, menu_of(covers, {"duck": 0.3, "pie": 0.15, "oysters": 0.01}))
