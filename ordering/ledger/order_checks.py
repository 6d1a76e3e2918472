"""What is said of orders about to be placed: late, too small, which deliveries are meant. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from ordering.days import day_and_time, format_day
from ordering.faults import Fault, nearest
from ordering.records.buying import DeliveryKey
from ordering.records.house import House
from ordering.records.money import cents
from ordering.records.vendor_orders import Order, short_of_minimum


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
