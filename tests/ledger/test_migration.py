"""A ledger of the second schema, written by the version that had it, carried over with everything in it.

`schema_2.ledger` holds two runs of one day with their forecasts; orders of both, one vendor's a day later; a
delivery of which a corrected file of the same name took two of three rows, and a second van; a count
of which a recount took one row; corrected waste; batches.
"""

import shutil
import sqlite3
from datetime import date, timedelta
from decimal import Decimal
from pathlib import Path

import pytest

from ordering.ledger import rows, store, versions
from ordering.ledger.connection import open_ledger, transaction
from ordering.records.books import Batch, CountedLot, Receipt, Waste
from ordering.records.documents import DELIVERY, Meant, Paper

THU = date(2026, 11, 26)
FRI, SAT = THU + timedelta(1), THU + timedelta(2)
OLD = Path(__file__).parent / "schema_2.ledger"


@pytest.fixture
def books(tmp_path):
    shutil.copy(OLD, tmp_path / "ledger.sqlite")
    return tmp_path


def test_every_order_is_carried_over_with_its_run_day_and_money(books):
    found = [
        (p.run, p.vendor, p.code, p.packs, p.proposed, p.amount, p.placed_on)
        for p in store.bookings(books).orders
    ]
    assert found == [
        ("2026-11-26", "miller", "M-1", 4, 3, Decimal("72.00"), THU),
        ("2026-11-26", "miller", "M-9", 2, 2, Decimal("8.00"), THU),
        ("2026-11-26-2", "miller", "M-9", 2, 2, Decimal("8.00"), THU),
        ("2026-11-26", "poulterer", "077", 5, 5, Decimal("90.00"), FRI),
    ]
    assert {p.vendor for p in store.bookings(books, THU).orders} == {"miller"}, "as it stood on Thursday"


def test_what_stood_still_stands_and_is_traced_to_a_document(books):
    found = store.bookings(books)
    assert [(b.number, b.version, b.record) for b in found.receipts] == [
        ("D-1", 2, Receipt(FRI, "poulterer", "077", "duck", 5.0, 10.6, Decimal("9.00"), date(2026, 12, 2))),
        ("D-2", 1, Receipt(SAT, "miller", "M-1", "flour", 4.0, 100.0, Decimal("18.50"))),
        ("D-3", 1, Receipt(SAT, "miller", "M-2", "flour", 1.0, 10.0)),
    ]
    assert [(b.at, b.record) for b in found.counts] == [
        ("C-1 version 2, line 1", CountedLot(THU, "yeast", 400.0)),
        ("C-2, line 1", CountedLot(THU, "flour", 29.0)),
        ("C-2, line 2", CountedLot(THU, "duck", 1.5, SAT)),
        ("C-2, line 3", CountedLot(THU, "duck", 2.0, date(2026, 11, 30))),
    ]
    assert [(b.number, b.record) for b in found.waste] == [
        ("W-2", Waste(FRI, "duck", 1.0, "late")),
        ("W-2", Waste(FRI, "flour", 0.5, "wet")),
    ]
    assert [b.record for b in found.batches] == [
        Batch(date(2026, 11, 25), "confit", 4.0, 1.6, "duck", "kg"),
        Batch(THU, "confit", 4.0, 1.7, "duck", "kg"),
    ]


def test_what_a_later_file_replaced_is_still_there_as_a_version(books):
    with open_ledger(books) as connection, transaction(connection):
        first = versions.lines_of(connection, "D-1", 1)
        assert [(line.code, line.packs) for line in first] == [("M-1", 3.0), ("M-9", 2.0), ("077", 5.0)]
        assert [line.quantity for line in versions.lines_of(connection, "C-1", 1)] == [28.0, 400.0]
        assert [line.quantity for line in versions.lines_of(connection, "W-1", 1)] == [2.0]
        assert versions.lines_of(connection, "W-1", 2) == ()
        assert versions.standing(connection, "D-3").source == "second-van.csv"


def test_forecasts_are_carried_over_and_the_last_run_of_the_day_counts(books):
    table = store.issued(books, THU, THU)
    assert set(table["run"]) == {"2026-11-26-2"}
    assert list(table["dish"]) == ["*", "pie", "*", "pie"]
    with sqlite3.connect(OLD) as old, open_ledger(books) as new, transaction(new):
        (before,) = old.execute("SELECT count(*) FROM forecasts").fetchone()
        assert new.execute("SELECT count(*) FROM portions").fetchone() == (before,)
    old.close()


def test_whoever_only_looks_at_an_old_ledger_changes_nothing(books):
    store.bookings(books)
    assert (books / "ledger.sqlite").read_bytes() == OLD.read_bytes()


def test_a_delivery_of_the_old_ledger_booked_again_is_the_same_delivery(books):
    van = rows.line_of_receipt(Receipt(SAT, "miller", "M-2", "flour", 1.0, 10.0), "kg")
    booking = store.book(books, Paper(DELIVERY, SAT, (van,)), SAT, Meant())
    assert (booking.number, booking.is_new) == ("D-3", False)
