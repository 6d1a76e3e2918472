"""Ageing and in-process lots as a time line: what hangs, until when, and how long it is good after."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from ordering.days import said
from ordering.pages.parts import Block, heads, said_all, shown, stacked, titled
from ordering.pages.start_list import coming_starts
from ordering.records.books import Lot
from ordering.records.house import House
from ordering.records.page import Cell, Chart, Row, Series, Sheet
from ordering.records.plan import Plan, Start

TITLE = "Ageing"
COLUMNS = (
    *("lot", "state", "begins on", "days in process", "ready on"),
    *("days to use it", "use by"),
)
NUMBERS = ("days in process", "days to use it")
WIDTHS = (40.0, 14.0, 12.0, 11.0, 12.0, 11.0, 12.0)
STATES = IN_PROCESS, TO_BE_STARTED, READY = ("in process", "to be started", "ready")
LEAST = 5e-4  # less than that of a lot is a rest of rounding
LONG_DAYS = 2  # a making of so many days is worth following on a time line
MOST_DRAWN = 24
ROWS_BESIDE = 12  # a longer table leaves the chart a page of its own
EXCEL_DAY_0 = date(1899, 12, 30).toordinal()  # day 0 of a workbook's date numbers


@dataclass(frozen=True, slots=True)
class Span:
    """One bar: in process from `begins_on` to `ready_on`, then good until `use_by`."""

    name: str
    state: str
    begins_on: date
    ready_on: date
    use_by: date | None

    @property
    def process_days(self) -> int:
        return (self.ready_on - self.begins_on).days

    @property
    def use_days(self) -> int:
        """Days on which it may be used, the first and the last counted; none where it has no date."""
        return 0 if self.use_by is None else max((self.use_by - self.ready_on).days + 1, 0)


def spans(house: House, plan: Plan) -> tuple[Span, ...]:
    """Lots in process, the coming week's long starts, aged lots ready now; each by its next date."""
    found = [*_lots(house, plan), *_starts(house, plan)]
    return tuple(
        sorted(found, key=lambda s: (STATES.index(s.state), s.ready_on, s.use_by or s.ready_on, s.name))
    )


def ageing_sheet(house: House, plan: Plan) -> Sheet:
    """The table of lots and, under it, the same as a chart."""
    found = spans(house, plan)
    top = titled("Ageing and in process", f"{house.name}, {said(plan.on)}")
    if not found:
        rows, tables = stacked([top, said_all(["Nothing is ageing or in process."])])
        return Sheet(TITLE, rows, WIDTHS, is_landscape=True, tables=tables)
    rows, tables = stacked([top, Block((heads(COLUMNS, NUMBERS), *map(_row, found)), "lots in process")])
    head = len(top.rows)
    return Sheet(
        title=TITLE,
        rows=rows,
        widths=WIDTHS,
        is_landscape=True,
        footer=f"{house.name}: ageing and in process, {plan.on.isoformat()}",
        freeze=head + 1,
        tables=tables,
        charts=(_chart(found, head + 1, len(rows) + 1),),
        breaks=(len(rows) + 1,) if len(found) > ROWS_BESIDE else (),
    )


def _lots(house: House, plan: Plan) -> Iterator[Span]:
    for lot in plan.opening.lots:
        if lot.quantity < LEAST:
            continue
        name = f"{house.name_of(lot.item)}, {shown(lot.quantity, house.unit_of(lot.item))}"
        takes = _takes(house, lot)
        if lot.ready_on is not None and lot.ready_on > plan.on:
            begun = lot.ready_on - timedelta(days=takes)
            yield Span(name, IN_PROCESS, min(begun, plan.on), lot.ready_on, lot.use_by)
        elif takes >= LONG_DAYS and lot.use_by is not None and lot.use_by >= plan.on:
            yield Span(name, READY, plan.on, plan.on, lot.use_by)


def _takes(house: House, lot: Lot) -> int:
    return house.recipes[lot.item].takes_days if lot.item in house.recipes else 0


def _starts(house: House, plan: Plan) -> Iterator[Span]:
    for start in coming_starts(plan):
        if (start.ready_on - start.start_on).days >= LONG_DAYS:
            name = f"{house.name_of(start.recipe)}, {shown(start.quantity, start.unit)}"
            yield Span(name, TO_BE_STARTED, start.start_on, start.ready_on, _use_by(house, start))


def _use_by(house: House, start: Start) -> date | None:
    """The last day at the latest: a date mark counts the day it is ready as the first (as netting does)."""
    keeps = house.keeps_days(start.recipe)
    if keeps is None:
        return None
    is_marked = "date-mark" in house.recipes[start.recipe].hazards
    return start.ready_on + timedelta(days=max(keeps - 1, 0) if is_marked else keeps)


def _row(span: Span) -> Row:
    return (
        Cell(span.name, "wrap line"),
        Cell(span.state, "text line"),
        Cell(span.begins_on, "day line"),
        Cell(span.process_days, "whole line"),
        Cell(span.ready_on, "day line strong"),
        Cell(span.use_days, "whole line"),
        Cell(span.use_by, "day line"),
    )


def _chart(found: tuple[Span, ...], first: int, below: int) -> Chart:
    n = min(len(found), MOST_DRAWN)
    last = first + n - 1
    shown_spans = found[:n]
    begins = min(span.begins_on for span in shown_spans)
    ends = max(span.ready_on + timedelta(days=span.use_days) for span in shown_spans)
    names = (0, first, last)
    return Chart(
        kind="time-line",
        title="light: in process; dark: ready, until its use by",
        at=(below, 0),
        series=(
            Series("begins", TITLE, names, (2, first, last), "hidden"),
            Series("in process", TITLE, names, (3, first, last), "plain"),
            Series("ready, until its use by", TITLE, names, (5, first, last), "dark"),
        ),
        width=780,
        height=90 + 22 * n,
        description=f"Time line of {n} lots in process or ready; the table above has the same dates.",
        axis_range=(float(begins.toordinal() - EXCEL_DAY_0), float(ends.toordinal() - EXCEL_DAY_0)),
    )
