"""Today, on one page: what to order by when, what to start, what is short, what is doubtful."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from ordering.days import said
from ordering.pages.caution_block import hazards_of
from ordering.pages.parts import Block, counted, heads, long_day, said_all, section, stacked, titled
from ordering.pages.start_list import coming_starts
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import Plan, Shortage

WIDTHS = (17.0, 26.0, 12.0, 11.0, 13.0, 30.0)
MOST_STARTS, MOST_SHORT, MOST_DOUBTS = 16, 8, 4
CAUSES: Mapping[str, str] = {
    "no-delivery": "no delivery in time",
    "no-time": "too late to start",
    "capacity": "no room for more",
    "expires": "past its date by then",
    "vendor-closed": "vendor closed",
    "no-offer": "no vendor sells it",
    "no-batch": "no batch is there",
}


@dataclass(frozen=True, slots=True)
class Placing:
    """One order to place: its vendor and delivery, until when, and what it comes to."""

    order_by: datetime
    vendor: str
    deliver_on: date
    n_lines: int
    amount: Decimal
    fee: Decimal


def placings(plan: Plan) -> tuple[Placing, ...]:
    """The orders to place before the next run, the earliest cut-off first."""
    keys = sorted({(line.order_by, line.vendor, line.deliver_on) for line in plan.buying.orders})
    found = []
    for order_by, vendor, day in keys:
        mine = [
            x for x in plan.buying.orders if (x.order_by, x.vendor, x.deliver_on) == (order_by, vendor, day)
        ]
        amount = sum((line.amount for line in mine), Decimal(0))
        fee = plan.buying.fees.get((vendor, day), Decimal(0))
        found.append(Placing(order_by, vendor, day, len(mine), amount, fee))
    return tuple(found)


def cause_said(cause: str) -> str:
    """A cause in words; one that already is in words stays as it is."""
    return CAUSES.get(cause, cause)


def today_sheet(house: House, plan: Plan, vendor_titles: Mapping[str, str]) -> Sheet:
    """The first page of the order book; each vendor's name leads to its own sheet."""
    top = titled(
        f"{long_day(plan.on)}",
        f"{house.name}. Orders below last until the next run, {said(plan.next_run)}.",
    )
    rows, tables = stacked(
        [
            top,
            *_orders(house, plan, vendor_titles),
            *_starts(house, plan),
            *_short(house, plan),
            *_doubts(plan),
        ]
    )
    return Sheet(
        title="Today",
        rows=rows,
        widths=WIDTHS,
        fit_tall=1,
        footer=f"{house.name}: {plan.on.isoformat()}",
        tables=tables,
        row_height=17.0,
    )


def _orders(house: House, plan: Plan, titles: Mapping[str, str]) -> list[Block]:
    found = placings(plan)
    if not found:
        return [section("Order"), said_all(["Nothing needs to be ordered before the next run."])]
    amount = f"amount, {house.currency}" if house.currency else "amount"
    rows: list[Row] = [
        heads(("order by", "vendor", "deliver on", "lines", amount, "placed"), ("lines", amount))
    ]
    for one in found:
        title = titles.get(one.vendor, "")
        rows.append(
            (
                Cell(one.order_by, "moment strong line"),
                Cell(_vendor(house, one.vendor), "text line", link=title),
                Cell(one.deliver_on, "day line"),
                Cell(one.n_lines, "whole line"),
                Cell(one.amount + one.fee, "money line"),
                Cell(None, "box"),
            )
        )
    total = sum((one.amount + one.fee for one in found), Decimal(0))
    n_lines = sum(one.n_lines for one in found)
    last = (
        *(Cell(text, "total") for text in ("all", "", "")),
        Cell(n_lines, "whole total"),
        Cell(total, "money total"),
    )
    return [section("Order"), Block(tuple(rows), "orders to place"), Block(((*last, Cell(None, "total")),))]


def _vendor(house: House, vendor: str) -> str:
    return house.vendors[vendor].name if vendor in house.vendors else vendor


def _starts(house: House, plan: Plan) -> list[Block]:
    starts = coming_starts(plan, n_days=1)
    if not starts:
        return [section("Start today"), said_all(["Nothing needs to be started today."])]
    rows: list[Row] = [
        heads(("ready on", "recipe", "quantity", "batches", "done", "mind"), ("quantity", "batches"))
    ]
    for start in starts[:MOST_STARTS]:
        minded = ", ".join(hazard.replace("-", " ") for hazard in hazards_of(house, start))
        rows.append(
            (
                Cell(start.ready_on, "day line"),
                Cell(house.name_of(start.recipe), "wrap line"),
                Cell(round(start.quantity, 3), "number strong line", unit=start.unit),
                Cell(start.batches, "number line"),
                Cell(None, "box"),
                Cell(f"{minded} (see Cautions)" if minded else None, "wrap line"),
            )
        )
    return [
        section("Start today"),
        Block(tuple(rows), "starts of today"),
        *_more(starts, MOST_STARTS, "Starts"),
    ]


def _short(house: House, plan: Plan) -> list[Block]:
    if not plan.shortages:
        return [section("Short"), said_all(["Nothing is expected to run short."])]
    rows: list[Row] = [heads(("needed on", "item", "short", "why", "dishes", "what can be done"), ("short",))]
    ranked = sorted(plan.shortages, key=lambda s: (s.date, s.item))
    rows += [_short_row(house, short) for short in ranked[:MOST_SHORT]]
    return [section("Short"), Block(tuple(rows), "shortages"), *_more(ranked, MOST_SHORT, "Short")]


def _short_row(house: House, short: Shortage) -> Row:
    return (
        Cell(short.date, "day strong line top"),
        Cell(item_name(house, short.item), "wrap line top"),
        Cell(round(short.short, 3), "number line top", unit=short.unit),
        Cell(cause_said(short.cause), "wrap line top"),
        Cell(short.dishes, "wrap line top"),
        Cell(short.remedy, "wrap line top"),
    )


def item_name(house: House, item: str) -> str:
    """The name of an item or dish, or its id where the house no longer has it."""
    if item in house.dishes:
        return house.dishes[item].name
    return house.name_of(item) if item in house.ingredients or item in house.recipes else item


def _more(found: Sequence[object], most: int, sheet: str) -> list[Block]:
    rest = len(found) - most
    return [said_all([f"and {rest} more: see the sheet {sheet}"])] if rest > 0 else []


def _doubts(plan: Plan) -> list[Block]:
    if not plan.doubts:
        return [section("Doubts"), said_all(["None."])]
    rest = len(plan.doubts) - MOST_DOUBTS
    shown = [*plan.doubts[:MOST_DOUBTS], *([f"and {rest} more: see the sheet Doubts"] if rest > 0 else [])]
    rows = tuple((Cell(text, "wrap", span=len(WIDTHS)),) for text in shown)
    return [section(f"Doubts: {counted(len(plan.doubts), 'thing')} to look at"), Block(rows)]


def shortages_sheet(house: House, plan: Plan) -> Sheet:
    """Every shortage with its cause and what could be done."""
    top = titled(
        "Short", "What no delivery and no batch can bring in time. Nothing is bought for it in vain."
    )
    blocks = [top]
    if plan.shortages:
        ranked = sorted(plan.shortages, key=lambda s: (s.date, s.item))
        head = heads(("needed on", "item", "short", "why", "dishes", "what can be done"), ("short",))
        blocks.append(Block((head, *(_short_row(house, short) for short in ranked)), "all shortages"))
    else:
        blocks.append(said_all(["Nothing is expected to run short."]))
    rows, tables = stacked(blocks)
    return Sheet(
        title="Short",
        rows=rows,
        widths=(12.0, 26.0, 12.0, 16.0, 24.0, 44.0),
        is_landscape=True,
        repeat=(len(top.rows), len(top.rows)) if plan.shortages else None,
        freeze=len(top.rows) + 1 if plan.shortages else 0,
        footer=f"{house.name}: short, {plan.on.isoformat()}",
        tables=tables,
    )
