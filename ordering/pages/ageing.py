"""Ageing and in-process lots as a time line: what hangs, until when, and how long it is good after."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta

from ordering.amounts import plural, shown
from ordering.days import format_day
from ordering.pages.parts import Block, heads, titled
from ordering.pages.start_list import coming_starts
from ordering.records.books import Lot
from ordering.records.house import House
from ordering.records.page import Cell, Chart, Row, Series, Sheet, Table
from ordering.records.plan import Plan, Start

BRITISH, AMERICAN = "Ageing", "Aging"
COLUMNS = (
    *("lot", "begins on", "days in process", "ready on"),
    *("days to use it", "use by"),
)
NUMBERS = ("days in process", "days to use it")
WIDTHS = (38.6, 10.8, 9.0, 11.9, 8.0, 10.8)
STATES = IN_PROCESS, TO_BE_STARTED, READY = ("in process", "to be started", "ready")
LEAST_LOT = 5e-4  # of a unit; counts are written to three decimals: less is a rest of rounding
LONG_DAYS = 3  # a making of so many days is worth following on a time line
LONG_STARTS = 7  # and a start of so many; the others stand on the start list
MOST_DRAWN = 17  # what a page holds, as bars and as a table; the count sheet has every lot
MOST_USE_DAYS = 21  # what keeps for months is drawn no longer than this
PIXELS_A_ROW = 18
EXCEL_DAY_0 = date(1899, 12, 30).toordinal()  # day 0 of a workbook's date numbers


Key = tuple[str, str, date, date, date | None]  # item, state, begins_on, ready_on, use_by
Dated = tuple[Lot, str, date, date]  # a lot with its state, begins_on, ready_on


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
        """Days until it is ready."""
        return (self.ready_on - self.begins_on).days

    @property
    def use_days(self) -> int:
        """Days on which it may be used, the first and the last counted; none where it has no date."""
        return 0 if self.use_by is None else max((self.use_by - self.ready_on).days + 1, 0)


def spans(house: House, plan: Plan) -> tuple[Span, ...]:
    """Lots in process, the coming week's long starts, aged lots ready now; each by its next date.

    Lots of one item with the same dates are one span.
    """
    joined: dict[Key, list[float]] = {}
    for lot, state, begins_on, ready_on in (*_lots(house, plan), *_starts(house, plan)):
        key = (lot.item, state, begins_on, ready_on, lot.use_by)
        joined.setdefault(key, []).append(lot.quantity)
    found = [_span(house, key, quantities) for key, quantities in joined.items()]
    return tuple(
        sorted(found, key=lambda s: (STATES.index(s.state), s.ready_on, s.use_by or s.ready_on, s.name))
    )


def ageing_sheet(house: House, plan: Plan) -> Sheet:
    """The chart, and under it the table it is drawn from; to be left out where there are no `spans`."""
    found = spans(house, plan)
    title = AMERICAN if house.is_american else BRITISH
    top = titled(f"{title} and in process", f"{house.name}, {format_day(plan.on)}")
    at = len(top.rows)
    height = 90 + PIXELS_A_ROW * min(len(found), MOST_DRAWN)
    room = Block(((),) * math.ceil(height / PIXELS_A_ROW))
    head = at + len(room.rows)
    drawn = found[:MOST_DRAWN]
    rest = len(found) - len(drawn)
    more = [(Cell(f"and {plural(rest, 'more lot')}: see the count sheet", "quiet"),)] if rest else []
    rows = (*top.rows, *room.rows, heads(COLUMNS, NUMBERS), *map(_row, drawn), *more)
    return Sheet(
        title=title,
        rows=rows,
        widths=WIDTHS,
        footer=f"{house.name}: {title.lower()} and in process, {plan.on.isoformat()}",
        repeat=(head, head),
        tables=(Table("lots in process", head, head + len(drawn), 0, len(COLUMNS) - 1),),
        charts=(_chart(title, found, head + 1, at, height),),
        row_height=14.0,
    )


def _span(house: House, key: Key, quantities: list[float]) -> Span:
    item, state, begins_on, ready_on, use_by = key
    lots = f"{len(quantities)} lots, " if len(quantities) > 1 else ""
    name = f"{house.name_of(item)}, {lots}{shown(sum(quantities), house.unit_of(item))}"
    return Span(name, state, begins_on, ready_on, use_by)


def _lots(house: House, plan: Plan) -> Iterator[Dated]:
    for lot in plan.opening.lots:
        if lot.quantity < LEAST_LOT:
            continue
        takes = _takes(house, lot)
        if lot.ready_on is not None and lot.ready_on > plan.on:
            begun = lot.ready_on - timedelta(days=takes)
            yield lot, IN_PROCESS, min(begun, plan.on), lot.ready_on
        elif takes >= LONG_DAYS and lot.use_by is not None and lot.use_by >= plan.on:
            yield lot, READY, plan.on, plan.on


def _takes(house: House, lot: Lot) -> int:
    return house.recipes[lot.item].takes_days if lot.item in house.recipes else 0


def _starts(house: House, plan: Plan) -> Iterator[Dated]:
    for start in coming_starts(plan):
        if (start.ready_on - start.start_on).days >= LONG_STARTS:
            lot = Lot(start.recipe, start.quantity, _use_by(house, start), start.ready_on)
            yield lot, TO_BE_STARTED, start.start_on, start.ready_on


def _use_by(house: House, start: Start) -> date | None:
    """The last day as netting found it; where it says none, the last day at the latest."""
    keeps = house.keeps_days(start.recipe)
    at_most = None if keeps is None else start.ready_on + timedelta(days=keeps)
    return start.use_by or at_most


def _row(span: Span) -> Row:
    return (
        Cell(span.name, "wrap line"),
        Cell(span.begins_on, "day line"),
        Cell(span.process_days, "whole line"),
        Cell(span.ready_on, "day line strong"),
        Cell(span.use_days, "whole line"),
        Cell(span.use_by, "day line"),
    )


def _chart(sheet: str, found: tuple[Span, ...], first: int, at: int, height: int) -> Chart:
    drawn = found[:MOST_DRAWN]
    last = first + len(drawn) - 1
    begins = min(span.begins_on for span in drawn)
    ends = max(span.ready_on + timedelta(days=min(span.use_days, MOST_USE_DAYS)) for span in drawn)
    names = (0, first, last)
    return Chart(
        kind="time-line",
        title="light: in process; dark: ready, until its use-by",
        at=(at, 0),
        series=(
            Series("begins", sheet, names, (1, first, last), "hidden"),
            Series("in process", sheet, names, (2, first, last), "plain"),
            Series("ready, until its use by", sheet, names, (4, first, last), "dark"),
        ),
        width=680,
        height=height,
        description=f"Time line of {len(drawn)} lots in process or ready; the table has the same dates.",
        axis_range=(float(begins.toordinal() - EXCEL_DAY_0), float(ends.toordinal() - EXCEL_DAY_0)),
    )
