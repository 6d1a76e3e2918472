"""When each vendor can still deliver, and what waits until the next run."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta

from ordering.days import days_back
from ordering.records.buying import Delivery
from ordering.records.house import House
from ordering.records.vendors import DeliveryDay, Offer, Vendor


def cut_off(delivery: DeliveryDay, deliver_on: date) -> datetime:
    """Last moment at which a delivery on that day can be ordered, local time of the house.

    The cut-off weekday is the latest one at or before the delivery day (the same weekday means the
    same day), `weeks_ahead` weeks earlier.
    """
    back = days_back(delivery.weekday, delivery.order_by_weekday) + 7 * delivery.weeks_ahead
    return datetime.combine(deliver_on - timedelta(days=back), delivery.order_by_time)


def open_deliveries(
    house: House, now: datetime, next_run: date, days: Sequence[date]
) -> dict[str, tuple[Delivery, ...]]:
    """Deliveries of each vendor that can still be ordered, by delivery day.

    A cut-off counts up to and including its minute. `is_now`: it falls before the start of the
    day of the next run, so that this run must decide. Of several ways to order one delivery the one
    with the latest cut-off is kept. Vendors without a delivery left have an empty tuple.
    """
    start = datetime.combine(next_run, time())
    return {
        vendor.id: tuple(
            Delivery(vendor.id, order_by, day, index, order_by < start)
            for index, day in enumerate(days)
            if (order_by := _latest_cut_off(vendor, day)) is not None and now <= order_by
        )
        for vendor in house.vendors.values()
    }


def _latest_cut_off(vendor: Vendor, day: date) -> datetime | None:
    if day in vendor.closed:
        return None
    cut_offs = [cut_off(d, day) for d in vendor.deliveries if d.weekday == day.weekday()]
    return max(cut_offs, default=None)


def item_deliveries(
    house: House, item: str, deliveries: Mapping[str, Sequence[Delivery]]
) -> list[tuple[Offer, Delivery]]:
    """Every offer of an ingredient with every delivery it can come with, in delivery order."""
    pairs = [
        (offer, delivery)
        for offer in house.ingredients[item].offers
        for delivery in deliveries.get(offer.vendor, ())
        if offer.holds_on(delivery.deliver_on)
    ]
    return sorted(pairs, key=lambda pair: (pair[1].day, pair[0].vendor, pair[0].code))


def first_arrival(
    house: House, deliveries: Mapping[str, Sequence[Delivery]], days: Sequence[date]
) -> dict[str, int]:
    """Index of the first day on which a purchase of each ingredient can be in the house.

    `len(days)` where no offer can be delivered within `days`.
    """
    return {
        item: min(
            (delivery.day for _, delivery in item_deliveries(house, item, deliveries)), default=len(days)
        )
        for item in house.ingredients
    }
