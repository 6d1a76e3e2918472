"""A small workbook or csv file as grids of text: for reading back what the program itself once wrote."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from ordering.faults import Fault
from ordering.read.csv_table import delimiter
from ordering.read.files import MAX_TABLE_BYTES, decoded, read_bytes
from ordering.read.workbook import WorkbookSheet, column_letter, read_sheets


@dataclass(frozen=True, slots=True)
class Grid:
    """One sheet: `rows` of text from its first row and column, empty rows included.

    `refused` has (kind, wrong, right) of cells (row, column from 0) whose formula has no value with it.
    """

    title: str
    rows: tuple[tuple[str, ...], ...]
    letters: tuple[str, ...]
    refused: Mapping[tuple[int, int], tuple[str, str, str]] = field(default_factory=dict)

    def name(self, row: int, column: int) -> str:
        """How a person finds a cell (both from 0): `Order!D12`, in a csv file `D12`."""
        return f"{self.title}!" * bool(self.title) + f"{self.letters[column]}{row + 1}"


def read_grids(path: Path) -> tuple[tuple[Grid, ...], list[Fault]]:
    """Every sheet of a workbook, a csv file as the one it has, or the faults that kept it from being read."""
    content = read_bytes(path, MAX_TABLE_BYTES)
    if isinstance(content, Fault):
        return (), [content]
    if path.suffix.lower() == ".csv":
        return _csv_grid(content, path.as_posix())
    sheets, faults = read_sheets(content, path.as_posix())
    return tuple(_grid(sheet) for sheet in sheets), faults


def _csv_grid(content: bytes, place: str) -> tuple[tuple[Grid, ...], list[Fault]]:
    text = decoded(content, place)
    if isinstance(text, Fault):
        return (), [text]
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter(text)))
    except csv.Error as error:
        return (), [Fault(place, 0, "", f"not readable as csv: {error}", "save it again", "bad-csv")]
    width = max(map(len, rows), default=0)
    even = tuple(tuple(row) + ("",) * (width - len(row)) for row in rows)
    return (Grid("", even, tuple(map(column_letter, range(width)))),), []


def _grid(sheet: WorkbookSheet) -> Grid:
    at, empty = dict(zip(sheet.numbers, sheet.rows, strict=True)), ("",) * len(sheet.letters)
    rows = tuple(at.get(number, empty) for number in range(1, max(at, default=0) + 1))
    refused = {(number - 1, column): said for (number, column), said in sheet.refused.items()}
    return Grid(sheet.title, rows, tuple(sheet.letters), refused)
