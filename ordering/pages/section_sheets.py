"""Sections as a workbook: few sheets, each holding those of one matter under one another."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, datetime, time

from ordering.pages.parts import COLUMN_GAP, UPRIGHT
from ordering.pages.sections import Figure, PageContent, Section
from ordering.records.page import Cell, Chart, Row, Series, Sheet, Table, Workbook

STYLES = {"text": "wrap", "change": "percent"}
WIDTHS = {"day": 11.0, "whole": 7.0, "number": 8.5, "money": 9.5, "percent": 7.0, "change": 7.0}
FIRST_WIDEST, WIDEST, LAST_WIDEST, NARROWEST = 29.0, 14.0, 36.0, 7.0  # of a column of text
GAP, INDENT = 0.7, 1.3  # digits of width, beside a cell's words, and before those over numbers
A_BOLD_LETTER = 1.05  # digits of width, of a heading's word
LEAST_SCALE = 0.92  # so that no letter of ten points is printed below nine
LEAST_COLUMNS = 6  # so that sentences have room
CHART_HEIGHT, PIXELS_A_DIGIT = 230, 7
ROW_POINTS, POINTS_A_PIXEL = 13.5, 0.75

Leaf = tuple[str, Sequence[Section]]
"""Title and sections of one sheet."""


def sections_workbook(
    content: PageContent, leaves: Sequence[Leaf], made_on: date, paper: str, author: str
) -> Workbook:
    """What is told on sheets, the sentences on the first, figures drawn from the cells beside them."""
    return Workbook(
        title=content.title,
        sheets=tuple(_sheet(content, leaf, n == 0) for n, leaf in enumerate(leaves)),
        created=datetime.combine(made_on, time(0, 0)),
        author=author,
        paper=paper,
        is_american=content.is_american,
    )


def _sheet(content: PageContent, leaf: Leaf, is_first: bool) -> Sheet:
    """The sections one under the other, as wide as the widest; none is torn where it fits on a page."""
    title, sections = leaf
    n_columns = max(LEAST_COLUMNS, *(len(section.columns) for section in sections))
    widths = tuple(_width(sections, n, n_columns) for n in range(n_columns))
    rows: list[Row] = list(_top(content, n_columns)) if is_first else []
    tables: list[Table] = []
    charts: list[Chart] = []
    parts: list[int] = []
    for section in sections:
        parts.append(len(rows))
        rows.append((Cell(section.caption, "heading wrap", span=n_columns),))
        rows += [(Cell(text, "wrap quiet", span=n_columns),) for text in section.intro]
        at = len(rows)
        if section.figure is not None and section.rows:
            rows += [()] * (math.ceil(CHART_HEIGHT * POINTS_A_PIXEL / ROW_POINTS) + 1)
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
        is_landscape=sum(widths) + COLUMN_GAP * n_columns > UPRIGHT / LEAST_SCALE,
        footer=f"{content.title}, {content.days}" if content.days else content.title,
        tables=tuple(tables),
        charts=tuple(charts),
        parts=tuple(parts),
        row_height=ROW_POINTS,
    )


def _top(content: PageContent, n_columns: int) -> Sequence[Row]:
    """The title, the days, and what is told in sentences, the first of them loud."""
    rows: list[Row] = [(Cell(content.title, "title"),)]
    if content.days:
        rows.append((Cell(content.days, "quiet"),))
    rows.append((Cell(content.headline, "strong wrap", span=n_columns),))
    return [*rows, *((Cell(text, "wrap", span=n_columns),) for text in content.others), ()]


def _width(sections: Sequence[Section], n: int, n_columns: int) -> float:
    """As wide as the widest that any of the sections has in its column `n`; a long text at the end wraps."""
    wide = [0.0]
    for section in sections:
        if n >= len(section.columns):
            continue
        column = section.columns[n]
        gap = GAP if column.is_left else GAP + INDENT
        wide.append(max(len(word) for word in column.name.split()) * A_BOLD_LETTER + gap)
        if column.kind != "text":
            wide.append(WIDTHS[column.kind])
            continue
        longest = max((len(str(row[n] or "")) for row in section.rows), default=0)
        longest = max(longest, len(column.name) // 2)
        if n < len(section.columns) - 1:
            wide.append(min(longest + 1.0, WIDEST if n else FIRST_WIDEST))
        elif longest <= FIRST_WIDEST or n == n_columns - 1:  # a name; or a sentence with no columns beside it
            wide.append(min(longest + 1.0, LAST_WIDEST) / (n_columns - n))
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
        Cell(column.name, "head" if column.is_left else "head right", span=span) for column, span in columns
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
        value_format="0 %" if section.columns[figure.series[0][0]].kind == "percent" else "",
        width=int(min(width, UPRIGHT - COLUMN_GAP) * PIXELS_A_DIGIT),
        height=CHART_HEIGHT,
        description=figure.description,
    )
