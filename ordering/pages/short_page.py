"""What will be short: a line for each item, and its words for the pages that show only a few."""

from __future__ import annotations

import re
from collections.abc import Mapping

from ordering.amounts import plural, to_get
from ordering.days import format_day
from ordering.pages.agenda import shortages_by_item
from ordering.pages.parts import Block, amount_cell, heads, item_name, said_all, stacked, titled
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import Plan, Shortage

TITLE = "Short"
COLUMNS = ("from", "item", "short", "why", "dishes", "what to do")
WIDTHS = (11.9, 16.0, 9.5, 25.0, 20.7, 42.0)
MOST_REMEDIES = 4
BETWEEN = "; "  # between the dishes, and between the remedies, of one shortage
CAUSES: Mapping[str, str] = {
    "no-delivery": "no delivery in time",
    "no-time": "too late to start",
    "capacity": "no room for more",
    "expires": "past its use-by",
    "vendor-closed": "vendor closed",
    "no-offer": "no vendor sells it",
    "no-batch": "no batch is there",
}


def cause_said(cause: str) -> str:
    """A cause in words; one that already is in words stays as it is."""
    return CAUSES.get(cause, cause)


def cause_in_short(short: Shortage) -> str:
    """The cause without what explains it."""
    return re.split("[:;]", cause_said(short.cause))[0]


def first_remedy(short: Shortage) -> str:
    """The first thing that could be done; empty where there is none."""
    return short.remedy.split(BETWEEN)[0].strip()


def hit_in_short(short: Shortage) -> str:
    """The dish hit most, without its dates, and how many more."""
    first, *others = short.dishes.split(BETWEEN)
    first = re.sub(r" \([^()]*\)$", "", first)
    return f"{first} and {plural(len(others), 'dish', 'dishes')} more" if others else first


def shortages_sheet(house: House, plan: Plan) -> Sheet:
    """Every item that runs short, in the sequence of the plan, with its cause and what could be done."""
    top = titled(
        TITLE,
        "What costs most first. No delivery or batch can bring these in time. Nothing has been ordered for "
        "them.",
    )
    ranked = shortages_by_item(plan)
    head_row = (*heads(COLUMNS[:3], ("short",)), *(Cell(name, "head inset") for name in COLUMNS[3:]))
    listing = Block((head_row, *(_row(house, short) for short in ranked)), "shortages")
    laid, tables = stacked([top, listing if ranked else said_all(["Nothing should run short."])])
    head = len(top.rows)
    return Sheet(
        title=TITLE,
        rows=laid,
        widths=WIDTHS,
        is_landscape=True,
        repeat=(head, head) if ranked else None,
        freeze=head + 1 if ranked else 0,
        footer=f"{house.name}: short, {plan.on.isoformat()}",
        tables=tables,
    )


def _row(house: House, short: Shortage) -> Row:
    dishes = short.dishes.replace(f" ({format_day(short.date)})", "")  # the date stands in front already
    return (
        Cell(short.date, "day strong line top"),
        Cell(item_name(house, short.item), "wrap line top"),
        amount_cell(to_get(short.short, short.unit), short.unit, "line top"),
        Cell(cause_said(short.cause), "inset wrap line top"),
        Cell(dishes.replace(BETWEEN, "\n"), "inset wrap line top"),
        Cell("\n".join(short.remedy.split(BETWEEN)[:MOST_REMEDIES]), "inset wrap line top"),
    )
