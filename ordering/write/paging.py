"""How high a sheet's rows are and where its pages end, so that every program prints it alike."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from itertools import pairwise

from ordering.records.page import Chart, Sheet
from ordering.write.styles import SIZE, properties

MOST_POINTS = 409.0
LINE_SPACING = 1.25
PADDING = 1.5
# Advance widths of Arial in thousandths of its size (Adobe Core 14 font metrics, Helvetica), where they
# are not that of a digit. Bold letters are a tenth wider at most.
DIGIT, WIDEST, BOLD = 556, 1015, 1.1
ARIAL: Mapping[str, int] = {
    letter: width
    for letters, width in (
        *(("'", 191), ("ijl", 222), ("|", 260), (" !,./:;I[\\]ft", 278), ("()-`r", 333), ("{}", 334)),
        *(('"', 355), ("*", 389), ("°", 400), ("^", 469), ("Jcksvxyz", 500), ("+<=>~", 584), ("FTZ", 611)),
        *(("&ABEKPSVXY", 667), ("CDHNRUw", 722), ("GOQ", 778), ("Mm", 833), ("%", 889), ("W", 944)),
        ("@", WIDEST),
    )
    for letter in letters
}
MARGINS = {"left": 0.4, "right": 0.4, "top": 0.5, "bottom": 0.6}  # inches
INCHES = {"a4": (8.27, 11.69), "letter": (8.5, 11.0)}
# Points of a column for each digit of its width: some programs take the true width of a digit of the 10 point
# font, others round it to 7 pixels (5.25 points). The wider counts. A column has 5 pixels more for its edges,
# a step of indent three spaces (ECMA-376-1, 18.3.1.13 and 18.8.1).
POINTS_A_DIGIT, COLUMN_GAP, INDENT = DIGIT * SIZE / 1000, 5 / 7, 3 * ARIAL[" "] / DIGIT
POINTS_A_PIXEL = 72 / 96
SAFE = 0.98  # programs measure letters and round heights differently
GOES_ON = ", continued"  # behind a heading that stands again on the next page
SHORT, LEAST_ROOM = 0.2, 0.12  # of a page: a part so short is not torn; none begins in less room


def with_room(sheet: Sheet, is_american: bool = False) -> Sheet:
    """The sheet with its columns wide enough for every number and day in them: too narrow, they show none."""
    widths = list(sheet.widths)
    for row in sheet.rows:
        column = 0
        for cell in row:
            if cell.span == 1 and column < len(widths):
                wide = 0.0
                if isinstance(cell.value, (int, float, Decimal)):
                    wide = _number_width(cell.style, float(cell.value), cell.unit)
                elif isinstance(cell.value, date):
                    wide = _day_width(cell.style, is_american)
                widths[column] = max(widths[column], wide)
            column += cell.span
    return sheet if tuple(widths) == sheet.widths else replace(sheet, widths=tuple(widths))


def points_wide(sheet: Sheet) -> float:
    """Points that the columns of a sheet take side by side, at the size they are written in."""
    return POINTS_A_DIGIT * sum(width + COLUMN_GAP for width in sheet.widths)


def scale_of(sheet: Sheet, paper: str) -> float:
    """How far a sheet is made smaller to fit the width of the paper: 1 where it fits."""
    wide = INCHES[paper][1 if sheet.is_landscape else 0]
    return min((wide - MARGINS["left"] - MARGINS["right"]) * 72 / points_wide(sheet), 1.0)


@lru_cache(maxsize=10_000)
def _number_width(style: str, value: float, unit: str) -> float:
    """Digits of column width that a number takes as printed, its unit and the gap behind it included."""
    looks = properties(style, value, unit)
    decimals = re.search(r"0\.(0+)", str(looks.get("num_format", "")))
    text = f"{value:,.{len(decimals[1]) if decimals else 0}f}"
    wide = _wide(f"{text} {unit}" if unit else text)
    scale = float(str(looks["font_size"])) / SIZE * (BOLD if looks.get("bold") else 1.0)
    return round(wide / DIGIT * scale / SAFE + 1 + COLUMN_GAP, 1)


_DAY_TEXTS: Mapping[str, str] = {
    "yyyy": "2026",
    "dddd": "Wednesday",
    "ddd": "Wed",
    "mmmm": "September",
    "mmm": "Nov",
    "d": "30",
}


@lru_cache
def _day_width(style: str, is_american: bool) -> float:
    """Digits of column width that the widest day takes in a style."""
    looks = properties(style, is_american=is_american)
    wanted = str(looks.get("num_format", ""))
    text = re.sub("|".join(_DAY_TEXTS), lambda found: _DAY_TEXTS[found[0]], wanted)
    scale = float(str(looks["font_size"])) / SIZE * (BOLD if looks.get("bold") else 1.0)
    return round(_wide(text) / DIGIT * scale / SAFE + COLUMN_GAP, 1)


def row_heights(sheet: Sheet) -> dict[int, float]:
    """Points by row where the text, or the sheet's `heights`, asks for more than its row height.

    Programs differ in whether they fit rows to wrapped text when a file is opened, so it is said.
    """
    found: dict[int, float] = {}
    for r, row in enumerate(sheet.rows):
        column, needed = 0, sheet.row_height
        for cell in row:
            line, room_a_digit, inset = _line_and_room(cell.style)
            n_lines = 1
            if room_a_digit and type(cell.value) is str:
                width = sum(sheet.widths[column : column + cell.span]) + COLUMN_GAP * (cell.span - 1)
                n_lines = _n_lines(cell.value, (width - COLUMN_GAP - inset) * room_a_digit)
            needed = max(needed, n_lines * line + PADDING)
            column += cell.span
        if needed > sheet.row_height:
            found[r] = min(needed, MOST_POINTS)
    return found | dict(sheet.heights)


@lru_cache(maxsize=10_000)  # a sheet whose parts are torn is measured once a page
def _n_lines(text: str, room: float) -> int:
    """Lines of a text broken between words, or within one too long; `room` as `ARIAL` measures."""
    if len(text) * WIDEST <= room and text.isascii() and "\n" not in text:
        return 1
    n_lines = 0
    for paragraph in text.splitlines() or [""]:
        n_lines, used = n_lines + 1, 0.0
        for word in paragraph.split(" "):
            wide = _wide(word)
            if used and used + ARIAL[" "] + wide > room:
                n_lines, used = n_lines + 1, 0.0
            used += wide + (ARIAL[" "] if used else 0)
            while used > room > WIDEST:
                n_lines, used = n_lines + 1, used - room + WIDEST / 2
    return n_lines


@lru_cache(maxsize=10_000)
def _wide(word: str) -> int:
    return sum(ARIAL.get(c, DIGIT * (1 if c.isascii() else 2)) for c in word)


@lru_cache
def _line_and_room(style: str) -> tuple[float, float, float]:
    """Points of a line in a style, the room a digit of column width gives it where it wraps, its indent."""
    looks = properties(style)
    size = float(str(looks["font_size"]))
    room = SAFE * DIGIT * SIZE / size / (BOLD if looks.get("bold") else 1.0)
    inset = INDENT * float(str(looks.get("indent", 0)))
    return size * LINE_SPACING, room if looks.get("text_wrap") else 0.0, inset


def page_breaks(sheet: Sheet, heights: Mapping[int, float], paper: str) -> list[int]:
    """Rows before which a new page begins: those asked for, and, where a sheet has `parts`, all others.

    A short part is not torn, where it is so asked none that a page takes, nor one before the end of its
    charts, and none begins on the last lines of a page. Programs that shrink a sheet to the width of the
    paper differ by some hundredths in how far; every break is set so that these do not add up.

    Parameters
    ----------
    heights : points by row, where it is not the sheet's own row height
    """
    if not sheet.parts:
        return list(sheet.breaks)
    tall = [heights.get(row, sheet.row_height) for row in range(len(sheet.rows))]
    head = sum(tall[sheet.repeat[0] : sheet.repeat[1] + 1]) if sheet.repeat else 0.0
    page = _page_points(sheet, paper)
    breaks = set(sheet.breaks)
    used = sum(tall[: sheet.parts[0]])
    for first, end in pairwise((*sheet.parts, len(sheet.rows))):
        asked, left = sum(tall[first:end]), page - used
        drawn = [_end_of(chart, sheet) for chart in sheet.charts if first <= chart.at[0] < end]
        is_torn = any(sum(tall[first:last]) > left for last in drawn)
        is_whole = is_torn or asked <= _most_kept(sheet, first, page, head) or left < LEAST_ROOM * page
        if asked > left and used > head and is_whole:
            breaks.add(first)
        for row in range(first, end):
            if row in breaks or used + tall[row] > page:
                breaks.add(row)
                used = head
            used += tall[row]
    return sorted(breaks)


def with_headings_again(sheet: Sheet, paper: str) -> Sheet:
    """The sheet with the heading of each part that is torn standing once more where it goes on."""
    for _ in range(len(sheet.rows) * bool(sheet.headings)):
        breaks = page_breaks(sheet, row_heights(sheet), paper)
        torn = ((row, max(p for p in sheet.parts if p <= row)) for row in breaks if row > sheet.parts[0])
        at, first = next(((row, p) for row, p in torn if p in sheet.headings and p < row), (0, 0))
        if not at:
            break
        head, *rest = sheet.rows[first]
        again = (replace(head, value=f"{str(head.value).removesuffix(GOES_ON)}{GOES_ON}"), *rest)
        moved = _moved_down(sheet, at)
        rows = (*sheet.rows[:at], again, *sheet.rows[at:])
        sheet = replace(moved, rows=rows, breaks=(*moved.breaks, at))
    return sheet


def _moved_down(sheet: Sheet, at: int) -> Sheet:
    """What a sheet says of its rows, when one that begins a part is put in at `at`."""
    parts, headings = (
        tuple(sorted((*(row + (row >= at) for row in rows), at))) for rows in (sheet.parts, sheet.headings)
    )
    return replace(
        sheet,
        parts=parts,
        headings=headings,
        breaks=tuple(row + (row >= at) for row in sheet.breaks),
        heights={row + (row >= at): points for row, points in sheet.heights.items()},
        entries=tuple(
            replace(e, first_row=e.first_row + (e.first_row >= at), last_row=e.last_row + (e.last_row >= at))
            for e in sheet.entries
        ),
        tables=tuple(
            replace(t, first_row=t.first_row + (t.first_row >= at), last_row=t.last_row + (t.last_row >= at))
            for t in sheet.tables
        ),
    )


def _end_of(chart: Chart, sheet: Sheet) -> int:
    """The row below a chart, where its rows are as high as the sheet says."""
    return chart.at[0] + math.ceil(chart.height * POINTS_A_PIXEL / sheet.row_height)


def _most_kept(sheet: Sheet, first: int, page: float, head: float) -> float:
    """Points of a part that is not torn.

    All that a page takes where the sheet asks for it, but for the first part, under the head of the sheet.
    """
    return page - head if sheet.has_whole_parts and first != sheet.parts[0] else SHORT * page


def _page_points(sheet: Sheet, paper: str) -> float:
    """Height of a page in points of the sheet, which is printed no wider than one page."""
    tall = INCHES[paper][0 if sheet.is_landscape else 1]
    return SAFE * (tall - MARGINS["top"] - MARGINS["bottom"]) * 72 / scale_of(sheet, paper)
