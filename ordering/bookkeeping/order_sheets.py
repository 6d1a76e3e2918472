"""The order sheets of a run read back, as workbook or csv, wherever on the sheet a line stands."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import pairwise
from pathlib import Path

from ordering.amounts import plural
from ordering.days import day_as_shown
from ordering.faults import Fault, Refused
from ordering.ledger.sheet_changes import SheetLine
from ordering.pages.order_sheet import CODE, DELIVER_ON, DOOR_COLUMNS, ORDER, PACKS, PRICE
from ordering.read.grid import Grid, read_grids
from ordering.records.buying import OrderLine
from ordering.records.ledger import Placed

SUFFIXES = (".xlsx", ".csv")
_A_DAY = "write the day of the delivery, year-month-day"


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of one vendor, by a run or by what went out: lines and the numbers of the orders."""

    vendor: str
    lines: tuple[OrderLine | Placed, ...]
    numbers: frozenset[str]

    @property
    def days(self) -> list[date]:
        """The days of delivery on the sheet."""
        return sorted({line.deliver_on for line in self.lines})


@dataclass(frozen=True, slots=True)
class _Read:
    """One file of a vendor's sheet: the numbers of the orders on it, its lines."""

    path: Path
    numbers: tuple[str, ...]
    lines: tuple[SheetLine, ...]


def read_order_sheets(folder: Path, asked: Collection[Asked]) -> list[SheetLine]:
    """The lines of the vendors' sheets, a csv file saved beside a workbook among them.

    Raises
    ------
    Refused : with every sheet that is missing, damaged, another run's, or changed in both its files
    """
    found: list[SheetLine] = []
    faults: list[Fault] = []
    for one in asked:
        read = _sheet_of(folder, one, faults)
        if read is None:
            continue
        strange = sorted(set(read.numbers) - one.numbers) if one.numbers else []
        if strange:
            wrong = f"this is the sheet of order {', '.join(strange)}, which this run did not make"
            right = f"put the run's own sheet back, or leave the vendor out with --without {one.vendor}"
            faults.append(Fault(read.path.as_posix(), 0, one.vendor, wrong, right, "another-sheet"))
        found += read.lines
    if faults:
        raise Refused(faults)
    return found


def sheet_files(folder: Path, vendor: str) -> list[Path]:
    """The files in which a vendor's sheet stands, the workbook first."""
    return [path for s in SUFFIXES if (path := folder / "orders" / f"{vendor}{s}").exists()]


def _sheet_of(folder: Path, asked: Asked, faults: list[Fault]) -> _Read | None:
    """The sheet of a vendor; of two files the one that was changed."""
    paths = sheet_files(folder, asked.vendor) or [folder / "orders" / f"{asked.vendor}.xlsx"]
    n_before = len(faults)
    sheets = [_read(path, asked, faults) for path in paths]
    if len(faults) > n_before:
        return None
    changed = [sheet for sheet in sheets if _entries(sheet.lines) != _proposed(asked.lines)]
    if len(changed) > 1 and _entries(changed[0].lines) != _entries(changed[1].lines):
        wrong = f"this sheet and {changed[1].path.name} were both changed, and differ"
        right = "remove the one that is wrong"
        faults.append(Fault(changed[0].path.as_posix(), 0, asked.vendor, wrong, right, "two-sheets"))
        return None
    return (changed or sheets)[0]


def _entries(lines: Sequence[SheetLine]) -> set[tuple[str, date | None, str, str]]:
    return {(s.code, s.deliver_on, _plain(s.packs) or "0", _plain(s.price or "")) for s in lines}


def _proposed(lines: Sequence[OrderLine | Placed]) -> set[tuple[str, date | None, str, str]]:
    return {
        (o.code, o.deliver_on, _plain(str(o.packs)), _plain("" if o.price is None else str(o.price)))
        for o in lines
    }


def _plain(number: str) -> str:
    """A number as it compares: `6.00` is `6`."""
    text = number.strip().replace(",", "")
    return text.rstrip("0").rstrip(".") or "0" if "." in text else text


def _read(path: Path, asked: Asked, faults: list[Fault]) -> _Read:
    grids, unread = read_grids(path)
    found: list[Fault] = []
    lines = tuple(line for grid in grids for line in _lines(asked, path, grid, found))
    numbers = tuple(number for grid in grids for number in order_numbers(grid))
    if not lines and not unread and not found:
        wrong = "no heads 'deliver on', 'code' and 'packs' with lines under them"
        unread = [Fault(path.as_posix(), 0, asked.vendor, wrong, kind="no-order-sheet")]
    right = f"leave the vendor out with --without {asked.vendor}, or make the run again"
    faults += [Fault(f.place, f.line, f.subject, f.wrong, right, f.kind) for f in unread]
    faults += found
    return _Read(path, numbers, lines)


def changed_since(path: Path, placed: Sequence[Placed]) -> Iterator[str]:
    """Where a sheet asks for other packs than the orders that went out from it: it was changed afterwards."""
    on_sheet: dict[tuple[str, date | None], int] = {}
    vendor = placed[0].vendor if placed else ""
    for line in _read(path, Asked(vendor, tuple(placed), frozenset()), []).lines:
        packs = _plain(line.packs)
        if packs.isdecimal():
            key = line.code, line.deliver_on
            on_sheet[key] = on_sheet.get(key, 0) + int(packs)
    went_out: dict[tuple[str, date | None], int] = {}
    for one in placed:
        key = one.code, one.deliver_on
        went_out[key] = went_out.get(key, 0) + one.packs
    for code, day in sorted(went_out, key=str):
        asked, sent = on_sheet.get((code, day)), went_out[code, day]
        if asked is not None and asked != sent:
            more = f"the sheet asks for {plural(asked, 'pack')} of {code}, the order went out for {sent}"
            yield f"changed after it was placed: {more}; what went out counts"


def order_numbers(grid: Grid) -> Iterator[str]:
    """The numbers of orders at the head of the sheet, each behind its word."""
    for row in grid.rows:
        words = [cell.strip() for cell in row if cell.strip()]
        yield from (number for word, number in pairwise(words) if word.casefold() == ORDER)
        if CODE in [word.casefold() for word in words]:
            return


def _lines(asked: Asked, path: Path, grid: Grid, faults: list[Fault]) -> Iterator[SheetLine]:
    """Every row under the heading with a code and packs, the table for the door left out."""
    at = _columns(grid)
    if at is None:
        return
    head, columns = at
    places = [columns[name] for name in (DELIVER_ON, CODE, PACKS)]
    n_door = 0
    for r in range(head + 1, len(grid.rows)):
        row = grid.rows[r]
        day, code, packs = (row[c].strip() for c in places)
        if (day.casefold(), code.casefold()) == DOOR_COLUMNS[:2]:
            n_door = 1 + len(asked.days) + (len(asked.days) > 1)
        if n_door:
            n_door -= 1
            continue
        if not code and not packs:
            continue
        yield from _line(asked, path, grid, (r, columns), faults)


def _columns(grid: Grid) -> tuple[int, Mapping[str, int]] | None:
    """The heading row and where each column stands."""
    for r, row in enumerate(grid.rows):
        names = [cell.strip().casefold() for cell in row]
        if {DELIVER_ON, CODE, PACKS} <= set(names):
            return r, {name: names.index(name) for name in names}
    return None


def _line(
    asked: Asked, path: Path, grid: Grid, at: tuple[int, Mapping[str, int]], faults: list[Fault]
) -> Iterator[SheetLine]:
    r, columns = at
    row, place = grid.rows[r], path.as_posix()
    code, packs = row[columns[CODE]].strip(), row[columns[PACKS]]
    cell = grid.name(r, columns[PACKS])
    if not code:
        wrong = f"{grid.name(r, columns[CODE])}: {packs.strip()} packs of what? There is no code"
        faults.append(Fault(place, 0, asked.vendor, wrong, "write the vendor's code", "no-code"))
        return
    written = row[columns[DELIVER_ON]].strip()
    day = day_as_shown(written, asked.days) if written else None
    if written and day is None:
        wrong = f"{grid.name(r, columns[DELIVER_ON])}: '{written[:40]}' is not a date"
        faults.append(Fault(place, 0, asked.vendor, wrong, _A_DAY, "bad-date"))
        return
    for column in (columns[PACKS], columns.get(PRICE, columns[PACKS])):
        if (r, column) in grid.refused:
            kind, wrong, right = grid.refused[r, column]
            faults.append(Fault(place, 0, code, f"{grid.name(r, column)}: {wrong}", right, kind))
            return
    price = row[columns[PRICE]] if PRICE in columns else None
    price_cell = grid.name(r, columns.get(PRICE, columns[PACKS]))
    yield SheetLine(asked.vendor, code, day, packs, price, place, cell, price_cell)
