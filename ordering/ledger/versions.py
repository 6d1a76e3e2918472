"""Versions of documents as they stand in the ledger, and their lines."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from dataclasses import fields
from datetime import date
from decimal import Decimal
from functools import lru_cache
from typing import Any

from ordering.ledger.connection import Unsound
from ordering.records.documents import Document, Line

COLUMNS = tuple(field.name for field in fields(Line))
_LINE = ", ".join(f"l.{name}" for name in COLUMNS)
_DOCUMENT = "d.kind, d.number, v.version, v.day, v.party, v.booked_on, v.source, d.run, v.invoice, v.total"
_day = lru_cache(4096)(date.fromisoformat)


def standing(connection: sqlite3.Connection, number: str) -> Document | None:
    """The version that stands of a document, the form where nothing is booked; None: no such number."""
    rows = connection.execute(
        f"SELECT {_DOCUMENT} FROM documents d JOIN versions v ON v.document = d.id "
        "WHERE d.number = ? ORDER BY v.version DESC LIMIT 1",
        (number,),
    ).fetchall()
    return _document(rows[0]) if rows else None


def of_run(connection: sqlite3.Connection, run: str) -> tuple[Document, ...]:
    """The documents of a run in the sequence of their numbers, each as it stands."""
    rows = connection.execute(
        f"SELECT {_DOCUMENT} FROM documents d JOIN versions v ON v.document = d.id WHERE d.run = ? "
        "AND v.version = (SELECT max(version) FROM versions WHERE document = d.id) ORDER BY d.kind, d.serial",
        (run,),
    )
    return tuple(map(_document, rows))


def written_by(connection: sqlite3.Connection, kind: str, source: str) -> tuple[Document, ...]:
    """Documents of a kind whose version that stands comes from a source."""
    rows = connection.execute(
        f"SELECT {_DOCUMENT} FROM documents d JOIN versions v ON v.document = d.id WHERE d.kind = ? "
        "AND v.source = ? AND v.version = (SELECT max(version) FROM versions WHERE document = d.id) "
        "ORDER BY d.serial",
        (kind, source),
    )
    return tuple(map(_document, rows))


def lines_of(connection: sqlite3.Connection, number: str, version: int) -> tuple[Line, ...]:
    """The lines of one version of a document."""
    rows = connection.execute(
        f"SELECT {_LINE} FROM documents d JOIN versions v ON v.document = d.id AND v.version = ? "
        "JOIN lines l ON l.version = v.id WHERE d.number = ? ORDER BY l.line",
        (version, number),
    )
    return tuple(map(line_of, rows))


def standing_lines(
    connection: sqlite3.Connection, kind: str, until: date, since: date = date.min
) -> Iterator[tuple[str, int, int, Line]]:
    """(number, version, line, what it says) of every line that stands, of days from `since` to `until`."""
    rows = connection.execute(
        f"SELECT s.number, s.version, l.line, {_LINE} FROM standing s JOIN lines l ON l.version = s.id "
        "WHERE s.kind = ? AND l.day BETWEEN ? AND ? ORDER BY l.day, s.id, l.line",
        (kind, since.isoformat(), until.isoformat()),
    )
    return ((row[0], row[1], row[2], line_of(row[3:])) for row in rows)


def line_of(row: Sequence[Any]) -> Line:
    """A row of the table of lines, its columns in the sequence of the record.

    Raises
    ------
    Unsound : a value is none that was ever written there
    """
    day, item, quantity, unit, party, code, packs, price, amount, proposed, use_by, ready_on, *rest = row
    try:
        return Line(
            *(_day(day), item, quantity + 0.0, unit, party, code, packs),
            None if price is None else Decimal(price),
            None if amount is None else Decimal(amount),
            proposed,
            None if use_by is None else _day(use_by),
            None if ready_on is None else _day(ready_on),
            *rest,
        )
    except (ValueError, TypeError, ArithmeticError) as error:
        raise Unsound(f"a line cannot be read: {error}") from error


def id_of(connection: sqlite3.Connection, number: str) -> int:
    """The row of a document in its table."""
    (document,) = connection.execute("SELECT id FROM documents WHERE number = ?", (number,)).fetchone()
    return int(document)


def _document(row: Sequence[str]) -> Document:
    kind, number, version, day, party, booked_on, source, run, invoice, total = row
    try:
        return Document(
            *(kind, number, int(version), _day(day), party, _day(booked_on), source, run, invoice),
            total=None if total is None else Decimal(total),
        )
    except (ValueError, TypeError, ArithmeticError) as error:
        raise Unsound(f"{number} cannot be read: {error}") from error
