"""Orders that stand already under another run, so that nothing is ordered twice without a word. Pure.

A run counts on the orders that were placed when it was made, and `run.json` says which. What was placed since
it knows nothing of: it asks for the same goods once more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from ordering.amounts import plural
from ordering.days import said
from ordering.faults import Fault, nearest
from ordering.ledger.matching import LATE_DAYS, expectations, matched
from ordering.records.house import House
from ordering.records.ledger import Bookings, OrderKey, Placed

MOST_NAMED = 3

Seen = Mapping[tuple[str, OrderKey], int]


@dataclass(frozen=True, slots=True)
class MadeRun:
    """A run about to be placed: where its orders stand, when it was made, what it counted on, in packs."""

    name: str
    orders: str
    made_on: date
    seen: Seen


def on_order(orders: Iterable[Placed], on: date) -> dict[str, list[list[Any]]]:
    """For `run.json`: by run, [vendor, code, day of the delivery, packs] of what a run counts on."""
    found: dict[str, list[list[Any]]] = {}
    for p in orders:
        if p.deliver_on >= on - timedelta(days=LATE_DAYS):
            found.setdefault(p.run, []).append([p.vendor, p.code, p.deliver_on.isoformat(), p.packs])
    return found


def made_run(name: str, orders: str, facts: Mapping[str, Any]) -> MadeRun:
    """The run by its `run.json`. What cannot be read there was not counted on: better asked than doubled."""
    seen: dict[tuple[str, OrderKey], int] = {}
    try:
        for run, lines in facts["on_order"].items():
            for vendor, code, day, packs in lines:
                seen[run, OrderKey(vendor, code, date.fromisoformat(day))] = int(packs)
    except (KeyError, TypeError, ValueError, AttributeError):
        seen = {}
    try:
        made_on = date.fromisoformat(facts["when"][:10])
    except (KeyError, TypeError, ValueError):
        made_on = date.min
    return MadeRun(name, orders, made_on, seen)


def ordered_twice(run: MadeRun, new: Sequence[Placed], bookings: Bookings, house: House) -> list[Fault]:
    """A fault a vendor for goods that another run has on order, and that this run did not count on.

    The item decides, not the code: what another vendor brings is in the house just the same. `new` are the
    lines to be recorded; those of which the run itself has placed some are a correction.
    """
    mine = {(p.vendor, p.code, p.deliver_on) for p in bookings.orders if p.run == run.name}
    others: dict[str, list[Placed]] = {}
    for p in bookings.orders:
        if p.run != run.name and p.deliver_on >= run.made_on and p.packs > run.seen.get((p.run, _key(p)), 0):
            others.setdefault(p.item, []).append(p)
    lines = [p for p in new if p.item in others and (p.vendor, p.code, p.deliver_on) not in mine]
    ranked = sorted(lines, key=lambda p: (p.vendor, p.deliver_on, p.code))
    return [
        _said_twice(run, vendor, list(group), others, house)
        for vendor, group in groupby(ranked, key=lambda p: p.vendor)
    ]


def _said_twice(
    run: MadeRun, vendor: str, lines: Sequence[Placed], others: Mapping[str, Sequence[Placed]], house: House
) -> Fault:
    standing = list(dict.fromkeys(p for line in lines for p in others[line.item]))
    named = [
        f"{_what(p, house)} under run {p.run}, {p.packs} pack{'' if p.packs == 1 else 's'}"
        for p in standing[:MOST_NAMED]
    ]
    more = [f"{len(standing) - MOST_NAMED} more"] if len(standing) > MOST_NAMED else []
    wrong = f"on order already, and this run did not count on it: {'; '.join([*named, *more])}"
    runs = " ".join(f"--instead {name}" for name in sorted({p.run for p in standing}))
    right = (
        f"if this run takes the place of what was placed, {runs}; if both are meant, --also; "
        f"or leave the vendor out with --without {vendor}"
    )
    return Fault(run.orders, 0, vendor, wrong, right, "ordered-twice")


def taken_instead(
    run: MadeRun, instead: Sequence[str], without: Sequence[str], bookings: Bookings
) -> tuple[tuple[Placed, ...], list[Fault]]:
    """What stands of the runs whose place this one takes, vendors left out left alone.

    Faults: nothing stands of such a run, it is this very run, or some of it has come.
    """
    standing = sorted({p.run for p in bookings.orders if p.run != run.name})
    faults = []
    for name in instead:
        if name not in standing:
            wrong = f"nothing stands placed under '{name}'"
            right = nearest(name, standing) or f"placed are {', '.join(standing) or 'no other runs'}"
            if name == run.name:
                wrong, right = "a run placed again takes its own place", "leave --instead out"
            faults.append(Fault(run.orders, 0, f"--instead {name}", wrong, right, "no-run"))
    taken = tuple(p for p in bookings.orders if p.run in instead and p.vendor not in without)
    return taken, [*faults, *_come(run, taken, bookings)]


def _come(run: MadeRun, taken: Sequence[Placed], bookings: Bookings) -> Iterator[Fault]:
    found = matched(expectations(bookings.orders), bookings.receipts).expected
    settled = {e.key for e in found if e.is_settled}
    come = [p for p in taken if _key(p) in settled]
    for name, group in groupby(sorted(come, key=lambda p: p.run), key=lambda p: p.run):
        vendors = ", ".join(sorted({p.vendor for p in group}))
        wrong = f"some of it has been booked in, from {vendors}"
        yield Fault(
            run.orders,
            0,
            f"--instead {name}",
            wrong,
            "make the run again with 'order', which counts on it",
            "delivered",
        )


def taken_told(taken: Iterable[Placed], new: Iterable[Placed], house: House) -> list[str]:
    """What was taken back, a line each; what the new orders do not ask of the same vendor is to call off."""
    again = {_key(p): p.packs for p in new}
    lines = []
    for p in taken:
        packs = again.get(_key(p))
        now = "cancelled: call them and cancel it" if packs is None else f"now {plural(packs, 'pack')}"
        lines.append(f"changed: {_what(p, house)}: {plural(p.packs, 'pack')} in {p.run}, {now}")
    return lines


def _what(placed: Placed, house: House) -> str:
    item = house.name_of(placed.item) if placed.item in house.ingredients else placed.item
    return f"{placed.vendor} {placed.code} {item}, {said(placed.deliver_on)}"


def _key(placed: Placed) -> OrderKey:
    return OrderKey(placed.vendor, placed.code, placed.deliver_on)
