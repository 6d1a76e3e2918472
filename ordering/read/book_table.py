"""A book as a table of plain strings with their positions, its columns found by their headings."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from ordering.faults import Fault, nearest
from ordering.read.fields import shown

_AT_THE_DOOR = ("use_by", "instead_of", "reason", "temperature", "condition")
COLUMNS = {
    "sales": ("date", "service", "dish", "sold", "sold_out", "till"),
    "covers": ("date", "service", "covers", "till"),
    "bookings": ("taken_on", "date", "service", "booked"),
    "counts": ("counted_on", "item", "quantity", "unit", "use_by", "ready_on"),
    "open_orders": ("vendor", "code", "packs", "deliver_on"),
    "waste": ("date", "item", "quantity", "unit", "reason"),
    "batches": ("started_on", "recipe", "drawn", "made", "unit", "drawn_unit"),
    "sisters": ("service", "dish", "per_cover", "spread"),
    "deliveries": ("delivered_on", "vendor", "code", "packs", "quantity", "unit", "price", *_AT_THE_DOOR),
}
OPTIONAL = {
    "sales": {"sold_out", "till"},
    "covers": {"till"},
    "counts": {"use_by", "ready_on"},
    "deliveries": set(_AT_THE_DOOR),
    "batches": {"drawn_unit"},
}
BOOKS = tuple(COLUMNS)
Given = Collection[str]
MAX_COLUMNS = 200
HEAD_WITHIN = 20  # rows in which the heading is looked for


@dataclass(frozen=True, slots=True)
class BookTable:
    """The columns of one book by name, a string to a row; optional ones may be absent.

    `lines` has each row's line in the file (of a record with quoted line breaks the first), or its row in
    the sheet. `letters` names a workbook's columns, so that a message can name the cell. `mark` is what parts
    the columns of a csv file: with semicolons the comma is left to be a decimal comma.
    """

    place: str
    book: str
    columns: Mapping[str, Sequence[str]]
    lines: Sequence[int]
    letters: Mapping[str, str]
    mark: str = ","

    @property
    def n_rows(self) -> int:
        """Number of rows."""
        return len(self.lines)

    def subject(self, column: str, row: int) -> str:
        """`sold` in a csv file, `sold, cell D12` in a workbook."""
        letter = self.letters.get(column)
        return f"{column}, cell {letter}{self.lines[row]}" if letter else column

    def fault(self, column: str, row: int, said: tuple[str, str, str]) -> Fault:
        """A fault of one cell; `said` is (kind, wrong, right)."""
        kind, wrong, right = said
        return Fault(self.place, self.lines[row], self.subject(column, row), wrong, right, kind)


def _plain(text: str) -> str:
    return "_".join(text.strip().lower().replace("-", " ").replace("_", " ").split())


def named_columns(
    heading: Sequence[str],
    at: tuple[str, int],
    book: str,
    renames: Mapping[str, str] | None,
    given: Given = (),
) -> tuple[dict[str, int], list[Fault]]:
    """Where each column of `book` stands, by our name for it; faults for missing and double ones.

    at : the file and the line of the heading; given : columns that may be absent, said elsewhere on the sheet
    """
    place, line = at
    if len(heading) > MAX_COLUMNS:
        right = "export only the columns that are needed"
        return {}, [Fault(place, line, "", f"{len(heading)} columns are too many", right, "large-file")]
    ours = {_plain(theirs): name for theirs, name in (renames or {}).items()}
    names: dict[str, int] = {}
    faults = []
    for n, written in enumerate(heading):
        plain = _plain(written)
        name = ours.get(plain, plain)
        if name not in COLUMNS[book]:
            continue
        if name in names:
            wrong = f"two columns are '{name}'"
            faults.append(Fault(place, line, name, wrong, "rename or take out one of them", "equal-columns"))
        names[name] = n
    if renames is None:
        return names, faults
    missing = [c for c in COLUMNS[book] if c not in names and c not in (*OPTIONAL.get(book, ()), *given)]
    others = [h.strip() for h in heading if h.strip() and _plain(h) not in COLUMNS[book]]
    for column in missing:
        close = nearest(column, [_plain(h) for h in others])
        theirs = shown(others[0]) if len(others) == 1 else "YOURS"
        right = f"{close} " if close else "add it; "
        right += f"a heading of yours is mapped in house.yaml: headers: {{{book}: {{{theirs}: {column}}}}}"
        wrong = "this column is missing"
        wrong += f" (not known: {shown(', '.join(others))})" if others else ""
        faults.append(Fault(place, line, column, wrong, right, "missing-column"))
    return names, faults
