"""Rows of the smaller books as records: counts, open orders, deliveries, waste, batches."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction
from typing import Any

import numpy as np
from numpy.typing import NDArray

from ordering import units
from ordering.faults import Fault, nearest
from ordering.read import columns, packed
from ordering.read.book_table import BookTable
from ordering.read.columns import BookColumn, read_column
from ordering.read.names import ids_by_name, known
from ordering.records.books import Batch, CountedLot, OpenOrder, Waste
from ordering.records.house import House
from ordering.records.vendors import Offer

NEW_ITEM = "add it to ingredients.yaml or recipes.yaml"
_EQUAL = "if both are meant, add them up in one row"


def read_counts_of(table: BookTable, house: House, faults: list[Fault]) -> tuple[CountedLot, ...]:
    """Lots as counted. A row without a quantity was not counted: it is left out, and not none.

    Of an item with several rows of one day all or none are filled: what of a half-filled one was meant is
    asked, for the count of an item takes the place of all there was of it.
    """
    half = _half_counted(table)
    table = only(table, [bool(text.strip()) for text in table.columns["quantity"]])
    found: list[Fault] = list(half)
    counted_on = read_column(table, "counted_on", columns.a_day, found)
    item = read_column(table, "item", _item_reader(house), found)
    quantity = read_column(table, "quantity", packed.counted, found)
    unit = read_column(table, "unit", _unit_or_pack, found)
    use_by = read_column(table, "use_by", columns.a_day_or_none, found)
    ready_on = read_column(table, "ready_on", columns.a_day_or_none, found)
    amounts = amounts_of(table, house, item, (quantity, unit), found)
    no_equal_rows(table, [counted_on, item, quantity, unit, use_by, ready_on], found)
    faults += found
    if found:
        return ()
    rows = zip(counted_on.array(), item.array(), amounts, use_by.array(), ready_on.array(), strict=True)
    return tuple(CountedLot(*row) for row in rows)


def _half_counted(table: BookTable) -> list[Fault]:
    """A fault for each item of which some rows of a day have a quantity and others have none."""
    rows: dict[tuple[str, str], list[int]] = {}
    for row, (day, item) in enumerate(zip(table.columns["counted_on"], table.columns["item"], strict=True)):
        if item.strip():
            rows.setdefault((day.strip(), item.strip().casefold()), []).append(row)
    quantity, faults = table.columns["quantity"], []
    for of_item in rows.values():
        empty = [row for row in of_item if not quantity[row].strip()]
        if empty and len(empty) < len(of_item):
            n, name = len(of_item), table.columns["item"][empty[0]].strip()
            wrong = f"{n - len(empty)} of {n} lines of {name} filled in, this one is empty"
            right = "write what there is of it, 0 where there is none"
            faults.append(table.fault("quantity", empty[0], ("half-counted", wrong, right)))
    return faults


def _unit_or_pack(text: str) -> str:
    return text.lower() if packed.is_pack_word(text) else columns.unit(text)


def read_open_orders(table: BookTable, house: House, faults: list[Fault]) -> tuple[OpenOrder, ...]:
    """Packs on order; quantities from the offer's pack."""
    found: list[Fault] = []
    vendor = read_column(table, "vendor", vendor_reader(house), found)
    code = read_column(table, "code", a_code, found)
    packs = read_column(table, "packs", columns.number, found)
    deliver_on = read_column(table, "deliver_on", columns.a_day, found)
    offers = _offers(table, house, vendor, code, found)
    no_equal_rows(table, [vendor, code, deliver_on], found)
    faults += found
    if found:
        return ()
    rows = zip(offers, packs.array(), deliver_on.array(), strict=True)
    return tuple(
        OpenOrder(
            vendor=offer.vendor,
            code=offer.code,
            item=offer.item,
            packs=float(packs),
            quantity=float(packs) * offer.pack_quantity,
            deliver_on=day,
        )
        for offer, packs, day in rows
        if offer is not None
    )


def read_waste(table: BookTable, house: House, faults: list[Fault]) -> tuple[Waste, ...]:
    """What was thrown away."""
    found: list[Fault] = []
    day = read_column(table, "date", columns.a_day, found)
    item = read_column(table, "item", _item_reader(house), found)
    quantity = read_column(table, "quantity", columns.number, found)
    unit = read_column(table, "unit", columns.unit, found)
    reason = read_column(table, "reason", columns.some_text, found)
    amounts = amounts_of(table, house, item, (quantity, unit), found)
    no_equal_rows(table, [day, item, quantity, unit, reason], found)
    faults += found
    if found:
        return ()
    return tuple(Waste(*row) for row in zip(day.array(), item.array(), amounts, reason.array(), strict=True))


def read_batches(table: BookTable, house: House, faults: list[Fault]) -> tuple[Batch, ...]:
    """Makings: `drawn` in the unit of the recipe's first line, 0 where it was not weighed; `made` in its own.

    `unit` is that of both, unless `drawn_unit` says what was drawn is measured otherwise.
    """
    found: list[Fault] = []
    started_on = read_column(table, "started_on", columns.a_day, found)
    recipe = read_column(table, "recipe", _recipe_reader(house), found)
    drawn = read_column(table, "drawn", columns.number_or_none, found)
    made = read_column(table, "made", columns.number, found)
    unit = read_column(table, "unit", columns.unit, found)
    of_made = amounts_of(table, house, recipe, (made, unit), found)
    first = [_first_item(house, name) for name in recipe.values]
    main = BookColumn(recipe.codes, first, recipe.bad)
    n_found = len(found)
    of_drawn = amounts_of(table, house, main, (drawn, _drawn_unit(table, unit, found)), found)
    found[n_found:] = [replace(one, right=_drawn_apart(one)) for one in found[n_found:]]
    faults += found
    if found:
        return ()
    rows = zip(started_on.array(), recipe.array(), of_drawn, of_made, strict=True)
    return tuple(Batch(day, made_of, amount or 0.0, gave) for day, made_of, amount, gave in rows)


def _drawn_apart(fault: Fault) -> str:
    """What is right where a batch is measured otherwise than what went into it: 4 l of beans from 2 kg."""
    if fault.kind != "no-bridge":
        return fault.right
    return "write its unit in a column 'drawn_unit', or leave 'drawn' empty where it was not weighed"


def _drawn_unit(table: BookTable, unit: BookColumn, found: list[Fault]) -> BookColumn:
    """Each row's `drawn_unit`, or its `unit` where that is empty."""
    own = read_column(table, "drawn_unit", lambda text: columns.unit(text) if text else None, found)
    values = [mine or both for mine, both in zip(own.array(), unit.array(), strict=True)]
    return BookColumn(np.arange(table.n_rows), values, own.bad | unit.bad)


def _first_item(house: House, recipe: str | None) -> str | None:
    lines = house.recipes[recipe].lines if recipe else ()
    return lines[0].item if lines else recipe


def only(table: BookTable, kept: list[bool]) -> BookTable:
    """The table of the rows kept."""
    if all(kept):
        return table
    rows = [n for n, is_kept in enumerate(kept) if is_kept]
    picked = {name: [cells[n] for n in rows] for name, cells in table.columns.items()}
    return BookTable(
        table.place, table.book, picked, [table.lines[n] for n in rows], table.letters, table.mark
    )


def _item_reader(house: House) -> Callable[[str], str]:
    bought = [(one.id, one.name) for one in house.ingredients.values()]
    made = [(one.id, one.name) for one in house.recipes.values()]
    ids = ids_by_name([*bought, *made])
    return known("ingredient or recipe", ids, NEW_ITEM, "unknown-item")


def _recipe_reader(house: House) -> Callable[[str], str]:
    ids = ids_by_name((one.id, one.name) for one in house.recipes.values())
    return known("recipe", ids, "add it to recipes.yaml")


def vendor_reader(house: House) -> Callable[[str], str]:
    """Reads the id of a vendor."""
    ids = ids_by_name((one.id, one.name) for one in house.vendors.values())
    return known("vendor", ids, "add it to vendors.yaml")


def a_code(text: str) -> str:
    """A vendor's code, which must be there."""
    if not text:
        raise columns.Misread("empty-value", "nothing is written", "write the vendor's code")
    return columns.some_text(text)


def no_equal_rows(table: BookTable, read: list[BookColumn], found: list[Fault]) -> None:
    """Add a fault for each row that stands twice, where no other fault was found."""
    if not found:
        found += columns.equal_rows(table, [one.keys() for one in read], "the same row", _EQUAL)


def amounts_of(
    table: BookTable,
    house: House,
    item: BookColumn,
    measured: tuple[BookColumn, BookColumn],
    found: list[Fault],
) -> list[Any]:
    """Quantities (float) by row in their item's unit; None where a row is refused or nothing is written."""
    quantity, unit = measured
    ratios: dict[tuple[str, str], Fraction | tuple[str, str, str]] = {}
    amounts: list[Any] = []
    refused = item.bad | quantity.bad | unit.bad
    rows = zip(item.array(), quantity.array(), unit.array(), refused, strict=True)
    for row, (name, number, word, is_bad) in enumerate(rows):
        amounts.append(None)
        if is_bad or number is None:
            continue
        if packed.is_pack_word(word) and _is_own(house, name, word):
            word = units.unit_name(word)
        elif isinstance(number, packed.Packed) or packed.is_pack_word(word):
            amount = _of_packs(house, name, number, word)
            if isinstance(amount, tuple):
                found.append(table.fault("quantity", row, amount))
            else:
                amounts[-1] = float(amount)
            continue
        if word is None:
            found.append(
                table.fault("unit", row, ("empty-value", "nothing is written", "write kg, l or each"))
            )
            continue
        if isinstance(number, packed.Packed):  # cases of what is counted in cases
            number = number.packs
        ratio = ratios.get((name, word))
        if ratio is None:
            ratio = ratios[name, word] = ratio_of(house, name, word)
        if isinstance(ratio, tuple):
            found.append(table.fault("unit", row, ratio))
        else:
            amounts[-1] = float(number * ratio)
    return amounts


def _is_own(house: House, item: str, word: str) -> bool:
    """Whether an item is counted in that piece throughout."""
    try:
        name = units.unit_name(word)
    except units.UnitError:
        return False
    return not isinstance(ratio_of(house, item, name), tuple)


def _of_packs(
    house: House, item: str, number: packed.Packed | Fraction, word: str | None
) -> Fraction | tuple[str, str, str]:
    given = number if isinstance(number, packed.Packed) else packed.Packed(number)
    return packed.in_own_unit(house, item, given, word, lambda unit: ratio_of(house, item, unit))


def ratio_of(house: House, item: str, unit: str) -> Fraction | tuple[str, str, str]:
    """What one `unit` of an item is in its own; `each` weighs one kind of piece: no case is taken for it."""
    measured = house.ingredients.get(item) or house.recipes[item]
    kind, own = units.kind_of(unit), units.kind_of(measured.unit)
    piece = house.piece_words.get(item, "each")
    if kind not in ("mass", "volume", "each", own, piece):
        right = f"write it in {measured.unit}" + (f" or {piece}" if measured.each_g else "")
        return "no-bridge", f"{item}: {unit} cannot become {measured.unit}", right
    try:
        return units.factor(unit, measured.unit, measured.each_g, measured.density_kg_per_l)
    except units.UnitError as error:
        return "no-bridge", f"{item}: {error.wrong}", f"write it in {measured.unit}, or {error.right}"


def _offers(
    table: BookTable, house: House, vendor: BookColumn, code: BookColumn, found: list[Fault]
) -> list[Offer | None]:
    """The offer of each row, None where vendor or code are refused; a fault where there is no such code."""
    by_code = {(o.vendor, o.code): o for one in house.ingredients.values() for o in one.offers}
    refused: NDArray[np.bool_] = vendor.bad | code.bad
    offers = []
    for row, key in enumerate(zip(vendor.array(), code.array(), strict=True)):
        offers.append(by_code.get(key))
        if refused[row] or key in by_code:
            continue
        codes = [of for by, of in by_code if by == key[0]]
        wrong = f"{key[0]} has no offer '{key[1]}'"
        right = nearest(key[1], codes) or "add it to an ingredient's offers in ingredients.yaml"
        found.append(table.fault("code", row, ("unknown-code", wrong, right)))
    return offers
