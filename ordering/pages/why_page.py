"""Why each line is ordered, and the pars in use beside those the forecast would justify."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Mapping
from datetime import date

from ordering.days import WEEKDAY_NAMES
from ordering.pages.parts import Block, heads, item_name, said_all, section, stacked, titled
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet
from ordering.records.plan import OrderLine, ParAdvice, Peg, Plan

WHY_COLUMNS = (
    "item",
    "vendor",
    "code",
    "deliver on",
    "because of",
    "first service",
    "last service",
    "quantity",
)
WHY_WIDTHS = (30.0, 26.0, 10.0, 12.0, 32.0, 12.0, 12.0, 14.0)
CAUSES: Mapping[str, str] = {
    "*safety": "safety stock",
    "*par": "par",
    "*rounding": "whole packs",
    "*consumables": "consumables",
    "*stock": "less stock and receipts",
}
_SEQUENCE = {cause: n for n, cause in enumerate(CAUSES)}
Line = tuple[str, str, date]


def why_sheet(house: House, plan: Plan) -> Sheet:
    """Each order line with what causes it; the quantities of a line add up to what is ordered."""
    top = titled(
        "Why", "The quantities of a line add up to what is ordered. `ordering explain` shows the whole chain."
    )
    rows = list(_why_rows(house, plan))
    listing = Block((heads(WHY_COLUMNS, ("quantity",)), *rows), "why each line is ordered")
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
    return CAUSES.get(cause, item_name(house, cause))


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
        widths=(32.0, 12.0, *(12.0 for _ in days), 20.0, 44.0),
        is_landscape=True,
        repeat=(head, head) if rows else None,
        freeze=head + 1 if rows else 0,
        footer=f"{house.name}: pars, {plan.on.isoformat()}",
        tables=tables,
    )


def doubts_sheet(house: House, plan: Plan) -> Sheet:
    """Everything that someone must look at or ought to know."""
    gap = plan.buying.bound_gap
    proved = (
        "How near the purchase is to the cheapest possible was not proved."
        if gap is None
        else f"The purchase is proved to lie within {gap:.1%} of the cheapest possible."
    )
    parts = (
        ("To look at", plan.doubts),
        ("In the ageing room and in process", plan.netting.warnings),
        ("In the buying", (*plan.buying.notes, proved)),
    )
    blocks = [titled("Doubts", "What the program could not know, or decided and wants you to see.")]
    for heading, lines in parts:
        shown = tuple((Cell(line, "wrap line"),) for line in lines or ("None.",))
        blocks += [section(heading), Block(shown)]
    laid, tables = stacked(blocks)
    footer = f"{house.name}: doubts, {plan.on.isoformat()}"
    return Sheet("Doubts", laid, (100.0,), footer=footer, tables=tables)


def _why_rows(house: House, plan: Plan) -> Iterator[Row]:
    """One row per order line and cause, services of the same dish put together."""
    pegs: dict[Line, list[Peg]] = defaultdict(list)
    for peg in plan.pegging:
        pegs[(peg.vendor, peg.code, peg.deliver_on)].append(peg)
    ranked = sorted(plan.buying.orders, key=lambda x: (x.description, x.vendor, x.code, x.deliver_on))
    for line in ranked:
        by_cause: dict[str, list[Peg]] = defaultdict(list)
        for peg in pegs[(line.vendor, line.code, line.deliver_on)]:
            by_cause[peg.dish].append(peg)
        sequence = sorted(
            by_cause, key=lambda c: (_SEQUENCE.get(c, -1), -sum(p.quantity for p in by_cause[c]), c)
        )
        for n, cause in enumerate(sequence):
            yield _why_row(house, line, cause, by_cause[cause], n == 0)


def _why_row(house: House, line: OrderLine, cause: str, pegs: list[Peg], is_first: bool) -> Row:
    dates = sorted(peg.service_date for peg in pegs if peg.service_date is not None)
    rule, loud = ("rule", " strong") if is_first else ("line", " quiet")
    vendor = house.vendors[line.vendor].name if line.vendor in house.vendors else line.vendor
    return (
        Cell(line.description, f"wrap {rule}{loud}"),
        Cell(vendor, f"text {rule}{loud}"),
        Cell(line.code, f"text {rule}{loud}"),
        Cell(line.deliver_on, f"day {rule}{loud}"),
        Cell(cause_name(house, cause), f"text {rule}"),
        Cell(dates[0] if dates else None, f"day {rule}"),
        Cell(dates[-1] if dates else None, f"day {rule}"),
        Cell(round(sum(peg.quantity for peg in pegs), 3), f"number {rule}", unit=line.unit),
    )


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
