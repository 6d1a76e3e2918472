"""A document before it is written: cells, styles by name, letters, calendars. No file, no clock."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from decimal import Decimal

Value = str | int | float | Decimal | date | datetime | None


@dataclass(frozen=True, slots=True)
class Cell:
    """One cell of a sheet.

    `style` is one or more words joined by spaces, later words winning (`money strong`); the words
    are the keys of `ordering.write.styles.STYLES`. `is_open`: may be changed on a protected sheet.
    `span`: columns merged, this one included. `unit` is printed behind a number, which stays a
    number. `formula` begins with `=` and is ours alone, never made from input; `value` is then its
    result. `link` is the title of a sheet of the same workbook to jump to, `link_row` the row there.
    """

    value: Value = None
    style: str = "text"
    is_open: bool = False
    span: int = 1
    unit: str = ""
    formula: str = ""
    link: str = ""
    link_row: int = 0


Row = tuple[Cell, ...]


@dataclass(frozen=True, slots=True)
class Series:
    """One line of a chart; (column, first row, last row) of the sheet named, from 0.

    `style` is one of `plain`, `strong`, `dashed`, `points`, `band`, `dark` and `hidden`.
    """

    name: str
    sheet: str
    categories: tuple[int, int, int]
    values: tuple[int, int, int]
    style: str = "plain"


@dataclass(frozen=True, slots=True)
class Chart:
    """A native chart at (row, column).

    `kind` is `line`, `column`, `bar` (lying), `time-line` (lying, stacked, days along the axis) or
    `band` (the series of style `hidden` and `band` stacked as an area, the others lines over it).
    `description` is read out by a screen reader. `axis_range` bounds the axis of the values;
    `category_format` is the number format of dates along the other one, `value_format` that of the values.
    """

    kind: str
    title: str
    at: tuple[int, int]
    series: tuple[Series, ...]
    y_axis: str = ""
    x_axis: str = ""
    width: int = 720
    height: int = 320
    description: str = ""
    axis_range: tuple[float, float] | None = None
    category_format: str = ""
    value_format: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """A block with its heading in the first row: announced as a table, its heads as heads."""

    name: str
    first_row: int
    last_row: int
    first_column: int
    last_column: int
    has_filter: bool = False


@dataclass(frozen=True, slots=True)
class Entry:
    """What the open cells of a column take: `kind` is `whole`, `number` or `date`."""

    kind: str
    column: int
    first_row: int
    last_row: int
    hint: str = ""


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet of a workbook, rows and columns counted from 0.

    `widths` are in characters, one per column. `repeat` is the (first, last) heading row printed
    on each page; `freeze` the number of rows that stay in sight. Every row is as high as its text
    needs, `row_height` points at least; `heights`, by row, overrule that. `fit_tall` is the number of
    pages it must fit (0: as many as it takes); the width always fits one page. `footer` stands left
    of the page number. `breaks` are rows before which a new page begins; `parts` are the first rows of
    parts that are not torn between two pages where they are short, `has_whole_parts`: where they fit on one.
    `headings` are those parts whose first row stands again, as continued, where they are torn: on a sheet
    without charts and formulas, whose rows are counted as they are given.
    """

    title: str
    rows: tuple[Row, ...]
    widths: tuple[float, ...]
    repeat: tuple[int, int] | None = None
    freeze: int = 0
    is_landscape: bool = False
    is_protected: bool = False
    fit_tall: int = 0
    footer: str = ""
    tables: tuple[Table, ...] = ()
    charts: tuple[Chart, ...] = ()
    breaks: tuple[int, ...] = ()
    parts: tuple[int, ...] = ()
    headings: tuple[int, ...] = ()
    has_whole_parts: bool = False
    heights: Mapping[int, float] = field(default_factory=dict)
    entries: tuple[Entry, ...] = ()
    row_height: float = 16.0


@dataclass(frozen=True, slots=True)
class Workbook:
    """`created` is taken from the run, so that the same inputs give the same bytes.

    `paper` is `a4` or `letter`; every sheet fits the width of both. `is_american`: days have the month first.
    """

    title: str
    sheets: tuple[Sheet, ...]
    created: datetime
    author: str = ""
    paper: str = "a4"
    is_american: bool = False


@dataclass(frozen=True, slots=True)
class Letter:
    """A draft e-mail; attachments are (file name, bytes or a workbook).

    `to` is an address, `to_name` who that is; either may be empty. `dated` carries its time zone.
    """

    sender: str
    to: str
    subject: str
    body: str
    dated: datetime
    attachments: tuple[tuple[str, bytes | Workbook], ...] = ()
    sender_name: str = ""
    to_name: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """An entry of a calendar.

    `begins` as a date: the whole of that day; as a datetime with its time zone: that moment.
    `key` stays the same from run to run for the same thing. `alarms` are spans before it begins.
    """

    key: str
    title: str
    begins: date | datetime
    notes: str = ""
    alarms: tuple[timedelta, ...] = ()
    group: str = ""


@dataclass(frozen=True, slots=True, order=True)
class Gone:
    """An entry of an earlier calendar by its UID, on its day."""

    uid: str
    begins: date
    title: str


@dataclass(frozen=True, slots=True)
class Calendar:
    """A calendar to be brought into another.

    `stamped` is when the run was made, with its time zone; `timezone` an IANA name. `gone` are entries of
    earlier runs that are no longer planned: whoever brings the calendar in must be rid of them.
    """

    title: str
    timezone: str
    stamped: datetime
    events: tuple[Event, ...]
    gone: tuple[Gone, ...] = ()


@dataclass(frozen=True, slots=True)
class Listing:
    """A table for a csv file: columns, and rows of the same length."""

    columns: tuple[str, ...]
    rows: tuple[tuple[Value | bool, ...], ...]


@dataclass(frozen=True, slots=True)
class Text:
    """A file that is text already: HTML, XML; written as UTF-8."""

    text: str


Document = Workbook | Letter | Calendar | Listing | Text
