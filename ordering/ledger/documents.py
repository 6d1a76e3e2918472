"""Documents in the ledger: numbers given out, papers booked, versions that stand.

Everything here works on an open ledger, and what writes belongs inside a transaction: two commands at once
cannot be given the same number then, and a paper is held against what stands at that very moment.
"""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import fields, replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from operator import attrgetter
from typing import Any

from ordering.amounts import plural
from ordering.days import said
from ordering.faults import Fault, Refused, nearest
from ordering.ledger.connection import Unsound
from ordering.records.documents import (
    CREDIT,
    DELIVERY,
    MARKS,
    Booking,
    Document,
    Line,
    Meant,
    Paper,
)

MOST_NAMED = 3
_COLUMNS = tuple(field.name for field in fields(Line))
_VALUES = attrgetter(*_COLUMNS)
_LINE = ", ".join(f"l.{name}" for name in _COLUMNS)
_DOCUMENT = "d.kind, d.number, v.version, v.day, v.party, v.booked_on, v.source, d.run, v.invoice, v.total"


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
        _ask(connection, paper, meant)
    if found is None:
        document, number = _new_document(connection, paper, prefix)
        _write_version(connection, document, 1, paper, on)
        return Booking(number, 1, True, on)
    before = lines_of(connection, found.number, found.version)
    _write_version(connection, _id_of(connection, found.number), found.version + 1, paper, on)
    return Booking(found.number, found.version + 1, True, on, before)


def booked_before(connection: sqlite3.Connection, paper: Paper) -> Booking | None:
    """Where the same content stands already: under the paper's own number, without one under any."""
    if paper.number:
        own = standing(connection, paper.number)
        near: Iterable[Document] = [own] if own is not None and own.version else []
    else:
        near = _standing_near(connection, paper)
    for other in near:
        if _is_same(paper, other, lines_of(connection, other.number, other.version)):
            return Booking(other.number, other.version, False, other.booked_on)
    return None


def write(connection: sqlite3.Connection, paper: Paper, on: date, prefix: str = "") -> int:
    """The next version of a paper's document, or the first of a new one, written without a question.

    Returns its row in the table of versions.
    """
    found = standing(connection, paper.number) if paper.number else None
    if found is None:
        document, _ = _new_document(connection, paper, prefix)
        return _write_version(connection, document, 1, paper, on)
    return _write_version(connection, _id_of(connection, found.number), found.version + 1, paper, on)


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
    marks = ",".join("?" * (2 + len(_COLUMNS)))
    connection.executemany(
        f"INSERT INTO lines (version, line, {', '.join(_COLUMNS)}) VALUES ({marks})",
        ((cursor.lastrowid, n, *map(_written, _VALUES(line))) for n, line in enumerate(paper.lines, 1)),
    )
    return int(cursor.lastrowid or 0)


def _id_of(connection: sqlite3.Connection, number: str) -> int:
    (document,) = connection.execute("SELECT id FROM documents WHERE number = ?", (number,)).fetchone()
    return int(document)


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


def no_document(place: str, kind: str, number: str, right: str) -> Fault:
    """What is said where a number is in no ledger."""
    return Fault(place, 0, number, f"the ledger has no {kind} of this number", right, "no-document")


def _is_same(paper: Paper, document: Document, lines: Iterable[Line]) -> bool:
    """Whether a paper says what stands: the same lines in any sequence, the same invoice."""
    return (paper.invoice, paper.total) == (document.invoice, document.total) and Counter(
        paper.lines
    ) == Counter(lines)


def _key(kind: str) -> Callable[[Line], Hashable]:
    """What makes two lines of different documents look alike."""
    if kind in (DELIVERY, CREDIT):
        return lambda line: (line.day, line.party, line.code)
    return lambda line: (line.day, line.item, line.reason)


def _standing_near(connection: sqlite3.Connection, paper: Paper) -> Iterator[Document]:
    """Documents of the kind that stand and have a line of one of the paper's days."""
    for day in sorted({line.day for line in paper.lines}):
        rows = connection.execute(
            "SELECT DISTINCT s.number FROM standing s JOIN lines l ON l.version = s.id "
            "WHERE s.kind = ? AND l.day = ? ORDER BY s.document",
            (paper.kind, day.isoformat()),
        ).fetchall()
        for (number,) in rows:
            found = standing(connection, number)
            if found is not None:
                yield found


def _ask(connection: sqlite3.Connection, paper: Paper, meant: Meant) -> None:
    """Refuse a paper that looks like other documents, unless it is said that all are meant."""
    if meant.is_further:
        return
    key = _key(paper.kind)
    mine = {key(line) for line in paper.lines}
    alike: dict[str, tuple[Document, int]] = {}
    for other in _standing_near(connection, paper):
        n = sum(key(line) in mine for line in lines_of(connection, other.number, other.version))
        if n:
            alike[other.number] = other, n
    if alike:
        raise Refused([_alike(paper, list(alike.values()))])


def _alike(paper: Paper, alike: Sequence[tuple[Document, int]]) -> Fault:
    named = [
        f"{other.number} ({', '.join(part for part in (other.source, said(other.day)) if part)}: "
        f"{plural(n, 'line')} for the same goods)"
        for other, n in alike[:MOST_NAMED]
    ]
    more = [f"{len(alike) - MOST_NAMED} more"] if len(alike) > MOST_NAMED else []
    wrong = f"{paper.number or 'this file'} looks like {'; '.join([*named, *more])}"
    right = (
        f"--corrects {alike[0][0].number} if it takes the place of that one; --also if both are meant "
        "and add up"
    )
    return Fault(paper.source, 0, "", wrong, right, "looks-alike")


_day = lru_cache(4096)(date.fromisoformat)


def _written(value: object) -> object:
    """A field as it is kept: days and money as text."""
    if isinstance(value, date):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value


def _document(row: Sequence[str]) -> Document:
    kind, number, version, day, party, booked_on, source, run, invoice, total = row
    try:
        return Document(
            *(kind, number, int(version), _day(day), party, _day(booked_on), source, run, invoice),
            total=None if total is None else Decimal(total),
        )
    except (ValueError, TypeError, ArithmeticError) as error:
        raise Unsound(f"{number} cannot be read: {error}") from error
