"""What the rest of the program asks of the ledger and tells it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TypeVar

import numpy as np
import pandas as pd

from ordering.ledger import rows
from ordering.ledger.connection import ledger_path, open_ledger, transaction
from ordering.ledger.merge import merged
from ordering.records.books import Books
from ordering.records.house import House
from ordering.records.ledger import ISSUED_COLUMNS, Bookings
from ordering.records.plan import QUANTILES, Forecast

__all__ = [
    "booked_before",
    "bookings",
    "issued",
    "last_prices",
    "ledger_path",
    "open_ledger",
    "record_forecast",
    "spent",
    "transaction",
    "with_ledger",
]

T = TypeVar("T")
COVERS = "*"


def with_ledger(books: Books, house: House, books_dir: Path, on: date) -> Books:
    """The books with everything the ledger knew on the morning of `on`.

    Open orders become those still to come; receipts, counts, waste and batches are added. Where there is
    no ledger the books come back as they are, and none is made.

    Raises
    ------
    Refused : the ledger is damaged, of a later version, or in use
    """
    return merged(books, house, bookings(books_dir, on), on)[0]


def bookings(books_dir: Path, until: date = rows.ALL_DAYS) -> Bookings:
    """Everything that stands in the ledger up to the end of `until`; empty where there is no ledger."""
    return _read(books_dir, lambda connection: rows.bookings(connection, until), Bookings())


def record_forecast(books_dir: Path, run: str, forecast: Forecast, issued_on: date) -> None:
    """Keep a run's forecast as it was issued, covers (as dish `*`) and dishes, all quantiles.

    The same run recorded again takes the place of its first recording, so that nothing is held twice.
    """
    table = forecast_rows(run, forecast)
    with open_ledger(books_dir) as connection, transaction(connection):
        connection.execute("DELETE FROM forecasts WHERE run = ?", (run,))
        connection.execute(
            "INSERT OR REPLACE INTO runs (run, issued_on) VALUES (?, ?)", (run, issued_on.isoformat())
        )
        marks = ",".join("?" * (5 + len(QUANTILES)))
        connection.executemany(f"INSERT INTO forecasts VALUES ({marks})", table)


def forecast_rows(run: str, forecast: Forecast) -> list[tuple[object, ...]]:
    """Rows of the forecasts table: run, date, service, dish, mean and the quantiles. Pure.

    A dish with no portion expected on any path of a service has no row: it is not on that menu. A service of
    whose walk-ins nothing is known has none at all: nothing was foreseen to be held against what came.
    """
    covers = np.column_stack([forecast.covers_mean, forecast.covers_quantiles]).tolist()
    dishes = np.concatenate([forecast.mean[:, :, None], forecast.quantiles], axis=2)
    is_served = dishes.max(axis=2, initial=0.0) > 0
    portions = dishes.tolist()
    table: list[tuple[object, ...]] = []
    for s, slot in enumerate(forecast.slots):
        if s in forecast.unknown:
            continue
        key = (run, slot.date.isoformat(), slot.service)
        table.append((*key, COVERS, *covers[s]))
        served = np.flatnonzero(is_served[:, s]).tolist()
        table.extend((*key, forecast.dishes[d], *portions[d][s]) for d in served)
    return table


def issued(books_dir: Path, first_on: date, last_on: date) -> pd.DataFrame:
    """Forecasts as issued for services from `first_on` to `last_on`, columns `ISSUED_COLUMNS`.

    Where one day saw several runs, the last one made counts. Dates are datetime64; dish `*` is covers.
    """
    empty = pd.DataFrame({c: pd.Series(dtype="object") for c in ISSUED_COLUMNS})
    table = _read(books_dir, lambda connection: _issued(connection, first_on, last_on), empty)
    for column in ("issued_on", "date"):
        table[column] = pd.to_datetime(table[column]).astype("datetime64[ns]")
    numbers = list(ISSUED_COLUMNS[5:])
    table[numbers] = table[numbers].astype("float64")
    return table


def _issued(connection: sqlite3.Connection, first_on: date, last_on: date) -> pd.DataFrame:
    columns = ", ".join(f"f.{c}" if c != "issued_on" else "r.issued_on" for c in ISSUED_COLUMNS)
    found = connection.execute(
        f"SELECT {columns} FROM forecasts f JOIN runs r ON r.run = f.run "
        "WHERE f.date BETWEEN ? AND ? AND r.rowid = "
        "(SELECT max(other.rowid) FROM runs other WHERE other.issued_on = r.issued_on) "
        "ORDER BY f.date, f.service, f.dish, r.issued_on",
        (first_on.isoformat(), last_on.isoformat()),
    ).fetchall()
    return pd.DataFrame(found, columns=list(ISSUED_COLUMNS))


def booked_before(books_dir: Path, source: rows.SourceFile) -> str:
    """Day on which the same content was booked in, empty where it was not."""
    return _read(books_dir, lambda connection: rows.booked_before(connection, source), "")


def last_prices(books_dir: Path, until: date = rows.ALL_DAYS) -> dict[tuple[str, str], Decimal]:
    """What each vendor last charged for each code, by (vendor, code), as invoiced.

    In the terms of the offer's price as it is quoted: of one pack, for catch weight per unit of weight.
    Empty where there is no ledger.
    """
    query = "SELECT vendor, code, price FROM prices WHERE since <= ? ORDER BY since, id"
    found: list[tuple[str, str, str]] = _read(
        books_dir, lambda c: c.execute(query, (until.isoformat(),)).fetchall(), []
    )
    return {(vendor, code): Decimal(price) for vendor, code, price in found}


def spent(books_dir: Path, first_on: date, last_on: date) -> Decimal:
    """Money in orders placed from `first_on` to `last_on`, both included; zero where there is no ledger."""
    placed = bookings(books_dir, last_on).orders
    return sum((p.amount for p in placed if p.placed_on >= first_on), Decimal(0))


def _read(books_dir: Path, ask: Callable[[sqlite3.Connection], T], otherwise: T) -> T:
    """An answer from one unchanging view of the ledger; `otherwise` where there is no ledger yet."""
    if not ledger_path(books_dir).exists():
        return otherwise
    with open_ledger(books_dir) as connection:
        connection.execute("BEGIN")
        try:
            return ask(connection)
        finally:
            connection.execute("ROLLBACK")
