"""The books of a house read as tables and records: ids known, quantities in their item's own unit."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from ordering.faults import Fault
from ordering.read import columns
from ordering.read.book_shapes import COVERS, NEW_SERVICE, PORTIONS, HouseInPart, faults_of_shape
from ordering.read.book_table import BookTable
from ordering.read.columns import BookColumn, Codes, read_column
from ordering.read.door import (
    Due,
    OnOrder,
    as_ordered,
    from_order_sheet,
    is_all_as_ordered,
    read_receipts,
)
from ordering.read.entries import read_batches, read_counts_of, read_open_orders, read_waste
from ordering.read.files import bounded, no_folder
from ordering.read.grid import read_grids
from ordering.read.names import ids_by_name, known, plain
from ordering.read.own_sheets import (
    COUNTED_ON,
    DELIVERED_ON,
    DOOR_HEADS,
    said_at_head,
    with_counted_on,
    with_delivered,
)
from ordering.read.table_files import find_book, read_table, read_tables, unread_books
from ordering.records.books import (
    BOOKINGS_COLUMNS,
    COVERS_COLUMNS,
    SALES_COLUMNS,
    Books,
    CountedLot,
    LeftOut,
    Receipt,
    SisterShare,
)
from ordering.records.house import House

BOOKS = ("sales", "covers", "bookings", "counts", "open_orders", "waste", "batches", "sisters")


def read_books(directory: Path, house: House | HouseInPart | None) -> tuple[Books | None, list[Fault]]:
    """Read every book that is there, `.csv` or `.xlsx`.

    Where the house itself was refused, dates, numbers and ids are still checked as far as it is known: so
    the faults of the books come at once with those of the configuration.

    Sales of dishes that `menu.yaml` does not know are left out of `sales` and listed in `left_out`.

    Returns
    -------
    The books and no fault, or None and every fault of every file (at most 200 of each).
    """
    missing = no_folder(directory, "check --books, or make the folder: it may be empty")
    if missing:
        return None, missing
    faults: list[Fault] = []
    if not isinstance(house, House):
        return None, bounded(_faults_of_shape(directory, house))
    files: dict[str, str] = {}

    def book(name: str, read: Callable[[BookTable, House, list[Fault]], Any], otherwise: Any) -> Any:
        table = _table(directory, name, house.headers.get(name, {}), faults)
        if table is None:
            return otherwise
        files[name] = table.place
        return read(table, house, faults)

    empty = Books()
    sales, left_out = book("sales", _sales, (empty.sales, ()))
    books = Books(
        sales=sales,
        covers=book("covers", _covers, empty.covers),
        bookings=book("bookings", _bookings, empty.bookings),
        counts=book("counts", read_counts_of, ()),
        open_orders=book("open_orders", read_open_orders, ()),
        waste=book("waste", read_waste, ()),
        batches=book("batches", read_batches, ()),
        sisters=book("sisters", _sisters, {}),
        left_out=left_out,
        files=files,
        unread=unread_books(directory, BOOKS),
    )
    return (None, bounded(faults)) if faults else (books, [])


def read_counts(path: Path, house: House) -> tuple[tuple[CountedLot, ...], list[Fault]]:
    """The lots of a count file; rows without a quantity were not counted and are left out."""
    tables, faults = count_tables(path, house)
    lots = tuple(lot for table in tables for lot in read_counts_of(table, house, faults))
    lots, faults = ((), bounded(faults)) if faults else (lots, [])
    if not lots and not faults:
        wrong, right = "nothing is counted in this file", "fill in at least one quantity (0 for none)"
        faults = [Fault(path.as_posix(), 0, "", wrong, right, "empty-file")]
    return lots, faults


def count_tables(path: Path, house: House) -> tuple[list[BookTable], list[Fault]]:
    """The tables of a count file: a list with the day in each row, or our own sheet, the day at its head."""
    grids, _ = read_grids(path)
    given = ("counted_on",) if said_at_head(grids, COUNTED_ON) else ()
    tables, faults = read_tables(path, "counts", house.headers.get("counts", {}), given)
    return with_counted_on(tables, path), faults


def read_deliveries(
    path: Path, house: House, due: Due | None = None, on_order: OnOrder | None = None
) -> tuple[tuple[Receipt, ...], list[Fault]]:
    """The receipts of a delivery file, or where it cannot be read the faults.

    due : packs of a vendor's code by the day they were due, for lines that came as ordered
    on_order : vendor and order by code and day, for the received column of an order sheet
    """
    tables, faults = delivery_tables(path, house, on_order or {})
    receipts: list[Receipt] = []
    for table in tables:
        receipts += read_receipts(table, house, faults, due or _nothing_due)
    if not receipts and not faults:
        wrong, right = "no delivery is in this file", "write a row for each offer that came"
        faults = [Fault(path.as_posix(), 0, "", wrong, right, "empty-file")]
    return ((), bounded(faults)) if faults else (tuple(receipts), [])


def _nothing_due(vendor: str, code: str, day: date) -> dict[date, float]:
    """What a file read without the ledger holds an order to."""
    return {}


def delivery_tables(path: Path, house: House, on_order: OnOrder) -> tuple[list[BookTable], list[Fault]]:
    """The tables of a delivery file: a list, our own sheet, or an order sheet with what was received."""
    grids, _ = read_grids(path)
    orders = [from_order_sheet(grid, path.as_posix(), on_order) for grid in grids]
    if found := [table for table in orders if table is not None]:
        return found, []
    given = ("delivered_on", "vendor") if said_at_head(grids, DELIVERED_ON) else ()
    heads = {**house.headers.get("deliveries", {}), **DOOR_HEADS}
    tables, faults = read_tables(path, "deliveries", heads, given)
    tables = with_delivered(tables, path)
    return ([as_ordered(table) for table in tables] if is_all_as_ordered(grids) else tables), faults


def _faults_of_shape(directory: Path, house: HouseInPart | None) -> list[Fault]:
    faults: list[Fault] = []
    headers = house.headers if house is not None else None
    for book in BOOKS:
        table = _table(directory, book, None if headers is None else headers.get(book, {}), faults)
        if table is not None:
            faults += faults_of_shape(table, house)
    return faults


def _table(
    directory: Path, book: str, renames: Mapping[str, str] | None, faults: list[Fault]
) -> BookTable | None:
    path, found = find_book(directory, book)
    faults += found
    if path is None:
        return None
    table, found = read_table(path, book, renames)
    faults += found
    return table


def _dish_reader(house: House) -> Callable[[str], str]:
    """Dishes by id, by the names that `dish_names` gives, or by the dish's own name; others as written."""
    ids = ids_by_name(((d.id, d.name) for d in house.dishes.values()), house.dish_names)

    def read(text: str) -> str:
        if not text:
            raise columns.Misread("empty-value", "nothing is written", "write the dish")
        return text if text in house.dishes else ids.get(plain(text), text)

    return read


def _sales(table: BookTable, house: House, faults: list[Fault]) -> tuple[pd.DataFrame, tuple[LeftOut, ...]]:
    found: list[Fault] = []
    date = read_column(table, "date", columns.a_day, found)
    service = read_column(table, "service", _service_reader(house), found)
    dish = read_column(table, "dish", _dish_reader(house), found)
    sold = read_column(table, "sold", PORTIONS, found)
    sold_out = read_column(table, "sold_out", columns.truth, found, default=False)
    till = read_column(table, "till", columns.some_text, found, default="")
    keys = [date.keys(), service.keys(), dish.codes, till.keys()]
    _one_row_each(table, keys, "date, service and dish", found)
    if found:
        faults += found
        return Books().sales, ()
    ignored = {plain(name) for name in house.ignored}
    is_known = np.array([name in house.dishes for name in dish.values], bool)[dish.codes]
    is_ignored = np.array([plain(name or "") in ignored for name in dish.values], bool)[dish.codes]
    is_doubtful = ~(is_known | is_ignored)
    left_out = _left_out(table, dish, sold, is_doubtful) if is_doubtful.any() else ()
    order = _order((date, service, dish))
    frame = _frame(SALES_COLUMNS, (date, service, dish, sold, sold_out), order[is_known[order]])
    # Two names in the file may stand for one dish of ours, and a dish is sold at several tills.
    if len(set(dish.values)) < len(dish.values) or len(till.values) > 1:
        key = ["date", "service", "dish"]
        frame = frame.groupby(key, as_index=False).agg({"sold": "sum", "sold_out": "any"})
    return frame, left_out


def _left_out(
    table: BookTable, dish: BookColumn, sold: BookColumn, rows: NDArray[np.bool_]
) -> tuple[LeftOut, ...]:
    """Sales of dishes that the menu does not know; rows : [row]."""
    amounts = np.bincount(dish.codes[rows], weights=sold.array(np.float64)[rows])
    where = np.flatnonzero(rows)
    codes, firsts, n_rows = np.unique(dish.codes[rows], return_index=True, return_counts=True)
    found = [
        LeftOut(dish.values[code], float(amounts[code]), n, table.place, table.lines[int(where[first])])
        for code, first, n in zip(codes.tolist(), firsts.tolist(), n_rows.tolist(), strict=True)
    ]
    return tuple(sorted(found, key=lambda one: (-one.sold, one.dish)))


def _service_reader(house: House) -> Callable[[str], str]:
    ids = ids_by_name(((key, key) for key in house.services), house.service_names)
    return known("service", ids, NEW_SERVICE)


def _covers(table: BookTable, house: House, faults: list[Fault]) -> pd.DataFrame:
    found: list[Fault] = []
    date = read_column(table, "date", columns.a_day, found)
    service = read_column(table, "service", _service_reader(house), found)
    covers = read_column(table, "covers", COVERS, found)
    till = read_column(table, "till", columns.some_text, found, default="")
    _one_row_each(table, [date.keys(), service.keys(), till.keys()], "date and service", found)
    faults += found
    if found:
        return Books().covers
    frame = _frame(COVERS_COLUMNS, (date, service, covers), _order((date, service)))
    if len(till.values) > 1:
        frame = frame.groupby(["date", "service"], as_index=False).agg({"covers": "sum"})
    return frame


def _bookings(table: BookTable, house: House, faults: list[Fault]) -> pd.DataFrame:
    found: list[Fault] = []
    taken_on = read_column(table, "taken_on", columns.a_day, found)
    date = read_column(table, "date", columns.a_day, found)
    service = read_column(table, "service", _service_reader(house), found)
    booked = read_column(table, "booked", COVERS, found)
    key = [taken_on.keys(), date.keys(), service.keys()]
    _one_row_each(table, key, "taken_on, date and service", found)
    faults += found
    if found:
        return Books().bookings
    late = np.flatnonzero(taken_on.array(_TYPES["taken_on"]) > date.array(_TYPES["date"]))
    for row, more in columns.first_of_alike(table, late.tolist()):
        said = ("bad-range", f"taken after the date it is for{more}", "swap or correct the two dates")
        faults.append(table.fault("taken_on", row, said))
    return _frame(BOOKINGS_COLUMNS, (taken_on, date, service, booked), _order((date, service, taken_on)))


def _sisters(table: BookTable, house: House, faults: list[Fault]) -> dict[tuple[str, str], SisterShare]:
    """What the other houses of the group sell; what is not on this house's menu is passed over."""
    names = ("service", "dish")
    service, dish = (read_column(table, name, str, faults) for name in names)
    share, spread = (
        read_column(table, name, columns.number, faults).array(np.float64) for name in ("per_cover", "spread")
    )
    found = {}
    for n, (s, d) in enumerate(zip(service.codes.tolist(), dish.codes.tolist(), strict=True)):
        key = service.values[s], dish.values[d]
        if key[0] in house.services and key[1] in house.dishes and share[n] > 0:
            found[key] = SisterShare(float(share[n]), float(spread[n]))
    return found


def _one_row_each(table: BookTable, keys: Sequence[Codes], what: str, found: list[Fault]) -> None:
    """Add a fault for every row with the key of an earlier one, unless values are already refused.

    keys : [row].
    """
    if not found:
        found += columns.equal_rows(table, keys, f"the same {what}", f"keep one row for each {what}")


_TYPES = {"date": "datetime64[ns]", "taken_on": "datetime64[ns]", "sold_out": np.bool_}
_TYPES |= {"sold": np.float64, "covers": np.float64, "booked": np.float64}


def _order(keys: Sequence[BookColumn]) -> NDArray[np.intp]:
    """Rows by the values of the keys, the first key first; equal ones as they stand. Shape [row]."""
    return np.lexsort([column.ranks() for column in reversed(keys)])


def _frame(names: Sequence[str], read: Sequence[BookColumn], rows: NDArray[np.intp]) -> pd.DataFrame:
    """The columns as a table of the rows, in their sequence. rows : [row of the table]."""
    return pd.DataFrame(
        {
            name: column.array(_TYPES[name])[rows]
            if name in _TYPES
            else pd.Series(column.values, dtype="str").take(column.codes[rows]).reset_index(drop=True)
            for name, column in zip(names, read, strict=True)
        }
    )
