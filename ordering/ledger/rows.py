"""Rows of the ledger to records and back. Every statement of the ledger but the schema is here."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from ordering.records.books import Batch, CountedLot, Receipt, Waste
from ordering.records.ledger import BookedBatch, BookedCount, BookedReceipt, BookedWaste, Bookings, Placed

ALL_DAYS = date.max


@dataclass(frozen=True, slots=True)
class SourceFile:
    """A file to be booked in. `sha256` is of its bytes, `rows_sha256` of what was read from it."""

    kind: str
    name: str
    sha256: str
    rows_sha256: str


def _day(text: str | None) -> date | None:
    return date.fromisoformat(text) if text else None


def _text(day: date | None) -> str | None:
    return day.isoformat() if day else None


def _money(text: str | None) -> Decimal | None:
    return Decimal(text) if text is not None else None


def bookings(connection: sqlite3.Connection, until: date = ALL_DAYS) -> Bookings:
    """What stands in the ledger, as far as it had happened by the end of the day `until`."""
    return Bookings(
        orders(connection, until),
        receipts(connection, until),
        counts(connection, until),
        waste(connection, until),
        batches(connection, until),
    )


def orders(connection: sqlite3.Connection, until: date = ALL_DAYS) -> tuple[Placed, ...]:
    """Lines placed up to the end of a day, by run, vendor, delivery and code."""
    rows = connection.execute(
        "SELECT run, vendor, code, item, packs, proposed, quantity, unit, price, amount, deliver_on, "
        "placed_on FROM orders WHERE placed_on <= ? ORDER BY run, vendor, deliver_on, code",
        (until.isoformat(),),
    )
    return tuple(
        Placed(
            run=row[0],
            vendor=row[1],
            code=row[2],
            item=row[3],
            packs=row[4],
            proposed=row[5],
            quantity=row[6],
            unit=row[7],
            price=_money(row[8]),
            amount=Decimal(row[9]),
            deliver_on=date.fromisoformat(row[10]),
            placed_on=date.fromisoformat(row[11]),
        )
        for row in rows
    )


def receipts(connection: sqlite3.Connection, until: date = ALL_DAYS) -> tuple[BookedReceipt, ...]:
    """What came up to the end of a day and still stands, in the sequence it came."""
    rows = connection.execute(
        "SELECT delivered_on, vendor, code, item, packs, quantity, price, use_by, unit, name "
        "FROM receipts JOIN files ON files.id = file "
        "WHERE replaced_by IS NULL AND delivered_on <= ? ORDER BY delivered_on, receipts.id",
        (until.isoformat(),),
    )
    return tuple(
        BookedReceipt(
            Receipt(
                delivered_on=date.fromisoformat(row[0]),
                vendor=row[1],
                code=row[2],
                item=row[3],
                packs=row[4],
                quantity=row[5],
                price=_money(row[6]),
                use_by=_day(row[7]),
            ),
            unit=row[8],
            file=row[9],
        )
        for row in rows
    )


def counts(connection: sqlite3.Connection, until: date = ALL_DAYS) -> tuple[BookedCount, ...]:
    """Counts up to the end of a day that still stand, in the sequence they were taken."""
    rows = connection.execute(
        "SELECT counted_on, item, quantity, use_by, ready_on, unit, name "
        "FROM counts JOIN files ON files.id = file "
        "WHERE replaced_by IS NULL AND counted_on <= ? ORDER BY counted_on, counts.id",
        (until.isoformat(),),
    )
    return tuple(
        BookedCount(
            CountedLot(date.fromisoformat(row[0]), row[1], row[2], _day(row[3]), _day(row[4])), row[5], row[6]
        )
        for row in rows
    )


def waste(connection: sqlite3.Connection, until: date = ALL_DAYS) -> tuple[BookedWaste, ...]:
    """What was thrown away up to the end of a day, as it still stands."""
    rows = connection.execute(
        "SELECT date, item, quantity, reason, unit, name FROM waste JOIN files ON files.id = file "
        "WHERE replaced_by IS NULL AND date <= ? ORDER BY date, waste.id",
        (until.isoformat(),),
    )
    return tuple(BookedWaste(Waste(date.fromisoformat(r[0]), *r[1:4]), r[4], r[5]) for r in rows)


def batches(connection: sqlite3.Connection, until: date = ALL_DAYS) -> tuple[BookedBatch, ...]:
    """Batches started up to the end of a day, as they still stand."""
    rows = connection.execute(
        "SELECT started_on, recipe, drawn, made, unit, name, drawn_item, drawn_unit "
        "FROM batches JOIN files ON files.id = file "
        "WHERE replaced_by IS NULL AND started_on <= ? ORDER BY started_on, batches.id",
        (until.isoformat(),),
    )
    return tuple(BookedBatch(Batch(date.fromisoformat(r[0]), *r[1:4]), *r[4:]) for r in rows)


def add_orders(connection: sqlite3.Connection, lines: Iterable[Placed]) -> None:
    """Record lines as placed; a line of the same run, offer and day is replaced."""
    connection.executemany(
        "INSERT OR REPLACE INTO orders (run, vendor, code, item, packs, proposed, quantity, unit, price, "
        "amount, deliver_on, placed_on) VALUES (?,?,?,?,?,?,?,?,?,?,?,?)",
        [
            (
                *(p.run, p.vendor, p.code, p.item, p.packs, p.proposed, p.quantity, p.unit),
                None if p.price is None else str(p.price),
                *(str(p.amount), p.deliver_on.isoformat(), p.placed_on.isoformat()),
            )
            for p in lines
        ],
    )


def drop_orders(connection: sqlite3.Connection, lines: Iterable[Placed]) -> None:
    """Take lines back that the vendor was not told after all."""
    connection.executemany(
        "DELETE FROM orders WHERE run = ? AND vendor = ? AND code = ? AND deliver_on = ?",
        [(p.run, p.vendor, p.code, p.deliver_on.isoformat()) for p in lines],
    )


def booked_before(connection: sqlite3.Connection, source: SourceFile) -> str:
    """Day on which the same content was booked in and still stands whole, empty when it does not.

    A file of which a correction replaced anything no longer stands and may be booked again.
    """
    table = _TABLES[source.kind]
    row = connection.execute(
        "SELECT max(booked_on) FROM files WHERE kind = ? AND (sha256 = ? OR rows_sha256 = ?) "
        f"AND EXISTS (SELECT 1 FROM {table} WHERE file = files.id) "
        f"AND NOT EXISTS (SELECT 1 FROM {table} WHERE file = files.id AND replaced_by IS NOT NULL)",
        (source.kind, source.sha256, source.rows_sha256),
    ).fetchone()
    return str(row[0] or "")


_TABLES = {"receipts": "receipts", "counts": "counts", "waste": "waste", "batches": "batches"}


def add_file(connection: sqlite3.Connection, source: SourceFile, booked_on: date) -> int:
    """Note a file as booked in; its number."""
    cursor = connection.execute(
        "INSERT INTO files (kind, name, sha256, rows_sha256, booked_on) VALUES (?,?,?,?,?)",
        (source.kind, source.name, source.sha256, source.rows_sha256, booked_on.isoformat()),
    )
    return int(cursor.lastrowid or 0)


def add_receipts(connection: sqlite3.Connection, file: int, booked: Iterable[BookedReceipt]) -> None:
    """Note what came, as rows of a file noted before."""
    connection.executemany(
        "INSERT INTO receipts (file, delivered_on, vendor, code, item, packs, quantity, unit, price, use_by) "
        "VALUES (?,?,?,?,?,?,?,?,?,?)",
        [
            (
                *(file, b.receipt.delivered_on.isoformat(), b.receipt.vendor, b.receipt.code),
                *(b.receipt.item, b.receipt.packs, b.receipt.quantity, b.unit),
                None if b.receipt.price is None else str(b.receipt.price),
                _text(b.receipt.use_by),
            )
            for b in booked
        ],
    )


def add_counts(connection: sqlite3.Connection, file: int, booked: Iterable[BookedCount]) -> None:
    """Note counts, as rows of a file noted before."""
    connection.executemany(
        "INSERT INTO counts (file, counted_on, item, quantity, unit, use_by, ready_on) "
        "VALUES (?,?,?,?,?,?,?)",
        [
            (
                *(file, b.lot.counted_on.isoformat(), b.lot.item, b.lot.quantity, b.unit),
                *(_text(b.lot.use_by), _text(b.lot.ready_on)),
            )
            for b in booked
        ],
    )


def add_waste(connection: sqlite3.Connection, file: int, booked: Iterable[BookedWaste]) -> None:
    """Note what was thrown away, as rows of a file noted before."""
    connection.executemany(
        "INSERT INTO waste (file, date, item, quantity, unit, reason) VALUES (?,?,?,?,?,?)",
        [
            (file, b.waste.date.isoformat(), b.waste.item, b.waste.quantity, b.unit, b.waste.reason)
            for b in booked
        ],
    )


def add_batches(connection: sqlite3.Connection, file: int, booked: Iterable[BookedBatch]) -> None:
    """Note what batches drew and gave, as rows of a file noted before."""
    connection.executemany(
        "INSERT INTO batches (file, started_on, recipe, drawn, made, unit, drawn_item, drawn_unit) "
        "VALUES (?,?,?,?,?,?,?,?)",
        [
            (
                *(file, b.batch.started_on.isoformat(), b.batch.recipe, b.batch.drawn, b.batch.made),
                *(b.unit, b.drawn_item, b.drawn_unit),
            )
            for b in booked
        ],
    )


def replace_receipts(
    connection: sqlite3.Connection, file: int, name: str, keys: Iterable[tuple[str, date]]
) -> None:
    """Rows of an earlier file of this name, for these vendors and days, give way to file `file`."""
    connection.executemany(
        "UPDATE receipts SET replaced_by = ? WHERE replaced_by IS NULL AND vendor = ? AND delivered_on = ? "
        "AND file IN (SELECT id FROM files WHERE name = ? AND id <> ?)",
        [(file, vendor, day.isoformat(), name, file) for vendor, day in keys],
    )


def replace_dated(
    connection: sqlite3.Connection, kind: str, file: int, keys: Sequence[tuple[date, str]], name: str = ""
) -> None:
    """Rows of earlier files with the same day and item (or recipe) give way to file `file`.

    With a `name` only rows of files of that name.
    """
    day, item = _KEYS[kind]
    connection.executemany(
        f"UPDATE {_TABLES[kind]} SET replaced_by = ? "
        f"WHERE replaced_by IS NULL AND {day} = ? AND {item} = ? AND file <> ? "
        "AND (? = '' OR file IN (SELECT id FROM files WHERE name = ?))",
        [(file, when.isoformat(), what, file, name, name) for when, what in keys],
    )


_KEYS = {"counts": ("counted_on", "item"), "waste": ("date", "item"), "batches": ("started_on", "recipe")}
