"""The review as a workbook: a sheet for each section, with a native chart over its table."""

from __future__ import annotations

import math
from datetime import datetime, time

from ordering.pages.forecast_page import WIDEST_UPRIGHT
from ordering.pages.parts import long_day, paper
from ordering.pages.review_parts import Column, Figure, Section
from ordering.pages.review_sections import sections
from ordering.records.house import House
from ordering.records.page import Cell, Chart, Row, Series, Sheet, Table, Workbook
from ordering.records.review import Review

STYLES = {
    "text": "wrap",
    "day": "day",
    "whole": "whole",
    "number": "number",
    "money": "money",
    "percent": "percent",
    "change": "percent",
}
WIDTHS = {
    "text": 17.0,
    "day": 12.0,
    "whole": 10.0,
    "number": 12.0,
    "money": 13.0,
    "percent": 10.0,
    "change": 10.0,
}
FIRST_WIDTH = 30.0
ADVICE_WIDTH = 90.0
CHART_WIDTH, CHART_HEIGHT, ROW_PIXELS = 860, 320, 20


def review_workbook(house: House, review: Review) -> Workbook:
    """The review on sheets, figures drawn from the cells beside them."""
    cut = sections(house, review)
    return Workbook(
        title=heading(house, review),
        sheets=tuple(_sheet(house, review, section, n == 0) for n, section in enumerate(cut)),
        created=datetime.combine(review.made_on, time(0, 0)),
        author=house.name,
        paper=paper(house),
    )


def heading(house: House, review: Review) -> str:
    return f"{house.name}: review {review.first_on.isoformat()} to {review.last_on.isoformat()}"


def _sheet(house: House, review: Review, section: Section, is_first: bool) -> Sheet:
    rows: list[Row] = []
    if is_first:
        rows.append((Cell(f"{house.name}: review", "title"),))
        rows.append((Cell(f"{long_day(review.first_on)} to {long_day(review.last_on)}", "strong"),))
        rows.append(())
    n_columns = len(section.columns)
    rows.append((Cell(section.caption, "heading wrap", span=n_columns),))
    rows += [(Cell(text, "wrap quiet", span=n_columns),) for text in section.intro]
    rows.append(())
    charts: tuple[Chart, ...] = ()
    if section.figure is not None and section.rows:
        at = len(rows)
        rows += [()] * (math.ceil(CHART_HEIGHT / ROW_PIXELS) + 1)
        charts = (_chart(section, section.figure, at, len(rows)),)
    head = len(rows)
    if section.rows:
        rows.append(tuple(_head(column) for column in section.columns))
        rows += [
            tuple(
                Cell(value, f"{STYLES[column.kind]} line")
                for column, value in zip(section.columns, row, strict=True)
            )
            for row in section.rows
        ]
    else:
        rows.append((Cell(section.empty, "text"),))
    return Sheet(
        title=section.title,
        rows=tuple(rows),
        widths=_widths(section),
        repeat=(head, head) if section.rows and not charts else None,
        is_landscape=sum(_widths(section)) > WIDEST_UPRIGHT,
        footer=heading(house, review),
        tables=(Table(section.caption, head, head + len(section.rows), 0, n_columns - 1),)
        if section.rows
        else (),
        charts=charts,
    )


def _head(column: Column) -> Cell:
    return Cell(column.name or "remark", "head" if column.kind in ("text", "day") else "head right")


def _widths(section: Section) -> tuple[float, ...]:
    first = ADVICE_WIDTH if len(section.columns) == 2 else FIRST_WIDTH
    if section.columns[0].kind == "day":
        first = WIDTHS["day"]
    return (first, *(WIDTHS[column.kind] for column in section.columns[1:]))


def _chart(section: Section, figure: Figure, at: int, head: int) -> Chart:
    n_rows = min(len(section.rows), figure.n_rows or len(section.rows))
    first, last = head + 1, head + n_rows
    return Chart(
        kind=figure.kind,
        title=figure.title,
        at=(at, 0),
        series=tuple(
            Series(
                section.columns[column].name,
                section.title,
                (figure.across, first, last),
                (column, first, last),
                style,
            )
            for column, style in figure.series
        ),
        y_axis=figure.y_axis,
        width=min(CHART_WIDTH, sum(int(w * 7 + 5) for w in _widths(section)) - 4),
        height=CHART_HEIGHT,
        description=figure.description,
    )
