"""What the stretch cost: dishes that ran out, goods thrown away, weeks against budget, prices and shorts."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from decimal import Decimal

import pandas as pd

from ordering.records.books import Allowance, OpenOrder, Receipt, Waste
from ordering.records.buying import DeliveryKey
from ordering.records.house import House
from ordering.records.ledger import Placed
from ordering.records.money import cents, fee_for, invoiced, offer_of, price_at, quoted_price, receipt_money
from ordering.records.review_results import Dearer, RanOut, Thrown, Week
from ordering.review.scores import Actuals, Key

USUAL_WEEKS = 8


def within(table: pd.DataFrame, first_on: date, last_on: date) -> pd.DataFrame:
    """Rows dated from `first_on` to `last_on`, both included."""
    return table[(table["date"] >= pd.Timestamp(first_on)) & (table["date"] <= pd.Timestamp(last_on))]


def sold_by_dish(sales: pd.DataFrame) -> dict[str, float]:
    """Portions sold in all, by dish."""
    return {str(dish): float(sold) for dish, sold in sales.groupby("dish")["sold"].sum().items()}


def ran_out(
    house: House, keys: Iterable[Key], came: Actuals, wanted: Mapping[Key, float], costs: Mapping[str, float]
) -> tuple[RanOut, ...]:
    """Dishes 86'd, the most costly first.

    Missed at a service is what was wanted less what was sold, where that is above zero; the money in it is
    the dish's price less its ingredients. `wanted` is the forecast; where none was issued, what the same
    weekday usually sells.
    """
    missed: dict[str, float] = {}
    n_services: dict[str, int] = {}
    all_keys = set(keys)
    for key in sorted(all_keys):
        dish = key[2]
        want = wanted.get(key)
        if want is None:
            want = _usual(key, came, all_keys)
        missed[dish] = missed.get(dish, 0.0) + max(0.0, want - came[key])
        n_services[dish] = n_services.get(dish, 0) + 1
    found = []
    for dish, portions in missed.items():
        known = house.dishes.get(dish)
        price = known.price if known is not None else None
        margin = max(0.0, float(price) - costs.get(dish, 0.0)) if price is not None else 0.0
        found.append(RanOut(dish, n_services[dish], portions, cents(portions * margin)))
    return tuple(sorted(found, key=lambda r: (-r.money, -r.missed, r.dish)))


def _usual(key: Key, came: Actuals, out: set[Key]) -> float:
    """Mean sold on the same weekday and service of the last eight weeks where it lasted; 0 if never."""
    day, service, dish = key
    earlier = [(day - timedelta(weeks=n), service, dish) for n in range(1, USUAL_WEEKS + 1)]
    known = [came[k] for k in earlier if k in came and k not in out]
    return sum(known) / len(known) if known else 0.0


def thrown(house: House, waste: Iterable[Waste], costs: Mapping[str, float]) -> tuple[Thrown, ...]:
    """What was thrown away by item at today's cost, the most costly first."""
    quantity: dict[str, float] = {}
    reasons: dict[str, dict[str, float]] = {}
    for w in waste:
        quantity[w.item] = quantity.get(w.item, 0.0) + w.quantity
        by_reason = reasons.setdefault(w.item, {})
        by_reason[w.reason] = by_reason.get(w.reason, 0.0) + w.quantity
    found = [
        Thrown(
            item,
            total,
            house.unit_of(item),
            cents(total * costs.get(item, 0.0)),
            ", ".join(r for r in sorted(reasons[item], key=lambda r: (-reasons[item][r], r)) if r),
        )
        for item, total in quantity.items()
    ]
    return tuple(sorted(found, key=lambda t: (-t.money, t.item)))


def ordered_money(house: House, order: Placed | OpenOrder) -> Decimal:
    """What an order comes to: as placed, or for one of the books at the offer's price."""
    if not isinstance(order, OpenOrder):
        return order.amount
    offer = offer_of(house, order.item, order.vendor, order.code)
    price = None if offer is None else price_at(offer, order.packs)
    return Decimal(0) if price is None else price * Decimal(repr(order.packs))


def delivery_fees(house: House, placed: Iterable[Placed], receipts: Iterable[Receipt]) -> dict[date, Decimal]:
    """What the deliveries of each day cost: for each vendor of whom goods came, the vendor's fee.

    Whether it is waived goes by what was ordered for that day or, where nothing was, by what came. A vendor
    no longer in the configuration has no terms to go by.
    """
    ordered: dict[DeliveryKey, Decimal] = {}
    for order in placed:
        key = (order.vendor, order.deliver_on)
        ordered[key] = ordered.get(key, Decimal(0)) + order.amount
    came: dict[DeliveryKey, Decimal] = {}
    for receipt in receipts:
        if receipt.packs > 0 or receipt.quantity > 0:
            key = (receipt.vendor, receipt.delivered_on)
            came[key] = came.get(key, Decimal(0)) + receipt_money(house, receipt)
    fees: dict[date, Decimal] = {}
    for (vendor, day), goods in came.items():
        if vendor in house.vendors:
            fee = fee_for(house.vendors[vendor], ordered.get((vendor, day), goods))
            fees[day] = fees.get(day, Decimal(0)) + fee
    return fees


@dataclass(frozen=True, slots=True)
class DayMoney:
    """Money by day: the cost of what was sold in theory, what it sold for, the fees of what came."""

    theoretical: Mapping[date, Decimal]
    revenue: Mapping[date, Decimal]
    fees: Mapping[date, Decimal] = field(default_factory=dict)


def weeks(
    house: House,
    span: tuple[date, date],
    placed: Iterable[Placed | OpenOrder],
    receipts: Iterable[Receipt],
    allowances: Iterable[Allowance],
    by_day: DayMoney,
) -> tuple[Week, ...]:
    """Spend by week: orders by their day of delivery, those of the books too; goods by the day they came.

    What was credited with no goods is taken off the goods. The budget of a week cut short is cut by its days.
    """
    found = []
    orders = [(p.deliver_on, ordered_money(house, p)) for p in placed]
    came = [(r.delivered_on, receipt_money(house, r)) for r in receipts]
    came += [(a.credited_on, -a.money) for a in allowances]
    first = span[0]

    def within(entries: Iterable[tuple[date, Decimal]], last: date) -> Decimal:
        return cents(sum((money for day, money in entries if first <= day <= last), Decimal(0)))

    while first <= span[1]:
        last = min(first + timedelta(days=6 - first.weekday()), span[1])
        n_days = (last - first).days + 1
        budget = house.policy.weekly_budget
        found.append(
            Week(
                first,
                last,
                placed=within(orders, last),
                bought=within(came, last),
                theoretical=within(by_day.theoretical.items(), last),
                budget=None if budget is None else cents(budget * n_days / 7),
                revenue=within(by_day.revenue.items(), last),
                fees=within(by_day.fees.items(), last),
            )
        )
        first = last + timedelta(days=1)
    return tuple(found)


def dearer(
    house: House, receipts: Iterable[Receipt], allowances: Iterable[Allowance] = ()
) -> tuple[Dearer, ...]:
    """Offers charged above the price in the configuration, the costliest first.

    What was credited for a code is taken off.
    """
    credited: dict[tuple[str, str], Decimal] = {}
    for a in allowances:
        credited[a.vendor, a.code] = credited.get((a.vendor, a.code), Decimal(0)) + a.money
    sums: dict[tuple[str, str], Dearer] = {}
    for r in sorted(receipts, key=lambda r: (r.delivered_on, r.vendor, r.code)):
        offer = offer_of(house, r.item, r.vendor, r.code)
        agreed = quoted_price(offer, r.packs) if offer is not None else None
        if offer is None or r.price is None or agreed is None or r.price <= agreed:
            continue
        extra = invoiced(house, offer, r.packs, r.quantity, r.price) - invoiced(
            house, offer, r.packs, r.quantity, agreed
        )
        before = sums.get((r.vendor, r.code))
        money = extra + (before.money if before else Decimal(0))
        sums[r.vendor, r.code] = Dearer(r.vendor, r.code, r.item, agreed, r.price, money)
    left = [replace(d, money=d.money - credited.get(key, Decimal(0))) for key, d in sums.items()]
    return tuple(sorted((d for d in left if d.money > 0), key=lambda d: (-d.money, d.vendor, d.code)))
