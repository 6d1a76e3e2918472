"""The register of documents: numbers given out, papers booked in.

Everything here works on an open ledger, and what writes belongs inside a transaction: two commands at once
cannot be given the same number then, and a paper is held against what stands at that very moment.
"""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from datetime import date
from decimal import Decimal
from operator import attrgetter

from ordering.faults import Fault, Refused, nearest
from ordering.ledger.look_alikes import booked_before, refuse_alike
from ordering.ledger.versions import COLUMNS, id_of, lines_of, standing
from ordering.records.documents import (
    MARKS,
    Booking,
    Document,
    Meant,
    Paper,
)

_VALUES = attrgetter(*COLUMNS)


def give_number(connection: sqlite3.Connection, form: Paper, on: date, prefix: str = "") -> str:
    """A number never given before, to be printed on a form of this kind; its version 0 is noted.

    `prefix` is what numbers of orders begin with.
    """
    document, number = _new_document(connection, form, prefix)
    _write_version(connection, document, 0, replace(form, lines=()), on)
    return number


def book(connection: sqlite3.Connection, paper: Paper, on: date, meant: Meant, prefix: str = "") -> Booking:
    """Book a paper: as the next version of its own document, or as a new one.

    The same lines again change nothing, whatever file they come in. A paper without a number, or with one
    that has not been booked yet, is held against what stands: where it looks like another document, it is
    refused unless `meant` says which it is.

    Raises
    ------
    Refused : no document of the number; it looks like another one. Nothing has been written
    """
    if meant.corrects:
        paper = replace(paper, number=meant.corrects)
    found = _found(connection, paper) if paper.number else None
    same = booked_before(connection, paper)
    if same:
        return same
    if found is None or found.version == 0:
        refuse_alike(connection, paper, on, meant)
    if found is None:
        document, number = _new_document(connection, paper, prefix)
        _write_version(connection, document, 1, paper, on)
        return Booking(number, 1, True, on)
    before = lines_of(connection, found.number, found.version)
    _write_version(connection, id_of(connection, found.number), found.version + 1, paper, on)
    return Booking(found.number, found.version + 1, True, on, before)


def write(connection: sqlite3.Connection, paper: Paper, on: date, prefix: str = "") -> int:
    """The next version of a paper's document, or the first of a new one, written without a question.

    Returns its row in the table of versions.
    """
    found = standing(connection, paper.number) if paper.number else None
    if found is None:
        document, _ = _new_document(connection, paper, prefix)
        return _write_version(connection, document, 1, paper, on)
    return _write_version(connection, id_of(connection, found.number), found.version + 1, paper, on)


def _new_document(connection: sqlite3.Connection, paper: Paper, prefix: str) -> tuple[int, str]:
    (serial,) = connection.execute(
        "SELECT coalesce(max(serial), 0) + 1 FROM documents WHERE kind = ?", (paper.kind,)
    ).fetchone()
    number = f"{MARKS[paper.kind]}{serial}" if paper.kind in MARKS else f"{prefix}{serial:04d}"
    cursor = connection.execute(
        "INSERT INTO documents (kind, serial, number, run) VALUES (?,?,?,?)",
        (paper.kind, serial, number, paper.run),
    )
    return int(cursor.lastrowid or 0), number


def _write_version(
    connection: sqlite3.Connection, document: int, version: int, paper: Paper, on: date
) -> int:
    total = None if paper.total is None else str(paper.total)
    head = (document, version, paper.day.isoformat(), paper.party, on.isoformat(), paper.source)
    cursor = connection.execute(
        "INSERT INTO versions (document, version, day, party, booked_on, source, invoice, total) "
        "VALUES (?,?,?,?,?,?,?,?)",
        (*head, paper.invoice, total),
    )
    marks = ",".join("?" * (2 + len(COLUMNS)))
    connection.executemany(
        f"INSERT INTO lines (version, line, {', '.join(COLUMNS)}) VALUES ({marks})",
        ((cursor.lastrowid, n, *map(_written, _VALUES(line))) for n, line in enumerate(paper.lines, 1)),
    )
    return int(cursor.lastrowid or 0)


def _found(connection: sqlite3.Connection, paper: Paper) -> Document:
    """The document a paper says it is, as it stands."""
    number = paper.number
    found = standing(connection, number)
    if found is None or found.kind != paper.kind:
        query = "SELECT number FROM documents WHERE kind = ? ORDER BY serial"
        known = [row[0] for row in connection.execute(query, (paper.kind,))]
        right = nearest(number, known) or "give the number that is printed on the sheet"
        raise Refused([no_document(paper.source, paper.kind, number, right)])
    return found


def _written(value: object) -> object:
    """A field as it is kept: days and money as text."""
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value


def no_document(place: str, kind: str, number: str, right: str) -> Fault:
    """What is said where a number is in no ledger."""
    return Fault(place, 0, number, f"the ledger has no {kind} of this number", right, "no-document")
