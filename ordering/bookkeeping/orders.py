"""Recording a run's orders as placed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from ordering.days import said
from ordering.faults import Fault, Refused
from ordering.ledger import rows, store
from ordering.ledger.placing import Placing, Replacing, SheetLine, placing, replacing, unknown_vendors
from ordering.ledger.receiving import plural
from ordering.ledger.run_lines import run_lines
from ordering.pages.order_sheet import standing
from ordering.read.grid import Grid, read_grids
from ordering.read.house import read_house
from ordering.read.run_folder import read_run
from ordering.records.house import House
from ordering.records.ledger import Bookings, Placed
from ordering.records.money import cents
from ordering.records.report import Report

_A_DAY = "write the day of the delivery, year-month-day"


def place(config: Path, books_dir: Path, runs: Path, run: str, without: tuple[str, ...], on: date) -> Report:
    """Record a run's orders as placed, with the packs its vendor sheets now say.

    Placing a run again replaces what was placed of it and says each change; nothing changes where
    the sheets did not.

    Raises
    ------
    Refused : no such run or vendor; a sheet missing, damaged or with entries that cannot be packs; a
        change to what has been delivered. Nothing has been written
    """
    house, faults = read_house(config)
    if house is None or faults:
        raise Refused(faults)
    folder = read_run(runs, run)
    orders = (folder.folder / "orders.csv").as_posix()
    lines, faults = run_lines(folder.tables["orders"], orders)
    if faults := faults or unknown_vendors(orders, lines, without):
        raise Refused(faults)
    told = [line for line in lines if line.vendor not in without]
    sheets = _vendor_sheets(folder.folder, sorted({line.vendor for line in told}))
    result, faults = placing(run, told, sheets, house, on)
    if faults:
        raise Refused(faults)
    difference = _difference(folder.folder, result.lines, store.bookings(books_dir))
    if not (difference.lines or difference.taken_back):
        already = "is already placed; nothing changed" if result.lines else "orders nothing; nothing placed"
        return Report((f"{run} {already}",), 0 if result.lines else 1)
    with store.open_ledger(books_dir) as connection, store.transaction(connection):
        difference = _difference(folder.folder, result.lines, rows.bookings(connection))
        rows.add_orders(connection, difference.lines)
        rows.drop_orders(connection, difference.taken_back)
    left = [f"left out: {v}: not placed, so the next run does not count on it" for v in sorted(set(without))]
    return Report(
        (*_placed_told(house, run, result), *left, *difference.changes, *result.warnings),
        1 if result.warnings else 0,
        (store.ledger_path(books_dir),),
    )


def _difference(folder: Path, lines: Sequence[Placed], bookings: Bookings) -> Replacing:
    difference, faults = replacing(folder.name, lines, bookings)
    if faults:
        raise Refused(replace(fault, place=(folder / fault.place).as_posix()) for fault in faults)
    return difference


def _vendor_sheets(folder: Path, vendors: Iterable[str]) -> list[SheetLine]:
    found: list[SheetLine] = []
    faults: list[Fault] = []
    for vendor in vendors:
        path = folder / "orders" / f"{vendor}.xlsx"
        grids, unread = read_grids(path)
        lines = [line for grid in grids for line in _sheet_lines(vendor, path, grid, faults)]
        if not lines and not unread:
            wrong = "no heads 'deliver on', 'code' and 'packs' with lines under them"
            unread = [Fault(path.as_posix(), 0, vendor, wrong, kind="no-order-sheet")]
        right = f"leave the vendor out with --without {vendor}, or make the run again"
        faults += [replace(fault, right=right) for fault in unread]
        found += lines
    if faults:
        raise Refused(faults)
    return found


def _sheet_lines(vendor: str, path: Path, grid: Grid, faults: list[Fault]) -> Iterator[SheetLine]:
    where = standing(grid.rows)
    if where is None:
        return
    for r in range(where.first_row, where.last_row + 1):
        row = grid.rows[r]
        try:
            day = date.fromisoformat(row[where.deliver_on].strip())
        except ValueError:
            wrong = f"{grid.name(r, where.deliver_on)}: '{row[where.deliver_on][:40]}' is no date"
            faults.append(Fault(path.as_posix(), 0, vendor, wrong, _A_DAY, "bad-date"))
            continue
        cell = grid.name(r, where.packs)
        if (r, where.packs) in grid.refused:
            kind, wrong, right = grid.refused[r, where.packs]
            faults.append(Fault(path.as_posix(), 0, row[where.code], f"{cell}: {wrong}", right, kind))
        yield SheetLine(vendor, row[where.code], day, row[where.packs], path.as_posix(), cell)


def _placed_told(house: House, run: str, result: Placing) -> list[str]:
    lines = [f"Placed {run}:"]
    groups: dict[tuple[str, date], list[Placed]] = {}
    for p in result.lines:
        groups.setdefault((p.vendor, p.deliver_on), []).append(p)
    for (vendor, day), placed in sorted(groups.items()):
        name = house.vendors[vendor].name if vendor in house.vendors else vendor
        total = cents(sum((p.amount for p in placed), Decimal(0)))
        lines.append(
            f"  {name}, for {said(day)}: {plural(len(placed), 'line')}, {total} {house.currency}".rstrip()
        )
    return [*lines, *(f"  {change}" for change in result.changes)]
