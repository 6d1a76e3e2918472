"""What the rest of the program asks of the ledger and tells it."""

from __future__ import annotations

import sqlite3
from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import TypeVar

import numpy as np
import pandas as pd

from ordering.faults import Refused
from ordering.ledger import look_alikes, register, rows, versions
from ordering.ledger.connection import ledger_path, open_ledger, read_ledger, transaction
from ordering.ledger.merge import merged
from ordering.records.books import Books
from ordering.records.buying import DeliveryKey
from ordering.records.documents import (
    CREDIT,
    DELIVERY,
    FORECAST,
    ORDER,
    Booking,
    Document,
    Line,
    Meant,
    Paper,
)
from ordering.records.house import House
from ordering.records.ledger import ISSUED_COLUMNS, Bookings, Placed
from ordering.records.money import fee_for
from ordering.records.plan import QUANTILES, Forecast

__all__ = [
    "add_forecast",
    "book",
    "booked_before",
    "bookings",
    "credit_of",
    "document",
    "give_number",
    "issued",
    "known_runs",
    "last_prices",
    "ledger_path",
    "lines_of",
    "n_runs",
    "number_orders",
    "open_ledger",
    "order_numbers",
    "orders_of_run",
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


def bookings(books_dir: Path, until: date = rows.ALL_DAYS, since: date = date.min) -> Bookings:
    """Everything that stands in the ledger from `since` to the end of `until`; empty where there is none."""
    return _read(books_dir, lambda connection: rows.bookings(connection, until, since), Bookings())


def record_forecast(books_dir: Path, run: str, forecast: Forecast, issued_on: date) -> None:
    """Keep a run's forecast as it was issued, covers (as dish `*`) and dishes, all quantiles.

    The same run recorded again takes the place of its first recording, so that nothing is held twice.
    """
    with open_ledger(books_dir) as connection, transaction(connection):
        add_forecast(connection, run, forecast, issued_on)


def add_forecast(connection: sqlite3.Connection, run: str, forecast: Forecast, issued_on: date) -> None:
    """Note the forecast of a run as a document of its own, in an open transaction."""
    known = [d for d in versions.of_run(connection, run) if d.kind == FORECAST]
    paper = Paper(FORECAST, issued_on, (), number=known[0].number if known else "", run=run)
    version = register.write(connection, paper, issued_on)
    marks = ",".join("?" * (5 + len(QUANTILES)))
    connection.executemany(
        f"INSERT INTO portions VALUES ({marks})", ((version, *row) for row in forecast_rows(forecast))
    )


def number_orders(
    connection: sqlite3.Connection, run: str, drops: Iterable[DeliveryKey], on: date, prefix: str
) -> dict[DeliveryKey, str]:
    """A number for each order of a run, by vendor and day; none of them was ever given before."""
    return {
        drop: register.give_number(connection, Paper(ORDER, drop[1], (), party=drop[0], run=run), on, prefix)
        for drop in sorted(set(drops), key=lambda drop: (drop[1], drop[0]))
    }


def order_numbers(books_dir: Path, run: str) -> dict[DeliveryKey, str]:
    """The numbers of a run's orders by vendor and day, placed or not."""
    found: list[Document] = _read(books_dir, lambda c: list(versions.of_run(c, run)), [])
    return {(d.party, d.day): d.number for d in found if d.kind == ORDER}


def orders_of_run(books_dir: Path, run: str) -> list[tuple[Document, tuple[Line, ...]]]:
    """Orders placed of a run, and those of others that it took back, as they stand with their lines."""

    def ask(connection: sqlite3.Connection) -> list[tuple[Document, tuple[Line, ...]]]:
        own = [d for d in versions.of_run(connection, run) if d.kind == ORDER and d.version]
        found = [*own, *versions.written_by(connection, ORDER, run)]
        return [(d, versions.lines_of(connection, d.number, d.version)) for d in found]

    return _read(books_dir, ask, [])


def credit_of(books_dir: Path, delivery: str) -> str:
    """The number of the credit that belongs to a delivery; empty where nothing went back with it."""
    found: list[Document] = _read(books_dir, lambda c: list(versions.of_run(c, delivery)), [])
    return next((d.number for d in found if d.kind == CREDIT), "")


def lines_of(books_dir: Path, number: str, version: int) -> tuple[Line, ...]:
    """The lines of one version of a document."""
    return _read(books_dir, lambda connection: versions.lines_of(connection, number, version), ())


def n_runs(connection: sqlite3.Connection) -> int:
    """How many runs the ledger knows."""
    query = "SELECT count(*) FROM documents WHERE kind = ?"
    return int(connection.execute(query, (FORECAST,)).fetchone()[0])


def known_runs(books_dir: Path) -> set[str]:
    """The identities of all runs the ledger knows."""
    query = "SELECT DISTINCT run FROM documents WHERE run <> '' AND kind IN ('forecast', 'order')"
    return _read(books_dir, lambda connection: {row[0] for row in connection.execute(query)}, set())


def forecast_rows(forecast: Forecast) -> list[tuple[object, ...]]:
    """Rows of a forecast as they are kept: date, service, dish, mean and the quantiles. Pure.

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
        key = (slot.date.isoformat(), slot.service)
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
    found = connection.execute(
        "WITH last AS (SELECT id, run, booked_on, max(document) FROM standing WHERE kind = ? "
        "GROUP BY booked_on) "
        "SELECT last.run, last.booked_on, p.date, p.service, p.dish, p.mean, "
        "p.q05, p.q10, p.q25, p.q50, p.q75, p.q90, p.q95 "
        "FROM portions p JOIN last ON last.id = p.version WHERE p.date BETWEEN ? AND ? "
        "ORDER BY p.date, p.service, p.dish, last.booked_on",
        (FORECAST, first_on.isoformat(), last_on.isoformat()),
    ).fetchall()
    return pd.DataFrame(found, columns=list(ISSUED_COLUMNS))


def last_prices(books_dir: Path, until: date = rows.ALL_DAYS) -> dict[tuple[str, str], Decimal]:
    """What each vendor last charged for each code, by (vendor, code), as invoiced.

    In the terms of the offer's price as it is quoted: of one pack, for catch weight per unit of weight.
    Empty where there is no ledger.
    """
    query = (
        "SELECT l.party, l.code, l.price FROM standing s JOIN lines l ON l.version = s.id "
        "WHERE s.kind = ? AND l.price IS NOT NULL AND l.day <= ? ORDER BY l.day, s.id, l.line"
    )
    found: list[tuple[str, str, str]] = _read(
        books_dir, lambda c: c.execute(query, (DELIVERY, until.isoformat())).fetchall(), []
    )
    return {(vendor, code): Decimal(price) for vendor, code, price in found}


def spent(books_dir: Path, house: House, first_on: date, last_on: date) -> Decimal:
    """Money in orders placed from `first_on` to `last_on`, both included; zero where there is no ledger.

    With the fee of each delivery by the vendor's terms of today.
    """
    placed: tuple[Placed, ...] = _read(books_dir, lambda c: rows.orders(c, last_on, first_on), ())
    goods: dict[DeliveryKey, Decimal] = defaultdict(Decimal)
    for p in placed:
        if p.placed_on >= first_on:
            goods[p.vendor, p.deliver_on] += p.amount
    fees = (fee_for(house.vendors[v], of) for (v, _), of in goods.items() if v in house.vendors)
    return sum(goods.values(), Decimal(0)) + sum(fees, Decimal(0))


def book(books_dir: Path, paper: Paper, on: date, meant: Meant) -> Booking:
    """Book one paper in, as `book_all`."""
    return book_all(books_dir, [paper], on, meant)[0]


def book_all(books_dir: Path, papers: Sequence[Paper], on: date, meant: Meant) -> list[Booking]:
    """Book papers in together: all of them or none; `register.book` says how each is.

    The first is the one that `meant` speaks of; the others belong to it.

    Raises
    ------
    Refused : there is no document of a number, one looks like another, or the ledger cannot be written;
        nothing has been
    """
    for paper in papers:
        if not _has_ledger(books_dir) and (number := meant.corrects or paper.number):
            raise Refused([register.no_document(paper.source, paper.kind, number, "there is no ledger yet")])
    first, *others = papers
    with open_ledger(books_dir) as connection, transaction(connection):
        found = [register.book(connection, first, on, meant)]
        beside = replace(meant, corrects="")
        for paper in others:
            found.append(register.book(connection, replace(paper, run=found[0].number), on, beside))
        return found


def booked_before(books_dir: Path, paper: Paper) -> Booking | None:
    """The booking of the same content that stands, None where there is none."""
    return _read(books_dir, lambda connection: look_alikes.booked_before(connection, paper), None)


def give_number(books_dir: Path, form: Paper, on: date) -> str:
    """A number never given before, to be printed on a form."""
    with open_ledger(books_dir) as connection, transaction(connection):
        return register.give_number(connection, form, on)


def document(books_dir: Path, number: str) -> Document | None:
    """The document of a number as it stands; None where there is none."""
    return _read(books_dir, lambda connection: versions.standing(connection, number), None)


def _has_ledger(books_dir: Path) -> bool:
    with read_ledger(books_dir) as connection:
        return connection is not None


def _read(books_dir: Path, ask: Callable[[sqlite3.Connection], T], otherwise: T) -> T:
    """An answer from one unchanging view of the ledger; `otherwise` where there is no ledger yet."""
    with read_ledger(books_dir) as connection:
        return otherwise if connection is None else ask(connection)
