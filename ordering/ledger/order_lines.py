"""Lines of orders: read back from a run, as they are booked and placed, what is said of them. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Iterator, Mapping
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from ordering.days import day_and_time, format_day
from ordering.faults import Fault, nearest
from ordering.records.buying import DeliveryKey, OrderLine
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.money import cents, offer_of, price_per_said
from ordering.records.vendor_orders import Order, short_of_minimum

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


_ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)*", re.ASCII)
_RIGHT = "make the run again with 'order'; packs are changed in the vendor's sheet, not here"


def run_lines(
    table: Iterable[Mapping[str, str]], place: str, house: House
) -> tuple[list[OrderLine], list[Fault]]:
    """Rows of orders.csv, which messages call `place`, as lines, and a fault for each cell that is none.

    A vendor is an id and nothing else, so that it can name a file without leading anywhere. How catch weight
    is charged is what the house has now.
    """
    lines: list[OrderLine] = []
    faults: list[Fault] = []
    for n, row in enumerate(table, start=2):
        found: dict[str, Any] = {}
        for column, read in _READERS.items():
            try:
                found[column] = read(row[column])
            except KeyError:
                wrong = f"there is no column '{column}'"
                faults.append(Fault(place, 1, "", wrong, _RIGHT, "damaged-run"))
            except (ValueError, ArithmeticError):
                wrong = f"'{row[column][:40]}' cannot stand there"
                faults.append(Fault(place, n, column, wrong, _RIGHT, "damaged-run"))
        if len(found) == len(_READERS):
            lines.append(OrderLine(**found, **_charged(house, found)))
    return [line for line in lines if line.packs > 0], sorted(set(faults))


def _charged(house: House, found: Mapping[str, Any]) -> dict[str, Any]:
    offer = offer_of(house, found["item"], found["vendor"], found["code"])
    if offer is None or not offer.is_catch_weight:
        return {}
    return {"is_catch_weight": True, "quoted": price_per_said(offer, found["price"])}


def _vendor(text: str) -> str:
    if not _ID.fullmatch(text):
        raise ValueError("no vendor's id")
    return text


_READERS: Mapping[str, Callable[[str], Any]] = {
    "vendor": _vendor,
    "code": str,
    "item": str,
    "description": str,
    "packs": int,
    "pack": str,
    "quantity": float,
    "unit": str,
    "price": lambda text: Decimal(text) if text else None,
    "amount": lambda text: Decimal(text or "0"),
    "order_by": datetime.fromisoformat,
    "deliver_on": date.fromisoformat,
}


def late(house: House, orders: Iterable[Order], on: date) -> Iterator[str]:
    """Orders whose cut-off was on a day before that of placing."""
    for order in orders:
        order_by = min((line.order_by for line in order.lines), default=None)
        if order_by is not None and order_by.date() < on:
            vendor = house.vendors[order.vendor].name
            yield (
                f"late: {vendor} for {format_day(order.deliver_on)}: the cut-off was "
                f"{day_and_time(order_by)}; ask whether they still take it"
            )


def below_minimum(house: House, orders: Iterable[Order]) -> Iterator[str]:
    """Deliveries that are below their vendor's minimum, all orders for them counted."""
    for order in orders:
        if short_of_minimum(house, order):
            vendor = house.vendors[order.vendor]
            yield (
                f"below the minimum: {vendor.name} for {format_day(order.deliver_on)}: "
                f"{cents(order.goods + order.earlier)} of {vendor.minimum}; the vendor may not come"
            )


def drops_meant(
    words: Iterable[str], drops: Iterable[DeliveryKey], place: str, option: str
) -> tuple[set[DeliveryKey], list[Fault]]:
    """What `VENDOR` or `VENDOR,DAY` stands for among a run's deliveries."""
    known = sorted(set(drops))
    vendors = sorted({vendor for vendor, _ in known})
    meant: set[DeliveryKey] = set()
    faults = []
    for word in words:
        vendor, _, day = word.partition(",")
        mine = {
            drop for drop in known if drop[0] == vendor and (not day or drop[1].isoformat() == day.strip())
        }
        if mine:
            meant |= mine
        elif vendor in vendors:
            days = ", ".join(d.isoformat() for v, d in known if v == vendor)
            wrong = f"the run orders nothing of this vendor for '{day}'"
            faults.append(Fault(place, 0, f"{option} {word}", wrong, f"write one of {days}", "no-vendor"))
        else:
            has = f"it orders from {', '.join(vendors)}" if vendors else "it orders nothing at all"
            wrong = "the run orders nothing from this vendor"
            faults.append(Fault(place, 0, vendor, wrong, nearest(vendor, vendors) or has, "no-vendor"))
    return meant, faults
