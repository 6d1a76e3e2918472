"""The prep start list for the wall: by day, with room to tick, the usual cautions under it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import timedelta

from ordering.amounts import shown
from ordering.days import said
from ordering.pages.caution_block import caution_block, caution_parts, start_cautions
from ordering.pages.parts import Block, amount_cell, heads, paper, said_all, stacked, titled
from ordering.pages.tables import local
from ordering.records.house import House
from ordering.records.page import Cell, Row, Sheet, Workbook
from ordering.records.plan import Plan, Start

COLUMNS = ("start on", "recipe", "batches", "quantity", "ready on", "take", "done")
WIDTHS = (11.0, 30.0, 8.5, 17.0, 11.0, 54.0, 7.0)
N_DAYS = 7


def coming_starts(plan: Plan, n_days: int = N_DAYS) -> tuple[Start, ...]:
    """What is to be started from the day of the run on, by day; the longest first within a day."""
    end = plan.on + timedelta(days=n_days)
    found = [start for start in plan.netting.starts if plan.on <= start.start_on < end]
    return tuple(sorted(found, key=lambda s: (s.start_on, s.start_on - s.ready_on, s.recipe)))


def start_list(house: House, plan: Plan) -> Workbook:
    """The start list as a workbook of its own, to be printed and hung up."""
    return Workbook(
        title=f"Start list of {house.name}",
        sheets=(starts_sheet(house, plan, is_wall=True),),
        created=local(plan.now),
        author=house.name,
        paper=paper(house),
    )


def starts_sheet(house: House, plan: Plan, is_wall: bool = False) -> Sheet:
    """The coming week's starts by day; larger where it hangs on a wall."""
    starts = coming_starts(plan)
    until = plan.on + timedelta(days=N_DAYS - 1)
    top = titled(f"Start list, {said(plan.on)} to {said(until)}", house.name)
    if starts:
        rows = _rows(house, starts, is_wall)
        listing = Block((heads(COLUMNS, ("batches", "quantity")), *rows), "starts by day")
    else:
        listing = said_all(["Nothing is to be started in these days."])
    minded = start_cautions(house, starts)
    laid, tables = stacked([top, listing, *caution_block(minded, len(COLUMNS))])
    head = len(top.rows)
    return Sheet(
        title="Starts",
        rows=laid,
        widths=WIDTHS,
        repeat=(head, head) if starts else None,
        freeze=head + 1 if starts else 0,
        footer=f"{house.name}: start list, made {plan.on.isoformat()}",
        tables=tables,
        parts=(head + 1, *caution_parts(len(laid), len(minded))) if starts else (),
        row_height=20.0 if is_wall else 15.0,
    )


def _rows(house: House, starts: Sequence[Start], is_wall: bool) -> Iterable[Row]:
    for n, start in enumerate(starts):
        is_new = n > 0 and start.start_on != starts[n - 1].start_on
        is_first = n == 0 or is_new
        line = "rule" if is_new else "line"
        yield (
            Cell(start.start_on, f"day {line}{' strong' if is_first else ''}"),
            Cell(house.name_of(start.recipe), f"wrap{' large' if is_wall else ''} {line}"),
            Cell(round(start.batches, 3), f"number {line}"),
            amount_cell(start.quantity, start.unit, f"strong {line}"),
            Cell(start.ready_on, f"day {line}"),
            Cell("; ".join([*_taken(house, start), *filter(None, [start.note])]), f"wrap small {line}"),
            Cell(None, "box"),
        )


def _taken(house: House, start: Start) -> Sequence[str]:
    """What goes in: the parcels where the plan names them, else what the recipe asks of each part."""
    recipe = house.recipes.get(start.recipe)
    if start.from_lots or recipe is None:
        return start.from_lots
    return [
        f"{shown(line.drawn * start.batches, house.unit_of(line.item))} {house.name_of(line.item)}"
        for line in recipe.lines
    ]
