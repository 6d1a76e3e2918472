"""The review as a workbook: few sheets, each holding the sections of one matter under one another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import datetime, time

from ordering.pages.parts import WIDEST_UPRIGHT, long_day, paper
from ordering.pages.review_overview import headline
from ordering.pages.review_parts import Column, Figure, Section
from ordering.pages.review_sections import sheets_of
from ordering.records.house import House
from ordering.records.page import Cell, Chart, Row, Series, Sheet, Table, Workbook
from ordering.records.review_results import Review

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
    "text": 15.0,
    "day": 12.0,
    "whole": 9.0,
    "number": 10.0,
    "money": 11.5,
    "percent": 9.0,
    "change": 9.0,
}
FIRST_WIDTH = 27.0
LEAST_COLUMNS = 6  # so that sentences have room
CHART_WIDTH, CHART_HEIGHT, ROW_PIXELS = 820, 280, 20


def review_workbook(house: House, review: Review) -> Workbook:
    """The review on sheets, figures drawn from the cells beside them."""
    return Workbook(
        title=heading(house, review),
        sheets=tuple(
            _sheet(house, review, title, sections, n == 0)
            for n, (title, sections) in enumerate(sheets_of(house, review))
        ),
        created=datetime.combine(review.made_on, time(0, 0)),
        author=house.name,
        paper=paper(house),
        is_american=house.is_american,
    )


def heading(house: House, review: Review) -> str:
    return f"{house.name}: review {review.first_on.isoformat()} to {review.last_on.isoformat()}"


def _sheet(house: House, review: Review, title: str, sections: Sequence[Section], is_first: bool) -> Sheet:
    """The sections one under the other, as wide as the widest; none is torn where it fits on a page."""
    n_columns = max(LEAST_COLUMNS, *(len(section.columns) for section in sections))
    widths = _widths(sections, n_columns)
    rows: list[Row] = []
    tables: list[Table] = []
    charts: list[Chart] = []
    parts: list[int] = []
    if is_first:
        rows.append((Cell(f"{house.name}: review", "title"),))
        rows.append((Cell(f"{long_day(review.first_on)} to {long_day(review.last_on)}", "strong"),))
        rows += [(Cell(text, "wrap", span=n_columns),) for text in headline(house, review)]
        rows.append(())
    for section in sections:
        parts.append(len(rows))
        rows.append((Cell(section.caption, "heading wrap", span=n_columns),))
        rows += [(Cell(text, "wrap quiet", span=n_columns),) for text in section.intro]
        at = len(rows)
        if section.figure is not None and section.rows:
            rows += [()] * (math.ceil(CHART_HEIGHT / ROW_PIXELS) + 1)
        head = len(rows)
        rows += _table_rows(section, n_columns)
        if section.rows and max(_spans(section, n_columns)) == 1:  # a table takes no merged cells
            tables.append(Table(section.caption, head, head + len(section.rows), 0, len(section.columns) - 1))
        if section.figure is not None and section.rows:
            charts.append(_chart(title, section, section.figure, (at, head), sum(widths)))
        rows.append(())
    return Sheet(
        title=title,
        rows=tuple(rows[:-1]),
        widths=widths,
        is_landscape=sum(widths) > WIDEST_UPRIGHT,
        footer=heading(house, review),
        tables=tuple(tables),
        charts=tuple(charts),
        parts=tuple(parts),
        fit_tall=1 if len(sections) == 1 else 0,
    )


def _widths(sections: Sequence[Section], n_columns: int) -> tuple[float, ...]:
    """Each column as wide as the widest kind that any of the sections has there."""
    kinds = [[s.columns[n].kind for s in sections if n < len(s.columns)] for n in range(1, n_columns)]
    return (FIRST_WIDTH, *(max((WIDTHS[k] for k in column), default=WIDTHS["number"]) for column in kinds))


def _spans(section: Section, n_columns: int) -> list[int]:
    """Columns of the sheet that each of the section's takes: a text at its end takes what is left over."""
    spans = [1] * len(section.columns)
    if section.columns[-1].kind == "text":
        spans[-1] += n_columns - len(spans)
    return spans


def _table_rows(section: Section, n_columns: int) -> list[Row]:
    """Head and rows, or one row that says why there are none."""
    if not section.rows:
        return [(Cell(section.empty, "wrap", span=n_columns),)]
    spans = _spans(section, n_columns)
    head = tuple(_head(column, span) for column, span in zip(section.columns, spans, strict=True))
    body = [
        tuple(
            Cell(value, f"{STYLES[column.kind]} line", span=span)
            for column, value, span in zip(section.columns, row, spans, strict=True)
        )
        for row in section.rows
    ]
    return [head, *body]


def _head(column: Column, span: int) -> Cell:
    is_left = column.kind in ("text", "day")
    return Cell(column.name or "remark", "head" if is_left else "head right", span=span)


def _chart(title: str, section: Section, figure: Figure, at: tuple[int, int], width: float) -> Chart:
    """The figure at row `at[0]` of the sheet `title`, drawn from the table whose head is at row `at[1]`."""
    n_rows = min(len(section.rows), figure.n_rows or len(section.rows))
    first, last = at[1] + 1, at[1] + n_rows
    return Chart(
        kind=figure.kind,
        title=figure.title,
        at=(at[0], 0),
        series=tuple(
            Series(
                section.columns[column].name,
                title,
                (figure.across, first, last),
                (column, first, last),
                style,
            )
            for column, style in figure.series
        ),
        y_axis=figure.y_axis,
        width=min(CHART_WIDTH, int(width * 7)),
        height=CHART_HEIGHT,
        description=figure.description,
    )
