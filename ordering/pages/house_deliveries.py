"""What a house that cooks for others packs for each of them: a sheet a house, and what each batch is for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, time

from ordering.amounts import plural
from ordering.pages.parts import heads, long_day, paper
from ordering.records.group import HouseDemand
from ordering.records.house import House
from ordering.records.page import Cell, Document, Row, Sheet, Table, Workbook
from ordering.records.plan import Plan

COLUMNS = ("day", "what", "pack", "ordered", "likely in all", "packed")
WIDTHS = (20.0, 34.0, 16.0, 11.0, 14.0, 11.0)


def supply_files(house: House, plan: Plan, demands: Sequence[HouseDemand]) -> dict[str, Document]:
    """`deliveries/HOUSE.xlsx` for each house that takes something; nothing where none does."""
    houses = sorted({demand.house for demand in demands})
    return {
        f"deliveries/{one}.xlsx": _workbook(house, plan, [d for d in demands if d.house == one])
        for one in houses
    }


def _workbook(house: House, plan: Plan, demands: Sequence[HouseDemand]) -> Workbook:
    name = demands[0].name
    top: list[Row] = [
        (Cell(f"For {name}", "title"),),
        (Cell(f"{house.name}, run of {long_day(plan.on)}. Ordered: placed or ordered today.", "quiet"),),
        (),
    ]
    rows = [*_rows(house, plan, demands)] or [(Cell("Nothing in the coming days", "quiet"),)]
    head = len(top)
    sheet = Sheet(
        title="Deliveries",
        rows=(*top, heads(COLUMNS, ("ordered", "likely in all", "packed")), *rows),
        widths=WIDTHS,
        repeat=(head, head),
        freeze=head + 1,
        footer=f"{house.name}: for {name}",
        tables=(Table("deliveries", head, head + len(rows), 0, len(COLUMNS) - 1),),
    )
    return Workbook(
        title=f"Deliveries to {name}",
        sheets=(sheet,),
        created=datetime.combine(plan.on, time(0, 0)),
        author=house.name,
        paper=paper(house),
        is_american=house.is_american,
    )


def _rows(house: House, plan: Plan, demands: Sequence[HouseDemand]) -> Iterator[Row]:
    """What goes out on each day to the next run and a week beyond it, the days in order."""
    last = (plan.next_run - plan.on).days + 7
    for day, on in enumerate(plan.days[:last]):
        for demand in demands:
            if day >= len(demand.packs) or not demand.packs[day].any():
                continue
            likely = float(demand.packs[day].mean())
            yield (
                Cell(long_day(on), "line"),
                Cell(house.name_of(demand.item), "strong wrap line"),
                Cell(demand.pack, "line"),
                Cell(plural(int(demand.placed[day]), "pack") if demand.placed[day] else None, "right line"),
                Cell(round(likely), "whole line"),
                Cell(None, "box"),
            )
