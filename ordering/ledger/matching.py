"""Which order a delivery answers. Pure.

Common practice, no source: a code that came on its day, or up to a week late or a day early, answers that
order; a line that came with fewer packs is short and nothing more is expected of it; a line that is not on
the delivery at all is still expected; another code of the same item, on a delivery without the ordered
code, is a substitute for it.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, timedelta
from decimal import Decimal

from ordering.records.books import OpenOrder, Receipt
from ordering.records.documents import Booked
from ordering.records.house import House
from ordering.records.ledger import Arrival, Expected, OrderKey, Placed

LATE_DAYS = 7
EARLY_DAYS = 1


@dataclass(frozen=True, slots=True)
class Matching:
    expected: tuple[Expected, ...]
    arrivals: tuple[Arrival, ...]


def expectations(placed: Iterable[Placed]) -> tuple[Expected, ...]:
    """Orders placed, one per offer and delivery day, all runs added up; sorted by key."""
    sums: dict[OrderKey, Expected] = {}
    for line in placed:
        key = OrderKey(line.vendor, line.code, line.deliver_on)
        if line.packs <= 0:
            continue
        before = sums.get(key)
        packs, quantity = (before.packs, before.quantity) if before else (0.0, 0.0)
        sums[key] = Expected(
            key, line.item, packs + line.packs, quantity + line.quantity, line.unit, line.price
        )
    return tuple(sorted(sums.values(), key=_rank))


def from_open_orders(open_orders: Iterable[OpenOrder], house: House) -> tuple[Expected, ...]:
    """Open orders of the books in the same terms."""
    return tuple(
        Expected(OrderKey(o.vendor, o.code, o.deliver_on), o.item, o.packs, o.quantity, house.unit_of(o.item))
        for o in open_orders
    )


def matched(expected: Iterable[Expected], receipts: Iterable[Booked[Receipt]]) -> Matching:
    """Every order with what came of it, and every arrival with the order it answers.

    Deliveries are taken by day, so that a late rest is held against what was still missing.
    """
    state = {e.key: e for e in sorted(expected, key=_rank)}
    arrivals: list[Arrival] = []
    for group in _deliveries(receipts):
        codes = {a.code for a in group}
        rest: list[Arrival] = []
        for arrival in group:
            key = _answered(state, arrival)
            if key is None:
                rest.append(arrival)
                continue
            state[key] = _with(state[key], arrival)
            arrivals.append(replace(arrival, answers=key))
        for arrival in rest:
            key = _substituted(state, arrival, codes)
            if key is not None:
                state[key] = _with(state[key], arrival)
            arrivals.append(replace(arrival, answers=key, is_substitute=key is not None))
    return Matching(tuple(state.values()), tuple(sorted(arrivals, key=_arrival_rank)))


def _rank(expected: Expected) -> tuple[str, date, str]:
    return (expected.key.vendor, expected.key.deliver_on, expected.key.code)


def _arrival_rank(arrival: Arrival) -> tuple[date, str, str]:
    return (arrival.delivered_on, arrival.vendor, arrival.code)


def _deliveries(receipts: Iterable[Booked[Receipt]]) -> list[list[Arrival]]:
    """Receipts as arrivals, rows of one code added up, one list per day and vendor, by day."""
    sums: dict[tuple[date, str, str], Arrival] = {}
    for booked in receipts:
        r = booked.record
        key = (r.delivered_on, r.vendor, r.code)
        new = Arrival(r.vendor, r.delivered_on, r.code, r.item, r.packs, r.quantity, booked.unit, r.price)
        old = sums.get(key)
        if old is not None:
            price: Decimal | None = new.price if new.price is not None else old.price
            new = replace(new, packs=old.packs + new.packs, quantity=old.quantity + new.quantity, price=price)
        sums[key] = new
    groups: dict[tuple[date, str], list[Arrival]] = {}
    for key in sorted(sums):
        groups.setdefault(key[:2], []).append(sums[key])
    return list(groups.values())


def _answered(state: dict[OrderKey, Expected], arrival: Arrival) -> OrderKey | None:
    """The order of that very code: its own day first, then the latest missed one, then tomorrow's."""
    day = arrival.delivered_on
    late = [day - timedelta(days=n) for n in range(1, LATE_DAYS + 1)]
    early = [day + timedelta(days=n) for n in range(1, EARLY_DAYS + 1)]
    keys = [OrderKey(arrival.vendor, arrival.code, d) for d in (day, *late, *early)]
    for key in keys:
        if key in state and state[key].received < state[key].packs:
            return key
    return keys[0] if keys[0] in state else None


def _substituted(state: dict[OrderKey, Expected], arrival: Arrival, codes: set[str]) -> OrderKey | None:
    """An order of the same item whose own code is not on the delivery."""
    day = arrival.delivered_on
    open_keys = [
        e.key
        for e in state.values()
        if e.key.vendor == arrival.vendor
        and e.item == arrival.item
        and e.key.code not in codes
        and not e.is_settled
        and -EARLY_DAYS <= (day - e.key.deliver_on).days <= LATE_DAYS
    ]
    return min(open_keys, key=lambda k: (abs((day - k.deliver_on).days), k.code), default=None)


def _with(expected: Expected, arrival: Arrival) -> Expected:
    return replace(
        expected,
        received=expected.received + arrival.packs,
        received_quantity=expected.received_quantity + arrival.quantity,
        is_settled=True,
    )
