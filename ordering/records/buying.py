"""What can be had and when: deliveries, order lines, what falls short, pars."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal

DeliveryKey = tuple[str, date]
"""Vendor and day: what tells a delivery from every other."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """A delivery that can still be ordered. `is_now`: its cut-off falls before the next run."""

    vendor: str
    order_by: datetime
    deliver_on: date
    day: int
    is_now: bool


@dataclass(frozen=True, slots=True)
class OrderLine:
    """A row of orders.csv or outlook.csv. `price` is of one pack; `amount` is rounded once."""

    vendor: str
    code: str
    item: str
    description: str
    packs: int
    pack: str
    quantity: float
    unit: str
    price: Decimal | None
    amount: Decimal
    order_by: datetime
    deliver_on: date
    is_catch_weight: bool = False
    quoted: str = ""
    note: str = ""

    @property
    def key(self) -> tuple[str, str, date]:
        """What tells a line from every other: vendor, code and day, as in pegging.csv."""
        return self.vendor, self.code, self.deliver_on


@dataclass(frozen=True, slots=True)
class Shortfall:
    """What an item falls short by on the day it is drawn, before words are found for it.

    `short` is in its unit. `cause`: no-delivery, no-time, capacity, expires, vendor-closed, no-offer,
    no-batch or not-worth (a pack costs more than it saves). From netting with the `portions` not served, by
    (dish, date, service), and `under_way`, the recipes begun that draw it; from buying without: there no
    delivery brings what is required in time, or none is worth it.
    """

    item: str
    needed_on: date
    short: float
    cause: str
    portions: Mapping[tuple[str, date, str], float] = field(default_factory=dict)
    under_way: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class ParAdvice:
    """Par in use beside the par the forecast would justify, by weekday of delivery."""

    item: str
    par: float | None
    justified: Mapping[int, float]
    reason: str
    flag: str = ""


@dataclass(frozen=True, slots=True)
class Buying:
    """`bound_gap` is (cost - lower bound) / cost of the day's decision.

    `warnings` are those of the `notes` that need attention before the orders go out. `placed` is the
    money of earlier orders, by vendor and day of delivery: what is ordered now comes with them.
    """

    orders: tuple[OrderLine, ...]
    outlook: tuple[OrderLine, ...]
    unmet: tuple[Shortfall, ...] = ()
    pars: tuple[ParAdvice, ...] = ()
    fees: Mapping[DeliveryKey, Decimal] = field(default_factory=dict)
    bound_gap: float = 0.0
    notes: tuple[str, ...] = ()
    warnings: tuple[str, ...] = ()
    placed: Mapping[DeliveryKey, Decimal] = field(default_factory=dict)
