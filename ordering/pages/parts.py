"""Small parts that every page is put together from: heads, quantities in words, lines of plain text."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time

from jinja2 import Environment, PackageLoader, StrictUndefined

from ordering.amounts import shown
from ordering.days import WEEKDAY_NAMES, american
from ordering.records.house import House, RecipeLine
from ordering.records.page import Cell, Row, Sheet, Table, Workbook
from ordering.texts import padded, wrapped

# Digits of column width that fit side by side at full size: on A4 upright, on Letter lying; a gap a column.
UPRIGHT, LYING, COLUMN_GAP = 96.5, 132.0, 5 / 7

# Unicode CLDR, supplementalData, paperSize `US-Letter`; from memory of that list.
LETTER_COUNTRIES = frozenset(
    ["BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"]
)
NUMBER = "number"
WRITING_POINTS = 19.0  # of a row to write in by hand

_TEMPLATES = Environment(
    loader=PackageLoader("ordering", "pages"), autoescape=True, undefined=StrictUndefined, trim_blocks=True
)


def html_page(template: str, is_american: bool = False, **values: object) -> str:
    """A page from its template, what comes from input escaped; days as in the US where that is asked.

    A number is not parted from its per cent sign at the end of a line.
    """
    made = re.sub(r"(?<=[0-9]) (?=%)", "\u00a0", _TEMPLATES.get_template(template).render(values))
    return american(made) if is_american else made


def paper(house: House) -> str:
    """The paper the house prints on: `letter` where that is usual, else `a4`."""
    return "letter" if house.holiday_country.upper() in LETTER_COUNTRIES else "a4"


def heads(names: Sequence[str], right: Iterable[str] = ()) -> Row:
    """A heading row; the names also in `right` stand over numbers."""
    numbers = set(right)
    return tuple(Cell(name, "head right" if name in numbers else "head") for name in names)


def texts(*values: str, style: str = "text") -> Row:
    """A row of cells in one style."""
    return tuple(Cell(value, style) for value in values)


def filled(row: Row, n_columns: int, style: str = "text") -> Row:
    """The row made up to so many columns with empty cells."""
    return row + tuple(Cell(None, style) for _ in range(n_columns - sum(cell.span for cell in row)))


def amount_cell(quantity: float, unit: str, style: str) -> Cell:
    """A quantity to read, not to calculate with, as a cook says it."""
    return Cell(shown(quantity, unit), f"{style} right wrap")


def long_day(day: date) -> str:
    """`Saturday 28 November 2026`."""
    return f"{WEEKDAY_NAMES[day.weekday()]} {day.day} {day:%B} {day.year}"


def sentence(text: str) -> str:
    """The words as a sentence; empty where there are none."""
    return f"{text[:1].upper()}{text[1:]}." if text else ""


def clipped(text: str, width: int) -> str:
    """The text on one line, its end left out where it is too wide."""
    first, *rest = wrapped(text, width)
    return f"{wrapped(text, max(width - 4, 2))[0]} ..." if rest else first


def aligned(
    rows: Iterable[Sequence[str]], widths: Sequence[int], right: Iterable[int] = (), gap: str = "  "
) -> list[str]:
    """Rows of text as aligned lines; a text too long for its column goes on in the line below.

    `right` are the columns whose text stands at the right. Lines do not end in spaces.
    """
    numbers = set(right)
    lines: list[str] = []
    for row in rows:
        columns = [wrapped(text, width) for text, width in zip(row, widths, strict=True)]
        for n in range(max(len(column) for column in columns)):
            parts = [
                padded(column[n] if n < len(column) else "", width, c in numbers)
                for c, (column, width) in enumerate(zip(columns, widths, strict=True))
            ]
            lines.append(gap.join(parts).rstrip())
    return lines


@dataclass(frozen=True, slots=True)
class Block:
    """Rows that stand together. `table` names them where the first is the heading of the rest."""

    rows: tuple[Row, ...]
    table: str = ""


def stacked(blocks: Iterable[Block]) -> tuple[tuple[Row, ...], tuple[Table, ...]]:
    """The blocks one under the other, one empty row between at most, and where their tables stand."""
    rows: list[Row] = []
    tables: list[Table] = []
    for block in blocks:
        if block.table and len(block.rows) > 1:
            last = len(rows) + len(block.rows) - 1
            tables.append(Table(block.table, len(rows), last, 0, len(block.rows[0]) - 1))
        is_gap = bool(rows) and rows[-1] == () and block.rows[:1] == ((),)
        rows.extend(block.rows[1:] if is_gap else block.rows)
    return tuple(rows), tuple(tables)


def titled(title: str, *notes: str, across: int = 1) -> Block:
    """A page's title with quiet lines under it, each over so many columns, and an empty row."""
    style = "quiet wrap" if across > 1 else "quiet"
    return Block(((Cell(title, "title"),), *((Cell(note, style, span=across),) for note in notes), ()))


def section(heading: str) -> Block:
    """An empty row and a heading."""
    return Block(((), (Cell(heading, "heading"),)))


def said_all(lines: Iterable[str], across: int = 1, style: str = "wrap") -> Block:
    """Each line a row of its own, over so many columns."""
    return Block(tuple((Cell(line, style if across > 1 else "text", span=across),) for line in lines))


def with_table(sheet: Sheet, top: Block, table: Block, empty: str) -> Sheet:
    """The sheet with one table under its top; the heading repeats. `empty` is said where it has no row."""
    has_rows = len(table.rows) > 1
    rows, tables = stacked([top, table if has_rows else said_all([empty], len(sheet.widths))])
    head = len(top.rows)
    repeat = (head, head) if has_rows else None
    return replace(sheet, rows=rows, tables=tables, repeat=repeat, freeze=head + 1 if has_rows else 0)


def item_name(house: House, item: str) -> str:
    """The name of an ingredient or recipe, or its id where the house no longer has it.

    Items and dishes are named apart: a dish may have the id of an item.
    """
    return house.name_of(item) if item in house.ingredients or item in house.recipes else item


def line_said(house: House, line: RecipeLine, quantity: float) -> str:
    """What a line of a recipe takes, said in the unit it is written in; `quantity` in that of its item."""
    unit = line.unit or house.unit_of(line.item)
    return f"{shown(quantity / line.unit_size, unit)} {house.name_of(line.item)}"


def dish_name(house: House, dish: str) -> str:
    """The name of a dish, or its id where the house no longer has it."""
    return house.dishes[dish].name if dish in house.dishes else dish


def local(moment: datetime) -> datetime:
    """The moment as the house's own clock shows it, without a zone."""
    return moment.replace(tzinfo=None)


def workbook(house: House, title: str, made: date, *sheets: Sheet) -> Workbook:
    """Sheets as the house prints them: on its paper, with its days, made at a moment of its own clock."""
    moment = made if isinstance(made, datetime) else datetime.combine(made, time(0))
    return Workbook(
        title=title,
        sheets=sheets,
        created=local(moment),
        author=house.name,
        paper=paper(house),
        is_american=house.is_american,
    )


def number_row(number: str) -> Row:
    """The row of a sheet that says which document it is."""
    return (Cell(NUMBER, "quiet"), Cell(number, "strong"))


def number_on(rows: Sequence[Sequence[str]]) -> str:
    """The number that stands at the head of a sheet read back; empty on a list somebody typed."""
    for row in rows:
        said = [cell.strip() for cell in row if cell.strip()]
        if len(said) == 2 and said[0].casefold() == NUMBER:
            return said[1]
    return ""


def vendor_name(house: House, vendor: str) -> str:
    """The vendor's name, or its id where the house no longer has it."""
    return house.vendors[vendor].name if vendor in house.vendors else vendor
