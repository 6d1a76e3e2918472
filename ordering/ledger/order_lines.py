"""Lines of orders: as an offer gives them, as they are booked, as they were placed. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime
from decimal import Decimal

from ordering.records.buying import OrderLine
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.money import cents, offer_of, price_at
from ordering.records.vendor_orders import Order
from ordering.records.vendors import Offer

LineKey = tuple[str, date, str]  # vendor, day of the delivery, code


def run_line_key(line: OrderLine) -> LineKey:
    """Which line of a run an order line is."""
    return line.vendor, line.deliver_on, line.code


def offered(house: House, offer: Offer, packs: int, deliver_on: date, order_by: datetime) -> OrderLine:
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
        amount=Decimal(0) if price is None else cents(price * packs),
        order_by=order_by,
        deliver_on=deliver_on,
        is_catch_weight=offer.is_catch_weight,
        quoted=f"{offer.price_per} per {offer.per_unit}" if offer.price_per is not None else "",
    )


def placed_lines(order: Order, proposed: Mapping[LineKey, int], run: str, on: date) -> tuple[Placed, ...]:
    """The lines of an order as they are booked; `proposed` are the packs of the run."""
    return tuple(
        Placed(
            number=order.number,
            run=run,
            vendor=line.vendor,
            code=line.code,
            item=line.item,
            packs=line.packs,
            proposed=proposed.get(run_line_key(line), 0),
            quantity=line.quantity,
            unit=line.unit,
            price=line.price,
            amount=line.amount,
            deliver_on=line.deliver_on,
            placed_on=on,
        )
        for line in order.lines
    )


def line_of_placed(house: House, placed: Placed) -> OrderLine:
    """A line as it was placed, with what the vendor calls it as the house now has it."""
    offer = offer_of(house, placed.item, placed.vendor, placed.code)
    day = datetime.combine(placed.deliver_on, datetime.min.time())
    return OrderLine(
        vendor=placed.vendor,
        code=placed.code,
        item=placed.item,
        description=(offer.description if offer else "") or name_of(house, placed.item),
        packs=placed.packs,
        pack=offer.pack if offer else "",
        quantity=placed.quantity,
        unit=placed.unit,
        price=placed.price,
        amount=placed.amount,
        order_by=day,
        deliver_on=placed.deliver_on,
        is_catch_weight=offer is not None and offer.is_catch_weight,
    )


def name_of(house: House, item: str) -> str:
    """The name of an item; its id where the house no longer has it."""
    return house.name_of(item) if item in house.ingredients else item
