"""Lines of orders: as they are booked, as they were placed. Pure."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date, datetime

from ordering.records.buying import OrderLine
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.money import offer_of
from ordering.records.vendor_orders import Order

LineKey = tuple[str, date, str]  # vendor, day of the delivery, code


def run_line_key(line: OrderLine) -> LineKey:
    """Which line of a run an order line is."""
    return line.vendor, line.deliver_on, line.code


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
