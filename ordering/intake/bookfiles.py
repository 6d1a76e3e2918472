"""The books beside the house: new rows laid over old ones, what was seen replaced whole."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence, Set
from pathlib import Path

from ordering.faults import Fault, Refused
from ordering.read.book_table import OPTIONAL
from ordering.read.files import MAX_TABLE_BYTES, read_text

Rows = list[list[str]]


def book_rows(books: Path, book: str, columns: Sequence[str]) -> tuple[list[str], Rows]:
    """The heading of a book, and its rows as long as the heading.

    A book that is not there yet has `columns` without the optional ones.

    Raises
    ------
    Refused : the book is a workbook, or has other headings
    """
    path = books / f"{book}.csv"
    if (books / f"{book}.xlsx").exists():
        wrong, right = "a workbook is not added to", f"save it as {book}.csv"
        raise Refused([Fault((books / f"{book}.xlsx").as_posix(), 0, "", wrong, right, "two-files")])
    optional = OPTIONAL.get(book, ())
    own = [column for column in columns if column not in optional]
    if not path.exists():
        return own, []
    text = read_text(path, MAX_TABLE_BYTES)
    if isinstance(text, Fault):
        raise Refused([text])
    heading, *rows = [row for row in csv.reader(io.StringIO(text)) if any(row)] or [own]
    if missing := [column for column in own if column not in heading]:
        wrong = f"the column {missing[0]} is missing: this book has other headings"
        raise Refused([Fault(path.as_posix(), 1, "", wrong, f"name it {missing[0]}", "missing-column")])
    return heading, [row + [""] * (len(heading) - len(row)) for row in rows]


def laid_over(
    books: Path,
    book: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    seen: Set[tuple[str, ...]],
    of: Sequence[str] = ("date", "service"),
) -> dict[str, str]:
    """A book with each (date, service) in `seen` replaced, by its name; empty where it is the same.

    Other rows stay as they are, further columns of the old book included; an optional column is added
    where it says something. `of` names the columns that a member of `seen` is of.

    Raises
    ------
    Refused : the book is a workbook, or has other headings
    """
    heading, old = book_rows(books, book, columns)
    new = [dict(zip(columns, row, strict=True)) for row in rows]
    added = [c for c in columns if c not in heading and any(row[c] for row in new)]
    heading += added
    old = [row + [""] * len(added) for row in old]
    at = {column: heading.index(column) for column in columns if column in heading}
    stays = [row for row in old if tuple(row[at[c]] if c in at else "" for c in of) not in seen]
    both = [*stays, *([row.get(column, "") for column in heading] for row in new)]
    both.sort(key=lambda row: [row[n] for n in at.values()])
    if sorted(old) == sorted(both):
        return {}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerows([heading, *both])
    return {f"{book}.csv": out.getvalue()}
