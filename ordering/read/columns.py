"""A column of strings as typed values, each distinct string read once.

A sales book has tens of thousands of rows and a few hundred distinct strings to a column: the strings are
numbered, each is read once, and the values are dealt out again by number.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from typing import Any, TypeVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray
from pydantic_core import PydanticCustomError

from ordering import units
from ordering.amounts import plural
from ordering.faults import Fault
from ordering.read import fields, suggestions
from ordering.read.book_table import BookTable

T = TypeVar("T")
Codes = NDArray[np.intp]

MAX_PORTIONS = MAX_COVERS = 10_000_000  # of one service; far less is asked about by `check_large`
MAX_REFUSED = 300
MAX_ALIKE = 5  # different values of a column that are refused one by one; the rest is summed up
_TRUE = {"1", "true", "yes", "y", "x"}
_FALSE = {"", "0", "false", "no", "n"}
_MIDNIGHT = re.compile(r"(?<=[0-9])[T ]00:00(:00(\.0{1,6})?)?$", re.ASCII)
_PART = re.compile(r"(?:([0-9]{1,9}) )?([0-9]{1,3})/([0-9]{1,3})", re.ASCII)
_WITH_UNIT = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,9})?) ?([a-z][a-z. ]*)", re.ASCII | re.IGNORECASE)
_NONE = {"-", "--", "none", "nil", "no", "out", "n/a"}
_WRITTEN = re.compile(r"[0-9]{1,9}(\.[0-9]{1,9})?", re.ASCII)


class Misread(ValueError):
    """A string that cannot be what its column holds; `said` is (kind, wrong, right).

    `by_semicolons` is what would be right in a file of semicolons, where that is another thing.
    """

    def __init__(self, kind: str, wrong: str, right: str, by_semicolons: str = "") -> None:
        super().__init__(wrong)
        self.said = (kind, wrong, right)
        self._by_semicolons = by_semicolons or right

    def said_of(self, mark: str) -> tuple[str, str, str]:
        """(kind, wrong, right) in a file whose columns `mark` parts."""
        kind, wrong, right = self.said
        return (kind, wrong, self._by_semicolons if mark == ";" else right)


@dataclass(frozen=True, slots=True)
class BookColumn:
    """Values of a column by row: `values[codes]`. Rows in `bad` were refused and hold None."""

    codes: Codes
    values: list[Any]
    bad: NDArray[np.bool_]

    def array(self, dtype: Any = object) -> NDArray[Any]:
        """One value a row. Shape [row]."""
        distinct = np.empty(len(self.values), dtype=dtype)
        distinct[:] = self.values
        return distinct[self.codes]

    def keys(self) -> Codes:
        """A number a row, equal where values are equal, however they were written. Shape [row]."""
        numbers: dict[Any, int] = {}
        distinct = [numbers.setdefault(value, len(numbers)) for value in self.values]
        return np.array(distinct, dtype=np.intp)[self.codes]

    def ranks(self) -> Codes:
        """A number a row that is the larger, the larger its value. Shape [row]."""
        rank = {value: n for n, value in enumerate(sorted(set(self.values)))}
        return np.array([rank[value] for value in self.values], dtype=np.intp)[self.codes]


def numbered(strings: Sequence[str]) -> tuple[Codes, list[str]]:
    """Each row's number, and the distinct strings those numbers stand for, without outer spaces.

    Returns [row].
    """
    cells = np.empty(len(strings), dtype=object)
    cells[:] = strings
    codes, distinct = pd.factorize(cells)
    return codes, [str(text).strip() for text in distinct]


def read_column(
    table: BookTable, name: str, read: Callable[[str], Any], faults: list[Fault], default: Any = None
) -> BookColumn:
    """A column with every string read; its faults are added to `faults`.

    A slip that runs through a whole file is said once: of a value in several rows the first is named, with
    how many follow, and of many different values the first five. After some hundred that cannot be read, the
    rest is not looked at: each refusal looks for the nearest word.

    A column that is not there holds `default`.
    """
    if name not in table.columns:
        none_bad = np.zeros(table.n_rows, bool)
        return BookColumn(np.zeros(table.n_rows, np.intp), [default], none_bad)
    codes, distinct = numbered(table.columns[name])
    values: list[Any] = []
    refused: dict[int, tuple[str, str, str]] = {}
    unread: list[int] = []
    for n, text in enumerate(distinct):
        if len(refused) > MAX_REFUSED:
            values.append(None)
            unread.append(n)
            continue
        try:
            values.append(read(_bounded(text)))
        except Misread as misread:
            values.append(None)
            refused[n] = misread.said_of(table.mark)
    if not refused:
        return BookColumn(codes, values, np.zeros(table.n_rows, bool))
    faults += _refusals(table, name, codes, refused, "at least " if unread else "")
    return BookColumn(codes, values, np.isin(codes, [*refused, *unread]))


def _bounded(text: str) -> str:
    """The text of a cell, refused where it is as long as a page."""
    if len(text) > fields.MAX_NOTES:
        right = "is a line end or a quote missing? export it again"
        raise Misread("long-text", f"{len(text)} characters are too many", right)
    return text


def _refusals(
    table: BookTable, name: str, codes: Codes, refused: Mapping[int, tuple[str, str, str]], at_least: str
) -> list[Fault]:
    """The faults of a column, those that are alike drawn together. codes : [row]."""
    faults: list[Fault] = []
    others: dict[str, list[int]] = {}
    n_said: dict[str, int] = {}
    for code, (kind, wrong, right) in refused.items():
        rows = np.flatnonzero(codes == code).tolist()
        n_said[kind] = n_said.get(kind, 0) + 1
        if n_said[kind] > MAX_ALIKE:
            others.setdefault(kind, []).extend(rows)
            continue
        if len(rows) > 1:
            wrong = f"{wrong} (and so in {_until(table, rows[1:], 'more row')})"
        faults.append(table.fault(name, rows[0], (kind, wrong, right)))
    for kind, rows in others.items():
        values = plural(n_said[kind] - MAX_ALIKE, "more value")
        wrong = f"{at_least}{values} like those above, in {_until(table, rows, 'row')}"
        faults.append(table.fault(name, min(rows), (kind, wrong, "correct them the same way")))
    return faults


def _until(table: BookTable, rows: Sequence[int], one: str) -> str:
    """`12 more rows, to line 40`, where `one` is a `more row`; of a single one `line 40`."""
    last = f"{'row' if table.letters else 'line'} {table.lines[max(rows)]}"
    return last if len(rows) == 1 else f"{plural(len(rows), one)}, to {last}"


@lru_cache(4096)  # the same days stand in every book
def a_day(text: str) -> date:
    """An ISO 8601 date, or a day as our own sheets print it when they are saved as csv: `Fri 27 Nov 2026`.

    Midnight after a date, as spreadsheets export it, is no more than the date.
    """
    if day := suggestions.day_of_week(text):
        return day
    try:
        return fields.a_date(_MIDNIGHT.sub("", text))
    except PydanticCustomError as error:
        raise _misread(error) from None


def a_day_or_none(text: str) -> date | None:
    """A date, or None where nothing is written."""
    return a_day(text) if text else None


def some_text(text: str) -> str:
    """Text of one line."""
    try:
        return fields.a_text(text) if text else ""
    except PydanticCustomError as error:
        raise _misread(error) from None


def _misread(error: PydanticCustomError) -> Misread:
    context = error.context or {}
    return Misread(error.type, context["wrong"], context["right"])


def decimal(text: str, is_whole: bool = False) -> Decimal:
    """A plain number, zero or more. `is_whole`: a fraction of it cannot be meant."""
    if _WRITTEN.fullmatch(text):
        return Decimal(text)
    shown = fields.shown(text)
    if not text:
        raise Misread("empty-value", "nothing is written", "write a number, 0 for none")
    if re.match(r"-\s*[0-9.]", text):
        raise Misread("negative-number", f"{shown} cannot be negative", "write 0 or more")
    if text.lower() in _NONE:
        raise Misread("bad-number", f"'{shown}' is not a number", "write 0 for none")
    if match := _WITH_UNIT.fullmatch(text):
        right = f"write only the number, {match[1]}: the unit has its own column"
        raise Misread("bad-number", f"'{shown}' is not a number", right)
    if plain := suggestions.amount(text):
        raise Misread("bad-number", f"'{shown}' is not a plain number", f"write {plain}")
    if "," in text:
        raise _with_comma(text, shown, is_whole)
    raise Misread("bad-number", f"'{shown}' is not a number", "write a plain number such as 12 or 3.5")


def _with_comma(text: str, shown: str, is_whole: bool) -> Misread:
    """What a number with a comma may mean: `1,500` is 1500 to some and 1.5 to others, never guessed."""
    wrong = f"'{shown}' has a comma"
    whole, point = text.replace(",", ""), text.replace(",", ".")
    may_be_point = not is_whole or text.endswith(",000")
    if may_be_point and re.fullmatch(r"[1-9][0-9]{0,2},[0-9]{3}", text):
        is_point = f"write {_short(point)}"
        both = f"write {whole} or {_short(point)}, the one that is meant"
        return Misread("bad-number", wrong, both, f"{is_point}, or {whole} if that is meant")
    if re.fullmatch(r"[0-9]{1,3}(,[0-9]{3})+(\.[0-9]+)?", text) and not text.startswith("0"):
        return Misread("bad-number", wrong, f"write {whole}")
    if re.fullmatch(r"[0-9]+,[0-9]+", text):
        return Misread("bad-number", wrong, f"write {point}")
    if re.fullmatch(r"[0-9]{1,3}(\.[0-9]{3})+,[0-9]+", text):
        return Misread("bad-number", wrong, f"write {text.replace('.', '').replace(',', '.')}")
    return Misread("bad-number", f"'{shown}' is not a number", "write a plain number such as 12 or 3.5")


def _short(point: str) -> str:
    """`1.500` as 1.5."""
    return point.rstrip("0").rstrip(".")


def number(text: str) -> Fraction:
    """An exact number, zero or more, up to 1,000,000,000; `1 1/2` as it is counted, too."""
    part = _PART.fullmatch(text)
    if part is not None and 0 < int(part[2]) < int(part[3]):
        return int(part[1] or 0) + Fraction(int(part[2]), int(part[3]))
    return Fraction(decimal(text))


def number_or_none(text: str) -> Fraction | None:
    """A number, or None where nothing is written."""
    return number(text) if text else None


def money_or_none(text: str) -> Decimal | None:
    """Money, or None where nothing is written."""
    return decimal(text) if text else None


def whole_number(largest: int, what: str) -> Callable[[str], float]:
    """A reader of whole numbers from 0 to `largest` as floats."""

    def read(text: str) -> float:
        amount = decimal(text, is_whole=True)
        if amount != int(amount):
            raise Misread("fraction-sold", f"{amount} {what} cannot be right", "write a whole number")
        if amount > largest:
            raise Misread("absurd-number", f"{amount} {what} cannot be right", f"check it: above {largest:,}")
        return float(amount)

    return read


def truth(text: str) -> bool:
    """Yes or no as tills and people write it."""
    word = text.lower()
    if word in _TRUE or word in _FALSE:
        return word in _TRUE
    raise Misread("bad-word", f"'{fields.shown(text)}' is neither yes nor no", "write yes, or leave it empty")


def unit(text: str) -> str:
    """A unit's own name."""
    if not text:
        raise Misread("empty-value", "nothing is written", "write the unit of the quantity: kg, l, each")
    try:
        return units.unit_name(text)
    except units.UnitError as error:
        raise Misread("bad-quantity", error.wrong, error.right) from None


def equal_rows(table: BookTable, keys: Sequence[Codes], what: str, remedy: str) -> list[Fault]:
    """A fault for each row whose keys are all those of an earlier row, naming both lines. keys : [row]."""
    if not table.n_rows:
        return []
    combined = keys[0].astype(np.int64)
    for key in keys[1:]:
        combined = combined * (int(key.max()) + 1) + key
        combined = pd.factorize(combined)[0].astype(np.int64)
    series = pd.Series(combined)
    again = np.flatnonzero(series.duplicated().to_numpy())
    if not len(again):
        return []
    first_row = series.drop_duplicates()
    first_of = dict(zip(first_row.to_numpy().tolist(), first_row.index.tolist(), strict=True))
    firsts = [table.lines[first_of[key]] for key in combined[again].tolist()]
    place = "row" if table.letters else "line"
    return [
        Fault(
            table.place,
            table.lines[row],
            "",
            f"{what} is already in {place} {first}{more}",
            remedy,
            "equal-rows",
        )
        for first, (row, more) in zip(firsts, first_of_alike(table, again.tolist()), strict=False)
    ]


def first_of_alike(table: BookTable, rows: Sequence[int]) -> list[tuple[int, str]]:
    """The first rows of those with the same fault, and behind the last of them how many more there are."""
    said = [(row, "") for row in rows[:MAX_ALIKE]]
    if others := rows[MAX_ALIKE:]:
        said[-1] = said[-1][0], f" (and so in {_until(table, others, 'more row')})"
    return said
