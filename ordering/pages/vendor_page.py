"""Vendors in the order book, one after the other: what to order now, what is on its way, what is foreseen."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import timedelta
from decimal import Decimal

from ordering.amounts import plural
from ordering.days import WEEKDAY_NAMES
from ordering.pages.order_sheet import charged, lacks
from ordering.pages.parts import heads, item_name, titled
from ordering.records.house import DeliveryDay, House, Vendor
from ordering.records.page import Cell, Row, Sheet, Table
from ordering.records.plan import OrderLine, Plan, Scheduled
from ordering.texts import wrapped

TITLE = "Vendors"
COLUMNS = (
    *("order by", "deliver on", "code", "item", "packs", "pack", "quantity"),
    *("price", "amount", "remark"),
)
WIDTHS = (16.0, 10.5, 9.0, 29.0, 7.0, 15.0, 11.0, 7.5, 9.0, 25.0)
NUMBERS = ("packs", "quantity", "price", "amount")
TERMS_WIDTH = 152  # letters that stand in the width of the sheet
NAME_HEIGHT = 26.0  # points: room above each vendor's name
OUTLOOK_DAYS = 21  # what lies further ahead is in outlook.csv


def busy_vendors(house: House, plan: Plan) -> tuple[Vendor, ...]:
    """The vendors with an order, an outlook or something on its way."""
    lines = (*plan.buying.orders, *plan.buying.outlook)
    busy = {line.vendor for line in lines} | {due.vendor for due in plan.opening.scheduled}
    return tuple(vendor for vendor in house.vendors.values() if vendor.id in busy)


def vendors_sheet(house: House, plan: Plan, vendors: Sequence[Vendor]) -> Sheet:
    """Everything about these vendors, the chef's own copy; `parts` has the row at which each begins."""
    top = titled(
        TITLE, f"{house.name}. First what to order now, then what is on its way and what comes later."
    )
    rows: list[Row] = [*top.rows, heads(COLUMNS, NUMBERS)]
    head = len(top.rows)
    parts = []
    for vendor in vendors:
        parts.append(len(rows))
        rows += _vendor_rows(house, plan, vendor)
    return Sheet(
        title=TITLE,
        rows=tuple(rows),
        widths=WIDTHS,
        repeat=(head, head) if vendors else None,
        freeze=head + 1,
        footer=f"{house.name}: vendors, {plan.on.isoformat()}",
        tables=(Table("vendors", head, len(rows) - 1, 0, len(COLUMNS) - 1),) if vendors else (),
        parts=tuple(parts),
        heights=dict.fromkeys(parts, NAME_HEIGHT),
        row_height=15.0,
    )


def _vendor_rows(house: House, plan: Plan, vendor: Vendor) -> Iterator[Row]:
    orders = [line for line in plan.buying.orders if line.vendor == vendor.id]
    until = plan.on + timedelta(days=OUTLOOK_DAYS)
    outlook = [x for x in plan.buying.outlook if x.vendor == vendor.id and x.deliver_on < until]
    coming = [due for due in plan.opening.scheduled if due.vendor == vendor.id]
    yield (Cell(vendor.name, "heading"),)
    yield from ((Cell(line, "quiet"),) for line in wrapped(_terms(house, vendor), TERMS_WIDTH) if line)
    if orders:
        yield from _order_rows(orders)
        yield from _charges(plan, vendor, orders)
    else:
        yield (Cell("Nothing to order now."),)
    if coming:
        yield (Cell("On its way", "strong"),)
        yield from _scheduled(house, coming)
    if outlook:
        yield (Cell("Later, in the next three weeks: do not order yet (by day in outlook.csv)", "strong"),)
        yield from _foreseen(outlook)


def _terms(house: House, vendor: Vendor) -> str:
    """Delivery days, minimum, fee, address and notes in words."""
    said = [f"Delivers {'; '.join(map(_delivery, vendor.deliveries))}." if vendor.deliveries else ""]
    money = house.currency
    if vendor.minimum:
        said.append(f"Minimum order {vendor.minimum:,.2f} {money}.")
    if vendor.delivery_fee:
        waived = vendor.fee_waived_over
        over = f", none from {waived:,.2f}" if waived is not None else ""
        said.append(f"Delivery {vendor.delivery_fee:,.2f} {money}{over}.")
    where = ", ".join(part for part in (vendor.email, vendor.account and f"account {vendor.account}") if part)
    return " ".join(part for part in (*said, where and f"{where}.", vendor.notes) if part)


def _delivery(day: DeliveryDay) -> str:
    ahead = f", {plural(day.weeks_ahead, 'week')} ahead" if day.weeks_ahead else ""
    by = f"{WEEKDAY_NAMES[day.order_by_weekday]} {day.order_by_time:%H:%M}"
    return f"{WEEKDAY_NAMES[day.weekday]} (order by {by}{ahead})"


def _order_rows(lines: Sequence[OrderLine]) -> Iterator[Row]:
    ranked = sorted(lines, key=lambda x: (x.order_by, x.deliver_on, x.description, x.code))
    for n, line in enumerate(ranked):
        rule = "rule" if n > 0 and line.deliver_on != ranked[n - 1].deliver_on else "line"
        yield (
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
    total = sum((line.amount for line in ranked), Decimal(0))
    yield (
        Cell("goods to order now", "total"),
        *(Cell(None, "total") for _ in range(7)),
        Cell(total, "money total"),
    )


def _charges(plan: Plan, vendor: Vendor, orders: Sequence[OrderLine]) -> Iterator[Row]:
    for day in sorted({line.deliver_on for line in orders}):
        fee = plan.buying.fees.get((vendor.id, day), Decimal(0))
        short = lacks(vendor, [line for line in orders if line.deliver_on == day], plan.buying)
        if short:
            told = f"{short:,.2f} under the minimum: ask the vendor, or fill it"
            yield (Cell("minimum", "strong"), Cell(day, "day strong"), Cell(told, "strong"))
        if fee:
            yield (Cell("delivery"), Cell(day, "day"), *(Cell() for _ in range(6)), Cell(fee, "money"))


def _scheduled(house: House, coming: Sequence[Scheduled]) -> Iterator[Row]:
    for due in sorted(coming, key=lambda d: (d.due_on, d.code)):
        yield (
            Cell(None, "line"),
            Cell(due.due_on, "day line"),
            Cell(due.code, "text line"),
            Cell(item_name(house, due.item), "wrap line"),
            Cell(None, "line"),
            Cell(None, "line"),
            Cell(round(due.quantity, 3), "number line", unit=house.unit_of(due.item)),
        )


def _foreseen(outlook: Sequence[OrderLine]) -> Iterator[Row]:
    """What later runs will probably order, one row for each offer from its first day on."""
    by_code: dict[str, list[OrderLine]] = {}
    for line in sorted(outlook, key=lambda x: (x.description, x.code, x.deliver_on)):
        by_code.setdefault(line.code, []).append(line)
    for lines in by_code.values():
        yield (
            Cell(min(x.order_by for x in lines), "moment line"),
            Cell(lines[0].deliver_on, "day line"),
            Cell(lines[0].code, "text line"),
            Cell(lines[0].description, "wrap line"),
            Cell(sum(x.packs for x in lines), "whole line"),
            Cell(lines[0].pack, "wrap line"),
            Cell(round(sum(x.quantity for x in lines), 3), "number line", unit=lines[0].unit),
            *(Cell(None, "line") for _ in range(2)),
            Cell(f"in {plural(len(lines), 'delivery', 'deliveries')}", "small line"),
        )
