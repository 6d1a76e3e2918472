"""Why each line is ordered, and the pars in use beside those the forecast would justify."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import date

from ordering.days import WEEKDAY_NAMES
from ordering.pages.caution_block import WIDTH
from ordering.pages.parts import (
    Block,
    clipped,
    dish_name,
    heads,
    item_name,
    said_all,
    section,
    span_said,
    stacked,
    titled,
)
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import OrderLine, ParAdvice, Peg, Plan
from ordering.texts import cells_wide, listed

WHY_COLUMNS = (
    *("item", "vendor", "deliver on", "ordered", "dishes", "consumables", "safety stock", "par"),
    *("whole packs", "stock and receipts", "most of it for"),
)
WHY_WIDTHS = (30.0, 21.0, 10.5, 11.0, 9.0, 14.0, 9.0, 8.0, 9.0, 10.0, 60.0)
FOR_WIDTH = 78  # letters of small text that stand in the last column on one line
PARTS = ("", "*consumables", "*safety", "*par", "*rounding", "*stock")  # the columns; dishes first
MOST_NAMED = 2
CAUSES: Mapping[str, str] = {
    "*safety": "safety stock",
    "*par": "par",
    "*rounding": "whole packs",
    "*consumables": "consumables",
    "*stock": "less stock and receipts",
}
Line = tuple[str, str, date]


def why_sheet(house: House, plan: Plan) -> Sheet:
    """One row for each order line, with the parts that add up to it and the dishes it is mostly for."""
    top = titled(
        "Why", "The parts of a line add up to what is ordered. `ordering explain` shows the whole chain."
    )
    rows = list(_why_rows(house, plan))
    listing = Block((heads(WHY_COLUMNS, WHY_COLUMNS[3:-1]), *rows), "why each line is ordered")
    laid, tables = stacked([top, listing if rows else said_all(["Nothing is ordered."])])
    head = len(top.rows)
    return Sheet(
        title="Why",
        rows=laid,
        widths=WHY_WIDTHS,
        is_landscape=True,
        repeat=(head, head) if rows else None,
        freeze=head + 1 if rows else 0,
        footer=f"{house.name}: why, {plan.on.isoformat()}",
        tables=tables,
    )


def cause_name(house: House, cause: str) -> str:
    """A cause of pegging in words: a dish by its name, `*safety` as safety stock."""
    return CAUSES.get(cause, dish_name(house, cause))


def pars_sheet(house: House, plan: Plan) -> Sheet:
    """The par of each item beside what each delivery weekday would justify, the doubtful ones first."""
    pars = sorted(plan.buying.pars, key=lambda p: (not p.flag, item_name(house, p.item)))
    days = sorted({weekday for par in pars for weekday in par.justified})
    names = ["item", "par", *(WEEKDAY_NAMES[d] for d in days), "look at", "how it comes about"]
    top = titled(
        "Pars", "The par in use, and the one the forecast would justify after a delivery on each weekday."
    )
    rows = [_par_row(house, par, days) for par in pars]
    listing = Block((heads(names, names[1:-2]), *rows), "pars")
    laid, tables = stacked([top, listing if rows else said_all(["No item has a par."])])
    head = len(top.rows)
    return Sheet(
        title="Pars",
        rows=laid,
        widths=(30.0, 11.0, *(11.5 for _ in days), 11.0, 74.0),
        is_landscape=True,
        repeat=(head, head) if rows else None,
        freeze=head + 1 if rows else 0,
        footer=f"{house.name}: pars, {plan.on.isoformat()}",
        tables=tables,
    )


NOT_PROVED = "How near the purchase is to the cheapest possible was not proved."


def doubts_sheet(house: House, plan: Plan) -> Sheet:
    """Everything that someone must look at or ought to know."""
    notes = tuple(note for note in plan.buying.notes if note not in plan.buying.warnings)
    parts = (
        ("To look at", plan.doubts),
        ("In the ageing room and in process", plan.netting.warnings),
        ("Before the orders go out", plan.buying.warnings),
        ("In the buying", notes or (NOT_PROVED,)),
    )
    blocks = [titled("Doubts", "What the program could not know, or decided and wants you to see.")]
    for heading, lines in parts:
        shown = tuple((Cell(line, "wrap line"),) for line in lines or ("None.",))
        blocks += [section(heading), Block(shown)]
    laid, tables = stacked(blocks)
    footer = f"{house.name}: doubts, {plan.on.isoformat()}"
    return Sheet("Doubts", laid, (WIDTH,), footer=footer, tables=tables)


def _why_rows(house: House, plan: Plan) -> Iterator[Row]:
    pegs: dict[Line, list[Peg]] = defaultdict(list)
    for peg in plan.pegging:
        pegs[(peg.vendor, peg.code, peg.deliver_on)].append(peg)
    ranked = sorted(plan.buying.orders, key=lambda x: (x.description, x.vendor, x.code, x.deliver_on))
    for n, line in enumerate(ranked):
        is_same = n > 0 and ranked[n - 1].item == line.item
        yield _why_row(house, line, pegs[(line.vendor, line.code, line.deliver_on)], is_same)


def _why_row(house: House, line: OrderLine, pegs: list[Peg], is_same: bool) -> Row:
    parts: dict[str, float] = defaultdict(float)
    for peg in pegs:
        parts[peg.dish if peg.dish in CAUSES else ""] += peg.quantity
    vendor = house.vendors[line.vendor].name if line.vendor in house.vendors else line.vendor
    amounts = [round(parts[cause], 3) for cause in PARTS]
    return (
        Cell(line.description, "wrap line quiet" if is_same else "wrap line strong"),
        Cell(clipped(vendor, 24), "text line"),
        Cell(line.deliver_on, "day line"),
        Cell(round(line.quantity, 3), "number line strong", unit=line.unit),
        *(Cell(amount or None, "number line") for amount in amounts),
        Cell(_mostly_for(house, pegs), "text small line"),
    )


def _mostly_for(house: House, pegs: list[Peg]) -> str:
    """The days a line is served on, and the dishes that take most of it."""
    by_dish: dict[str, float] = defaultdict(float)
    dates = []
    for peg in pegs:
        if peg.dish not in CAUSES:
            by_dish[peg.dish] += peg.quantity
            dates += [peg.service_date] if peg.service_date is not None else []
    if not by_dish:
        return ""
    ranked = sorted(by_dish, key=lambda dish: (-by_dish[dish], dish))
    days = f"{span_said(min(dates), max(dates))}: " if dates else ""
    for n in range(MOST_NAMED, 0, -1):  # as many names as stand on one line
        names = [cause_name(house, dish) for dish in ranked[:n]]
        more = [f"{len(ranked) - n} more"] if len(ranked) > n else []
        text = f"{days}{listed([*names, *more])}"
        if cells_wide(text) <= FOR_WIDTH:
            break
    return clipped(text, FOR_WIDTH)


def _par_row(house: House, par: ParAdvice, days: list[int]) -> Row:
    known = par.item in house.ingredients or par.item in house.recipes
    unit = house.unit_of(par.item) if known else ""
    justified = [par.justified.get(day) for day in days]
    return (
        Cell(item_name(house, par.item), "wrap line strong" if par.flag else "wrap line"),
        Cell(par.par, "number line", unit=unit),
        *(Cell(None if v is None else round(v, 2), "number line", unit=unit) for v in justified),
        Cell(par.flag, "wrap line strong"),
        Cell(par.reason, "wrap line small"),
    )
