"""Vendors as the stages see them: when each comes, on what terms, and what it sells."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, time
from decimal import Decimal


@dataclass(frozen=True, slots=True)
class DeliveryDay:
    """A weekday on which a vendor comes, and until when it must be told."""

    weekday: int
    order_by_weekday: int
    order_by_time: time
    weeks_ahead: int = 0


@dataclass(frozen=True, slots=True)
class Vendor:
    """Who delivers, on which days and on what terms.

    `house`: the house of the group that this vendor is. `joint_minimum`: what all houses of the group have to
    reach together; `minimum`, which this house has to reach alone, is then nothing.
    """

    id: str
    name: str
    email: str = ""
    contact: str = ""
    phone: str = ""
    takes_ubl: bool = False
    account: str = ""
    notes: str = ""
    deliveries: tuple[DeliveryDay, ...] = ()
    minimum: Decimal = Decimal(0)
    delivery_fee: Decimal = Decimal(0)
    fee_waived_over: Decimal | None = None
    closed: frozenset[date] = frozenset()
    house: str = ""
    joint_minimum: Decimal | None = None

    def is_due(self, day: date) -> bool:
        """Whether it comes on that weekday, were it not closed."""
        return any(delivery.weekday == day.weekday() for delivery in self.deliveries)

    def delivers(self, day: date) -> bool:
        """Whether it comes on that day."""
        return self.is_due(day) and day not in self.closed


@dataclass(frozen=True, slots=True)
class Offer:
    """What a vendor sells of an ingredient.

    `pack` is as written (`6 x 1 kg`); `pack_quantity` is one pack in the item's unit, for catch
    weight the expected one. `price` is money for one pack, for catch weight the expected one;
    `price_per` is then the price as quoted, per one `per_unit`. `breaks` holds (packs, price of
    each pack from that many on), ascending, in the terms of `price`. `from_on`, `until`: the days on
    which it is delivered, both inclusive.
    """

    vendor: str
    code: str
    item: str
    pack: str
    pack_quantity: float
    price: Decimal | None
    is_catch_weight: bool = False
    price_per: Decimal | None = None
    per_unit: str = ""
    breaks: tuple[tuple[int, Decimal], ...] = ()
    is_preferred: bool = False
    until: date | None = None
    from_on: date | None = None
    description: str = ""

    def holds_on(self, deliver_on: date) -> bool:
        """Whether the offer holds for goods delivered on that day."""
        is_begun = self.from_on is None or deliver_on >= self.from_on
        return is_begun and (self.until is None or deliver_on <= self.until)
