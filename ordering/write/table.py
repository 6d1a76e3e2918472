"""Listings to csv: plain numbers, ISO dates, and text that no spreadsheet runs."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from decimal import Decimal

from ordering.records.page import Value

# Characters a spreadsheet takes as the beginning of a formula: OWASP ASVS 5.0, 1.2.10; CWE-1236.
RISKY = ("=", "+", "-", "@", "\t", "\r", "\0")
N_DIGITS = 6


def csv_bytes(columns: Sequence[str], rows: Iterable[Sequence[Value | bool]]) -> bytes:
    """A csv file: UTF-8, comma, one header row, lines ending in a line feed.

    Raises
    ------
    ValueError : a row has more or fewer values than there are columns
    """
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(columns)
    for row in rows:
        if len(row) != len(columns):
            raise ValueError(f"{len(row)} values for {len(columns)} columns: {row!r}")
        writer.writerow([plain(value) for value in row])
    return buffer.getvalue().encode("utf-8")


def plain(value: Value | bool) -> str:
    """One value as csv text: `12.5`, `2026-11-26`, `2026-11-26T15:00`, `'=text`; nothing for none."""
    if value is None:
        return ""
    if isinstance(value, str):
        return f"'{value}" if value.startswith(RISKY) else value
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, datetime):
        return value.replace(tzinfo=None).isoformat(timespec="minutes")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return f"{value:f}" if value.is_finite() else ""
    return number(value)


def number(value: float) -> str:
    """A plain decimal: six significant digits below a million, none lost of a whole number above."""
    if not math.isfinite(value):
        return ""
    if abs(value) >= 10**N_DIGITS or value == int(value):
        return f"{value:.0f}" if round(value) else "0"
    n_decimals = min(12, N_DIGITS - 1 - math.floor(math.log10(abs(value))))
    text = f"{value:.{n_decimals}f}"
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return "0" if text == "-0" else text
