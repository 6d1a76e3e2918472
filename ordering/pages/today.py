"""Today, on one page: what to order by when, to start, what is short, to use up, what is doubtful."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from itertools import zip_longest

from ordering.amounts import plural, to_get
from ordering.days import said
from ordering.pages import vendor_page
from ordering.pages.caution_block import hazards_of
from ordering.pages.order_sheet import lacks
from ordering.pages.parts import (
    Block,
    amount_cell,
    clipped,
    heads,
    item_name,
    long_day,
    said_all,
    section,
    stacked,
    titled,
)
from ordering.pages.short_page import cause_in_short, first_remedy, hit_in_short, worst_first
from ordering.pages.start_list import coming_starts
from ordering.pages.use_up import TITLE as USE_UP
from ordering.pages.use_up import next_to_go, to_go_lines
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import Plan, Shortage, Start
from ordering.texts import wrapped

WIDTHS = (17.0, 30.0, 12.0, 16.0, 13.0, 40.0)
NAME_WIDTHS = (30, 42)  # characters to a line of the names of two starts side by side
WIDE = 34  # and of the words about a shortage
MOST_ORDERS, MOST_SHORT, MOST_USE_UP, MOST_DOUBTS, MOST_SEE_TO = 22, 5, 2, 3, 3
DOUBT_WIDTH = 120
LINES_A_SHORTAGE = 3
ROOM, FEWEST_STARTS = 40, 3  # orders and starts, two to a line, share the lines of one page


@dataclass(frozen=True, slots=True)
class Placing:
    """One order to place: its vendor and delivery, until when, what it comes to and lacks of the minimum."""

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
        lacking = lacks(vendor, mine, plan.buying) if vendor else Decimal(0)
        found.append(Placing(*key, len(mine), amount, fee, lacking))
    return tuple(found)


def vendor_name(house: House, vendor: str) -> str:
    """The vendor's name, or its id where the house no longer has it."""
    return house.vendors[vendor].name if vendor in house.vendors else vendor


def today_sheet(house: House, plan: Plan, vendor_rows: Mapping[str, int]) -> Sheet:
    """The first page of the order book; each vendor's name leads to its row on the vendors' sheet."""
    unused = LINES_A_SHORTAGE * MOST_SHORT - sum(map(_short_lines, worst_first(plan)[:MOST_SHORT]))
    use_up = _use_up(house, plan)
    see_to = _see_to(plan)
    see_to_rows = sum(len(block.rows) for block in see_to)
    most_orders = MOST_ORDERS - see_to_rows
    taken = min(len(placings(house, plan)), most_orders) + see_to_rows
    taken += MOST_USE_UP + 3 if use_up else 0  # with its heading
    n_lines = max(ROOM + unused - taken, FEWEST_STARTS)
    blocks = [
        titled(long_day(plan.on), f"{house.name}. The next run is on {said(plan.next_run)}."),
        *_orders(house, plan, vendor_rows, most_orders),
        *see_to,
        *_starts(house, coming_starts(plan, n_days=1), n_lines),
        *_short(house, plan),
        *use_up,
        *_doubts(plan),
    ]
    rows, tables = stacked(blocks)
    return Sheet(
        title="Today",
        rows=rows,
        widths=WIDTHS,
        fit_tall=1,
        footer=f"{house.name}: {plan.on.isoformat()}",
        tables=tables,
        row_height=15.5,
    )


def _orders(house: House, plan: Plan, begins: Mapping[str, int], most: int) -> list[Block]:
    found = placings(house, plan)
    if not found:
        return [section("Order"), said_all(["Nothing to order before the next run."])]
    amount = f"amount, {house.currency}" if house.currency else "amount"
    names = ("order by", "vendor", "deliver on", "lines", amount, "placed")
    rows = [heads(names, ("lines", amount))]
    for n, one in enumerate(found[:most]):
        is_later = n > 0 and one.order_by.date() != found[n - 1].order_by.date()
        rows.append(_order(house, one, begins.get(one.vendor), "rule" if is_later else "line"))
    total = sum((one.amount + one.fee for one in found), Decimal(0))
    n_lines = sum(one.n_lines for one in found)
    rest = (Cell(None, "total"), Cell(None, "total"))
    last = (Cell("all", "total"), *rest, Cell(n_lines, "whole total"), Cell(total, "money total"), rest[0])
    return [
        section("Order"),
        Block(tuple(rows), "orders to place"),
        Block((last,)),
        *_more(found, most, f"sheet {vendor_page.TITLE}"),
    ]


def _order(house: House, one: Placing, begins: int | None, rule: str) -> Row:
    link = "" if begins is None else vendor_page.TITLE
    return (
        Cell(one.order_by, f"moment strong {rule}"),
        Cell(vendor_name(house, one.vendor), f"text {rule}", link=link, link_row=begins or 0),
        Cell(one.deliver_on, f"day {rule}"),
        Cell(one.n_lines, f"whole {rule}"),
        Cell(one.amount + one.fee, f"money {rule}"),
        Cell(f"{one.lacking:,.2f} under the minimum" if one.lacking else None, "box"),
    )


def _see_to(plan: Plan) -> list[Block]:
    found = plan.to_see_to
    if not found:
        return []
    lines = [line for text in found[:MOST_SEE_TO] for line in wrapped(text, DOUBT_WIDTH)[:2]]
    return [section("Needs attention"), said_all(lines), *_more(found, MOST_SEE_TO, "sheet Doubts")]


def _starts(house: House, starts: Sequence[Start], n_lines: int) -> list[Block]:
    """As many as the lines hold, two side by side."""
    if not starts:
        return [section("Start today"), said_all(["Nothing to start today."])]
    names = ("ready on", "start", "quantity", "ready", "amount", "and start")
    most = len(starts)
    while most > 2 and sum(_lines_of(house, *pair) for pair in _paired(starts[:most])) > n_lines:
        most -= 1
    rows = [
        heads(names, ("quantity", "amount")),
        *(_start(house, *pair) for pair in _paired(starts[:most])),
    ]
    return [
        section("Start today"),
        Block(tuple(rows), "starts of today"),
        *_more(starts, most, "sheet Starts"),
    ]


def _paired(starts: Sequence[Start]) -> list[tuple[Start, Start | None]]:
    """The first half beside the second, each read downwards."""
    half = (len(starts) + 1) // 2
    return list(zip_longest(starts[:half], starts[half:]))


def _lines_of(house: House, left: Start, right: Start | None) -> int:
    names = [(left, NAME_WIDTHS[0])] + ([(right, NAME_WIDTHS[1])] if right else [])
    return max(len(wrapped(_start_said(house, start), width)) for start, width in names)


def _start_said(house: House, start: Start) -> str:
    minded = ", ".join(hazard.replace("-", " ") for hazard in hazards_of(house, start))
    name = item_name(house, start.recipe)
    return f"{name} ({minded}: see Cautions)" if minded else name


def _start(house: House, left: Start, right: Start | None) -> Row:
    """Two starts on one line, the second with its quantity before its name."""
    if right is None:
        return (*_start_cells(house, left), *(Cell(None, "line") for _ in range(3)))
    name, quantity = _start_cells(house, right)[1:]
    return (*_start_cells(house, left), Cell(right.ready_on, "day line"), quantity, name)


def _start_cells(house: House, start: Start) -> tuple[Cell, Cell, Cell]:
    return (
        Cell(start.ready_on, "day line"),
        Cell(_start_said(house, start), "wrap line"),
        amount_cell(start.quantity, start.unit, "strong line"),
    )


def _short(house: House, plan: Plan) -> list[Block]:
    found = worst_first(plan)
    if not found:
        return [section("Running short"), said_all(["Nothing should run short."])]
    names = ("needed on", "item and dishes", "short", "why", "asked", "first thing to do")
    rows = [heads(names, ("short",)), *(_short_row(house, short) for short in found[:MOST_SHORT])]
    return [
        section("Running short"),
        Block(tuple(rows), "shortages"),
        *_more(found, MOST_SHORT, "sheet Short"),
    ]


def _short_lines(short: Shortage) -> int:
    """Lines a shortage takes: its item and dishes, or what to do."""
    dishes = 1 + len(wrapped(hit_in_short(short) or "", WIDE))
    return max(dishes, len(wrapped(first_remedy(short), WIDE)), len(wrapped(cause_in_short(short), 15)))


def _short_row(house: House, short: Shortage) -> Row:
    hit = hit_in_short(short)
    name = item_name(house, short.item)
    return (
        Cell(short.date, "day strong line"),
        Cell(f"{name}\n{hit}" if hit else name, "wrap line"),
        amount_cell(to_get(short.short, short.unit), short.unit, "strong line"),
        Cell(cause_in_short(short), "wrap line"),
        Cell(None, "box"),
        Cell(first_remedy(short), "wrap inset line"),
    )


def _use_up(house: House, plan: Plan) -> list[Block]:
    """What goes past its date before the next run, a line each."""
    lots = next_to_go(plan)
    if not lots:
        return []
    lines = [f"{said(on)}: {left}; {what}" for on, left, what in to_go_lines(house, plan, MOST_USE_UP)]
    n = plural(len(plan.netting.expiring), "lot")
    heading = section(f"Use first: {n} likely to be left over, see sheet {USE_UP}")
    return [heading, said_all(clipped(line, DOUBT_WIDTH) for line in lines)]


def _more(found: Sequence[object], most: int, where: str) -> list[Block]:
    rest = len(found) - most
    return [Block(((Cell(f"and {rest} more: see {where}", "quiet"),),))] if rest > 0 else []


def _doubts(plan: Plan) -> list[Block]:
    if not plan.doubts:
        return []
    rows = tuple((Cell(clipped(text, DOUBT_WIDTH)),) for text in plan.doubts[:MOST_DOUBTS])
    heading = section(f"Check these: {plural(len(plan.doubts), 'thing')}")
    return [heading, Block(rows), *_more(plan.doubts, MOST_DOUBTS, "sheet Doubts")]
