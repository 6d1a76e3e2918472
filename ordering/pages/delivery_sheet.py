"""The sheet at the door: what is on order for a day, with room for what really came."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, datetime, time

from ordering.amounts import packs_said, shown
from ordering.days import format_day
from ordering.pages.caution_block import door_rows
from ordering.pages.parts import heads, long_day, number_row, paper
from ordering.records.house import House
from ordering.records.ledger import Expected
from ordering.records.money import offer_of, per, quoted_price
from ordering.records.page import Cell, Entry, Row, Sheet, Table, Workbook

# The heads `vendor`, `code` and `packs` to `delivered on` are the columns of a delivery: it reads back.
COLUMNS = (
    *("vendor", "code", "what", "ordered", "packs", "quantity", "unit"),
    *("price", "of", "use by", "delivered on"),
)
# Where something due carries a hazard; what is written there is booked in with the line.
AT_THE_DOOR = ("temperature", "condition")
DOOR_WIDTHS = (12.0, 20.0)
WIDTHS = (22.0, 12.0, 30.0, 34.0, 9.0, 11.0, 8.0, 10.0, 8.0, 15.0, 12.0)
QUANTITY, PRICE, USE_BY, DELIVERED_ON = 5, 7, 9, 10
ROW_POINTS = 19.0
N_EMPTY_LINES = 4
HOW = (
    "Write the packs that came, ok where it came as ordered, 0 where nothing did; what is left empty is not "
    "booked in. Where all came as ordered, tick the box above.",
    "Write the weight into quantity where it is weighed; without it the packs' own is taken. "
    "Change the price where the invoice has another.",
)


def delivery_sheet(house: House, due: Sequence[Expected], on: date, number: str) -> Workbook:
    """What is still to come by `on`, a line each, in the terms of an invoice; only filled lines are booked.

    Parameters
    ----------
    due : orders not settled, of that day or overdue
    """
    has_hazard = any(_has_hazard(house, one.item) for one in due)
    columns = (*COLUMNS, *(AT_THE_DOOR if has_hazard else ()))
    top: list[Row] = [
        (Cell(f"Delivery, {long_day(on)}", "title"),),
        number_row(number),
        (Cell("all as ordered", "quiet"), Cell(None, "text box", is_open=True)),
        (Cell(f"{house.name}. {HOW[0]}", "quiet"),),
        *((Cell(line, "quiet"),) for line in HOW[1:]),
        *door_rows(house, sorted({one.item for one in due}), len(columns)),
        (),
    ]
    rows = [*_lines(house, due, on, has_hazard), *(_empty_row(on, has_hazard) for _ in range(N_EMPTY_LINES))]
    head = len(top)
    first, last = head + 1, head + len(rows)
    sheet = Sheet(
        title="Delivery",
        rows=(*top, heads(columns, ("packs", "quantity", "price")), *rows),
        widths=(*WIDTHS, *(DOOR_WIDTHS if has_hazard else ())),
        repeat=(head, head),
        freeze=head + 1,
        is_landscape=True,
        is_protected=True,
        footer=f"{house.name}: delivery of {on.isoformat()}, {number}",
        tables=(Table("delivery", head, last, 0, len(columns) - 1),),
        row_height=ROW_POINTS,
        entries=(
            Entry("number", QUANTITY, first, last, "Write a number, in the unit beside it."),
            Entry("number", PRICE, first, last, "Write an amount, without a sign."),
            Entry("date", USE_BY, first, last, "Write a date."),
            Entry("date", DELIVERED_ON, first, last, "Write the day of the delivery."),
        ),
    )
    return Workbook(
        title=f"Delivery of {on.isoformat()}",
        sheets=(sheet,),
        created=datetime.combine(on, time(0, 0)),
        author=house.name,
        paper=paper(house),
        is_american=house.is_american,
    )


def _has_hazard(house: House, item: str) -> bool:
    return item in house.ingredients and bool(house.ingredients[item].hazards)


def _door(has_column: bool, is_asked: bool) -> Row:
    """Boxes for temperature and condition, for goods with a hazard; empty cells for the others."""
    box = Cell(None, "text box", is_open=True)
    return ((box, box) if is_asked else (Cell(None, "line", is_open=True),) * 2) if has_column else ()


def _lines(house: House, due: Sequence[Expected], on: date, has_hazard: bool) -> Iterator[Row]:
    n_of = Counter(vendor.name.casefold() for vendor in house.vendors.values())
    ranked = sorted(due, key=lambda e: (e.key.vendor, e.key.deliver_on, e.item, e.key.code))
    for n, one in enumerate(ranked):
        vendor = house.vendors.get(one.key.vendor)
        is_sure = vendor is not None and n_of[vendor.name.casefold()] == 1
        name = vendor.name if vendor is not None and is_sure else one.key.vendor
        offer = offer_of(house, one.item, one.key.vendor, one.key.code)
        line = "rule" if n and one.key.vendor != ranked[n - 1].key.vendor else "line"
        ordered = packs_said(round(one.packs), offer.pack) if offer else shown(one.quantity, one.unit)
        if one.key.deliver_on != on:
            ordered += f", due {format_day(one.key.deliver_on)}"
        price = quoted_price(offer, one.packs) if offer is not None else one.price
        yield (
            Cell(name, f"small wrap {line}"),
            Cell(one.key.code, f"text {line}"),
            Cell(house.name_of(one.item), f"strong wrap {line}"),
            Cell(ordered, f"small wrap {line}"),
            Cell(None, "number large box", is_open=True),
            Cell(None, "number large box", is_open=True),
            Cell(one.unit, "text box", is_open=True),
            Cell(price, "money box", is_open=True),
            Cell(per(offer).removeprefix("per ").removeprefix("a "), f"small {line}"),
            Cell(None, "date box", is_open=True),
            Cell(on, "small day line", is_open=True),
            *_door(has_hazard, _has_hazard(house, one.item)),
        )


def _empty_row(on: date, has_hazard: bool) -> Row:
    """Room for what nobody ordered."""
    box = Cell(None, "text box", is_open=True)
    number = Cell(None, "number large box", is_open=True)
    return (
        *(box, box, Cell("anything else", "quiet line"), Cell(None, "line"), number, number, box),
        Cell(None, "money box", is_open=True),
        Cell(None, "line"),
        Cell(None, "date box", is_open=True),
        Cell(on, "small day line", is_open=True),
        *_door(has_hazard, has_hazard),
    )
