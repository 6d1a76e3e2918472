"""Small parts that every page is put together from: heads, quantities in words, lines of plain text."""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Sequence
from datetime import date, datetime

from ordering.days import WEEKDAY_NAMES
from ordering.records.house import House
from ordering.records.page import Cell, Row

# Unicode CLDR, supplementalData, paperSize `US-Letter`; from memory of that list.
LETTER_COUNTRIES = frozenset(
    ["BZ", "CA", "CL", "CO", "CR", "GT", "MX", "NI", "PA", "PH", "PR", "SV", "US", "VE"]
)
POINTS_A_LINE = 13.5


def paper(house: House) -> str:
    """The paper the house prints on: `letter` where that is usual, else `a4`."""
    return "letter" if house.holiday_country.upper() in LETTER_COUNTRIES else "a4"


def heads(names: Sequence[str], right: Iterable[str] = ()) -> Row:
    """A heading row; the names also in `right` stand over numbers."""
    numbers = set(right)
    return tuple(Cell(name, "head right" if name in numbers else "head") for name in names)


def texts(*values: str, style: str = "text") -> Row:
    return tuple(Cell(value, style) for value in values)


def filled(row: Row, n_columns: int, style: str = "text") -> Row:
    """The row made up to so many columns with empty cells."""
    return row + tuple(Cell(None, style) for _ in range(n_columns - sum(cell.span for cell in row)))


def shown(quantity: float, unit: str) -> str:
    """A quantity as said in a kitchen: `4.2 kg`, `1,200 each`, three decimals at most."""
    rounded = round(quantity, 3 if abs(quantity) < 10 else 1)
    number = f"{rounded:,.3f}".rstrip("0").rstrip(".")
    return f"{'0' if number == '-0' else number} {unit}".rstrip()


def counted(n: int, one: str, many: str = "") -> str:
    """`1 line`, `3 lines`; `many` where the plural is not made with an s."""
    return f"{n} {one if n == 1 else many or one + 's'}"


def long_day(day: date) -> str:
    """`Saturday 28 November 2026`."""
    return f"{WEEKDAY_NAMES[day.weekday()]} {day.day} {day:%B} {day.year}"


def day_and_time(moment: datetime) -> str:
    """`Thu 26 Nov 15:00`."""
    return f"{WEEKDAY_NAMES[moment.weekday()][:3]} {moment.day} {moment:%b} {moment:%H:%M}"


def listed(words: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def height(texts_and_widths: Iterable[tuple[str, float]], one_line: float = POINTS_A_LINE) -> float:
    """Points a row needs for its tallest text, each (text, width in characters) wrapped."""
    n_lines = max((len(wrapped(text, max(int(w), 1))) for text, w in texts_and_widths), default=1)
    return one_line * max(n_lines, 1) + 1.5


def cells_wide(text: str) -> int:
    """Columns a text takes in a fixed-width font: wide characters two, combining ones none."""
    n = 0
    for c in text:
        if unicodedata.combining(c) or unicodedata.category(c) in ("Cf", "Mn", "Me"):
            continue
        n += 2 if unicodedata.east_asian_width(c) in "WF" else 1
    return n


def wrapped(text: str, width: int) -> list[str]:
    """The text in lines no wider than `width`, broken between words, or within one too long."""
    lines: list[str] = []
    for paragraph in text.splitlines() or [""]:
        line = ""
        for word in paragraph.split():
            while cells_wide(word) > width:
                head = _fitting(word, width - cells_wide(line) - 1 if line else width)
                lines.append(f"{line} {head}".strip() if head else line)
                word, line = word[len(head) :], ""
            if line and cells_wide(line) + 1 + cells_wide(word) > width:
                lines.append(line)
                line = word
            else:
                line = f"{line} {word}".strip()
        lines.append(line)
    return lines


def _fitting(word: str, width: int) -> str:
    """As much of the word as fits; at least one character when a whole line is free."""
    taken = ""
    for c in word:
        if cells_wide(taken + c) > width:
            break
        taken += c
    return taken


def padded(text: str, width: int, is_right: bool = False) -> str:
    """The text with spaces up to `width` columns of a fixed-width font."""
    space = " " * max(width - cells_wide(text), 0)
    return space + text if is_right else text + space


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
