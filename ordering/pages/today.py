"""Today: what to order by when, what needs attention, what runs short, what to use first, what to check."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from ordering.amounts import plural
from ordering.days import day_and_time, format_day, span_said
from ordering.faults import ANSWER, with_code
from ordering.pages import short_and_over as words
from ordering.pages.order_sheet import under_minimum
from ordering.pages.parts import (
    Block,
    heads,
    item_name,
    long_day,
    said_all,
    section,
    sentence,
    stacked,
    titled,
    vendor_name,
)
from ordering.pages.start_list import coming_starts
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import Expiring, Plan, Shortage

TITLE = "Today"
COLUMNS = ("order by", "vendor", "deliver on", "lines", "amount", "placed")
WIDTHS = (21.1, 26.0, 10.8, 6.0, 10.5, 15.0)
MOST_SHORT, MOST_USE_FIRST, LEAST = 4, 3, 2  # lines; fewer where more than `LEAST` need attention
GAP_POINTS = 5.0  # of an empty row before a heading


@dataclass(frozen=True, slots=True)
class Placing:
    """One order to place: vendor, delivery, cut-off, what it comes to and is short of the minimum."""

    order_by: datetime
    vendor: str
    deliver_on: date
    n_lines: int
    amount: Decimal
    fee: Decimal
    lacking: Decimal = Decimal(0)


def placings(house: House, plan: Plan) -> tuple[Placing, ...]:
    """The orders to place before the next run, the earliest cut-off first."""
    found = []
    for key in sorted({(line.order_by, line.vendor, line.deliver_on) for line in plan.buying.orders}):
        mine = [x for x in plan.buying.orders if (x.order_by, x.vendor, x.deliver_on) == key]
        amount = sum((line.amount for line in mine), Decimal(0))
        fee = plan.buying.fees.get(key[1:], Decimal(0))
        vendor = house.vendors.get(key[1])
        lacking = under_minimum(vendor, mine, plan.buying) if vendor else Decimal(0)
        found.append(Placing(*key, len(mine), amount, fee, lacking))
    return tuple(found)


def to_check(plan: Plan) -> tuple[str, ...]:
    """What somebody should look at, each with the code that answers it."""
    return tuple(map(with_code, plan.doubts))


def today_sheet(house: House, plan: Plan) -> Sheet:
    """The first page of the order book; what is to be started stands on the start list."""
    n = len(coming_starts(plan, n_days=1))
    starts = f"{plural(n, 'thing')} to start today: see the start list." if n else "Nothing to start today."
    blocks = [
        titled(long_day(plan.on), f"{house.name}. The next run is on {format_day(plan.next_run)}. {starts}"),
        *_orders(house, plan),
        *_attention(plan),
        *_short(house, plan),
        *_use_first(house, plan),
        *_checks(plan),
    ]
    rows, tables = stacked(blocks)
    gaps = tuple(n for n, row in enumerate(rows) if not row)
    return Sheet(
        title=TITLE,
        rows=rows,
        widths=WIDTHS,
        footer=f"{house.name}: {plan.on.isoformat()}",
        tables=tables,
        parts=gaps,
        has_whole_parts=True,
        heights=dict.fromkeys(gaps, GAP_POINTS),
        row_height=12.8,
    )


def _orders(house: House, plan: Plan) -> list[Block]:
    found = placings(house, plan)
    if not found:
        return [section("Order"), said_all(["Nothing to order before the next run."])]
    rows = [heads(_columns(house), ("lines", _columns(house)[4]))]
    for n, one in enumerate(found):
        is_later = n > 0 and one.order_by.date() != found[n - 1].order_by.date()
        rows.append(_order(house, one, "rule" if is_later else "line"))
    total = sum((one.amount + one.fee for one in found), Decimal(0))
    rest = (Cell(None, "total"), Cell(None, "total"))
    n_lines = sum(one.n_lines for one in found)
    last = (Cell("all", "total"), *rest, Cell(n_lines, "whole total"), Cell(total, "money total"), rest[0])
    return [section("Order"), Block(tuple(rows), "orders to place"), Block((last,))]


def _columns(house: House) -> tuple[str, ...]:
    return tuple(
        f"{name}, {house.currency}" if name == "amount" and house.currency else name for name in COLUMNS
    )


def _order(house: House, one: Placing, rule: str) -> Row:
    under = f"{one.lacking:,.2f} under minimum" if one.lacking else None
    return (
        Cell(day_and_time(one.order_by), f"strong {rule}"),
        Cell(vendor_name(house, one.vendor), f"text {rule}"),
        Cell(one.deliver_on, f"day {rule}"),
        Cell(one.n_lines, f"whole {rule}"),
        Cell(one.amount + one.fee, f"money {rule}"),
        Cell(under, "wrap box"),
    )


def _told(lines: Sequence[str], style: str = "wrap") -> Block:
    """Lines over the whole width of the page."""
    return said_all(lines, len(WIDTHS), style)


def _attention(plan: Plan) -> list[Block]:
    return [section("Needs attention"), _told(plan.needs_attention)] if plan.needs_attention else []


def _short(house: House, plan: Plan) -> list[Block]:
    found = words.shortages_besides(plan)
    if not found:
        return [section("Running short"), said_all([words.nothing_short(plan)])]
    most = _most(plan, MOST_SHORT)
    lines = [_short_line(house, plan, short) for short in found[:most]]
    return [section("Running short"), _told(lines), *_more(found, most, words.SHORT)]


def _most(plan: Plan, most: int) -> int:
    """How many lines are told: so many, or fewer where much needs attention, so that all is on one page."""
    return max(LEAST, most - max(0, len(plan.needs_attention) - LEAST))


def _short_line(house: House, plan: Plan, short: Shortage) -> str:
    """`Fri 27 Nov: 70 g Crab meat (Potted crab: 1 portion). Call ...`."""
    hit = words.hit_in_short(short)
    much = words.amount_short(house, short)
    told = sentence(words.first_remedy(short))
    dishes = f" ({hit})" if hit else ""
    days = span_said(short.date, words.last_day(plan, short))
    return f"{days}: {much} {item_name(house, short.item)}{dishes}. {told}".rstrip()


def _use_first(house: House, plan: Plan) -> list[Block]:
    lots = words.use_first(plan)
    if not lots:
        return []
    most = _most(plan, MOST_USE_FIRST)
    lines = [_lot_line(house, plan, lot) for lot in lots[:most]]
    return [section("Use first"), _told(lines), *_more(lots, most, words.USE_FIRST)]


def _lot_line(house: House, plan: Plan, lot: Expiring) -> str:
    what = sentence(words.what_to_do(house, plan, lot))
    return f"By {format_day(lot.use_by)}: {words.left_said(house, lot)}. {what}"


def _checks(plan: Plan) -> list[Block]:
    """Everything to look at, and how to say that it has been."""
    found = to_check(plan)
    if not found:
        return []
    heading = (Cell("Check these", "heading"), Cell(ANSWER, "quiet", span=len(WIDTHS) - 1))
    return [Block(((), heading)), _told(found)]


def _more(found: Sequence[object], most: int, sheet: str) -> list[Block]:
    rest = len(found) - most
    return [Block(((Cell(f"and {rest} more: see {sheet}", "quiet"),),))] if rest > 0 else []
