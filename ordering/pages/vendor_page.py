"""One vendor in the order book: what to order now, what is on its way, what is foreseen."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from decimal import Decimal

from ordering.days import WEEKDAY_NAMES
from ordering.pages.order_sheet import charged
from ordering.pages.parts import Block, heads, item_name, said_all, section, stacked, titled
from ordering.records.house import DeliveryDay, House, Vendor
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import OrderLine, Plan, Scheduled

COLUMNS = (
    *("order by", "deliver on", "code", "item", "packs", "pack", "quantity"),
    *("price", "amount", "remark"),
)
WIDTHS = (16.0, 11.0, 9.0, 30.0, 6.5, 13.0, 12.0, 9.0, 10.0, 20.0)
FORESEEN_COLUMNS = ("first order by", "first day", "code", "item", "packs", "pack", "quantity", "days")
OUTLOOK_DAYS = 21  # what lies further ahead is in outlook.csv
NUMBERS = ("packs", "quantity", "price", "amount")


def vendor_sheet(house: House, plan: Plan, vendor: Vendor, title: str) -> Sheet:
    """Everything about one vendor, the chef's own copy."""
    orders = [line for line in plan.buying.orders if line.vendor == vendor.id]
    until = plan.on + timedelta(days=OUTLOOK_DAYS)
    outlook = [x for x in plan.buying.outlook if x.vendor == vendor.id and x.deliver_on < until]
    coming = [due for due in plan.opening.scheduled if due.vendor == vendor.id]
    rows, tables = stacked(
        [
            titled(vendor.name, *_terms(house, vendor)),
            *_lines("Order now", orders, f"order {vendor.id}"),
            *_charges(plan, vendor, orders),
            *_scheduled(house, coming, vendor.id),
            *_foreseen(outlook, vendor.id),
        ]
    )
    return Sheet(
        title=title,
        rows=rows,
        widths=WIDTHS,
        freeze=1,
        footer=f"{house.name}: {vendor.name}, {plan.on.isoformat()}",
        tables=tables,
    )


def _terms(house: House, vendor: Vendor) -> list[str]:
    """Delivery days, minimum and fee in words."""
    said = [f"Delivers {'; '.join(map(_delivery, vendor.deliveries))}." if vendor.deliveries else ""]
    money = house.currency
    if vendor.minimum:
        said.append(f"Minimum order {vendor.minimum:,.2f} {money}.")
    if vendor.delivery_fee:
        waived = vendor.fee_waived_over
        over = f", none from {waived:,.2f}" if waived is not None else ""
        said.append(f"Delivery {vendor.delivery_fee:,.2f} {money}{over}.")
    where = ", ".join(part for part in (vendor.email, vendor.account and f"account {vendor.account}") if part)
    return [line for line in (said[0], " ".join(said[1:]), where, vendor.notes) if line]


def _delivery(day: DeliveryDay) -> str:
    ahead = f", {day.weeks_ahead} weeks ahead" if day.weeks_ahead else ""
    by = f"{WEEKDAY_NAMES[day.order_by_weekday]} {day.order_by_time:%H:%M}"
    return f"{WEEKDAY_NAMES[day.weekday]} (order by {by}{ahead})"


def _lines(heading: str, lines: Sequence[OrderLine], table: str) -> list[Block]:
    if not lines:
        return [section(heading), said_all(["Nothing."])]
    ranked = sorted(lines, key=lambda x: (x.order_by, x.deliver_on, x.description, x.code))
    rows = [
        _row(line, n > 0 and line.deliver_on != ranked[n - 1].deliver_on) for n, line in enumerate(ranked)
    ]
    total = sum((line.amount for line in ranked), Decimal(0))
    last = (Cell("goods", "total"), *(Cell(None, "total") for _ in range(7)), Cell(total, "money total"))
    return [
        section(heading),
        Block((heads(COLUMNS, NUMBERS), *rows), table),
        Block(((*last, Cell(None, "total")),)),
    ]


def _row(line: OrderLine, is_new: bool) -> Row:
    rule = "rule" if is_new else "line"
    return (
        Cell(line.order_by, f"moment {rule}"),
        Cell(line.deliver_on, f"day {rule}"),
        Cell(line.code, f"text {rule}"),
        Cell(line.description, f"wrap {rule}"),
        Cell(line.packs, f"whole strong {rule}"),
        Cell(line.pack, f"wrap {rule}"),
        Cell(round(line.quantity, 3), f"number {rule}", unit=line.unit),
        Cell(line.price, f"money {rule}"),
        Cell(line.amount if line.price is not None else None, f"money {rule}"),
        Cell("; ".join(part for part in (charged(line), line.note) if part), f"wrap small {rule}"),
    )


def _foreseen(outlook: Sequence[OrderLine], vendor: str) -> list[Block]:
    """What later runs will probably order, one row for each offer: enough to tell the vendor by."""
    heading = section("Foreseen in three weeks, to be ordered in a later run", "By day in outlook.csv.")
    if not outlook:
        return [heading, said_all(["Nothing."])]
    by_code: dict[str, list[OrderLine]] = {}
    for line in sorted(outlook, key=lambda x: (x.description, x.code, x.deliver_on)):
        by_code.setdefault(line.code, []).append(line)
    rows = [heads(FORESEEN_COLUMNS, ("packs", "quantity", "days"))]
    rows += [
        (
            Cell(min(x.order_by for x in lines), "moment line"),
            Cell(lines[0].deliver_on, "day line"),
            Cell(lines[0].code, "text line"),
            Cell(lines[0].description, "wrap line"),
            Cell(sum(x.packs for x in lines), "whole line"),
            Cell(lines[0].pack, "wrap line"),
            Cell(round(sum(x.quantity for x in lines), 3), "number line", unit=lines[0].unit),
            Cell(len(lines), "whole line"),
        )
        for lines in by_code.values()
    ]
    return [heading, Block(tuple(rows), f"foreseen {vendor}")]


def _charges(plan: Plan, vendor: Vendor, orders: Sequence[OrderLine]) -> list[Block]:
    days = sorted({line.deliver_on for line in orders})
    fees = [(day, plan.buying.fees.get((vendor.id, day), Decimal(0))) for day in days]
    return [
        Block(
            tuple(
                (Cell("delivery"), Cell(day, "day"), *(Cell() for _ in range(6)), Cell(fee, "money"))
                for day, fee in fees
                if fee
            )
        )
    ]


def _scheduled(house: House, coming: Sequence[Scheduled], vendor: str) -> list[Block]:
    if not coming:
        return []
    rows: list[Row] = [heads(("due on", "quantity", "code", "item on its way"), ("quantity",))]
    rows += [
        (
            Cell(due.due_on, "day line"),
            Cell(round(due.quantity, 3), "number line", unit=house.unit_of(due.item)),
            Cell(due.code, "text line"),
            Cell(item_name(house, due.item), "wrap line"),
        )
        for due in sorted(coming, key=lambda d: (d.due_on, d.code))
    ]
    return [section("On its way"), Block(tuple(rows), f"on its way {vendor}")]
