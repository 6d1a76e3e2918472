"""Orders that stand already under other numbers, so that nothing is ordered twice without a word. Pure.

A run counts on the orders that were placed when it was made, and `run.json` says which. What was placed since
it knows nothing of: it asks for the same goods once more.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from ordering.amounts import plural
from ordering.days import format_day
from ordering.faults import Fault, nearest
from ordering.ledger.order_matching import LATE_DAYS, expectations, matched
from ordering.records.buying import DeliveryKey
from ordering.records.house import House
from ordering.records.ledger import Bookings, Placed
from ordering.texts import listed

MOST_NAMED = 3

Seen = Mapping[tuple[str, str], int]  # number of the order and code, to packs


@dataclass(frozen=True, slots=True)
class MadeRun:
    """A run about to be placed.

    Its folder's name, its identity, where its orders stand, when it was made, what it counted on in packs,
    what other runs of the ledger are called, and what it took the place of before: numbers and runs.
    """

    name: str
    id: str
    orders: str
    made_on: date
    seen: Seen
    called: Mapping[str, str] = field(default_factory=dict)
    took: frozenset[str] = frozenset()

    def name_of(self, placed: Placed) -> str:
        """What a line's order is taken back by: the folder of its run where that is known."""
        return self.called.get(placed.run, placed.number)


def on_order(orders: Iterable[Placed], on: date) -> dict[str, list[list[Any]]]:
    """For `run.json`: by number of the order, [code, packs] of what a run counts on."""
    found: dict[str, list[list[Any]]] = {}
    for p in orders:
        if p.deliver_on >= on - timedelta(days=LATE_DAYS):
            found.setdefault(p.number, []).append([p.code, p.packs])
    return found


def made_run(name: str, orders: str, facts: Mapping[str, Any], called: Mapping[str, str]) -> MadeRun:
    """The run by its `run.json`. What cannot be read there was not counted on: better asked than doubled."""
    seen: dict[tuple[str, str], int] = {}
    try:
        for number, lines in facts["on_order"].items():
            for code, packs in lines:
                seen[number, str(code)] = int(packs)
    except (KeyError, TypeError, ValueError, AttributeError):
        seen = {}
    try:
        made_on = date.fromisoformat(facts["when"][:10])
    except (KeyError, TypeError, ValueError):
        made_on = date.min
    return MadeRun(name, str(facts.get("id", name)), orders, made_on, seen, called)


def ordered_twice(
    run: MadeRun, new: Sequence[Placed], bookings: Bookings, house: House, instead: Sequence[str] = ()
) -> list[Fault]:
    """A fault a vendor for goods that other orders bring, and that this run did not count on.

    The item decides, not the code: what another vendor brings is in the house just the same; and so does the
    code, whatever its item is called by now. `new` are the lines about to be placed for the first time;
    `instead` names what this run takes the place of, as far as what is placed now goes.
    """
    others: dict[str, list[Placed]] = {}
    for p in bookings.orders:
        is_seen = p.packs <= run.seen.get((p.number, p.code), 0)
        if p.run != run.id and p.packs and p.deliver_on >= run.made_on and not is_seen:
            others.setdefault(p.item, []).append(p)
            others.setdefault(f"{p.vendor} {p.code}", []).append(p)
    lines = [p for p in new if p.item in others or f"{p.vendor} {p.code}" in others]
    ranked = sorted(lines, key=lambda p: (p.vendor, p.deliver_on, p.code))
    return [
        _said_twice(run, (vendor, list(group)), others, house, instead)
        for vendor, group in groupby(ranked, key=lambda p: p.vendor)
    ]


def _said_twice(
    run: MadeRun,
    mine: tuple[str, Sequence[Placed]],
    others: Mapping[str, Sequence[Placed]],
    house: House,
    instead: Sequence[str],
) -> Fault:
    """`mine`: a vendor and what is about to be placed there."""
    vendor, lines = mine
    standing = list(
        dict.fromkeys(
            p
            for line in lines
            for key in (line.item, f"{line.vendor} {line.code}")
            for p in others.get(key, ())
        )
    )
    named = [f"{_what(p, house)}, order {p.number}, {plural(p.packs, 'pack')}" for p in standing[:MOST_NAMED]]
    more = [f"{len(standing) - MOST_NAMED} more"] if len(standing) > MOST_NAMED else []
    wrong = f"on order already, and this run did not count on it: {'; '.join([*named, *more])}"
    names = sorted({run.name_of(p) for p in standing})
    options = " ".join(f"--instead {name}" for name in names)
    way = f"if this run takes the place of what was placed, {options}"
    if all(is_named(p, run, instead) for p in standing):
        vendors = listed(sorted({p.vendor for p in standing}))
        way = f"place the whole run with {options}, so that what {vendors} would bring is cancelled with it"
    right = f"{way}; if both are meant, --also; or leave the vendor out with --without {vendor}"
    return Fault(run.orders, 0, vendor, wrong, right, "ordered-twice")


def is_named(placed: Placed, run: MadeRun, names: Collection[str]) -> bool:
    """Whether a line is of one of these runs or orders, by folder, identity or number."""
    return not {placed.number, placed.run, run.called.get(placed.run)}.isdisjoint(names)


def taken_instead(
    run: MadeRun, instead: Sequence[str], is_left: Callable[[DeliveryKey], bool], bookings: Bookings
) -> tuple[tuple[Placed, ...], list[Fault]]:
    """What stands of the runs or orders whose place this one takes, deliveries that are left alone apart.

    `instead` names folders of runs or numbers of orders. Faults: nothing stands of it; it is this very run;
    this run counts on it and would leave a hole where it was; or some of it has come.
    """
    ids = {name: id for id, name in run.called.items()}
    taken: list[Placed] = []
    faults = []
    for name in instead:
        mine = [p for p in bookings.orders if p.packs and is_named(p, run, (name,))]
        meant = [p for p in mine if not is_left((p.vendor, p.deliver_on))]
        if name in (run.name, run.id) or ids.get(name) == run.id:
            wrong, right = "a run placed again amends its own orders", "leave --instead out"
        elif not mine and name in run.took:
            continue
        elif not mine:
            standing = sorted({run.name_of(p) for p in bookings.orders if p.packs and p.run != run.id})
            wrong = f"nothing is placed under '{name}'"
            right = nearest(name, standing) or f"placed are {', '.join(standing) or 'no other orders'}"
        elif any(run.seen.get((p.number, p.code), 0) for p in meant):
            wrong = "this run was made after it and counts on it, so it cannot take its place"
            right = "leave --instead out: this run adds to it; or make the run again after cancelling"
        else:
            taken += meant
            continue
        faults.append(Fault(run.orders, 0, f"--instead {name}", wrong, right, "no-run"))
    come = arrived(bookings)
    for name, group in groupby(
        sorted((p for p in taken if line_key(p) in come), key=run.name_of), key=run.name_of
    ):
        vendors = ", ".join(sorted({p.vendor for p in group}))
        wrong, right = f"some of it has been booked in, from {vendors}", "make the run again with 'order'"
        faults.append(Fault(run.orders, 0, f"--instead {name}", wrong, right, "delivered"))
    return tuple(taken), faults


def line_key(placed: Placed) -> tuple[str, str]:
    """Which line of which order: its number and its code."""
    return placed.number, placed.code


def arrived(bookings: Bookings) -> set[tuple[str, str]]:
    """Lines of orders of which something has been booked in."""
    found = matched(expectations(bookings.orders), bookings.receipts).expected
    return {(e.key.number, e.key.code) for e in found if e.is_settled}


def _what(placed: Placed, house: House) -> str:
    item = house.name_of(placed.item) if placed.item in house.ingredients else placed.item
    return f"{placed.vendor} {placed.code} {item}, {format_day(placed.deliver_on)}"
