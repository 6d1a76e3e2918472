"""Lines of the ledger as the records that the rest of the program knows, and back."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from datetime import date
from decimal import Decimal
from typing import TypeVar

from ordering.ledger.versions import line_of, standing_lines
from ordering.records.books import Allowance, Batch, CountedLot, Receipt, Waste
from ordering.records.documents import BATCHES, COUNT, CREDIT, DELIVERY, ORDER, WASTE, Booked, Line
from ordering.records.ledger import Bookings, Placed

R = TypeVar("R")
ALL_DAYS = date.max


def bookings(connection: sqlite3.Connection, until: date = ALL_DAYS, since: date = date.min) -> Bookings:
    """What stands in the ledger, as far as it had happened by the end of the day `until`.

    Of an order that was changed later, what had been placed by then. `since`: what is of an earlier day, for
    orders that of the delivery, is left out.
    """
    days = (until, since)
    goods: list[Booked[Receipt]] = []
    money: list[Booked[Allowance]] = []
    for number, version, n, line in standing_lines(connection, CREDIT, *days):
        if line.packs is None:
            money.append(Booked(allowance_of(line), line.unit, number, version, n))
        else:
            goods.append(Booked(receipt_of(line), line.unit, number, version, n))
    return Bookings(
        orders(connection, *days),
        tuple(_booked(connection, DELIVERY, days, receipt_of)),
        tuple(_booked(connection, COUNT, days, counted_of)),
        tuple(_booked(connection, WASTE, days, waste_of)),
        tuple(_booked(connection, BATCHES, days, batch_of)),
        tuple(goods),
        tuple(money),
    )


def orders(
    connection: sqlite3.Connection, until: date = ALL_DAYS, since: date = date.min
) -> tuple[Placed, ...]:
    """Lines of orders as they were placed by the end of a day, in the sequence of their numbers."""
    rows = connection.execute(
        "SELECT d.number, d.run, min(f.booked_on), v.id FROM documents d "
        "JOIN versions v ON v.document = d.id AND v.version = (SELECT max(version) FROM versions "
        "WHERE document = d.id AND version > 0 AND booked_on <= ?) "
        "JOIN versions f ON f.document = d.id AND f.version > 0 "
        "WHERE d.kind = ? AND v.day >= ? GROUP BY d.id ORDER BY d.serial",
        (until.isoformat(), ORDER, since.isoformat()),
    ).fetchall()
    columns = ", ".join(Line.__slots__)
    found = []
    for number, run, placed_on, version in rows:
        lines = connection.execute(f"SELECT {columns} FROM lines WHERE version = ? ORDER BY line", (version,))
        found += [placed_of(line_of(row), number, run, date.fromisoformat(placed_on)) for row in lines]
    return tuple(found)


def _booked(
    connection: sqlite3.Connection, kind: str, days: tuple[date, date], record_of: Callable[[Line], R]
) -> Iterator[Booked[R]]:
    for number, version, n, line in standing_lines(connection, kind, *days):
        yield Booked(record_of(line), line.unit, number, version, n)


def placed_of(line: Line, number: str, run: str, placed_on: date) -> Placed:
    """A line of an order."""
    return Placed(
        number=number,
        run=run,
        vendor=line.party,
        code=line.code,
        item=line.item,
        packs=int(line.packs or 0),
        proposed=line.proposed or 0,
        quantity=line.quantity,
        unit=line.unit,
        price=line.price,
        amount=line.amount or Decimal(0),
        deliver_on=line.day,
        placed_on=placed_on,
    )


def line_of_order(placed: Placed) -> Line:
    """The line of an order as it is kept."""
    return Line(
        day=placed.deliver_on,
        item=placed.item,
        quantity=placed.quantity,
        unit=placed.unit,
        party=placed.vendor,
        code=placed.code,
        packs=float(placed.packs),
        price=placed.price,
        amount=placed.amount,
        proposed=placed.proposed,
    )


def receipt_of(line: Line) -> Receipt:
    """What came."""
    return Receipt(
        delivered_on=line.day,
        vendor=line.party,
        code=line.code,
        item=line.item,
        packs=line.packs or 0.0,
        quantity=line.quantity,
        price=line.price,
        use_by=line.use_by,
        instead_of=line.instead_of,
        reason=line.reason,
        temperature=line.temperature,
        condition=line.condition,
        order=line.answers,
    )


def line_of_receipt(receipt: Receipt, unit: str) -> Line:
    """What came as it is kept."""
    return Line(
        day=receipt.delivered_on,
        item=receipt.item,
        quantity=receipt.quantity,
        unit=unit,
        party=receipt.vendor,
        code=receipt.code,
        packs=receipt.packs,
        price=receipt.price,
        use_by=receipt.use_by,
        instead_of=receipt.instead_of,
        reason=receipt.reason,
        temperature=receipt.temperature,
        condition=receipt.condition,
        answers=receipt.order,
    )


def allowance_of(line: Line) -> Allowance:
    """Money credited with no goods: a line of a credit without packs."""
    return Allowance(line.day, line.party, line.code, line.amount or Decimal(0), line.reason)


def line_of_allowance(allowance: Allowance, item: str) -> Line:
    """Money credited with no goods as it is kept: a line without packs, for an item or for none."""
    return Line(
        allowance.credited_on,
        item,
        0.0,
        "",
        party=allowance.vendor,
        code=allowance.code,
        amount=allowance.money,
        reason=allowance.reason,
    )


def counted_of(line: Line) -> CountedLot:
    """A counted lot."""
    return CountedLot(line.day, line.item, line.quantity, line.use_by, line.ready_on)


def line_of_count(lot: CountedLot, unit: str) -> Line:
    """A counted lot as it is kept."""
    return Line(lot.counted_on, lot.item, lot.quantity, unit, use_by=lot.use_by, ready_on=lot.ready_on)


def waste_of(line: Line) -> Waste:
    """What was thrown away."""
    return Waste(line.day, line.item, line.quantity, line.reason)


def line_of_waste(waste: Waste, unit: str) -> Line:
    """What was thrown away as it is kept."""
    return Line(waste.date, waste.item, waste.quantity, unit, reason=waste.reason)


def batch_of(line: Line) -> Batch:
    """A batch with what it drew, as it was booked."""
    return Batch(line.day, line.item, line.drawn or 0.0, line.quantity, line.drawn_item, line.drawn_unit)


def line_of_batch(batch: Batch, unit: str) -> Line:
    """A batch as it is kept."""
    return Line(
        batch.started_on,
        batch.recipe,
        batch.made,
        unit,
        drawn=batch.drawn,
        drawn_item=batch.drawn_item,
        drawn_unit=batch.drawn_unit,
    )
