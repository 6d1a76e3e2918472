"""What our own sheets say once for many rows: the day at the head, the vendor above its lines."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from ordering.read.book_table import HEAD_WITHIN, BookTable
from ordering.read.grid import Grid, read_grids

COUNTED_ON, DELIVERED_ON, VENDOR = "counted on", "delivered on", "vendor"
DOOR_HEADS = {"temp °C": "temperature", "temp °F": "temperature", "condition, tag": "condition"}


def said_at_head(grids: Sequence[Grid], label: str) -> bool:
    """Whether a sheet says something once, beside its label, for all its rows."""
    return any(value_beside(grid.rows[:HEAD_WITHIN], label) is not None for grid in grids)


def value_beside(rows: Sequence[Sequence[str]], label: str) -> str | None:
    """What stands beside a label that begins a row; None where no row begins with it alone."""
    for row in rows:
        filled = [cell.strip() for cell in row if cell.strip()]
        if filled and row[0].strip().casefold() == label and len(filled) <= 2:
            return filled[1] if len(filled) == 2 else ""
    return None


def with_counted_on(tables: Sequence[BookTable], path: Path) -> list[BookTable]:
    """Tables of a count, each with the day that its sheet says at the head."""
    grids, _ = read_grids(path)
    return [_with_day(table, grids, path, COUNTED_ON, "counted_on") for table in tables]


def with_delivered(tables: Sequence[BookTable], path: Path) -> list[BookTable]:
    """Tables of a delivery, each row with the vendor above it and the day at the head of its sheet."""
    grids, _ = read_grids(path)
    dated = [_with_day(table, grids, path, DELIVERED_ON, "delivered_on") for table in tables]
    return [_with_vendor(table, _grid_of(table, grids, path)) for table in dated]


def _grid_of(table: BookTable, grids: Sequence[Grid], path: Path) -> Grid | None:
    place = path.as_posix()
    named = {f"{place} [{grid.title}]" if grid.title else place: grid for grid in grids}
    return named.get(table.place)


def _with_day(table: BookTable, grids: Sequence[Grid], path: Path, label: str, column: str) -> BookTable:
    grid = _grid_of(table, grids, path)
    if column in table.columns or grid is None:
        return table
    day = value_beside(grid.rows[:HEAD_WITHIN], label) or ""
    return replace(table, columns={**table.columns, column: [day] * table.n_rows})


def _with_vendor(table: BookTable, grid: Grid | None) -> BookTable:
    """The table with the vendor of each row; the rows that only name one are left out."""
    if VENDOR in table.columns or grid is None:
        return table
    vendors, vendor = dict[int, str](), ""
    for number, row in enumerate(grid.rows, 1):
        if row[0].strip().casefold() == VENDOR:
            vendor = next((cell.strip() for cell in row[1:] if cell.strip()), "")
        else:
            vendors[number] = vendor
    kept = [n for n, line in enumerate(table.lines) if line in vendors]
    columns: Mapping[str, Sequence[str]] = {
        **{name: [cells[n] for n in kept] for name, cells in table.columns.items()},
        VENDOR: [vendors[table.lines[n]] for n in kept],
    }
    return replace(table, columns=columns, lines=[table.lines[n] for n in kept])
