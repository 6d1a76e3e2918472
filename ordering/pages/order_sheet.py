"""The order sheet of one vendor: what the vendor needs to know, and room for a pencil at the door."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime
from decimal import Decimal

from ordering.amounts import is_piece, pack_words
from ordering.days import day_and_time, format_day
from ordering.pages.parts import heads, workbook
from ordering.records.buying import Buying, OrderLine
from ordering.records.house import House
from ordering.records.money import offer_of
from ordering.records.page import Cell, Entry, Row, Sheet, Table, Workbook
from ordering.records.vendor_orders import Order, short_of_minimum
from ordering.records.vendors import Offer, Vendor
from ordering.texts import listed
from ordering.units import parse_quantity

DELIVER_ON, CODE, PACKS, PRICE, ORDER = "deliver on", "code", "packs", "price", "order"
N_ADDED = 3
"""Empty rows for lines added by hand."""
COLUMNS = (
    *(DELIVER_ON, CODE, "description", PACKS, "pack"),
    *("expected weight", "price", "amount", "received"),
)
NUMBERS = (PACKS, "expected weight", "price", "amount")
WIDTHS = (10.8, 8.0, 23.0, 6.8, 12.5, 10.3, 8.2, 9.2, 10.0)
DOOR_COLUMNS = ("delivery", "lines", "received by, signature", "time", "date", "goods", "fee", "total")
_DELIVER, _CODE, _DESCRIPTION, _PACKS, _PACK, _WEIGHT, _PRICE, _AMOUNT, _RECEIVED = range(9)


def order_sheet(house: House, vendor: Vendor, orders: Sequence[Order], made: datetime) -> Workbook:
    """The orders to one vendor as a workbook of one sheet, every delivery in it.

    Empty rows under the lines are for what is to be added by hand.
    """
    lines = [line for order in orders for line in order.lines]
    top = _heading(house, vendor, orders)
    head = len(top)
    first, last = head + 1, head + len(lines)
    body = [_line(house, line, head + 1 + n, _is_new(lines, n)) for n, line in enumerate(lines)]
    added = [_added_row(last + 1 + n) for n in range(N_ADDED)]
    bottom = last + N_ADDED
    door = _door(house, orders, first, bottom)
    rows = (*top, _head(), *body, *added, (), *door)
    sheet = Sheet(
        title="Order",
        rows=rows,
        widths=WIDTHS,
        repeat=(head, head),
        freeze=head + 1,
        is_protected=True,
        parts=(head + 1, bottom + 2),
        footer=f"{house.name}: order for {vendor.name}, made {made.date().isoformat()}",
        tables=(
            Table(f"order for {vendor.id}", head, bottom, 0, len(COLUMNS) - 1),
            Table(f"deliveries of {vendor.id}", bottom + 2, bottom + 1 + len(door), 0, len(DOOR_COLUMNS) - 1),
        ),
        entries=(
            Entry("whole", _PACKS, first, bottom, "Packs are whole numbers; 0 takes the line off."),
            Entry("number", _PRICE, first, bottom, "Write the price of a pack, without a sign."),
        ),
        row_height=17.5,
    )
    return workbook(house, f"Order for {vendor.name}", made, sheet)


def under_minimum(vendor: Vendor, lines: Sequence[OrderLine], buying: Buying) -> Decimal:
    """Money that one delivery is under its vendor's minimum, earlier orders for it counted; 0: nothing."""
    goods = sum((line.amount for line in lines), Decimal(0))
    placed = buying.placed.get((vendor.id, lines[0].deliver_on), Decimal(0))
    return max(vendor.minimum - goods - placed, Decimal(0))


def charged(line: OrderLine) -> str:
    """How catch weight is charged; nothing for other lines. A line's own note is for the chef alone."""
    if not line.is_catch_weight:
        return ""
    return f"catch weight, {line.quoted}" if line.quoted else "catch weight"


def _head() -> Row:
    inset = {"pack", "received"}
    row = heads(COLUMNS, NUMBERS)
    return tuple(replace(cell, style="head inset") if cell.value in inset else cell for cell in row)


def _heading(house: House, vendor: Vendor, orders: Sequence[Order]) -> list[Row]:
    sender = ", ".join(part for part in (house.name, house.address) if part)
    top: list[Row] = [
        (Cell(f"Order for {vendor.name}", "title"),),
        (Cell("from", "quiet"), Cell(sender, "strong")),
    ]
    if vendor.account:
        top.append((Cell("account", "quiet"), Cell(vendor.account, "strong")))
    for order in orders:
        order_by = min((line.order_by for line in order.lines), default=None)
        number = (Cell(ORDER, "quiet right"), Cell(order.number, "strong", span=2)) if order.number else ()
        top.append(
            (
                Cell("deliver on", "quiet"),
                Cell(order.deliver_on, "long-date strong", span=2),
                Cell(order_by and f"order by {day_and_time(order_by)}", span=3),
                *number,
            )
        )
        beside = [f"amendment {order.amendment}"] if order.amendment else []
        beside += [f"in addition to {listed(order.adds_to)}"] if order.adds_to else []
        if beside:
            top.append((Cell(None), Cell(", ".join(beside), "strong wrap", span=len(COLUMNS) - 1)))
    for order in orders:
        short = short_of_minimum(house, order)
        if short:
            least = f"{vendor.minimum:,.2f}"
            told = (
                f"{format_day(order.deliver_on)} is {short:,.2f} under the minimum "
                f"order of {least}: to be agreed"
            )
            top.append((Cell("minimum", "quiet"), Cell(told, "strong wrap", span=len(COLUMNS) - 1)))
    if vendor.notes:
        top.append((Cell("note", "quiet"), Cell(vendor.notes, "wrap", span=len(COLUMNS) - 1)))
    prices = f"Prices in {house.currency}, as we have them. " if house.currency else ""
    hint = "Packs and prices can be changed and lines added below; everything else is locked."
    top.append((Cell(f"{prices}{hint}", "quiet"),))
    return [*top, ()]


def _is_new(lines: Sequence[OrderLine], n: int) -> bool:
    """Whether a line is the first of its delivery, after another one."""
    return n > 0 and lines[n].deliver_on != lines[n - 1].deliver_on


def _line(house: House, line: OrderLine, row: int, is_new: bool) -> Row:
    """One ordered line; the first of a delivery stands under a rule and has its day in bold."""
    rule = " rule" if is_new else " line"
    offer = offer_of(house, line.item, line.vendor, line.code)
    told = charged(line)
    weight = Cell(None, f"number{rule}")
    if line.is_catch_weight:
        each, unit = _weight_of_pack(line, offer)
        formula = f"=ROUND(D{row + 1}*{each!r},3)"
        weight = Cell(round(line.packs * each, 3), f"number{rule}", unit=unit, formula=formula)
    price = Cell(line.price, f"money{rule}", is_open=True)
    amount = Cell(None, f"money{rule}")
    if line.price is not None:
        amount = Cell(line.amount, f"money{rule}", formula=f"=ROUND(D{row + 1}*G{row + 1},2)")
    return (
        Cell(line.deliver_on, f"day{rule}"),
        Cell(line.code, f"text{rule}"),
        Cell(f"{line.description}\n{told}" if told else line.description, f"wrap{rule}"),
        Cell(line.packs, "whole strong box shade", is_open=True),
        Cell(pack_words(line.pack), f"wrap inset{rule}"),
        *(weight, price, amount),
        Cell(None, "box"),
    )


def _weight_of_pack(line: OrderLine, offer: Offer | None) -> tuple[float, str]:
    """What a pack of catch weight is expected to weigh: of what the house counts, as the pack says it."""
    if offer is None:
        return line.quantity / max(line.packs, 1), line.unit
    if is_piece(line.unit) and "~" in offer.pack:
        weight = parse_quantity(offer.pack.partition("~")[2])
        return float(weight.amount), weight.unit
    return offer.pack_quantity, line.unit


def _added_row(row: int) -> Row:
    """Room for what is to be added by hand: code and packs are enough."""
    box = Cell(None, "text line", is_open=True)
    return (
        Cell(None, "day line", is_open=True),
        *(box, Cell(None, "wrap line", is_open=True)),
        Cell(None, "whole strong box shade", is_open=True),
        *(Cell(None, "wrap inset line"), Cell(None, "number line")),
        Cell(None, "money line", is_open=True),
        Cell("", "money line", formula=f'=IF(D{row + 1}="","",ROUND(D{row + 1}*G{row + 1},2))'),
        Cell(None, "box"),
    )


def _door(house: House, orders: Sequence[Order], first: int, last: int) -> list[Row]:
    """The table for the door: each delivery with what it comes to and who took it in.

    `first` and `last` are the rows of the ordered lines, from 0.
    """
    rows: list[Row] = [heads(DOOR_COLUMNS, ("lines", "goods", "fee", "total"))]
    start = last + 3
    for n, order in enumerate(orders):
        at = start + n + 1
        span = f"A{first + 1}:A{last + 1}"
        of_day = f"=SUMIF({span},A{at},H{first + 1}:H{last + 1})"
        rows.append(
            (
                Cell(order.deliver_on, "day box"),
                Cell(len(order.lines), "whole box"),
                *(Cell(None, "box"), Cell(None, "box"), Cell(None, "box")),
                Cell(order.goods, "money box", formula=of_day),
                Cell(order.fee, "money box", formula=_fee_formula(house, order, at)),
                Cell(order.total, "money box strong", formula=f"=F{at}+G{at}"),
            )
        )
    if len(rows) == 2:
        return rows
    goods = sum((order.goods for order in orders), Decimal(0))
    fees = sum((order.fee for order in orders), Decimal(0))
    n_lines = sum(len(order.lines) for order in orders)
    return [*rows, _sum(n_lines, goods, fees, (start + 1, len(rows)))]


def _fee_formula(house: House, order: Order, row: int) -> str:
    """The fee as it becomes when packs are changed; empty where nothing is charged with this order."""
    vendor = house.vendors.get(order.vendor)
    if vendor is None or not vendor.delivery_fee or order.adds_to or order.earlier:
        return ""
    waived = "FALSE" if vendor.fee_waived_over is None else f"F{row}>={vendor.fee_waived_over}"
    return f"=IF(OR(F{row}=0,{waived}),0,{vendor.delivery_fee})"


def _sum(n_lines: int, goods: Decimal, fees: Decimal, at: tuple[int, int]) -> Row:
    first, last = at[0], at[0] + at[1] - 2
    summed = [f"=SUM({column}{first}:{column}{last})" for column in "FGH"]
    return (
        Cell("all", "total"),
        Cell(n_lines, "whole total"),
        *(Cell(None, "total"), Cell(None, "total"), Cell(None, "total")),
        Cell(goods, "money total", formula=summed[0]),
        Cell(fees, "money total", formula=summed[1]),
        Cell(goods + fees, "money total", formula=summed[2]),
    )
