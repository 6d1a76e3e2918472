"""Papers that say what stands already, or look like it."""

from __future__ import annotations

import sqlite3
from collections import Counter
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date

from ordering.amounts import plural
from ordering.days import format_day
from ordering.faults import Fault, Refused
from ordering.ledger.versions import lines_of, standing, written_by
from ordering.records.documents import CREDIT, DELIVERY, Booking, Document, Line, Meant, Paper

MOST_NAMED = 3


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


def refuse_alike(connection: sqlite3.Connection, paper: Paper, on: date, meant: Meant) -> None:
    """Refuse a paper that looks like other documents, unless it is said that all are meant.

    It does where both have lines for the same goods on the same day; and where a file of the same name,
    booked in on the same day, said the same of another: somebody has mended the day.
    """
    if meant.is_further:
        return
    key = _key(paper.kind)
    mine = {key(line) for line in paper.lines}
    alike: dict[str, tuple[Document, int]] = {}
    for other in _standing_near(connection, paper):
        n = sum(key(line) in mine for line in lines_of(connection, other.number, other.version))
        if n:
            alike[other.number] = other, n
    for other in written_by(connection, paper.kind, paper.source) if paper.source else ():
        lines = lines_of(connection, other.number, other.version)
        if other.version and other.booked_on == on and _undated(lines) == _undated(paper.lines):
            alike[other.number] = other, len(lines)
    if alike:
        raise Refused([_alike(paper, list(alike.values()))])


def _alike(paper: Paper, alike: Sequence[tuple[Document, int]]) -> Fault:
    named = [
        f"{other.number} ({', '.join(part for part in (other.source, format_day(other.day)) if part)}: "
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


def _undated(lines: Iterable[Line]) -> Counter[Line]:
    """Lines as they would be of any day."""
    return Counter(replace(line, day=date.min, use_by=None) for line in lines)


def _is_same(paper: Paper, document: Document, lines: Iterable[Line]) -> bool:
    """Whether a paper says what stands: the same lines in any sequence, no other invoice."""
    is_invoiced_so = (paper.invoice, paper.total) in (("", None), (document.invoice, document.total))
    return is_invoiced_so and Counter(paper.lines) == Counter(lines)


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
