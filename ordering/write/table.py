"""Listings to csv: plain numbers, ISO dates, and text that no spreadsheet runs."""

from __future__ import annotations

import csv
from collections.abc import Callable, Iterable, Mapping, Sequence
from datetime import date, datetime
from decimal import Decimal
from numbers import Integral, Real
from typing import Any

from ordering.records.page import Value

# Characters a spreadsheet takes as the beginning of a formula: OWASP ASVS 5.0, 1.2.10; CWE-1236.
RISKY = ("=", "+", "-", "@", "\t", "\r", "\0")


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
    worded = list(map(_worded, zip(columns, *rows, strict=True)))
    text = _unquoted(worded)
    if text is None:
        lines = _Lines()
        csv.writer(lines, lineterminator=_Lines.END).writerows(zip(*worded, strict=True))
        text = "".join(lines)
    return text.encode("utf-8")


def _unquoted(columns: Sequence[Sequence[str]]) -> str | None:
    """Columns, headings first, as lines where no cell needs quotes; else None.

    So are the long listings, and joining them takes a fifth of a csv writer's time.
    """
    lines = list(map(",".join, zip(*columns, strict=True)))
    text = "\n".join(lines) + "\n"
    is_plain = text.count(",") == len(lines) * (len(columns) - 1) and text.count("\n") == len(lines)
    return text if is_plain and len(columns) > 1 and '"' not in text and "\r" not in text else None


class _Lines(list[str]):
    """What a csv writer writes, line by line, each ending in a line feed.

    Some versions of Python quote a carriage return only where it is part of the line's end, so the writer is
    told that it is.
    """

    END = "\r\n"

    def write(self, line: str) -> None:
        self.append(line.removesuffix(self.END) + "\n")


def _worded(column: tuple[Value | bool, ...]) -> list[str]:
    """A heading and its values as text; ids and days come again and again and are worded once."""
    kinds = set(map(type, column[1:]))
    if kinds == {float}:
        return [plain(column[0]), *_numbers(column[1:])]  # type: ignore[arg-type]
    if kinds <= {str, date, type(None)}:
        known = {value: plain(value) for value in set(column)}
        return [known[value] for value in column]
    return list(map(plain, column))


def plain(value: Value | bool) -> str:
    """One value as csv text: `12.5`, `2026-11-26`, `2026-11-26T15:00`, `'=text`; nothing for none."""
    write = _BY_TYPE.get(type(value))
    if write is None:  # a number or text of another library
        write = next((of for kind, of in _BY_KIND.items() if isinstance(value, kind)), None)
    if write is None:
        raise TypeError(f"no csv text for {value!r}")
    return write(value)


def _numbers(values: Sequence[float]) -> list[str]:
    """Each as `number` writes it: one format for all, and those anew that need another than `%.6g`."""
    text = "%.6g " * len(values) % tuple(values)
    if not ("e" in text or "n" in text or "-0 " in text):
        return text.split()
    return [
        number(value) if "e" in one or "n" in one or one == "-0" else one
        for one, value in zip(text.split(), values, strict=True)
    ]


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
