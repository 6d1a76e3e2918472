"""The count sheet: storage area by storage area in shelf order, for a pencil or a tablet."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from itertools import groupby

from ordering.amounts import shown
from ordering.days import format_day
from ordering.pages.parts import WRITING_POINTS, heads, long_day, number_row, workbook
from ordering.records.books import Books, CountedLot, Lot
from ordering.records.house import House, Recipe
from ordering.records.page import Cell, Entry, Row, Sheet, Table, Workbook
from ordering.records.plan import Opening

# The heads `quantity` to `item` are the columns of a count, so that the filled sheet reads back.
BLIND = ("what", "quantity", "unit", "use by", "ready on", "item")
WITH_EXPECTED = ("what", "last count", "expected", *BLIND[1:])
WIDTHS = {
    **{"what": 29.0, "last count": 20.0, "expected": 11.0, "quantity": 12.5, "unit": 6.5},
    **{"use by": 14.0, "ready on": 14.0, "item": 16.0},
}
ELSEWHERE = "elsewhere"
PAST = "past its use-by, to be thrown away and logged as waste"
N_EMPTY_LINES = 2


@dataclass(frozen=True, slots=True)
class Shelf:
    """One line to count: an item (none: whatever else there is) and the parcel that should be there.

    `is_past`: it is past its use-by and is named, so that nobody counts it with the rest.
    """

    store: str
    item: str
    lot: Lot | None = None
    is_first: bool = True
    is_past: bool = False


def count_sheet(
    house: House, books: Books, opening: Opening, on: date, number: str, with_expected: bool = False
) -> Workbook:
    """A sheet to count on the morning of `on`, storage area by storage area, as few pages as its rows take.

    It is blind, so that nobody counts what should be there; `with_expected` prints the last count and what
    there should be. What is good until the same day has one line, and each storage area has empty lines for
    parcels nobody knows of. Only what is filled in is booked: an empty quantity is not counted, 0 is none.
    The day stands once, at the head, and can be changed there.
    """
    columns = WITH_EXPECTED if with_expected else BLIND
    last_counts = _last_counts(books, on)
    expected = _expected(opening, last_counts)
    top = _top(house, on, number, len(columns))
    head = len(top)
    rows, parts = list[Row](), list[int]()
    for store, shelves in groupby(_shelves(house, books, opening), key=lambda shelf: shelf.store):
        parts.append(head + 1 + len(rows))
        rows.append((Cell(store, "heading rule"), *(Cell(None, "rule") for _ in columns[1:])))
        for shelf in shelves:
            row = _row(house, shelf, last_counts, expected)
            rows.append(row if with_expected else (row[0], *row[3:]))
    first, last = head + 1, head + len(rows)
    sheet = Sheet(
        title="Count",
        rows=(*top, heads(columns, ("expected", "quantity")), *rows),
        widths=tuple(WIDTHS[name] for name in columns),
        repeat=(head, head),
        freeze=head + 1,
        is_landscape=with_expected,
        is_protected=True,
        footer=f"{house.name}: count of {on.isoformat()}, {number}",
        tables=(Table("count", head, last, 0, len(columns) - 1),) if rows else (),
        parts=tuple(parts),
        headings=tuple(parts),
        entries=_entries(columns, first, last) if rows else (),
        row_height=WRITING_POINTS,
    )
    return workbook(house, f"Count of {on.isoformat()}", on, sheet)


HOW = (
    "Count in the morning, before deliveries and service. Leave empty what you did not count; "
    "write 0 where there is none. Of an item with several lines fill in all or none. What has a use-by and "
    "no date here is taken as fresh on the day of the count: write the date on its label."
)
PACKS = (
    "Packs and loose pieces are counted as they stand: 2 cs + 3 is two cases and three pieces, "
    "2 x 5 {unit} + 3 two packs of 5 {unit} and 3 more."
)
DAY_ROW = 2


def _top(house: House, on: date, number: str, n_columns: int) -> list[Row]:
    return [
        (Cell(f"Count, {long_day(on)}", "title"),),
        number_row(number),
        (Cell("counted on", "quiet"), Cell(on, "date box", is_open=True, span=2)),
        (Cell(f"{house.name}. {HOW}", "quiet wrap", span=n_columns),),
        (Cell(PACKS.format(unit="lb" if house.is_american else "kg"), "quiet wrap", span=n_columns),),
        (),
    ]


def _entries(columns: Sequence[str], first: int, last: int) -> tuple[Entry, ...]:
    return (
        Entry("date", 1, DAY_ROW, DAY_ROW, "Write the day of the count."),
        Entry("date", columns.index("use by"), first, last, "Write a date."),
        Entry("date", columns.index("ready on"), first, last, "Write the date it will be ready."),
    )


def _shelves(house: House, books: Books, opening: Opening) -> Iterator[Shelf]:
    """Items by store, stores and items as the configuration lists them, a line for each pair of dates."""
    lots = _by_item(opening.lots)
    past = _by_item(opening.past)
    by_store: dict[str, list[str]] = {}
    known = {c.item for c in books.counts} | lots.keys()
    for ingredient in house.ingredients.values():
        by_store.setdefault(ingredient.store or ELSEWHERE, []).append(ingredient.id)
    for recipe in house.recipes.values():
        if recipe.id in known or _is_kept(house, recipe):
            by_store.setdefault(recipe.store or ELSEWHERE, []).append(recipe.id)
    elsewhere = by_store.pop(ELSEWHERE, [])
    if elsewhere:
        by_store[ELSEWHERE] = elsewhere
    for store, items in by_store.items():
        for item in items:
            yield from _lines(store, item, lots.get(item, []))
            yield from (
                Shelf(store, item, lot, is_first=False, is_past=True) for lot in past.get(item, [])[-1:]
            )
        yield from (Shelf(store, "") for _ in range(N_EMPTY_LINES))


def _by_item(lots: Iterable[Lot]) -> dict[str, list[Lot]]:
    found: dict[str, list[Lot]] = {}
    for lot in lots:
        if lot.quantity > 0:
            found.setdefault(lot.item, []).append(lot)
    return found


def _lines(store: str, item: str, lots: Sequence[Lot]) -> Iterator[Shelf]:
    """A line for what is ready and good until the same day, whatever batches and deliveries it came in."""
    merged: dict[tuple[date, date], Lot] = {}
    for lot in lots:
        key = (lot.ready_on or date.min, lot.use_by or date.max)
        there = merged.get(key)
        merged[key] = lot if there is None else replace(there, quantity=there.quantity + lot.quantity)
    if not merged:
        yield Shelf(store, item)
    for n, key in enumerate(sorted(merged)):
        yield Shelf(store, item, merged[key], n == 0)


def _is_kept(house: House, recipe: Recipe) -> bool:
    """Whether a recipe is ever on a shelf: not one that is only put together for the plate.

    A plate's own recipe that has a shelf, or keeps for days, is: a side sold straight from its tub.
    """
    if recipe.keeps_days == 0:
        return False
    is_plate = any(dish.recipe == recipe.id for dish in house.dishes.values())
    return recipe.takes_days > 0 or bool(recipe.store or recipe.keeps_days) or not is_plate


def _last_counts(books: Books, on: date) -> dict[str, tuple[date, float]]:
    """Day and quantity of each item's latest count up to `on`, its parcels added up."""
    found: dict[str, tuple[date, float]] = {}
    for count in sorted(books.counts, key=_counted_on):
        if count.counted_on > on:
            continue
        day, quantity = found.get(count.item, (count.counted_on, 0.0))
        base = quantity if day == count.counted_on else 0.0
        found[count.item] = (count.counted_on, base + count.quantity)
    return found


def _counted_on(count: CountedLot) -> date:
    return count.counted_on


def _expected(opening: Opening, last_counts: Mapping[str, object]) -> dict[str, float]:
    """What there should be by item; items never counted are not known."""
    there = {item: 0.0 for item in last_counts if item not in opening.unknown}
    for lot in opening.lots:
        if lot.item in there:
            there[lot.item] += lot.quantity
    return there


def _row(
    house: House, shelf: Shelf, last_counts: Mapping[str, tuple[date, float]], expected: Mapping[str, float]
) -> Row:
    if not shelf.item:
        return _empty_row()
    unit = house.unit_of(shelf.item)
    lot = shelf.lot
    if shelf.is_past and lot is not None:
        return _past_row(house, lot)
    last = ""
    if shelf.is_first and shelf.item in last_counts:
        day, quantity = last_counts[shelf.item]
        last = f"{shown(quantity, unit)}, {format_day(day)}"
    due = lot.quantity if lot is not None else (expected.get(shelf.item) if shelf.is_first else None)
    return (
        Cell(house.name_of(shelf.item), "strong wrap line" if shelf.is_first else "quiet wrap line"),
        Cell(last, "small line"),
        Cell(None if due is None else round(due, 3), "number line"),
        Cell(None, "number large box", is_open=True),
        Cell(unit, "text box", is_open=True),
        Cell(lot.use_by if lot else None, "date small box", is_open=True),
        Cell(lot.ready_on if lot else None, "date small box", is_open=True),
        Cell(shelf.item, "small line wrap"),
    )


def _past_row(house: House, lot: Lot) -> Row:
    """What is past its use-by: nothing to fill in."""
    quiet = Cell(None, "line")
    return (
        *(Cell(f"{house.name_of(lot.item)}, {PAST}", "quiet wrap line"), quiet, quiet, quiet, quiet),
        *(Cell(lot.use_by, "date small line"), quiet, quiet),
    )


def _empty_row() -> Row:
    """Room for a parcel that is not on the list."""
    box = Cell(None, "text box", is_open=True)
    day = Cell(None, "date small box", is_open=True)
    return (
        Cell("anything else", "quiet line"),
        Cell(None, "line"),
        Cell(None, "line"),
        Cell(None, "number large box", is_open=True),
        *(box, day, day, box),
    )
