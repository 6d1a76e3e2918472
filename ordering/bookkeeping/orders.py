"""Recording a run's orders as placed."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from pathlib import Path

from ordering.amounts import plural
from ordering.days import said
from ordering.faults import Fault, Refused
from ordering.ledger import rows, store
from ordering.ledger.placing import Placing, Replacing, SheetLine, placing, replacing, unknown_vendors
from ordering.ledger.run_lines import run_lines
from ordering.ledger.twice import MadeRun, made_run, ordered_twice, taken_instead, taken_told
from ordering.pages.order_sheet import standing
from ordering.read.grid import Grid, read_grids
from ordering.read.house import read_house
from ordering.read.run_folder import read_run
from ordering.records.house import House
from ordering.records.ledger import Bookings, Placed
from ordering.records.money import cents, fee_for
from ordering.records.report import Report

_A_DAY = "write the day of the delivery, year-month-day"


@dataclass(frozen=True, slots=True)
class Terms:
    """How a run is placed: vendors left out, runs whose place it takes, whether it comes on top of others."""

    without: tuple[str, ...] = ()
    instead: tuple[str, ...] = ()
    is_on_top: bool = False


def place(config: Path, books_dir: Path, runs: Path, run: str, terms: Terms, on: date) -> Report:
    """Record a run's orders as placed, with the packs its vendor sheets now say.

    Placing a run again replaces what was placed of it and says each change; nothing changes where
    the sheets did not. What another run has on order, and this one did not count on when it was made, is not
    ordered once more unless `terms` say so.

    Raises
    ------
    Refused : no such run or vendor; a sheet missing, damaged or with entries that cannot be packs; a
        change to what has been delivered; goods on order already. Nothing has been written
    """
    house, faults = read_house(config)
    if house is None or faults:
        raise Refused(faults)
    folder = read_run(runs, run)
    orders = (folder.folder / "orders.csv").as_posix()
    lines, faults = run_lines(folder.tables["orders"], orders)
    if faults := faults or unknown_vendors(orders, lines, terms.without):
        raise Refused(faults)
    told = [line for line in lines if line.vendor not in terms.without]
    sheets = _vendor_sheets(folder.folder, sorted({line.vendor for line in told}))
    bookings = store.bookings(books_dir)
    others = [p for p in bookings.orders if p.run != run and p.run not in terms.instead]
    result, faults = placing(run, told, sheets, house, on, others)
    if faults:
        raise Refused(faults)
    made = made_run(run, orders, folder.facts)
    changing = _changing(house, made, result.lines, terms, bookings)
    if not (changing.lines or changing.taken_back):
        return _nothing_placed(run, bool(lines), bool(told), bool(result.lines))
    with store.open_ledger(books_dir) as connection, store.transaction(connection):
        changing = _changing(house, made, result.lines, terms, rows.bookings(connection))
        rows.write_orders(connection, changing.lines, changing.taken_back, on)
    left = [
        f"left out: {v}: not placed, so the next run does not count on it" for v in sorted(set(terms.without))
    ]
    return Report(
        (*_placed_told(house, run, result, others), *left, *changing.changes, *result.warnings),
        1 if result.warnings else 0,
        (store.ledger_path(books_dir),),
    )


def _nothing_placed(run: str, has_lines: bool, is_told: bool, is_placed: bool) -> Report:
    """What is said where there is nothing to record."""
    if is_placed:
        return Report((f"{run} is already placed; nothing changed",))
    why = f"{run} orders nothing"
    if has_lines:
        why = f"every line of {run} is crossed off" if is_told else f"{run}: every vendor was left out"
    return Report((f"{why}; nothing placed",), 1)


def _changing(
    house: House, made: MadeRun, lines: Sequence[Placed], terms: Terms, bookings: Bookings
) -> Replacing:
    """What placing these lines changes of what stands in the ledger."""
    folder = Path(made.orders).parent
    difference, faults = replacing(made.name, lines, bookings)
    faults = [replace(fault, place=(folder / fault.place).as_posix()) for fault in faults]
    taken, unknown = taken_instead(made, terms.instead, terms.without, bookings)
    faults += unknown
    if not terms.is_on_top and not faults:
        stands = replace(bookings, orders=tuple(p for p in bookings.orders if p not in taken))
        faults = ordered_twice(made, difference.lines, stands, house)
    if faults:
        raise Refused(faults)
    return Replacing(
        difference.lines,
        (*difference.taken_back, *taken),
        (*difference.changes, *taken_told(taken, lines, house)),
    )


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
            wrong = f"{grid.name(r, where.deliver_on)}: '{row[where.deliver_on][:40]}' is not a date"
            faults.append(Fault(path.as_posix(), 0, vendor, wrong, _A_DAY, "bad-date"))
            continue
        cell = grid.name(r, where.packs)
        if (r, where.packs) in grid.refused:
            kind, wrong, right = grid.refused[r, where.packs]
            faults.append(Fault(path.as_posix(), 0, row[where.code], f"{cell}: {wrong}", right, kind))
        yield SheetLine(vendor, row[where.code], day, row[where.packs], path.as_posix(), cell)


def _placed_told(house: House, run: str, result: Placing, others: Sequence[Placed]) -> list[str]:
    """What was placed with each vendor; the fee of a delivery for which nothing was on order before."""
    lines = [f"Placed {run}:"]
    groups: dict[tuple[str, date], list[Placed]] = {}
    for p in result.lines:
        groups.setdefault((p.vendor, p.deliver_on), []).append(p)
    taken = {(p.vendor, p.deliver_on) for p in others if p.packs > 0}
    for (vendor, day), placed in sorted(groups.items()):
        name = house.vendors[vendor].name if vendor in house.vendors else vendor
        total = cents(sum((p.amount for p in placed), Decimal(0)))
        of = house.vendors.get(vendor)
        fee = Decimal(0) if of is None or (vendor, day) in taken else fee_for(of, total)
        delivery = f" and {cents(fee):,} for delivery" if fee else ""
        money = f"{total:,} {house.currency}".rstrip()
        lines.append(f"  {name}, for {said(day)}: {plural(len(placed), 'line')}, {money}{delivery}")
    return [*lines, *(f"  {change}" for change in result.changes)]
