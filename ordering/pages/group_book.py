"""The group's book: a sheet for each section."""

from __future__ import annotations

from datetime import date, datetime, time

from ordering.pages.group_sections import GroupPages
from ordering.pages.review_parts import Section
from ordering.records.page import Cell, Row, Sheet, Table, Workbook

STYLES = {"text": "wrap", "day": "day"}
WIDTHS = {"text": 24.0, "day": 13.0}
NARROW, WIDE, UPRIGHT = 12.0, 80.0, 95.0


def group_book(told: GroupPages, on: date) -> Workbook:
    """What is told of a group as a workbook."""
    return Workbook(
        title=told.title,
        sheets=tuple(_sheet(told.title, told.headline, section) for section in told.sections),
        created=datetime.combine(on, time(0, 0)),
        author=told.title,
        paper="a4",
    )


def _sheet(title: str, sentence: str, section: Section) -> Sheet:
    n_columns = len(section.columns)
    top: list[Row] = [
        (Cell(title, "title"),),
        (Cell(sentence, "wrap", span=n_columns),),
        (Cell(section.caption, "heading"),),
        *((Cell(text, "wrap quiet", span=n_columns),) for text in section.intro),
        (),
    ]
    head = len(top)
    widths = tuple(
        WIDE if n_columns == 2 and n == 1 else WIDTHS.get(column.kind, NARROW)
        for n, column in enumerate(section.columns)
    )
    if not section.rows:
        return Sheet(section.title, (*top, (Cell(section.empty),)), widths, footer=title)
    names = tuple(Cell(c.name, "head" if c.kind in STYLES else "head right") for c in section.columns)
    rows = [
        tuple(
            Cell(value, f"{STYLES.get(column.kind, column.kind)} line")
            for column, value in zip(section.columns, row, strict=True)
        )
        for row in section.rows
    ]
    return Sheet(
        title=section.title,
        rows=(*top, names, *rows),
        widths=widths,
        repeat=(head, head),
        is_landscape=sum(widths) > UPRIGHT,
        footer=title,
        tables=(Table(section.title, head, head + len(rows), 0, n_columns - 1),),
    )
