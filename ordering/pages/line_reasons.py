"""Why each line is ordered: what it is for, on which days, what is there in case, and what is over."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from datetime import date
from itertools import groupby, islice
from operator import itemgetter

from ordering.amounts import packs_said, shown
from ordering.days import day_and_time, format_day, span_said
from ordering.pages.parts import dish_name, heads, item_name, sentence, titled, vendor_name
from ordering.records.buying import OrderLine
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet, Table
from ordering.records.plan import CONSUMABLES, PAR, ROUNDING, SAFETY, Peg, Plan
from ordering.texts import listed

TITLE = "Orders"
COLUMNS = ("item", "order", "why")
WIDTHS = (22.0, 16.5, 55.8)
NOTE = (
    "First what guests are expected to eat and when, then what is there in case it is busy, for the par, "
    "or over because packs and batches are whole. 'ordering explain' has the whole sum of a line."
)
MOST_DISHES = 3
"""Places for dishes on a line, the last counting the rest: with days and amounts that fills its two rows."""
WORTH_A_WORD = 0.05
"""Part of a line that is told: less is within what the amounts beside it are rounded by, a twentieth."""


def lines_sheet(house: House, plan: Plan) -> Sheet:
    """Every line to order before the next run under its vendor and delivery, the earliest cut-off first."""
    reasons = line_reasons(house, plan)
    top = titled("What each line is for", NOTE, across=len(WIDTHS)).rows
    rows: list[Row] = [*top, (*heads(COLUMNS[:-1]), Cell(COLUMNS[-1], "head inset"))]
    parts: list[int] = []
    orders = sorted(plan.buying.orders, key=lambda line: (line.order_by, line.vendor, line.deliver_on))
    for _, lines in groupby(orders, key=lambda line: (line.order_by, line.vendor, line.deliver_on)):
        first, *others = lines
        parts.append(len(rows))
        rows.append(_heading(house, first))
        rows += [_row(house, line, reasons[line.key]) for line in (first, *others)]
    return Sheet(
        title=TITLE,
        rows=tuple(rows),
        widths=WIDTHS,
        repeat=(len(top), len(top)),
        freeze=len(top) + 1,
        footer=f"{house.name}: orders, {plan.on.isoformat()}",
        tables=(Table("lines", len(top), len(rows) - 1, 0, len(WIDTHS) - 1),),
        parts=tuple(parts),
        headings=tuple(parts),
        row_height=13.5,
    )


def _heading(house: House, line: OrderLine) -> Row:
    return (
        Cell(vendor_name(house, line.vendor), "strong wrap rule"),
        Cell(f"for {format_day(line.deliver_on)}", "strong rule"),
        Cell(f"order by {day_and_time(line.order_by)}", "strong inset rule"),
    )


def _row(house: House, line: OrderLine, reason: str) -> Row:
    return (
        Cell(item_name(house, line.item), "wrap line top"),
        Cell(packs_said(line.packs, line.pack), "wrap line top"),
        Cell(reason, "inset wrap line top"),
    )


def line_reasons(house: House, plan: Plan) -> dict[tuple[str, str, date], str]:
    """Why each line to order is there, by its key: its pegs in words, and what else is to be known of it."""
    by_line = groupby(plan.pegging, key=itemgetter(slice(3)))  # vendor, code and day of the delivery
    pegs = {key: list(own) for key, own in islice(by_line, len(plan.buying.orders))}
    packed = {
        line.key: window.rounding * line.quantity / window.quantity
        for windows in plan.windows.values()
        for window in windows
        for line in window.lines
    }
    found = {}
    for line in plan.buying.orders:
        said = "; ".join(_parts(house, line, pegs.get(line.key, []), packed.get(line.key, math.inf)))
        found[line.key] = f"{said}. {sentence(line.note)}" if line.note and said else said or line.note
    return found


def _parts(house: House, line: OrderLine, pegs: list[Peg], packed: float) -> Iterator[str]:
    """What makes up a line: `1.2 kg for Pie and Soup, Fri 27 Nov to Tue 1 Dec`, `300 g in case it is busy`.

    A part too small to matter goes untold, but never the largest of those that the line is there for.
    """
    amounts: dict[str, float] = {}
    for peg in pegs:
        amounts[peg.dish] = amounts.get(peg.dish, 0.0) + peg.quantity
    over = amounts.pop(ROUNDING, 0.0)
    rest = {"in case it is busy": amounts.pop(SAFETY, 0.0), "to keep the par": amounts.pop(PAR, 0.0)}
    causes = ({_served(house, amounts, pegs): sum(amounts.values())} if amounts else {}) | rest
    least = min(WORTH_A_WORD * line.quantity, max(causes.values()) or math.inf)
    whole = [word for word, q in (("packs", min(over, packed)), ("batches", over - packed)) if q >= least]
    told = causes | {f"over from whole {listed(whole or ['packs'])}": over}
    yield from (f"{shown(q, line.unit)} {words}" for words, q in told.items() if q >= least)


def _served(house: House, amounts: Mapping[str, float], pegs: list[Peg]) -> str:
    """The dishes that take most of a line, and from when to when they are served."""
    ranked = sorted(amounts, key=lambda name: -amounts[name])
    days = [peg.service_date for peg in pegs if peg.service_date and peg.dish in amounts]
    names = list(dict.fromkeys(_called(house, name) for name in ranked))
    return f"for {listed(names, MOST_DISHES)}, {span_said(min(days), max(days))}"


def _called(house: House, name: str) -> str:
    """A dish as it is called for: its name without what comes with it."""
    return "the service itself" if name == CONSUMABLES else dish_name(house, name).partition(", ")[0]
