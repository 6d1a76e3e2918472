"""The count sheet: storage area by storage area in shelf order, for a pencil or a tablet."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time

from ordering.amounts import shown
from ordering.days import said
from ordering.pages.numbered import number_row
from ordering.pages.parts import heads, long_day, paper
from ordering.records.books import Books, CountedLot, Lot
from ordering.records.house import House, Recipe
from ordering.records.page import Cell, Entry, Row, Sheet, Table, Workbook
from ordering.records.plan import Opening

# The heads `quantity` to `counted on` are the columns of a count, so that the filled sheet reads back.
COLUMNS = (
    *("store", "what", "last count", "expected"),
    *("quantity", "unit", "use by", "ready on", "item", "counted on"),
)
WIDTHS = (13.0, 38.0, 20.0, 11.0, 12.0, 7.0, 16.0, 16.0, 20.0, 11.5)
ELSEWHERE = "elsewhere"
QUANTITY, USE_BY, READY_ON, COUNTED_ON = 4, 6, 7, 9
ROW_POINTS = 19.0
N_EMPTY_LINES = 3


@dataclass(frozen=True, slots=True)
class Shelf:
    """One line to count: an item (none: whatever else there is) and the parcel that should be there."""

    store: str
    item: str
    lot: Lot | None = None
    is_first: bool = True


def count_sheet(house: House, books: Books, opening: Opening, on: date, number: str) -> Workbook:
    """A sheet to count on the morning of `on`, with each item's last count and what there should be.

    Every parcel known has a line with its dates, and each storage area has empty lines for parcels nobody
    knows of; a small area is not torn between two pages. Only what is filled in is booked: an empty quantity
    is not counted, 0 is none.
    """
    shelves = tuple(_shelves(house, books, opening))
    top = _top(house, on, number)
    head = len(top)
    last_counts = _last_counts(books, on)
    expected = _expected(opening, last_counts)
    rows = [_row(house, shelf, last_counts, expected, on) for shelf in shelves]
    first, last = head + 1, head + len(rows)
    stores = [n for n in range(len(shelves)) if n == 0 or shelves[n].store != shelves[n - 1].store]
    sheet = Sheet(
        title="Count",
        rows=(*top, heads(COLUMNS, ("expected", "quantity")), *rows),
        widths=WIDTHS,
        repeat=(head, head),
        freeze=head + 1,
        is_landscape=True,
        is_protected=True,
        footer=f"{house.name}: count of {on.isoformat()}, {number}",
        tables=(Table("count", head, last, 0, len(COLUMNS) - 1),) if rows else (),
        parts=tuple(first + n for n in stores),
        heights=dict.fromkeys(range(first, last + 1), ROW_POINTS),
        entries=_entries(first, last) if rows else (),
    )
    return Workbook(
        title=f"Count of {on.isoformat()}",
        sheets=(sheet,),
        created=datetime.combine(on, time(0, 0)),
        author=house.name,
        paper=paper(house),
    )


HOW = (
    "Count in the morning, before deliveries and service. Leave empty what you did not count; "
    "write 0 where there is none. Of an item with several lines fill in each that is there."
)


def _top(house: House, on: date, number: str) -> list[Row]:
    return [
        (Cell(f"Count, {long_day(on)}", "title"),),
        number_row(number),
        (Cell(f"{house.name}. {HOW}", "quiet"),),
        (),
    ]


def _entries(first: int, last: int) -> tuple[Entry, ...]:
    return (
        Entry("number", QUANTITY, first, last, "Write a number, in the unit beside it."),
        Entry("date", USE_BY, first, last, "Write a date."),
        Entry("date", READY_ON, first, last, "Write the date it will be ready."),
        Entry("date", COUNTED_ON, first, last, "Write the day of the count."),
    )


def _shelves(house: House, books: Books, opening: Opening) -> Iterator[Shelf]:
    """Items by store, stores and items as the configuration lists them, a line for each parcel."""
    lots: dict[str, list[Lot]] = {}
    for lot in (lot for lot in opening.lots if lot.quantity > 0):
        lots.setdefault(lot.item, []).append(lot)
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
        yield from (Shelf(store, "") for _ in range(N_EMPTY_LINES))


def _lines(store: str, item: str, lots: Sequence[Lot]) -> Iterator[Shelf]:
    ranked = sorted(lots, key=lambda lot: (lot.ready_on or date.min, lot.use_by or date.max))
    if not ranked:
        yield Shelf(store, item)
    for n, lot in enumerate(ranked):
        yield Shelf(store, item, lot, n == 0)


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
    house: House,
    shelf: Shelf,
    last_counts: Mapping[str, tuple[date, float]],
    expected: Mapping[str, float],
    on: date,
) -> Row:
    if not shelf.item:
        return _empty_row(shelf.store, on)
    unit = house.unit_of(shelf.item)
    lot = shelf.lot
    last = ""
    if shelf.is_first and shelf.item in last_counts:
        day, quantity = last_counts[shelf.item]
        last = f"{shown(quantity, unit)}, {said(day)}"
    due = lot.quantity if lot is not None else (expected.get(shelf.item) if shelf.is_first else None)
    more = "" if shelf.is_first else " (more of it)"
    return (
        Cell(shelf.store, "small line"),
        Cell(f"{house.name_of(shelf.item)}{more}", "strong line" if shelf.is_first else "quiet line"),
        Cell(last, "small line"),
        Cell(None if due is None else round(due, 3), "number line"),
        Cell(None, "number large box", is_open=True),
        Cell(unit, "text box", is_open=True),
        Cell(lot.use_by if lot else None, "date box", is_open=True),
        Cell(lot.ready_on if lot else None, "date box", is_open=True),
        Cell(shelf.item, "small line"),
        Cell(on, "small day line", is_open=True),
    )


def _empty_row(store: str, on: date) -> Row:
    """Room for a parcel that is not on the list."""
    box = Cell(None, "text box", is_open=True)
    return (
        Cell(store, "small line"),
        Cell("anything else", "quiet line"),
        Cell(None, "line"),
        Cell(None, "line"),
        Cell(None, "number large box", is_open=True),
        box,
        Cell(None, "date box", is_open=True),
        Cell(None, "date box", is_open=True),
        box,
        Cell(on, "small day line", is_open=True),
    )
