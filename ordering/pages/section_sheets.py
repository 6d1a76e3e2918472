"""Sections as a workbook: few sheets, each holding those of one matter under one another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime, time

from ordering.pages.parts import COLUMN_GAP, UPRIGHT
from ordering.pages.sections import Figure, Section, Told
from ordering.records.page import Cell, Chart, Row, Series, Sheet, Table, Workbook

STYLES = {"text": "wrap", "change": "percent"}
WIDTHS = {"day": 11.0, "whole": 8.5, "number": 9.5, "money": 11.0, "percent": 8.5, "change": 8.5}
FIRST_WIDEST, WIDEST, NARROWEST = 36.0, 22.0, 8.5  # of a column of text
LEAST_COLUMNS = 6  # so that sentences have room
CHART_HEIGHT, ROW_PIXELS, PIXELS_A_DIGIT = 280, 20, 7

Leaf = tuple[str, Sequence[Section]]
"""Title and sections of one sheet."""


def sections_workbook(told: Told, leaves: Sequence[Leaf], made_on: date, paper: str, author: str) -> Workbook:
    """What is told on sheets, the sentences on the first, figures drawn from the cells beside them."""
    return Workbook(
        title=told.title,
        sheets=tuple(_sheet(told, leaf, n == 0) for n, leaf in enumerate(leaves)),
        created=datetime.combine(made_on, time(0, 0)),
        author=author,
        paper=paper,
        is_american=told.is_american,
    )


def _sheet(told: Told, leaf: Leaf, is_first: bool) -> Sheet:
    """The sections one under the other, as wide as the widest; none is torn where it fits on a page."""
    title, sections = leaf
    n_columns = max(LEAST_COLUMNS, *(len(section.columns) for section in sections))
    widths = tuple(_width(sections, n) for n in range(n_columns))
    rows: list[Row] = list(_top(told, n_columns)) if is_first else []
    tables: list[Table] = []
    charts: list[Chart] = []
    parts: list[int] = []
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
        is_landscape=sum(widths) + COLUMN_GAP * n_columns > UPRIGHT,
        footer=f"{told.title}, {told.days}" if told.days else told.title,
        tables=tuple(tables),
        charts=tuple(charts),
        parts=tuple(parts),
    )


def _top(told: Told, n_columns: int) -> Sequence[Row]:
    """The title, the days, and what is told in sentences, the first of them loud."""
    rows: list[Row] = [(Cell(told.title, "title"),)]
    if told.days:
        rows.append((Cell(told.days, "quiet"),))
    rows.append((Cell(told.headline, "strong wrap", span=n_columns),))
    return [*rows, *((Cell(text, "wrap", span=n_columns),) for text in told.others), ()]


def _width(sections: Sequence[Section], n: int) -> float:
    """As wide as the widest that any of the sections has in its column `n`; a last text runs on."""
    wide = [0.0]
    for section in sections:
        if n >= len(section.columns):
            continue
        column = section.columns[n]
        if column.kind != "text":
            wide.append(WIDTHS[column.kind])
        elif n < len(section.columns) - 1 or len(section.columns) > LEAST_COLUMNS:
            longest = max((len(str(row[n] or "")) for row in section.rows), default=0)
            wide.append(min(longest + 1.0, WIDEST if n else FIRST_WIDEST))
    return max(NARROWEST, *wide)


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
    columns = list(zip(section.columns, spans, strict=True))
    head = tuple(
        Cell(column.name or "remark", "head" if column.is_left else "head right", span=span)
        for column, span in columns
    )
    body = [
        tuple(
            Cell(value, f"{STYLES.get(column.kind, column.kind)} line", span=span)
            for (column, span), value in zip(columns, row, strict=True)
        )
        for row in section.rows
    ]
    return [head, *body]


def _chart(title: str, section: Section, figure: Figure, at: tuple[int, int], width: float) -> Chart:
    """The figure at row `at[0]` of the sheet `title`, drawn from the table whose head is at row `at[1]`."""
    first, last = at[1] + 1, at[1] + len(section.rows)
    across = (figure.across, first, last)
    return Chart(
        kind=figure.kind,
        title=figure.title,
        at=(at[0], 0),
        series=tuple(
            Series(section.columns[column].name, title, across, (column, first, last), style)
            for column, style in figure.series
        ),
        y_axis=figure.y_axis,
        width=int(min(width, UPRIGHT - COLUMN_GAP) * PIXELS_A_DIGIT),
        height=CHART_HEIGHT,
        description=figure.description,
    )
