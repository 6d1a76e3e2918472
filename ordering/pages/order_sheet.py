"""The order sheet of one vendor: what the vendor needs to know, and room for a pencil at the door."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal

from ordering.days import said
from ordering.pages.parts import heads, paper
from ordering.pages.tables import local
from ordering.records.house import House, Offer, Vendor
from ordering.records.page import Cell, Entry, Row, Sheet, Table, Workbook
from ordering.records.plan import Buying, OrderLine, Plan

DELIVER_ON, CODE, PACKS = "deliver on", "code", "packs"
MOST_ON_A_PAGE = (
    54  # rows; a few too many are printed smaller rather than the signatures alone on a second page
)
COLUMNS = (
    *(DELIVER_ON, CODE, "description", PACKS, "pack"),
    *("expected weight", "price", "amount", "received"),
)
NUMBERS = (PACKS, "expected weight", "price", "amount")
WIDTHS = (11.0, 10.0, 28.0, 6.5, 14.5, 10.0, 9.0, 9.5, 9.0)
DOOR_COLUMNS = ("delivery", "lines", "received by, signature", "time", "date", "goods", "fee", "total")
_DELIVER, _CODE, _DESCRIPTION, _PACKS, _PACK, _WEIGHT, _PRICE, _AMOUNT, _RECEIVED = range(9)


@dataclass(frozen=True, slots=True)
class Standing:
    """Where an order stands in a sheet read back: rows and columns from 0."""

    first_row: int
    last_row: int
    deliver_on: int
    code: int
    packs: int


def standing(rows: Sequence[Sequence[object]]) -> Standing | None:
    """Where the ordered lines stand in a sheet's values, or None where this is not an order sheet.

    `rows` are the cells as read, from the first row and column of the sheet. The lines begin under
    the heading row and end before the first row without a code.
    """
    for r, row in enumerate(rows):
        names = [str(value or "").strip().casefold() for value in row]
        if not {DELIVER_ON, CODE, PACKS} <= set(names):
            continue
        code = names.index(CODE)
        last = r
        while last + 1 < len(rows) and _value(rows[last + 1], code) not in (None, ""):
            last += 1
        return Standing(r + 1, last, names.index(DELIVER_ON), code, names.index(PACKS))
    return None


def order_sheet(house: House, plan: Plan, vendor: Vendor) -> Workbook:
    """The order to one vendor as a workbook of one sheet, every delivery in it."""
    lines = vendor_lines(plan, vendor.id)
    top = _heading(house, vendor, lines, plan.buying)
    head = len(top)
    first, last = head + 1, head + len(lines)
    body = [_line(house, line, head + 1 + n, _is_new(lines, n)) for n, line in enumerate(lines)]
    door = _door(plan, vendor, lines, first)
    rows = (*top, _head(), *body, (), *door)
    sheet = Sheet(
        title="Order",
        rows=rows,
        widths=WIDTHS,
        repeat=(head, head),
        freeze=head + 1,
        is_protected=True,
        fit_tall=1 if len(rows) <= MOST_ON_A_PAGE else 0,
        footer=f"{house.name}: order for {vendor.name}, made {plan.on.isoformat()}",
        tables=(
            Table(f"order for {vendor.id}", head, last, 0, len(COLUMNS) - 1),
            Table(f"deliveries of {vendor.id}", last + 2, last + 1 + len(door), 0, len(DOOR_COLUMNS) - 1),
        ),
        entries=(Entry("whole", _PACKS, first, last, "Packs are whole numbers; 0 takes the line off."),),
        row_height=19.0,
    )
    return Workbook(
        title=f"Order for {vendor.name}",
        sheets=(sheet,),
        created=local(plan.now),
        author=house.name,
        paper=paper(house),
    )


def vendor_lines(plan: Plan, vendor: str) -> tuple[OrderLine, ...]:
    """The lines to place with one vendor now, by delivery and then as the vendor names them."""
    lines = [line for line in plan.buying.orders if line.vendor == vendor]
    return tuple(sorted(lines, key=lambda line: (line.deliver_on, line.description, line.code)))


def offer_of(house: House, line: OrderLine) -> Offer | None:
    """The offer a line was bought on, or None where the configuration no longer has it."""
    offers = house.ingredients[line.item].offers if line.item in house.ingredients else ()
    return next((o for o in offers if (o.vendor, o.code) == (line.vendor, line.code)), None)


def lacks(vendor: Vendor, lines: Sequence[OrderLine], buying: Buying) -> Decimal:
    """Money that one delivery lacks of its vendor's minimum, earlier orders for it counted; 0: nothing."""
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


def _value(row: Sequence[object], column: int) -> object:
    return row[column] if column < len(row) else None


def _heading(house: House, vendor: Vendor, lines: Sequence[OrderLine], buying: Buying) -> list[Row]:
    sender = ", ".join(part for part in (house.name, house.address) if part)
    top: list[Row] = [
        (Cell(f"Order for {vendor.name}", "title"),),
        (Cell("from", "quiet"), Cell(sender, "strong")),
    ]
    if vendor.account:
        top.append((Cell("account", "quiet"), Cell(vendor.account, "strong")))
    for n, day in enumerate(_days(lines)):
        order_by = min(local(line.order_by) for line in lines if line.deliver_on == day)
        lead = "deliver on" if n == 0 else "and on"
        top.append(
            (
                Cell(lead, "quiet"),
                Cell(day, "long-date strong", span=2),
                Cell("order by", "quiet right", span=2),
                Cell(order_by, "long-moment strong", span=4),
            )
        )
    for day in _days(lines):
        short = lacks(vendor, [line for line in lines if line.deliver_on == day], buying)
        if short:
            least = f"{vendor.minimum:,.2f}"
            told = f"{said(day)} is {short:,.2f} under the minimum order of {least}: to be agreed"
            top.append((Cell("minimum", "quiet"), Cell(told, "strong wrap", span=len(COLUMNS) - 1)))
    if vendor.notes:
        top.append((Cell("note", "quiet"), Cell(vendor.notes, "wrap", span=len(COLUMNS) - 1)))
    prices = f"Prices in {house.currency}, as we have them. " if house.currency else ""
    hint = "Only the packs can be changed; the sheet is locked without a password."
    top.append((Cell(f"{prices}{hint}", "quiet"),))
    return [*top, ()]


def _days(lines: Sequence[OrderLine]) -> list[date]:
    return sorted({line.deliver_on for line in lines})


def _is_new(lines: Sequence[OrderLine], n: int) -> bool:
    """Whether a line is the first of its delivery, after another one."""
    return n > 0 and lines[n].deliver_on != lines[n - 1].deliver_on


def _line(house: House, line: OrderLine, row: int, is_new: bool) -> Row:
    """One ordered line; the first of a delivery stands under a rule and has its day in bold."""
    rule = " rule" if is_new else " line"
    offer = offer_of(house, line)
    told = charged(line)
    weight = Cell(None, f"number{rule}")
    if line.is_catch_weight:
        each = offer.pack_quantity if offer else line.quantity / max(line.packs, 1)
        formula = f"=ROUND(D{row + 1}*{each!r},3)"
        weight = Cell(line.quantity, f"number{rule}", unit=line.unit, formula=formula)
    price = Cell(line.price, f"money{rule}")
    amount = Cell(None, f"money{rule}")
    if line.price is not None:
        amount = Cell(line.amount, f"money{rule}", formula=f"=ROUND(D{row + 1}*G{row + 1},2)")
    return (
        Cell(line.deliver_on, f"day{rule}"),
        Cell(line.code, f"text{rule}"),
        Cell(f"{line.description}\n{told}" if told else line.description, f"wrap{rule}"),
        Cell(line.packs, "whole strong box shade", is_open=True),
        Cell(line.pack, f"wrap inset{rule}"),
        *(weight, price, amount),
        Cell(None, "box"),
    )


def _door(plan: Plan, vendor: Vendor, lines: Sequence[OrderLine], first: int) -> list[Row]:
    """The table for the door: each delivery with what it comes to and who took it in."""
    last = first + len(lines) - 1
    rows: list[Row] = [heads(DOOR_COLUMNS, ("lines", "goods", "fee", "total"))]
    start = first + len(lines) + 2
    goods_all, fees_all = Decimal(0), Decimal(0)
    for n, day in enumerate(_days(lines)):
        mine = [line for line in lines if line.deliver_on == day]
        goods = sum((line.amount for line in mine), Decimal(0))
        fee = plan.buying.fees.get((vendor.id, day), Decimal(0))
        goods_all, fees_all = goods_all + goods, fees_all + fee
        at = start + n + 1
        span = f"A{first + 1}:A{last + 1}"
        of_day = f"=SUMIF({span},A{at},H{first + 1}:H{last + 1})"
        rows.append(
            (
                Cell(day, "day box"),
                Cell(len(mine), "whole box"),
                *(Cell(None, "box"), Cell(None, "box"), Cell(None, "box")),
                Cell(goods, "money box", formula=of_day),
                Cell(fee, "money box"),
                Cell(goods + fee, "money box strong", formula=f"=F{at}+G{at}"),
            )
        )
    return rows if len(rows) == 2 else [*rows, _sum(len(lines), goods_all, fees_all, (start + 1, len(rows)))]


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
