"""Placing a run: its sheets are read, its orders booked, letters and sheets written as they must go out."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, time
from decimal import Decimal
from pathlib import Path

from ordering.bookkeeping.letters import Telling, as_placed, tell
from ordering.bookkeeping.order_sheets import Asked, read_order_sheets
from ordering.bookkeeping.placing_told import amended_told, left_out_told, new_told, placed_told, taken_told
from ordering.bookkeeping.run_to_place import RunToPlace, run_to_place
from ordering.days import format_day
from ordering.faults import Fault, Refused
from ordering.ledger import register, rows, store
from ordering.ledger.order_lines import below_minimum, drops_meant, late, placed_lines, run_line_key
from ordering.ledger.sheet_changes import settled
from ordering.ledger.twice import arrived, is_named, ordered_twice, taken_instead
from ordering.read.house_folder import read_house
from ordering.records.buying import DeliveryKey, OrderLine
from ordering.records.documents import ORDER, Paper
from ordering.records.house import House
from ordering.records.ledger import Bookings, Placed
from ordering.records.report import Report
from ordering.records.vendor_orders import Order, orders_of
from ordering.texts import listed


@dataclass(frozen=True, slots=True)
class PlacingTerms:
    """How a run is placed.

    `without`, `only` and `cancel` name vendors, or a vendor and a day as `VENDOR,DAY`: left as they are,
    placed alone, taken back. `instead` names runs or orders whose place this one takes; `is_on_top`: it comes
    on top of what others have on order; `is_confirmed`: entries that look like a slip are meant.
    """

    without: tuple[str, ...] = ()
    instead: tuple[str, ...] = ()
    is_on_top: bool = False
    only: tuple[str, ...] = ()
    cancel: tuple[str, ...] = ()
    is_confirmed: bool = False


@dataclass(frozen=True, slots=True)
class _Wanted:
    """What is to stand when the run has been placed.

    By delivery of the run, its lines; all of one vendor's sheet, lines taken off among them; deliveries of
    the run that are not placed now.
    """

    lines: Mapping[DeliveryKey, tuple[OrderLine, ...]]
    on_sheets: tuple[OrderLine, ...]
    left_out: tuple[DeliveryKey, ...]


@dataclass(frozen=True, slots=True)
class _Change:
    """What placing changes of what stands: orders to write, as (before, now), and orders taken back."""

    orders: tuple[tuple[Order | None, Order], ...] = ()
    taken: tuple[Placed, ...] = ()

    @property
    def is_nothing(self) -> bool:
        return not self.orders and not self.taken


def place(config: Path, books_dir: Path, runs: Path, run: str, terms: PlacingTerms, on: date) -> Report:
    """Record a run's orders as placed, as its vendor sheets now say, and write what must go out.

    Placing a run again amends what was placed of it before, each change with a letter of its own; nothing
    happens where the sheets did not change. What others have on order, and this run did not count on when
    it was made, is not ordered once more unless `terms` say so.

    Raises
    ------
    Refused : no such run or vendor; the ledger does not know the run; a sheet missing, damaged or with
        entries that cannot be; a change to what has been delivered; goods on order already. Nothing has
        been written
    """
    house, faults = read_house(config)
    if house is None or faults:
        raise Refused(faults)
    made = run_to_place(house, books_dir, runs, run)
    wanted = _wanted(house, made, terms)
    change = _change(house, made, wanted, terms, store.bookings(books_dir, since=made.since))
    if not change.is_nothing:
        with store.open_ledger(books_dir) as connection, store.transaction(connection):
            change = _change(house, made, wanted, terms, rows.bookings(connection, since=made.since))
            _write(connection, made, change, on)
    bookings = store.bookings(books_dir, since=made.since)
    letters = tell(house, books_dir, _telling(house, made, wanted, bookings, on))
    if change.is_nothing and not letters:
        return _nothing_placed(made, wanted, terms)
    now = _standing(house, made, bookings, {order.delivery for _, order in change.orders})
    warnings = (*late(house, (order for _, order in change.orders), on), *below_minimum(house, now))
    return Report(
        (
            *placed_told(house, run, now),
            *_told(house, made, wanted, change, bookings),
            *warnings,
            *(f"send: {path}" for path in letters),
        ),
        1 if warnings else 0,
        (store.ledger_path(books_dir), *letters),
    )


def _told(
    house: House, run: RunToPlace, wanted: _Wanted, change: _Change, bookings: Bookings
) -> Iterator[str]:
    """What changes of orders placed before, and of what the run proposes; what is left out or taken back."""
    amended = {now.delivery: (old, now) for old, now in change.orders if old is not None}
    new = {now.delivery for _, now in change.orders} - amended.keys()
    for drop, lines in wanted.lines.items():
        if drop in amended:
            yield from amended_told(house, *amended[drop])
        elif drop in new:
            yield from new_told(house, drop, run.lines, wanted.on_sheets)
        elif not lines:
            vendor, day = drop
            yield f"left out: {house.vendors[vendor].name}, {format_day(day)}: every line is crossed off"
    if any(wanted.lines.values()):
        placed = {(p.vendor, p.deliver_on) for p in bookings.orders if p.run == run.made.id}
        yield from left_out_told(house, set(wanted.left_out) - placed)
    yield from taken_told(change.taken)


def _wanted(house: House, run: RunToPlace, terms: PlacingTerms) -> _Wanted:
    """What the sheets say of the deliveries that are meant."""
    drops = {(line.vendor, line.deliver_on) for line in run.lines}
    meant, faults = _meant(run, terms, drops)
    if faults:
        raise Refused(faults)
    placed, cancelled = meant
    read = {vendor for vendor, _ in placed - cancelled}
    proposed = [line for line in run.lines if line.vendor in read]
    asked = [
        Asked(
            vendor,
            tuple(line for line in proposed if line.vendor == vendor),
            frozenset(number for (v, _), number in run.numbers.items() if v == vendor),
        )
        for vendor in sorted(read)
    ]
    sheets = read_order_sheets(run.folder, asked)
    found, faults = settled(house, proposed, sheets, terms.is_confirmed)
    if faults:
        raise Refused(faults)
    off = [line for line in (*found, *run.lines) if (line.vendor, line.deliver_on) in cancelled]
    taken_off = {run_line_key(line): _off(line) for line in off}
    kept = [line for line in found if (line.vendor, line.deliver_on) not in cancelled]
    return _Wanted(
        {
            drop: tuple(line for line in kept if (line.vendor, line.deliver_on) == drop and line.packs)
            for drop in sorted(placed, key=lambda drop: (drop[1], drop[0]))
        },
        (*kept, *taken_off.values()),
        tuple(sorted(drops - placed)),
    )


def _off(line: OrderLine) -> OrderLine:
    return replace(line, packs=0, quantity=0.0, amount=Decimal(0))


def _meant(
    run: RunToPlace, terms: PlacingTerms, drops: set[DeliveryKey]
) -> tuple[tuple[set[DeliveryKey], set[DeliveryKey]], list[Fault]]:
    """The deliveries to be placed, and those among them to be cancelled."""
    place = run.made.orders
    only, faults = drops_meant(terms.only, drops, place, "--only")
    without, found = drops_meant(terms.without, drops, place, "--without")
    cancelled, more = drops_meant(terms.cancel, drops, place, "--cancel")
    chosen = (only | cancelled) if terms.only else (cancelled or drops) if terms.cancel else drops
    return (chosen - without, cancelled), [*faults, *found, *more]


def _change(
    house: House, run: RunToPlace, wanted: _Wanted, terms: PlacingTerms, bookings: Bookings
) -> _Change:
    """What placing changes of what stands in the ledger.

    Raises
    ------
    Refused : goods that have come, or that others have on order already
    """
    taken, faults = taken_instead(run.made, terms.instead, _left_alone(wanted, terms), bookings)
    others = [p for p in bookings.orders if p.run != run.made.id and p not in taken]
    before = {order.delivery: order for order in _standing(house, run, bookings, set(wanted.lines))}
    changed: list[tuple[Order | None, Order]] = []
    for drop, lines in wanted.lines.items():
        old = before.get(drop)
        if _terms(old.lines if old else ()) == _terms(lines):
            continue
        (now,) = orders_of(house, lines, run.numbers, others) or (_empty(run, drop),)
        changed.append((old, replace(now, number=run.numbers.get(drop, ""))))
    faults += _delivered(run, changed, bookings)
    if not terms.is_on_top and not faults:
        new = [p for old, now in changed for p in _new_lines(run, old, now)]
        beside = tuple(p for p in others if not _is_replaced_later(p, run, wanted, terms))
        faults = ordered_twice(run.made, new, replace(bookings, orders=beside), house, terms.instead)
    if faults:
        raise Refused(faults)
    return _Change(tuple(changed), taken)


def _left_alone(wanted: _Wanted, terms: PlacingTerms) -> Callable[[DeliveryKey], bool]:
    """Which deliveries of a run whose place this one takes stay as they are until more of it is placed.

    Those of its own that are left out and, of a vendor partly left out, those it does not order at all; where
    some are placed alone, all of every other vendor.
    """
    left_out = {vendor for vendor, _ in wanted.left_out}
    placed = {vendor for vendor, _ in wanted.lines}

    def is_left(drop: DeliveryKey) -> bool:
        vendor, _ = drop
        is_beside = bool(terms.only) and vendor not in placed
        return drop not in wanted.lines and (vendor in left_out or is_beside)

    return is_left


def _is_replaced_later(p: Placed, run: RunToPlace, wanted: _Wanted, terms: PlacingTerms) -> bool:
    """Whether a line stands until this run's own for that delivery, left out for now, takes its place."""
    drop = (p.vendor, p.deliver_on)
    own = {line.item for line in run.lines if (line.vendor, line.deliver_on) == drop}
    return drop in wanted.left_out and p.item in own and is_named(p, run.made, terms.instead)


def _empty(run: RunToPlace, drop: DeliveryKey) -> Order:
    return Order(*drop, (), number=run.numbers.get(drop, ""))


def _terms(lines: Iterable[OrderLine]) -> dict[str, tuple[int, Decimal | None]]:
    """What an order asks for: packs and price by code."""
    return {line.code: (line.packs, line.price) for line in lines}


def _new_lines(run: RunToPlace, old: Order | None, now: Order) -> list[Placed]:
    known = {line.code for line in old.lines} if old else set()
    return [p for p in placed_lines(now, run.proposed, run.made.id, date.max) if p.code not in known]


def _delivered(
    run: RunToPlace, changed: Iterable[tuple[Order | None, Order]], bookings: Bookings
) -> Iterator[Fault]:
    """A fault for each changed line of which something has come."""
    come = arrived(bookings)
    for old, now in changed:
        before, after = _terms(old.lines if old else ()), _terms(now.lines)
        for code in sorted(before):
            if before[code] != after.get(code) and (now.number, code) in come:
                wrong = f"what was ordered for {format_day(now.deliver_on)} has been booked in"
                right = (
                    f"leave the line at {before[code][0]} packs, as it was placed; order more in a new run"
                )
                place = (run.folder / "orders" / f"{now.vendor}.xlsx").as_posix()
                yield Fault(place, 0, code, wrong, right, "delivered")


def _standing(
    house: House, run: RunToPlace, bookings: Bookings, drops: set[DeliveryKey]
) -> tuple[Order, ...]:
    """The orders of a run as they stand in the ledger, of these deliveries."""
    mine = [p for p in bookings.orders if p.run == run.made.id and (p.vendor, p.deliver_on) in drops]
    kept = {run_line_key(line): line for line in run.lines}
    lines = [as_placed(house, p, kept.get((p.vendor, p.deliver_on, p.code))) for p in mine]
    others = [p for p in bookings.orders if p.run != run.made.id]
    return orders_of(house, lines, run.numbers, others)


def _write(connection: sqlite3.Connection, run: RunToPlace, change: _Change, on: date) -> None:
    """Write each changed order as its next version, and orders taken back without lines."""
    for _, now in change.orders:
        lines = tuple(map(rows.line_of_order, placed_lines(now, run.proposed, run.made.id, on)))
        paper = Paper(ORDER, now.deliver_on, lines, now.number, now.vendor, run=run.made.id)
        register.write(connection, paper, on)
    for number in sorted({p.number for p in change.taken}):
        p = next(p for p in change.taken if p.number == number)
        taken = Paper(ORDER, p.deliver_on, (), number, p.vendor, source=run.made.id, run=p.run)
        register.write(connection, taken, on)


def _telling(house: House, run: RunToPlace, wanted: _Wanted, bookings: Bookings, on: date) -> Telling:
    """What the vendors have to be told of: what stands in the ledger, and what is on the sheets."""
    made = max(run.when, datetime.combine(on, time()))
    others = tuple(p for p in bookings.orders if p.run != run.made.id)
    sheets = orders_of(house, wanted.on_sheets, run.numbers, others)
    return Telling(run.folder, run.made.id, made, run.lines, sheets, others)


def _nothing_placed(run: RunToPlace, wanted: _Wanted, terms: PlacingTerms) -> Report:
    """What is said where there is nothing to record."""
    name = run.made.name
    if any(wanted.lines.values()):
        return Report((f"{name} is already placed; nothing changed",))
    if terms.cancel:
        return Report((f"{name} has no order placed with {listed(terms.cancel)}; nothing cancelled",), 1)
    why = f"{name} orders nothing"
    if run.lines:
        why = f"every line of {name} is crossed off" if wanted.lines else f"{name}: every vendor was left out"
    return Report((f"{why}; nothing placed",), 1)
