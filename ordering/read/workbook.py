"""Workbooks as plain strings: values only, no macros, no formula without a value, bounded in size."""

from __future__ import annotations

import datetime as dt
import io
import warnings
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from ordering.faults import Fault
from ordering.read.files import MAX_TABLE_BYTES
from ordering.texts import without_unseen

MAX_PARTS = 2000  # a sheet has some five
MAX_CELLS = 2_000_000
"""Of one sheet: five years of two services a day and 80 dishes, six columns each. Reading them takes a
dozen seconds; what is more can be saved as csv."""
_CHUNK = 2**20


@dataclass(slots=True)
class WorkbookSheet:
    """`rows` of strings, all as wide as `letters`; `numbers` has each one's row in the sheet.

    `refused` has (kind, wrong, right) for cells (row, column from 0) that have no usable value.
    """

    title: str
    rows: list[tuple[str, ...]]
    numbers: list[int]
    letters: list[str]
    refused: dict[tuple[int, int], tuple[str, str, str]] = field(default_factory=dict)


def read_sheets(content: bytes, place: str) -> tuple[list[WorkbookSheet], list[Fault]]:
    """Every sheet of a workbook in its order, or the fault that keeps it from being read."""
    refused = refused_package(content, place)
    if refused is not None:
        return [], [refused]
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return _sheets(content), []
    except _TooLarge:
        return [], [_large(place)]
    except Exception:
        # A damaged workbook can raise anything from openpyxl, zipfile and the XML parser.
        return [], [_damaged(place)]


class _TooLarge(Exception):
    """More cells than are read."""


def _large(place: str) -> Fault:
    return Fault(
        place, 0, "", "the workbook is too large once unpacked", "split it, or save it as .csv", "large-file"
    )


def _damaged(place: str) -> Fault:
    return Fault(
        place, 0, "", "not readable as a workbook: damaged or cut off", "save it again", "damaged-file"
    )


def refused_package(content: bytes, place: str) -> Fault | None:
    """A fault for what is not a workbook, has macros, unpacks to too much or declares XML entities."""
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as package:
            parts = package.infolist()
            if len(parts) > MAX_PARTS or sum(part.file_size for part in parts) > 2 * MAX_TABLE_BYTES:
                return _large(place)
            if any("vbaproject" in part.filename.lower() for part in parts):
                wrong, right = "the workbook has macros", "save it as .xlsx, without macros"
                return Fault(place, 0, "", wrong, right, "has-macros")
            if any(
                _declares(package, part)
                for part in parts
                if part.filename.lower().endswith((".xml", ".rels"))
            ):
                return _damaged(place)
    except Exception:
        # zipfile raises many kinds on damaged archives (struct, zlib, its own, encodings).
        return _damaged(place)
    return None


def _declares(package: zipfile.ZipFile, part: zipfile.ZipInfo) -> bool:
    """Whether an XML part has a document type, which a workbook never has and entities need."""
    with package.open(part) as opened:
        return b"<!" in opened.read(4096).replace(b"<!--", b"")


def _open(content: bytes, data_only: bool) -> Any:
    # Imported here because a house whose books are CSV need not wait for it.
    from openpyxl import load_workbook

    return load_workbook(io.BytesIO(content), read_only=True, data_only=data_only, keep_links=False)


def _sheets(content: bytes) -> list[WorkbookSheet]:
    book = _open(content, data_only=True)
    try:
        sheets = [_sheet(one) for one in _in_sight(book)]
    finally:
        book.close()
    if _has_formulas(content):
        _refuse_formulas(content, sheets)
    return sheets


def _in_sight(book: Any) -> list[Any]:
    """The sheets a person sees; where all are hidden, all of them."""
    sheets: list[Any] = book.worksheets
    return [one for one in sheets if one.sheet_state == "visible"] or sheets


def column_letter(n: int) -> str:
    """A, B, ... Z, AA, ... for columns from 0."""
    return column_letter(n // 26 - 1) + chr(65 + n % 26) if n >= 26 else chr(65 + n)


def _cells(worksheet: Any) -> Iterator[tuple[int, tuple[Any, ...]]]:
    n_cells = 0
    worksheet.reset_dimensions()
    for number, row in enumerate(worksheet.iter_rows(values_only=True), 1):
        n_cells += len(row)
        if n_cells > MAX_CELLS:
            raise _TooLarge
        yield number, row


def _sheet(worksheet: Any) -> WorkbookSheet:
    numbers, rows = [], []
    for number, row in _cells(worksheet):
        if any(value is not None for value in row):
            numbers.append(number)
            rows.append(tuple(map(plain, row)))
    width = max(map(len, rows), default=0)
    if len(rows) * width > MAX_CELLS:
        raise _TooLarge
    letters = [column_letter(n) for n in range(width)]
    even = [row + ("",) * (width - len(row)) for row in rows]
    return WorkbookSheet(str(worksheet.title)[:40], even, numbers, letters)


def plain(value: object) -> str:
    """A cell's value as it would stand in a CSV file: dates ISO 8601, whole numbers without a point."""
    if value is None:
        return ""
    if isinstance(value, str):
        return without_unseen(value)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else f"{value:.12g}"
    if isinstance(value, dt.datetime):
        return value.date().isoformat() if value.time() == dt.time() else value.isoformat(" ")
    return value.isoformat() if isinstance(value, dt.date) else str(value)


def _has_formulas(content: bytes) -> bool:
    with zipfile.ZipFile(io.BytesIO(content)) as package:
        for part in package.infolist():
            if not part.filename.startswith("xl/worksheets/"):
                continue
            with package.open(part) as opened:
                tail = b""
                while chunk := opened.read(_CHUNK):
                    if b"<f>" in tail + chunk or b"<f " in tail + chunk or b"<f/" in tail + chunk:
                        return True
                    tail = chunk[-4:]
    return False


def _is_formula(value: object) -> bool:
    return value.startswith("=") if isinstance(value, str) else type(value).__name__.endswith("Formula")


def _refuse_formulas(content: bytes, sheets: list[WorkbookSheet]) -> None:
    """Note the cells whose formula has never been worked out: their value is not in the file."""
    said = ("no-value", "a formula without a value stored", "write the value, or open and save the workbook")
    book = _open(content, data_only=False)
    try:
        for sheet, worksheet in zip(sheets, _in_sight(book), strict=False):
            by_number = dict(zip(sheet.numbers, sheet.rows, strict=True))
            for number, row in _cells(worksheet):
                values = by_number.get(number, ())
                for n, value in enumerate(row):
                    if _is_formula(value) and (n >= len(values) or values[n] == ""):
                        sheet.refused[number, n] = said
    finally:
        book.close()
