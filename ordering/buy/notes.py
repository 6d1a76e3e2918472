"""What a purchaser should know about a line or about the day's orders, in plain words."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from decimal import Decimal

from ordering.amounts import plural, shown
from ordering.buy.requirements import DeliveryConstraints
from ordering.days import format_day
from ordering.records.buying import Delivery, DeliveryKey, OrderLine
from ordering.records.house import House
from ordering.records.money import CENT, price_said, quoted_price
from ordering.records.vendors import Offer

SMALL_SHARE = 0.02


def of_line(
    house: House,
    offer: Offer,
    delivery: Delivery,
    packs: int,
    item: DeliveryConstraints,
    last_prices: Mapping[tuple[str, str], Decimal],
) -> str:
    """Price changes, waste a pack brings, cut-offs on closed days; an empty string when all is usual."""
    said_of = [
        _price_note(offer, packs, last_prices.get((offer.vendor, offer.code))),
        _waste_note(house, offer, delivery, packs, item),
        _cut_off_note(house, delivery),
    ]
    return joined(said_of)


def joined(notes: Iterable[str]) -> str:
    """Notes of one line as one text."""
    return "; ".join(note for note in notes if note)


def _price_note(offer: Offer, packs: int, last: Decimal | None) -> str:
    quoted = quoted_price(offer, packs)
    if quoted is None:
        return "no price known: ask"
    if last is None or last <= 0 or abs(quoted - last) < CENT / 2:
        return ""
    change = (last - quoted) / quoted * 100 if quoted else Decimal(0)
    word = "more" if change > 0 else "less"
    return f"last invoiced at {price_said(last)}, {abs(change):.1f} % {word} than here"


def _waste_note(house: House, offer: Offer, delivery: Delivery, packs: int, item: DeliveryConstraints) -> str:
    if not item.is_spoilt_in_sight(delivery.day):
        return ""
    over = packs * offer.pack_quantity - item.useful(delivery.day)
    if over <= SMALL_SHARE * packs * offer.pack_quantity:
        return ""
    more, days = shown(over, house.ingredients[offer.item].unit), plural(item.keeps_days or 0, "day")
    return f"about {more} more than will be used while it keeps ({days})"


def _cut_off_note(house: House, delivery: Delivery) -> str:
    if delivery.order_by.date() not in house.vendors[delivery.vendor].closed:
        return ""
    return (
        f"the cut-off, {format_day(delivery.order_by.date())}, is a day they "
        "are closed: send it the day before"
    )


def of_buying(
    house: House,
    orders: Sequence[OrderLine],
    fees: Mapping[DeliveryKey, Decimal],
    gap: float,
    spent: Decimal,
) -> tuple[str, ...]:
    """What is left of the budget, and how good the decision is known to be."""
    return (
        *_budget_notes(house, _total(orders, fees), spent, is_over=False),
        *_gap_notes(orders, gap),
    )


def needs_attention(
    house: House,
    orders: Sequence[OrderLine],
    fees: Mapping[DeliveryKey, Decimal],
    spent: Decimal,
    placed: Mapping[DeliveryKey, Decimal],
) -> tuple[str, ...]:
    """What needs somebody's attention before the orders go out.

    A minimum not reached, a cut-off on a day the vendor is closed, a budget passed.
    """
    return (
        *_minimum_notes(house, orders, placed),
        *_closed_notes(house, orders),
        *_budget_notes(house, _total(orders, fees), spent, is_over=True),
    )


def goods_of(lines: Sequence[OrderLine]) -> list[tuple[DeliveryKey, Decimal]]:
    """Money for goods by delivery."""
    goods: dict[DeliveryKey, Decimal] = defaultdict(Decimal)
    for line in lines:
        goods[line.vendor, line.deliver_on] += line.amount
    return sorted(goods.items())


def _total(orders: Sequence[OrderLine], fees: Mapping[DeliveryKey, Decimal]) -> Decimal:
    return sum((line.amount for line in orders), Decimal(0)) + sum(fees.values(), Decimal(0))


def of_outlook(
    house: House,
    outlook: Sequence[OrderLine],
    deliveries: Mapping[str, Sequence[Delivery]],
    placed: Mapping[DeliveryKey, Decimal],
) -> dict[DeliveryKey, str]:
    """What lines of a later delivery below its vendor's minimum say, by delivery.

    The last delivery of a vendor within the horizon says nothing: what it must last for is not seen whole.
    """
    found = {}
    for (vendor_id, day), value in goods_of(outlook):
        least = house.vendors[vendor_id].minimum
        is_last = all(delivery.deliver_on <= day for delivery in deliveries.get(vendor_id, ()))
        if value + placed.get((vendor_id, day), Decimal(0)) < least and not is_last:
            found[vendor_id, day] = (
                f"delivery of {value:,.2f}, below the minimum of {least:,.2f}: "
                "to be added to when it is ordered"
            )
    return found


def _minimum_notes(
    house: House, orders: Sequence[OrderLine], placed: Mapping[DeliveryKey, Decimal]
) -> list[str]:
    notes = []
    for (vendor_id, day), ordered in goods_of(orders):
        vendor = house.vendors[vendor_id]
        value = ordered + placed.get((vendor_id, day), Decimal(0))
        if value < vendor.minimum:
            short = vendor.minimum - value
            notes.append(
                f"{vendor.name}, {format_day(day)}: {value:,.2f} is {short:,.2f} under the minimum order of "
                f"{vendor.minimum:,.2f}, and nothing more is needed: add what keeps, or ask the vendor"
            )
    return notes


def _closed_notes(house: House, orders: Sequence[OrderLine]) -> list[str]:
    drops = sorted({(x.order_by, x.vendor, x.deliver_on) for x in orders})
    return [
        f"{house.vendors[vendor].name}, {format_day(day)}: the cut-off, {format_day(order_by.date())}, "
        "is a day they are closed: send the order the day before"
        for order_by, vendor, day in drops
        if order_by.date() in house.vendors[vendor].closed
    ]


def _budget_notes(house: House, total: Decimal, spent: Decimal, *, is_over: bool) -> list[str]:
    """The budget passed, or with `is_over` false the budget kept; nothing where it is the other."""
    budget = house.policy.weekly_budget
    if budget is None or (total + spent > budget) is not is_over:
        return []
    known = f" with {spent:,.2f} ordered already this week" if spent else ""
    over = total + spent - budget
    if over > 0:
        return [f"Orders of {total:,.2f}{known} are {over:,.2f} over the weekly budget of {budget:,.2f}"]
    return [f"Orders of {total:,.2f}{known} leave {-over:,.2f} of the weekly budget of {budget:,.2f}"]


def _gap_notes(orders: Sequence[OrderLine], gap: float) -> list[str]:
    if not orders:
        return []
    within = f"{100 * gap:.1f} %"
    if within == "0.0 %":
        return ["Orders are proved to be of least cost"]
    return [f"Orders are proved to be within {within} of the least cost"]
