"""Orders as vendors are told them: of one vendor, for one delivery, under one number."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal

from ordering.records.buying import DeliveryKey, OrderLine
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.money import cents, fee_for, line_amount, price_at, price_per_said
from ordering.records.vendors import Offer


@dataclass(frozen=True, slots=True)
class Order:
    """What one vendor is asked to bring on one day.

    `number` is empty until one has been given. `amendment` counts the changes since it was first placed.
    `adds_to` are the numbers of earlier orders for the same delivery, `earlier` their money; `fee` is charged
    with this order. An order without lines is cancelled.
    """

    vendor: str
    deliver_on: date
    lines: tuple[OrderLine, ...]
    number: str = ""
    fee: Decimal = Decimal(0)
    earlier: Decimal = Decimal(0)
    adds_to: tuple[str, ...] = ()
    amendment: int = 0

    @property
    def delivery(self) -> DeliveryKey:
        """What tells its delivery from others."""
        return self.vendor, self.deliver_on

    @property
    def goods(self) -> Decimal:
        """Money of its lines."""
        return sum((line.amount for line in self.lines), Decimal(0))

    @property
    def total(self) -> Decimal:
        """Goods and fee."""
        return self.goods + self.fee


def line_of_offer(
    house: House, offer: Offer, packs: int, deliver_on: date, order_by: datetime, note: str = ""
) -> OrderLine:
    """A line of so many packs of an offer at the price the house has."""
    price = price_at(offer, packs)
    ingredient = house.ingredients[offer.item]
    return OrderLine(
        vendor=offer.vendor,
        code=offer.code,
        item=offer.item,
        description=offer.description or ingredient.name,
        packs=packs,
        pack=offer.pack,
        quantity=packs * offer.pack_quantity,
        unit=ingredient.unit,
        price=price,
        amount=line_amount(price, packs),
        order_by=order_by,
        deliver_on=deliver_on,
        is_catch_weight=offer.is_catch_weight,
        quoted=price_per_said(offer, price),
        note=note,
    )


def orders_of(
    house: House,
    lines: Iterable[OrderLine],
    numbers: Mapping[DeliveryKey, str],
    standing: Iterable[Placed] = (),
    earlier: Mapping[DeliveryKey, Decimal] | None = None,
) -> tuple[Order, ...]:
    """Lines as orders, by vendor and day, the lines of each as the vendor names them.

    Parameters
    ----------
    numbers : by vendor and day, as far as they have been given
    standing : what other runs have on order; it shares the fee and the minimum of a delivery
    earlier : money of what is on order for a delivery, where it is known better than from `standing`
    """
    groups: dict[DeliveryKey, list[OrderLine]] = {}
    for line in lines:
        groups.setdefault((line.vendor, line.deliver_on), []).append(line)
    others: dict[DeliveryKey, list[Placed]] = {}
    for p in standing:
        if p.packs > 0:
            others.setdefault((p.vendor, p.deliver_on), []).append(p)
    orders = []
    for drop in sorted(groups):
        mine = [p for p in others.get(drop, ()) if p.number != numbers.get(drop)]
        money = sum((p.amount for p in mine), Decimal(0))
        ranked = sorted(groups[drop], key=lambda line: (line.description, line.code))
        order = Order(
            *drop,
            tuple(ranked),
            number=numbers.get(drop, ""),
            earlier=(earlier or {}).get(drop, money),
            adds_to=tuple(sorted({p.number for p in mine})),
        )
        orders.append(replace(order, fee=_fee(house, order)))
    return tuple(orders)


def _fee(house: House, order: Order) -> Decimal:
    """The delivery fee; nothing where an earlier order has the van come anyway."""
    vendor = house.vendors.get(order.vendor)
    if vendor is None or not order.lines or order.adds_to or order.earlier:
        return Decimal(0)
    return fee_for(vendor, order.goods)


def short_of_minimum(house: House, order: Order) -> Decimal:
    """Money a delivery is short of its vendor's minimum, earlier orders for it counted; 0: nothing."""
    vendor = house.vendors.get(order.vendor)
    if vendor is None or not order.lines:
        return Decimal(0)
    return max(cents(vendor.minimum - order.goods - order.earlier), Decimal(0))
