"""Listings to csv: plain numbers, ISO dates, and text that no spreadsheet runs."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from numbers import Integral, Real
from typing import Any

from ordering.records.page import Value

# Characters a spreadsheet takes as the beginning of a formula: OWASP ASVS 5.0, 1.2.10; CWE-1236.
RISKY = ("=", "+", "-", "@", "\t", "\r", "\0")
_SPECIAL = re.compile('[,"\r\n]')


def csv_bytes(columns: Sequence[str], rows: Iterable[Sequence[Value | bool]]) -> bytes:
    """A csv file: UTF-8, comma, one header row, lines ending in a line feed.

    Raises
    ------
    ValueError : a row has more or fewer values than there are columns
    TypeError : a value is of no kind a csv file holds
    """
    rows = tuple(rows)
    for row in rows:
        if len(row) != len(columns):
            raise ValueError(f"{len(row)} values for {len(columns)} columns: {row!r}")
    fields = map(_fields, zip(columns, *rows, strict=True))
    return "".join([f"{','.join(line)}\n" for line in zip(*fields, strict=True)]).encode("utf-8")


def _fields(column: tuple[Value | bool, ...]) -> list[str]:
    """A heading and its values as csv fields; ids and days come again and again and are worded once."""
    kinds = set(map(type, column[1:]))
    if kinds == {float}:  # never holds what needs quotes
        return [_quoted(plain(column[0])), *map(number, column[1:])]  # type: ignore[arg-type]
    if kinds <= {str, date, type(None)}:
        known = {value: _quoted(plain(value)) for value in set(column)}
        return [known[value] for value in column]
    return [_quoted(plain(value)) for value in column]


def _quoted(text: str) -> str:
    """A field as RFC 4180, 2.6 and 2.7 have it: in quotes where it holds a comma, quote or line break.

    Not left to `csv`: a column at a time it is several times quicker, and versions of Python differ in
    whether they quote a lone carriage return.
    """
    return '"' + text.replace('"', '""') + '"' if _SPECIAL.search(text) else text


def plain(value: Value | bool) -> str:
    """One value as csv text: `12.5`, `2026-11-26`, `2026-11-26T15:00`, `'=text`; nothing for none."""
    write = _BY_TYPE.get(type(value))
    if write is None:  # a number or text of another library
        write = next((of for kind, of in _BY_KIND.items() if isinstance(value, kind)), None)
    if write is None:
        raise TypeError(f"no csv text for {value!r}")
    return write(value)


def number(value: float) -> str:
    """A plain decimal: six significant digits below a million, none lost of a whole number above."""
    if not value:
        return "0"
    text = f"{value:.6g}"
    if "e" in text:
        text = f"{value:.0f}" if abs(value) > 1 else f"{value:.12f}".rstrip("0").rstrip(".")
    elif text[-1] in "nf":
        return ""
    return "0" if text == "-0" else text


def _text(value: str) -> str:
    return f"'{value}" if value.startswith(RISKY) else value


_BY_TYPE: Mapping[type, Callable[[Any], str]] = {
    type(None): lambda _: "",
    str: _text,
    bool: lambda value: "yes" if value else "no",
    int: str,
    float: number,
    Decimal: lambda value: f"{value:f}" if value.is_finite() else "",
    date: date.isoformat,
    datetime: lambda value: value.replace(tzinfo=None).isoformat(timespec="minutes"),
}

_BY_KIND: Mapping[type, Callable[[Any], str]] = {
    str: _text,
    Integral: lambda value: str(int(value)),
    Real: lambda value: number(float(value)),
}
