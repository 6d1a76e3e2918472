"""Any table a kitchen has, as text: csv in the usual encodings and separators, xlsx, xls, ods."""

from __future__ import annotations

import csv
import io
import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from pathlib import Path

from python_calamine import CalamineError, CalamineWorkbook

from ordering.faults import Fault, Refused
from ordering.read.csv_table import MAX_ROWS
from ordering.read.files import MAX_TABLE_BYTES, read_bytes
from ordering.read.workbook import refused_package

_SEPARATORS = ",;\t|"
_GAP = re.compile(r"(?<=\S) {2,}(?=\S)")
NEARLY_ALL = 0.9
_ZIP, _OLE = b"PK\x03\x04", b"\xd0\xcf\x11\xe0"


@dataclass(frozen=True, slots=True)
class SourceSheet:
    """Rows of text without outer spaces; `how` says how the file was read."""

    place: str
    title: str
    rows: Sequence[Sequence[str]]
    how: str = ""
    lines: Sequence[int] = field(default_factory=tuple)

    def line(self, row: int) -> int:
        """The line of a csv file, the row of a sheet, from 1."""
        return self.lines[row] if self.lines else row + 1

    def fault(self, row: int, subject: str, wrong: str, right: str, kind: str) -> Fault:
        """A fault at a row."""
        place = f"{self.place} [{self.title}]" if self.title else self.place
        return Fault(place, self.line(row), subject, wrong, right, kind)


def read_sheets(path: Path) -> list[SourceSheet]:
    """Every sheet with anything in it.

    Raises
    ------
    Refused : no such file, too large, damaged, macros, or nothing in it
    """
    content = read_bytes(path, MAX_TABLE_BYTES)
    if isinstance(content, Fault):
        raise Refused([content])
    place = path.as_posix()
    is_book = content.startswith((_ZIP, _OLE))
    sheets = _workbook(content, place) if is_book else [_csv(content, place)]
    sheets = [sheet for sheet in sheets if sheet.rows]
    if not sheets:
        right = "export it again with its rows"
        raise Refused([Fault(place, 0, "", "there is nothing in this file", right, "empty-file")])
    return sheets


def _workbook(content: bytes, place: str) -> list[SourceSheet]:
    if content.startswith(_ZIP) and (refused := refused_package(content, place)):
        raise Refused([refused])
    try:
        book = CalamineWorkbook.from_filelike(io.BytesIO(content))
        found = []
        for name in book.sheet_names:
            rows = book.get_sheet_by_name(name).to_python(skip_empty_area=False)
            found.append(_trimmed(SourceSheet(place, name, [[_text(cell) for cell in row] for row in rows])))
    except (CalamineError, OSError, ValueError, OverflowError):
        wrong, right = "not readable as a workbook: damaged, or locked with a password", "save it again"
        raise Refused([Fault(place, 0, "", wrong, right, "damaged-file")]) from None
    return found


def _text(cell: object) -> str:
    """A cell as it would be typed: whole numbers without a point, dates in ISO 8601."""
    if isinstance(cell, str):
        return " ".join(cell.split()) if "\n" not in cell else cell.strip()
    if isinstance(cell, bool):
        return "yes" if cell else "no"
    if isinstance(cell, float):
        return str(int(cell)) if cell.is_integer() and abs(cell) < 1e15 else f"{cell:.10g}"
    if isinstance(cell, datetime):
        is_day = cell.time() == time(0)
        return cell.date().isoformat() if is_day else cell.isoformat(" ", "minutes")
    if isinstance(cell, (date, time)):
        return cell.isoformat()
    if isinstance(cell, timedelta):
        return f"{int(cell.total_seconds()) // 3600:02}:{int(cell.total_seconds()) // 60 % 60:02}"
    return "" if cell is None else str(cell).strip()


def _trimmed(sheet: SourceSheet) -> SourceSheet:
    lines = [n + 1 for n, row in enumerate(sheet.rows) if any(row)]
    rows = [sheet.rows[n - 1] for n in lines]
    return SourceSheet(sheet.place, sheet.title, rows, sheet.how, lines)


def _csv(content: bytes, place: str) -> SourceSheet:
    text, encoding = _decoded(content, place)
    if text.count("\n") > MAX_ROWS:
        right = "split it by year"
        raise Refused([Fault(place, 0, "", "more rows than are read", right, "large-file")])
    if (cut := _aligned(text)) is not None:
        rows, lines = cut
        return SourceSheet(place, "", rows, f"{encoding}, columns set apart by spaces", lines)
    mark = _separator(text)
    same: dict[str, str] = {}
    rows, lines = [], []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=mark)
    csv.field_size_limit(1_000_000)
    end = 0
    try:
        for row in reader:
            cells = [same.setdefault(cell, cell.strip()) for cell in row]
            if any(cells):
                rows.append(cells)
                lines.append(end + 1)
            end = reader.line_num
    except csv.Error as error:
        wrong = f"not readable as csv: {error}"
        raise Refused([Fault(place, end + 1, "", wrong, "export it again", "bad-csv")]) from None
    named = {",": "commas", ";": "semicolons", "\t": "tabs", "|": "strokes"}[mark]
    return SourceSheet(place, "", rows, f"{encoding}, columns separated by {named}", lines)


def _decoded(content: bytes, place: str) -> tuple[str, str]:
    """The text and its encoding: by its mark, else UTF-8 where that fits, else that of western Windows."""
    if content.startswith((b"\xff\xfe", b"\xfe\xff")):
        return _strict(content, "utf-16", place), "UTF-16"
    if content[1:200:2].count(0) > 40:
        return _strict(content, "utf-16-le", place), "UTF-16"
    try:
        return content.decode("utf-8-sig"), "UTF-8"
    except UnicodeDecodeError:
        return content.decode("cp1252", "replace"), "Windows-1252"


def _strict(content: bytes, encoding: str, place: str) -> str:
    try:
        return content.decode(encoding)
    except UnicodeDecodeError:
        wrong = "half a file, or not text"
        raise Refused([Fault(place, 0, "", wrong, "export it again", "damaged-file")]) from None


def _separator(text: str) -> str:
    """The separator that cuts most of the first lines into the same number of columns."""
    lines = text[:40_000].splitlines()[:80]
    return max(_SEPARATORS, key=lambda mark: (_evenness(lines, mark), mark == ","))


def _evenness(lines: Iterable[str], mark: str) -> int:
    widths = Counter(len(row) for row in csv.reader(lines, delimiter=mark))
    return max(((width - 1) * n for width, n in widths.items()), default=0)


def _aligned(text: str) -> tuple[list[list[str]], list[int]] | None:
    """Rows and line numbers of text whose columns stand under one another; None for any other.

    Columns are parted where nearly all lines that have gaps are blank for two letters or more. A line without
    gaps is one cell.
    """
    lines = [line.rstrip() for line in text[:4_000_000].splitlines()]
    filled = [line for line in lines if line]
    gapped = [line for line in filled if len(_GAP.findall(line)) > 1]
    if not gapped or 2 * len(gapped) < len(filled) or "\t" in text:
        return None
    plain = [re.sub(r"(?<=\d),(?=\d)", ".", line) for line in gapped[:80]]  # a decimal comma parts nothing
    if max(_evenness(plain, mark) for mark in _SEPARATORS) >= len(plain):
        return None
    width = max(map(len, gapped))
    n_blank = [sum(line[at : at + 1] in ("", " ") for line in gapped) for at in range(width)]
    is_gap = "".join(" " if n >= NEARLY_ALL * len(gapped) else "x" for n in n_blank)
    starts = [0, *(found.end() for found in re.finditer(r"(?<=x) {2,}(?=x)", is_gap))]
    if len(starts) < 3:
        return None
    rows = []
    for line in filled:
        cells = [line[a:b].strip() for a, b in zip(starts, [*starts[1:], None], strict=True)]
        is_whole = all(line[at - 1 : at] in ("", " ") for at in starts[1:])
        parts = _GAP.split(line.strip())
        fits = cells if is_whole else parts if len(parts) == len(starts) else [line.strip()]
        is_under = len(line) - len(line.lstrip()) in starts[1:]  # the rest of a name, below it
        rows.append(fits if is_under or _GAP.search(line.strip()) else [line.strip()])
    return rows, [n for n, line in enumerate(lines, 1) if line]
