"""What will be short: every shortage on a sheet, and its words for the pages that show only a few."""

from __future__ import annotations

import re
from collections.abc import Mapping

from ordering.amounts import plural, to_get
from ordering.days import said
from ordering.pages.parts import Block, amount_cell, heads, item_name, said_all, stacked, titled
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import Plan, Shortage

COLUMNS = ("needed on", "item", "short", "why", "dishes", "what can be done")
WIDTHS = (11.0, 23.0, 10.0, 42.0, 36.0, 80.0)
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


def worst_first(plan: Plan) -> tuple[Shortage, ...]:
    """One shortage for each item, that of its first day, the earliest first."""
    found: dict[str, Shortage] = {}
    for short in sorted(plan.shortages, key=lambda s: (s.date, s.item)):
        found.setdefault(short.item, short)
    return tuple(found.values())


def shortages_sheet(house: House, plan: Plan) -> Sheet:
    """Every shortage with its cause and everything that could be done, one thing a line."""
    top = titled("Short", "No delivery or batch can bring these in time. Nothing has been ordered for them.")
    ranked = sorted(plan.shortages, key=lambda s: (s.date, s.item))
    head_row = (*heads(COLUMNS[:3], ("short",)), *(Cell(name, "head inset") for name in COLUMNS[3:]))
    listing = Block((head_row, *(_row(house, short) for short in ranked)), "all shortages")
    laid, tables = stacked([top, listing if ranked else said_all(["Nothing should run short."])])
    head = len(top.rows)
    return Sheet(
        title="Short",
        rows=laid,
        widths=WIDTHS,
        is_landscape=True,
        repeat=(head, head) if ranked else None,
        freeze=head + 1 if ranked else 0,
        footer=f"{house.name}: short, {plan.on.isoformat()}",
        tables=tables,
    )


def _row(house: House, short: Shortage) -> Row:
    dishes = short.dishes.replace(f" ({said(short.date)})", "")  # the date stands in front already
    return (
        Cell(short.date, "day strong line top"),
        Cell(item_name(house, short.item), "wrap line top"),
        amount_cell(to_get(short.short, short.unit), short.unit, "line top"),
        Cell(cause_said(short.cause), "inset wrap line top"),
        Cell(dishes.replace(BETWEEN, "\n"), "inset wrap line top"),
        Cell(short.remedy.replace(BETWEEN, "\n"), "inset wrap line top"),
    )
