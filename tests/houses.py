"""Tiny houses built from records, for every test that needs one. Day 0 is `MONDAY` unless said."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import date, datetime, time, timedelta
from decimal import Decimal
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from ordering.days import span
from ordering.records.books import (
    BOOKINGS_COLUMNS,
    COVERS_COLUMNS,
    SALES_COLUMNS,
    Begun,
    Books,
    Lot,
    OpenOrder,
)
from ordering.records.buying import Delivery
from ordering.records.house import Consumable, Dish, House, Ingredient, Policy, Recipe, RecipeLine, Service
from ordering.records.plan import QUANTILES, Forecast, Slot
from ordering.records.vendors import DeliveryDay, Offer, Vendor

MONDAY = date(2026, 11, 23)
EVERY_DAY = frozenset(range(7))


def day(n: int) -> date:
    """Day n, counted from `MONDAY`."""
    return MONDAY + timedelta(days=n)


def ingredient(item: str, unit: str = "kg", **rest: Any) -> Ingredient:
    """An ingredient named after its id; keeps for ever unless `keeps_days` is given."""
    return Ingredient(item, item.replace("-", " ").capitalize(), unit, **rest)


def line(item: str, quantity: float, **rest: Any) -> RecipeLine:
    return RecipeLine(item, quantity, **rest)


def recipe(
    item: str, makes: float, lines: Mapping[str, float] | Iterable[RecipeLine], unit: str = "kg", **rest: Any
) -> Recipe:
    """A recipe; `lines` either {item: quantity a batch} or RecipeLines."""
    given = lines.items() if isinstance(lines, Mapping) else ()
    made = tuple(line(i, q) for i, q in given) if isinstance(lines, Mapping) else tuple(lines)
    return Recipe(item, item.replace("-", " ").capitalize(), unit, makes, made, **rest)


def dish(item: str, made_from: str, portion: float = 1.0, **rest: Any) -> Dish:
    """A dish on the menu of dinner."""
    price = rest.pop("price", None)
    services = frozenset(rest.pop("services", ("dinner",)))
    money = None if price is None else Decimal(str(price))
    return Dish(item, item.replace("-", " ").capitalize(), made_from, portion, money, services, **rest)


def begun(home: House, lots: Iterable[Lot]) -> tuple[Begun, ...]:
    """The batches behind lots in process: `takes` days before they are ready."""
    made = [(lot, home.recipes[lot.item]) for lot in lots if lot.ready_on and lot.item in home.recipes]
    return tuple(
        Begun(r.id, x.ready_on - timedelta(days=r.takes_days), x.quantity / r.makes)
        for x, r in made
        if x.ready_on is not None
    )


def coming(item: str, quantity: float, on: date, until: date | None = None) -> OpenOrder:
    """A scheduled receipt of nobody in particular."""
    return OpenOrder("", "", item, quantity, quantity, on, until)


def offer(vendor: str, item: str, pack: float = 1.0, price: object = "1.00", **rest: Any) -> Offer:
    """An offer of `pack` units of the item for `price` (None: no price)."""
    code = rest.pop("code", f"{vendor}-{item}")
    money = None if price is None else Decimal(str(price))
    return Offer(vendor, code, item, f"{pack:g}", pack, money, **rest)


def vendor(item: str, days: Iterable[int] = (2, 5), lead_days: int = 1, **rest: Any) -> Vendor:
    """A vendor that comes on these weekdays and is told `lead_days` (0 to 6) before, at 15:00."""
    weeks = rest.pop("weeks_ahead", 0)
    comes = tuple(DeliveryDay(d, (d - lead_days) % 7, time(15), weeks) for d in days)
    return Vendor(item, item.capitalize(), f"orders@{item}.example", deliveries=comes, **rest)


def house(
    ingredients: Iterable[Ingredient] = (),
    recipes: Iterable[Recipe] = (),
    dishes: Iterable[Dish] = (),
    vendors: Iterable[Vendor] = (),
    **rest: Any,
) -> House:
    """A house open for dinner every day, ordering on Mondays, service level 0.95 on one path."""
    rest.setdefault("services", {"dinner": Service("dinner", EVERY_DAY)})
    rest.setdefault("policy", Policy(paths=1))
    rest.setdefault("order_weekdays", frozenset({0}))
    rest["consumables"] = tuple(Consumable(*c) for c in rest.pop("consumables", ()))
    return House(
        "Test house",
        ingredients={i.id: i for i in ingredients},
        recipes={r.id: r for r in recipes},
        dishes={d.id: d for d in dishes},
        vendors={v.id: v for v in vendors},
        **rest,
    )


def forecast(
    home: House,
    portions: Mapping[str, ArrayLike],
    covers: ArrayLike | None = None,
    on: date = MONDAY,
    service: str = "dinner",
) -> Forecast:
    """A forecast of one service a day. `portions`: by dish, shape [day] or [day, path].

    `covers`: shape [day] or [day, path]; none given: all portions of the day.
    """
    given = {d: _by_path(p) for d, p in portions.items()}
    n_days = max(p.shape[0] for p in given.values())
    n_paths = max(p.shape[1] for p in given.values())
    dishes = tuple(home.dishes)
    eaten = np.zeros((len(dishes), n_days, n_paths))
    for row, name in enumerate(dishes):
        if name in given:
            eaten[row, : given[name].shape[0]] = given[name]
    guests = eaten.sum(axis=0) if covers is None else np.broadcast_to(_by_path(covers), (n_days, n_paths))
    days = span(on, n_days)
    slots = tuple(Slot(day, service, i) for i, day in enumerate(days))
    return Forecast(
        days=days,
        slots=slots,
        dishes=dishes,
        covers_mean=guests.mean(axis=-1),
        covers_quantiles=np.moveaxis(np.quantile(guests, QUANTILES, axis=-1), 0, -1),
        covers=np.array(guests),
        mean=eaten.mean(axis=-1),
        quantiles=np.moveaxis(np.quantile(eaten, QUANTILES, axis=-1), 0, -1),
        portions=eaten,
        party=np.zeros(eaten.shape[:2]),
        booked=np.full(n_days, np.nan),
    )


def _by_path(given: ArrayLike) -> np.ndarray[Any, np.dtype[np.float64]]:
    array = np.asarray(given, dtype=np.float64)
    return array[:, None] if array.ndim == 1 else array


def deliveries(
    vendor_id: str, days: Iterable[int], on: date = MONDAY, lead_days: int = 1, now_until: int = 7
) -> dict[str, tuple[Delivery, ...]]:
    """Deliveries of a vendor on these day indices; `is_now` when the cut-off is before `now_until`."""
    return {
        vendor_id: tuple(
            Delivery(
                vendor_id,
                datetime.combine(on + timedelta(days=d - lead_days), time(15)),
                on + timedelta(days=d),
                d,
                d - lead_days < now_until,
            )
            for d in days
        )
    }


def books(
    sales: Sequence[tuple[str, str, str, float]] = (),
    covers: Sequence[tuple[str, str, float]] = (),
    **rest: Any,
) -> Books:
    """Books with rows (date, service, dish, sold) and (date, service, covers), sorted by date."""
    sold = pd.DataFrame([(*row, False) for row in sales], columns=list(SALES_COLUMNS))
    sat = pd.DataFrame(list(covers), columns=list(COVERS_COLUMNS))
    booked = pd.DataFrame([], columns=list(BOOKINGS_COLUMNS))
    for table in (sold, sat, booked):
        table["date"] = pd.to_datetime(table["date"])
    booked["taken_on"] = pd.to_datetime(booked["taken_on"])
    sold["sold"] = sold["sold"].astype("float64")
    sold["sold_out"] = sold["sold_out"].astype("bool")
    sat["covers"] = sat["covers"].astype("float64")
    return Books(sales=sold.sort_values("date"), covers=sat.sort_values("date"), bookings=booked, **rest)
