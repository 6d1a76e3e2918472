"""What a purchaser is told of a placing: orders, what changed in them, what was left out or taken back."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import groupby

from ordering.amounts import plural
from ordering.days import format_day
from ordering.ledger.sheet_changes import changes
from ordering.records.buying import DeliveryKey, OrderLine
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.money import cents
from ordering.records.vendor_orders import Order
from ordering.texts import listed


def placed_told(house: House, run: str, orders: Sequence[Order]) -> Iterator[str]:
    """What is placed with each vendor, with its number and fee."""
    if orders:
        yield f"Placed {run}:"
    for order in orders:
        delivery = f" and {cents(order.fee):,} for delivery" if order.fee else ""
        money = f"{cents(order.goods):,} {house.currency}".rstrip()
        adds = f", in addition to {', '.join(order.adds_to)}" if order.adds_to else ""
        name = house.vendors[order.vendor].name
        what = plural(len(order.lines), "line")
        yield f"  {order.number} {name}, for {format_day(order.deliver_on)}: {what}, {money}{delivery}{adds}"


def new_told(
    house: House, drop: DeliveryKey, proposed: Iterable[OrderLine], on_sheets: Iterable[OrderLine]
) -> Iterator[str]:
    """What is placed of a delivery for the first time otherwise than the run proposes."""
    was, now = (
        [line for line in lines if (line.vendor, line.deliver_on) == drop] for lines in (proposed, on_sheets)
    )
    return (f"  {said}" for said in changes(house, was, now, is_placed=False))


def amended_told(house: House, before: Order, now: Order) -> Iterator[str]:
    """An order that is placed already, and what changes of it."""
    order = f"order {now.number}, {house.vendors[now.vendor].name}, {format_day(now.deliver_on)}"
    if not now.lines:
        yield f"cancelled: {order}"
        return
    yield f"amended: {order}"
    yield from (f"  {said}" for said in changes(house, before.lines, now.lines, is_placed=True))


def left_out_told(house: House, drops: Iterable[DeliveryKey]) -> Iterator[str]:
    """Deliveries of the run that are still to be placed, a line a vendor."""
    for vendor, group in groupby(sorted(drops), key=lambda drop: drop[0]):
        days = listed([format_day(day) for _, day in group])
        yield f"left out: {house.vendors[vendor].name}, {days}: not placed now"


def taken_told(taken: Iterable[Placed]) -> Iterator[str]:
    """Lines of other orders that this run takes the place of."""
    return (f"cancelled: order {p.number}: {p.code}, {plural(p.packs, 'pack')}" for p in taken)
