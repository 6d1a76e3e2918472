"""What came through the door, as it was written down there: a filled sheet, an order sheet, a list."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import replace
from datetime import date
from fractions import Fraction
from pathlib import Path
from typing import Any

import numpy as np

from ordering.amounts import plural
from ordering.days import day_as_shown, format_day
from ordering.faults import Fault
from ordering.read import columns
from ordering.read.book_table import HEAD_WITHIN, BookTable
from ordering.read.columns import BookColumn, read_column
from ordering.read.entries import a_code, amounts_of, no_equal_rows, only, vendor_reader
from ordering.read.grid import Grid, read_grids
from ordering.records.books import Receipt
from ordering.records.house import House
from ordering.records.vendors import Offer
from ordering.texts import listed

AS_ORDERED = frozenset(("as ordered", "ok", "all", "x", "✓", "yes"))
ALL_AS_ORDERED = "all as ordered"
ORDER_HEADS = ("deliver on", "code", "packs", "received")
_RETURN = "write a reason: what goes back is credited, and no waste of the house"

OnOrder = Mapping[tuple[str, str], tuple[str, str]]  # code and day of delivery, to vendor and order
Due = Callable[[str, str, date], Mapping[date, float]]  # packs a vendor's code can stand for, by day due


def read_receipts(table: BookTable, house: House, faults: list[Fault], due: Due) -> tuple[Receipt, ...]:
    """What came, and with packs below 0 what went back.

    Without a quantity it is the packs' own; prices are in the terms of the offer. A row with neither packs
    nor quantity was not looked at: it is left out, and not none. `as ordered` stands for the packs on order.
    A code that no offer has is goods nobody planned.

    due : packs that `as ordered` can stand for, by the day they were due
    """
    table = only(table, looked_at(table))
    found: list[Fault] = []
    delivered_on = read_column(table, "delivered_on", columns.a_day, found)
    vendor = read_column(table, "vendor", vendor_reader(house), found)
    code = read_column(table, "code", a_code, found)
    offers = offers_of(house, vendor, code)
    table = _in_one_pack(table, offers)
    packs = read_column(table, "packs", packs_that_came, found)
    quantity = read_column(table, "quantity", _signed_or_none, found)
    unit = read_column(table, "unit", lambda text: columns.unit(text) if text else None, found)
    price = read_column(table, "price", columns.money_or_none, found)
    use_by = read_column(table, "use_by", columns.a_day_or_none, found)
    table = _with_reasons(table)
    texts = [
        read_column(table, c, columns.some_text, found)
        for c in ("instead_of", "reason", "condition", "order")
    ]
    in_fahrenheit = house.is_american
    temperature = read_column(table, "temperature", lambda text: _degrees(text, in_fahrenheit), found)
    no_equal_rows(table, [delivered_on, vendor, code, packs, quantity, price, use_by], found)
    items = [offer and offer.item for offer in offers]
    item = BookColumn(np.arange(table.n_rows), items, np.array([one is None for one in items], bool))
    amounts = amounts_of(table, house, item, (quantity, unit), found)
    keys = list(zip(vendor.array(), code.array(), strict=True))
    numbers = _numbers(table, (packs, delivered_on), keys, due, found)
    _returns(table, numbers, texts[1], found)
    faults += found
    if found:
        return ()
    instead_of, reason, condition, order = (column.array() for column in texts)
    rows = zip(keys, offers, delivered_on.array(), numbers, amounts, quantity.array(), strict=True)
    came = [_receipt(*row) for row in rows]
    rest = zip(came, price.array(), use_by.array(), temperature.array(), strict=True)
    return tuple(
        replace(
            one,
            price=paid,
            use_by=last,
            instead_of=instead_of[n] or "",
            reason=reason[n] or "",
            condition=condition[n] or "",
            order=order[n] or "",
            temperature=None if degrees is None else float(degrees),
        )
        for n, (one, paid, last, degrees) in enumerate(rest)
    )


def _with_reasons(table: BookTable) -> BookTable:
    """The table with the condition as the reason of what goes back, where no other is given."""
    if "condition" not in table.columns:
        return table
    reasons = table.columns.get("reason") or [""] * table.n_rows
    told = [
        condition if packs.strip().startswith("-") and not reason.strip() else reason
        for packs, reason, condition in zip(
            table.columns["packs"], reasons, table.columns["condition"], strict=True
        )
    ]
    return replace(table, columns={**table.columns, "reason": told})


def _in_one_pack(table: BookTable, offers: Sequence[Offer | None]) -> BookTable:
    """The table with goods nobody planned that were only weighed as one pack: they are asked about anyway."""
    packs = [
        "1" if offer is None and quantity.strip() and not text.strip() else text
        for text, quantity, offer in zip(
            table.columns["packs"], table.columns["quantity"], offers, strict=True
        )
    ]
    return replace(table, columns={**table.columns, "packs": packs})


def units_of(table: BookTable) -> list[str]:
    """The unit beside each row that was filled in: what goods nobody planned are measured in."""
    found: list[Fault] = []
    column = read_column(only(table, looked_at(table)), "unit", lambda t: columns.unit(t) if t else "", found)
    return [str(unit or "") for unit in column.array()]


def looked_at(table: BookTable) -> list[bool]:
    """Whether each row of a delivery was filled in."""
    filled = zip(table.columns["packs"], table.columns["quantity"], strict=True)
    return [bool(packs.strip() or quantity.strip()) for packs, quantity in filled]


def packs_that_came(text: str) -> Fraction | None:
    """A number of packs, below 0 for what goes back; None where it came as ordered."""
    return None if text.strip().casefold() in AS_ORDERED else _signed(text)


def offers_of(house: House, vendor: BookColumn, code: BookColumn) -> list[Offer | None]:
    """The offer of each row, None where there is no such code."""
    by_code = {(o.vendor, o.code): o for one in house.ingredients.values() for o in one.offers}
    return [by_code.get(key) for key in zip(vendor.array(), code.array(), strict=True)]


def as_ordered(table: BookTable) -> BookTable:
    """The table with every empty line of an ordered code taken as it was ordered."""
    packs = [
        text if text.strip() or quantity.strip() or not code.strip() else "as ordered"
        for text, quantity, code in zip(
            table.columns["packs"], table.columns["quantity"], table.columns["code"], strict=True
        )
    ]
    return replace(table, columns={**table.columns, "packs": packs})


def is_all_as_ordered(grids: Sequence[Grid]) -> bool:
    """Whether the box for the whole delivery is ticked at the head of a sheet."""
    for grid in grids:
        for row in grid.rows[:HEAD_WITHIN]:
            filled = [cell.strip() for cell in row if cell.strip()]
            if filled and filled[0].casefold() == ALL_AS_ORDERED:
                return len(filled) > 1
    return False


def is_order_sheet(path: Path) -> bool:
    """Whether a file is an order sheet: the number on it is the order's, not the delivery's."""
    grids, _ = read_grids(path)
    return any(
        all(word in {cell.strip().casefold() for cell in row} for word in ORDER_HEADS)
        for grid in grids
        for row in grid.rows[:HEAD_WITHIN]
    )


def from_order_sheet(grid: Grid, place: str, on_order: OnOrder) -> BookTable | None:
    """The received column of an order sheet as a delivery; None where the grid is none, or nothing came.

    on_order : by code and day of delivery, the vendor and the number of the order
    """
    for n, row in enumerate(grid.rows[:HEAD_WITHIN]):
        heads = [cell.strip().casefold() for cell in row]
        if not all(word in heads for word in ORDER_HEADS):
            continue
        day, code, _, came = (heads.index(word) for word in ORDER_HEADS)
        days = {date.fromisoformat(on) for _, on in on_order}
        lines = [
            (number, _iso(cells[day], days), cells[code].strip(), cells[came].strip())
            for number, cells in enumerate(grid.rows[n + 1 :], n + 2)
            if cells[came].strip() and cells[code].strip() and cells[day].strip()
        ]
        meant = [on_order.get((code, on), ("", "")) for _, on, code, _ in lines]
        found = {
            "delivered_on": [on for _, on, _, _ in lines],
            "vendor": [vendor for vendor, _ in meant],
            "order": [number for _, number in meant],
            "code": [code for _, _, code, _ in lines],
            "packs": [packs for _, _, _, packs in lines],
            **{name: [""] * len(lines) for name in ("quantity", "unit", "price")},
        }
        where = f"{place} [{grid.title}]" if grid.title else place
        letters = {"packs": grid.letters[came], "code": grid.letters[code]} if grid.title else {}
        return BookTable(where, "deliveries", found, [line for line, *_ in lines], letters) if lines else None
    return None


def _iso(written: str, days: Collection[date]) -> str:
    """A day as it is read further on; as it is written where it is none of these in any form."""
    day = day_as_shown(written.strip(), days)
    return written.strip() if day is None else day.isoformat()


def _signed(text: str) -> Fraction:
    is_back = text.strip().startswith("-")
    number = columns.number(text.strip().removeprefix("-").strip())
    return -number if is_back else number


def _signed_or_none(text: str) -> Fraction | None:
    return _signed(text) if text else None


def _degrees(text: str, in_fahrenheit: bool) -> Fraction | None:
    """Degrees Celsius of what was written: by the letter behind the number, else as the house measures."""
    plain = text.strip().casefold().removesuffix("c").removesuffix("f").strip().removesuffix("°").strip()
    if not plain:
        return None
    degrees = _signed(plain)
    last = text.strip().casefold()[-1:]
    is_fahrenheit = last == "f" or (in_fahrenheit and last != "c")
    return (degrees - 32) * 5 / 9 if is_fahrenheit else degrees


def _numbers(
    table: BookTable,
    read: tuple[BookColumn, BookColumn],
    keys: Sequence[tuple[Any, Any]],
    due: Due,
    found: list[Fault],
) -> list[Fraction]:
    """Packs of each row, those on order where it came as ordered."""
    packs, delivered_on = read
    numbers = []
    for row, (given, day, key) in enumerate(zip(packs.array(), delivered_on.array(), keys, strict=True)):
        is_asked = given is None and not (packs.bad[row] or delivered_on.bad[row])
        ordered = due(*key, day) if is_asked else {}
        right = "write the packs that came"
        if is_asked and not ordered:
            wrong = f"nothing of {key[1]} is on order with {key[0]}"
            found.append(table.fault("packs", row, ("not-on-order", wrong, right)))
        elif len(ordered) > 1:
            days = [f"{format_day(on)} ({plural(packs, 'pack')})" for on, packs in sorted(ordered.items())]
            wrong = f"{key[1]} is overdue of {listed(days)}: which of them came?"
            found.append(table.fault("packs", row, ("which-order", wrong, right)))
        numbers.append(Fraction(given if given is not None else sum(ordered.values())))
    return numbers


def _returns(table: BookTable, numbers: Sequence[Fraction], reason: BookColumn, found: list[Fault]) -> None:
    for row, (number, why) in enumerate(zip(numbers, reason.array(), strict=True)):
        if number < 0 and not why:
            wrong = f"{float(number):g} packs without a reason"
            found.append(table.fault("packs", row, ("no-reason", wrong, _RETURN)))


def _receipt(
    key: tuple[str, str],
    offer: Offer | None,
    day: date,
    packs: Fraction,
    amount: float | None,
    written: Fraction | None,
) -> Receipt:
    vendor, code = key
    n = float(packs)
    if offer is None:
        return Receipt(day, vendor, code, "", n, float(written or 0))
    quantity = n * offer.pack_quantity if amount is None else amount
    return Receipt(day, vendor, code, offer.item, n, -abs(quantity) if n < 0 else quantity)
