"""The number of a document, printed at the head of its sheet and read back from it."""

from __future__ import annotations

from collections.abc import Sequence

from ordering.records.page import Cell, Row

NUMBER = "number"
WITHIN_ROWS = 20


def number_row(number: str) -> Row:
    """The row of a sheet that says which document it is."""
    return (Cell(NUMBER, "quiet"), Cell(number, "strong"))


def number_on(rows: Sequence[Sequence[str]]) -> str:
    """The number that stands at the head of a sheet read back; empty on a list somebody typed."""
    for row in rows[:WITHIN_ROWS]:
        said = [cell.strip() for cell in row if cell.strip()]
        if len(said) == 2 and said[0].casefold() == NUMBER:
            return said[1]
    return ""
