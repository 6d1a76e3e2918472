"""Which order a delivery answers. Pure.

Common practice, no source: a code that came on its day, or up to a week late or a day early, answers that
order; a line that came with fewer packs is short and nothing more is expected of it; a line that is not on
the delivery at all is still expected; another code of the same item, on a delivery without the ordered
code, is a substitute for it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
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
    """What is still expected of each order line, and what each arrival answers."""

    expected: tuple[Expected, ...]
    arrivals: tuple[Arrival, ...]


def expectations(placed: Iterable[Placed]) -> tuple[Expected, ...]:
    """What is expected of each line of each order, sorted by vendor, day and number."""
    lines = [
        Expected(key_of(p), p.item, p.packs, p.quantity, p.unit, p.price, placed_on=p.placed_on)
        for p in placed
        if p.packs > 0
    ]
    return tuple(sorted(lines, key=_rank))


def key_of(placed: Placed) -> OrderKey:
    """Which line of which order a placed line is."""
    return OrderKey(placed.vendor, placed.code, placed.deliver_on, placed.number)


def from_open_orders(open_orders: Iterable[OpenOrder], house: House) -> tuple[Expected, ...]:
    """Open orders of the books in the same terms; when they were placed is not known."""
    return tuple(
        Expected(OrderKey(o.vendor, o.code, o.deliver_on), o.item, o.packs, o.quantity, house.unit_of(o.item))
        for o in open_orders
    )


def matched(expected: Iterable[Expected], receipts: Iterable[Booked[Receipt]]) -> Matching:
    """Every line on order with what came of it, and everything that came with the order it answers.

    Deliveries are taken by day, so that a late rest is held against what was still missing.
    """
    state = {e.key: e for e in sorted(expected, key=_rank)}
    by_code: dict[tuple[str, str, date], list[OrderKey]] = defaultdict(list)
    by_item: dict[tuple[str, str, date], list[OrderKey]] = defaultdict(list)
    for key, e in state.items():
        by_code[key.vendor, key.code, key.deliver_on].append(key)
        by_item[key.vendor, e.item, key.deliver_on].append(key)
    arrivals: list[Arrival] = []
    for group in _deliveries(receipts):
        codes = {a.code for a in group}
        rest: list[Arrival] = []
        for arrival in group:
            if arrival.instead_of:
                meant = _meant(state, _near(by_code, arrival, arrival.instead_of), arrival.delivered_on)
                if meant is not None:
                    state[meant] = _with(state[meant], arrival)
                arrivals.append(replace(arrival, answers=meant, is_substitute=meant is not None))
                continue
            shares = _shared(state, _near(by_code, arrival, arrival.code), arrival)
            for key, part in shares:
                state[key] = _with(state[key], part)
                arrivals.append(part)
            rest += [] if shares else [arrival]
        for arrival in rest:
            meant = _substituted(state, _near(by_item, arrival, arrival.item), arrival, codes)
            if meant is not None:
                state[meant] = _with(state[meant], arrival)
            arrivals.append(replace(arrival, answers=meant, is_substitute=meant is not None))
    return Matching(tuple(state.values()), tuple(sorted(arrivals, key=_arrival_rank)))


def _rank(expected: Expected) -> tuple[str, date, str, str]:
    key = expected.key
    return (key.vendor, key.deliver_on, key.code, key.number)


def _arrival_rank(arrival: Arrival) -> tuple[date, str, str, str]:
    number = arrival.answers.number if arrival.answers else ""
    return (arrival.delivered_on, arrival.vendor, arrival.code, number)


def _deliveries(receipts: Iterable[Booked[Receipt]]) -> list[list[Arrival]]:
    """Receipts as arrivals, rows of one code added up, one list per day and vendor, by day.

    What comes in place of another code, or for an order of its own, is kept apart from what comes as itself.

    What says which order it is for comes first: the rest is shared among what is then still missing.
    """
    sums: dict[tuple[date, str, str, str, str], Arrival] = {}
    for booked in receipts:
        r = booked.record
        key = (r.delivered_on, r.vendor, r.code, r.order, r.instead_of)
        new = Arrival(
            *(r.vendor, r.delivered_on, r.code, r.item, r.packs, r.quantity, booked.unit, r.price),
            instead_of=r.instead_of,
            order=r.order,
        )
        old = sums.get(key)
        if old is not None:
            price: Decimal | None = new.price if new.price is not None else old.price
            new = replace(new, packs=old.packs + new.packs, quantity=old.quantity + new.quantity, price=price)
        sums[key] = new
    groups: dict[tuple[date, str], list[Arrival]] = {}
    for key in sorted(sums, key=lambda key: (key[0], key[1], not key[3], *key[2:])):
        groups.setdefault(key[:2], []).append(sums[key])
    return list(groups.values())


def _near(
    keys: Mapping[tuple[str, str, date], list[OrderKey]], arrival: Arrival, what: str
) -> list[OrderKey]:
    """Orders of a code or an item that a delivery of that day can be for: the one it says, if it says one."""
    days = (arrival.delivered_on + timedelta(days=n) for n in range(-LATE_DAYS, EARLY_DAYS + 1))
    near = [key for day in days for key in keys.get((arrival.vendor, what, day), ())]
    return [key for key in near if arrival.order and key.number == arrival.order] or near


def _shared(
    state: Mapping[OrderKey, Expected], keys: Sequence[OrderKey], arrival: Arrival
) -> list[tuple[OrderKey, Arrival]]:
    """What came of a code, shared among the orders it answers; none where nobody ordered it.

    Orders of that very day come first, then the latest missed one, then tomorrow's; each gets what it still
    misses, in the sequence of their numbers, and the last of them what is more than ordered. What comes a
    day early answers one order: the others are not due yet.
    """
    turns = {key: turn for key in keys if (turn := _turn(state[key], arrival.delivered_on)) is not None}
    asked = sorted(turns, key=turns.__getitem__)
    missing = [key for key in asked if state[key].received < state[key].packs]
    due = [key for key in missing if key.deliver_on <= arrival.delivered_on] or missing[:1]
    if not due:
        due = [key for key in asked if key.deliver_on == arrival.delivered_on][-1:]
    parts: list[tuple[OrderKey, Arrival]] = []
    left = arrival.packs
    for n, key in enumerate(due):
        if left <= 0 and parts:
            break
        packs = left if n == len(due) - 1 else min(left, state[key].packs - state[key].received)
        share = packs / arrival.packs if arrival.packs else 1.0
        parts.append((key, replace(arrival, packs=packs, quantity=arrival.quantity * share, answers=key)))
        left -= packs
    return parts


def _turn(expected: Expected, day: date) -> tuple[int, date, str] | None:
    """When an order has its turn at a delivery of that day; None where it cannot be meant."""
    late = (day - expected.key.deliver_on).days
    if not -EARLY_DAYS <= late <= LATE_DAYS or expected.placed_on > day:
        return None
    return (late if late >= 0 else LATE_DAYS + 1, expected.placed_on, expected.key.number)


def _meant(state: Mapping[OrderKey, Expected], keys: Sequence[OrderKey], day: date) -> OrderKey | None:
    """The order that somebody says goods came for: the one whose turn it is first."""
    turns = {key: turn for key in keys if (turn := _turn(state[key], day)) is not None}
    waiting = [key for key in turns if not state[key].is_settled] or list(turns)
    return min(waiting, key=turns.__getitem__, default=None)


def _substituted(
    state: Mapping[OrderKey, Expected], keys: Sequence[OrderKey], arrival: Arrival, codes: set[str]
) -> OrderKey | None:
    """An order of the same item whose own code is not on the delivery."""
    day = arrival.delivered_on
    open_keys = [
        key
        for key in keys
        if key.code not in codes and not state[key].is_settled and _turn(state[key], day) is not None
    ]
    return min(open_keys, key=lambda k: (abs((day - k.deliver_on).days), k.code, k.number), default=None)


def _with(expected: Expected, arrival: Arrival) -> Expected:
    return replace(
        expected,
        received=expected.received + arrival.packs,
        received_quantity=expected.received_quantity + arrival.quantity,
        is_settled=True,
    )
