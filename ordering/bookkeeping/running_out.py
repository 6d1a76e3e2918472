"""When the house runs out of goods that came short, which dishes that hits, and which order still mends it.

What is in the house and on order is what the books say; what will be drawn, what comes off recipes and what
is still to be ordered is what the last run foresees.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time
from pathlib import Path

import numpy as np

from ordering.amounts import EPS, packs_said, plural, shown
from ordering.bookkeeping.foreseen import Foreseen, foreseen
from ordering.buy.deliveries import item_deliveries, open_deliveries
from ordering.days import day_and_time, format_day
from ordering.explode.graph import Graph, recipe_graph
from ordering.ledger.merge import merged
from ordering.ledger.receiving import ShortLine
from ordering.loading import Loaded
from ordering.net.opening import opening
from ordering.net.shelf_life import Parcel, draw, use_by
from ordering.records.buying import Delivery
from ordering.records.house import House
from ordering.records.ledger import OrderKey
from ordering.records.money import offer_of
from ordering.records.order_days import next_order_day
from ordering.records.plan import Array, Opening
from ordering.records.vendors import Offer
from ordering.texts import listed

MOST_DISHES = 3
DAYS_HIT = 7  # dishes are named by what they would earn in the week after
NO_RUN = "There is no run to see from when the house runs out of it: 'ordering order' makes one"

OfferDelivery = tuple[Offer, Delivery]


@dataclass(frozen=True, slots=True)
class Ahead:
    """Where the runs are from which to see ahead, and the time of day that cut-offs are held against."""

    runs: Path
    at: time = time()


@dataclass(frozen=True, slots=True)
class RunOut:
    """What is said of lines that did not come.

    `by_line`: beside a line of an order; `told`: after them, the first to run out first.
    """

    by_line: Mapping[OrderKey, str] = field(default_factory=dict)
    told: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class _Seen:
    """All that is looked at: the house, what is in it and on order, what is foreseen, what can be ordered."""

    house: House
    there: Opening
    ahead: Foreseen
    deliveries: Mapping[str, tuple[Delivery, ...]]
    next_run: date
    graph: Graph


def run_out(loaded: Loaded, books_dir: Path, shorts: Iterable[ShortLine], on: date, ahead: Ahead) -> RunOut:
    """What becomes of lines that came short or have not come.

    `loaded` has the delivery in it.
    """
    house = loaded.house
    known = [short for short in shorts if short.expected.item in house.ingredients]
    if not known:
        return RunOut()
    now = datetime.combine(on, ahead.at)
    plan = foreseen(books_dir, ahead.runs, house.name, now)
    if plan is None:
        return RunOut(told=(NO_RUN,))
    there = opening(house, merged(loaded.books, house, loaded.bookings, on)[0], on)
    next_run = next_order_day(house, on)
    deliveries = open_deliveries(house, now, next_run, plan.days)
    seen = _Seen(house, there, plan, deliveries, next_run, recipe_graph(house))
    by_line: dict[OrderKey, str] = {}
    told: list[tuple[int, float, str]] = []
    for short in known:
        unmet = unmet_without(house, there, plan, short)
        out = next((n for n, missing in enumerate(unmet.tolist()) if missing > EPS), None)
        key = short.expected.key
        condition = "" if short.is_final else "if it does not come, "
        if out is None:
            by_line[key] = f"{condition}there is enough without it"
            continue
        by_line[key] = f"{condition}it runs out on {format_day(plan.days[out])}, see below"
        worth = _worth_by_dish(seen, short.expected.item, out)
        told.append((out, -sum(worth.values()), _told(seen, short, (unmet, out), list(worth))))
    return RunOut(by_line, ("Running short", *(f"  {line}" for _, _, line in sorted(told))) if told else ())


def _told(seen: _Seen, short: ShortLine, missing: tuple[Array, int], dishes: Sequence[str]) -> str:
    """`missing`: what is short by day, [day], and the first day."""
    unmet, out = missing
    condition = "" if short.is_final else " if it does not come"
    names = [seen.house.dishes[dish].name for dish in dishes]
    hit = f", for {_joined(names)}" if names else ""
    gone = f"No {seen.house.name_of(short.expected.item)} from {format_day(seen.ahead.days[out])}{condition}"
    return f"{gone}{hit}{_mended(seen, short, unmet, out)}"


def _joined(names: Sequence[str]) -> str:
    """Names of dishes; where one has a comma of its own, a semicolon stands between them."""
    if len(names) > MOST_DISHES:
        names = [*names[: MOST_DISHES - 1], f"{len(names) - MOST_DISHES + 1} more"]
    return "; ".join(names) if any("," in name for name in names) else listed(names)


def unmet_without(house: House, there: Opening, ahead: Foreseen, short: ShortLine) -> Array:
    """What is drawn of the item and not there, [day], in its unit, where the missing packs never come."""
    e = short.expected
    days, n_days = ahead.days, len(ahead.days)

    def parcel(ready_on: date | None, last_on: date | None, quantity: float) -> Parcel:
        first = 0 if ready_on is None else max((ready_on - days[0]).days, 0)
        last = n_days if last_on is None else (last_on - days[0]).days
        return Parcel(first, last, quantity)

    parcels = [parcel(lot.ready_on, lot.use_by, lot.quantity) for lot in there.lots if lot.item == e.item]
    parcels += [
        parcel(s.deliver_on, s.use_by, s.quantity)
        for s in there.scheduled
        if s.item == e.item
        and (s.vendor, s.code, s.deliver_on) != (e.key.vendor, e.key.code, e.key.deliver_on)
    ]
    for coming in (ahead.made.get(e.item), ahead.to_order.get(e.item)):
        if coming is not None:
            parcels += [
                parcel(day, use_by(house, e.item, day), quantity)
                for day, quantity in zip(days, coming.tolist(), strict=True)
                if quantity > EPS
            ]
    drawn = ahead.drawn.get(e.item, np.zeros(n_days))
    return draw(parcels, drawn[:, None]).unmet[:, 0]


def _mended(seen: _Seen, short: ShortLine, unmet: Array, out: int) -> str:
    """What can be done about a day on which there is none. unmet : [day]."""
    own = short.expected.key
    coming = item_deliveries(seen.house, short.expected.item, seen.deliveries)
    in_time = [one for one in coming if one[1].day <= out]

    def rank(one: OfferDelivery) -> tuple[bool, datetime, bool, bool]:
        offer, delivery = one
        return offer.vendor == own.vendor, delivery.order_by, offer.code == own.code, offer.is_preferred

    later = [one for one in in_time if not one[1].is_now]
    if later:
        offer, delivery = max(later, key=rank)
        return (
            f": the next run, on {format_day(seen.next_run)}, still orders it in time "
            f"({_vendor(seen, offer)}, by {day_and_time(delivery.order_by)}, "
            f"for {format_day(delivery.deliver_on)})"
        )
    if in_time:
        offer, delivery = max(in_time, key=rank)
        return (
            f": order {_packs(offer, short)} from {_vendor(seen, offer)} "
            f"by {day_and_time(delivery.order_by)}, for "
            f"{format_day(delivery.deliver_on)}; the next run is not until {format_day(seen.next_run)}"
        )
    after = min(
        coming, key=lambda c: (c[1].day, c[0].vendor != own.vendor, c[0].code != own.code), default=None
    )
    until = after[1].day if after else len(unmet)
    buy = _locally(seen, short, min(float(unmet[:until].sum()), short.quantity))
    if after is None:
        return f", and nothing can be ordered before {format_day(seen.ahead.days[-1])}: {buy}"
    offer, delivery = after
    return (
        f", and no delivery comes before that: {buy}; the next is {_vendor(seen, offer)} on "
        f"{format_day(delivery.deliver_on)}, order by {day_and_time(delivery.order_by)}"
    )


def _worth_by_dish(seen: _Seen, item: str, out: int) -> dict[str, float]:
    """Dishes on the menu from that day on that take an item, by what they would earn, the most first."""
    worth = {}
    for dish in seen.graph.dishes_of(item, is_traced=False):
        portions = seen.ahead.portions.get(dish, np.zeros(0))[out : out + DAYS_HIT].sum()
        if portions > EPS and dish in seen.house.dishes:
            worth[dish] = float(portions) * float(seen.house.dishes[dish].price or 0)
    return dict(sorted(worth.items(), key=lambda one: (-one[1], one[0])))


def _packs(offer: Offer, short: ShortLine) -> str:
    own = short.expected.key
    if (offer.vendor, offer.code) == (own.vendor, own.code):
        return plural(math.ceil(short.packs - EPS), "pack")
    return f"{plural(math.ceil(short.quantity / offer.pack_quantity - EPS), 'pack')} of {offer.code}"


def _locally(seen: _Seen, short: ShortLine, quantity: float) -> str:
    key, item = short.expected.key, short.expected.item
    offer = offer_of(seen.house, item, key.vendor, key.code)
    if offer is None:
        return f"buy {shown(quantity, short.expected.unit)} locally"
    return f"buy {packs_said(max(math.ceil(quantity / offer.pack_quantity - EPS), 1), offer.pack)} locally"


def _vendor(seen: _Seen, offer: Offer) -> str:
    return seen.house.vendors[offer.vendor].name
