"""The books beside the house: new rows laid over old ones, what was seen replaced whole."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence, Set
from pathlib import Path

from ordering.faults import Fault, Refused
from ordering.read.files import MAX_TABLE_BYTES, read_text


def laid_over(
    books: Path,
    book: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str]],
    seen: Set[tuple[str, ...]],
    at_date: int = 0,
) -> dict[str, str]:
    """A book with each (date, service) in `seen` replaced, by its name; empty where it is the same.

    Other rows stay as they are, further columns of the old book included. `at_date` is the place of the date
    among `columns`; the service comes after it.

    Raises
    ------
    Refused : the book is a workbook, or has other headings
    """
    path = books / f"{book}.csv"
    if (books / f"{book}.xlsx").exists():
        wrong, right = "a workbook is not added to", f"save it as {book}.csv"
        raise Refused([Fault((books / f"{book}.xlsx").as_posix(), 0, "", wrong, right, "two-files")])
    old: list[list[str]] = []
    heading = list(columns)
    if path.exists():
        text = read_text(path, MAX_TABLE_BYTES)
        if isinstance(text, Fault):
            raise Refused([text])
        table = [row for row in csv.reader(io.StringIO(text)) if any(row)]
        heading, old = (table[0], table[1:]) if table else (heading, [])
        if missing := [c for c in columns if c not in heading]:
            wrong = f"the column {missing[0]} is missing: this book has other headings"
            raise Refused([Fault(path.as_posix(), 1, "", wrong, f"name it {missing[0]}", "missing-column")])
    at = [heading.index(c) for c in columns]
    slots = at[at_date : at_date + 2]
    stays = [row for row in old if tuple(row[n] if n < len(row) else "" for n in slots) not in seen]
    fresh = [["" for _ in heading] for _ in rows]
    for made, row in zip(fresh, rows, strict=True):
        for n, cell in zip(at, row, strict=True):
            made[n] = cell
    both = sorted([*stays, *fresh], key=lambda row: [row[n] for n in at])
    if sorted(old) == sorted(both):
        return {}
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(heading)
    writer.writerows(both)
    return {f"{book}.csv": out.getvalue()}
