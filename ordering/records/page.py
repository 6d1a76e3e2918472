"""A document before it is written: cells, styles by name, letters. No file, no clock."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

Value = str | int | float | Decimal | date | datetime | None


@dataclass(frozen=True, slots=True)
class Cell:
    """`is_open`: may be changed on a protected sheet. `span`: columns merged, this one included."""

    value: Value = None
    style: str = "text"
    is_open: bool = False
    span: int = 1


Row = tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Series:
    """One line of a chart; rows (first, last) and a column of the sheet named, from 0."""

    name: str
    sheet: str
    categories: tuple[int, int, int]
    values: tuple[int, int, int]
    style: str = "plain"


@dataclass(frozen=True, slots=True)
class Chart:
    kind: str
    title: str
    at: tuple[int, int]
    series: tuple[Series, ...]
    y_axis: str = ""
    x_axis: str = ""
    width: int = 720
    height: int = 320
    description: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """`repeat` is the (first, last) heading row printed on each page; `tables` are (first row,
    last row, first column, last column) with headers in the first row."""

    title: str
    rows: tuple[Row, ...]
    widths: tuple[float, ...]
    repeat: tuple[int, int] | None = None
    freeze: int = 0
    is_landscape: bool = False
    is_protected: bool = False
    fit_tall: int = 0
    footer: str = ""
    tables: tuple[tuple[int, int, int, int], ...] = ()
    charts: tuple[Chart, ...] = ()
    breaks: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Workbook:
    """`created` is taken from the run, so that the same inputs give the same bytes."""

    title: str
    sheets: tuple[Sheet, ...]
    created: datetime
    author: str = ""


@dataclass(frozen=True, slots=True)
class Letter:
    """A draft e-mail; attachments are (file name, bytes)."""

    sender: str
    to: str
    subject: str
    body: str
    dated: datetime
    attachments: tuple[tuple[str, bytes], ...] = ()
