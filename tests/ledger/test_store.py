"""The ledger: whole or not at all, one thing once, and honest about what it cannot read."""

import signal
import sqlite3
import subprocess
import sys
import textwrap
from dataclasses import replace
from datetime import date, timedelta
from decimal import Decimal

import numpy as np
import pytest

from ordering.faults import Refused
from ordering.ledger import register, rows, schema, store
from ordering.ledger.connection import BUSY_SECONDS, ledger_path, open_ledger, transaction
from ordering.records.books import Batch, Books, CountedLot
from ordering.records.documents import BATCHES, DELIVERY, ORDER, Line, Meant, Paper
from ordering.records.house import House, Ingredient
from ordering.records.ledger import Placed
from ordering.records.plan import Forecast, Slot
from ordering.records.vendors import Vendor

ON = date(2026, 11, 26)
HOUSE = House("The Tiny", ingredients={"flour": Ingredient("flour", "Flour", "kg")})


def placed(**changes):
    line = {
        "number": "PO-0001",
        "run": "2026-11-26",
        "vendor": "miller",
        "code": "M-1",
        "item": "flour",
        "packs": 2,
        "proposed": 2,
        "quantity": 50.0,
        "unit": "kg",
        "price": Decimal("20.10"),
        "amount": Decimal("40.20"),
        "deliver_on": ON + timedelta(days=2),
        "placed_on": ON,
    }
    return Placed(**(line | changes))


def write_orders(connection, lines):
    """Each line as an order of its own run, vendor and day, written again with every line given."""
    for key in dict.fromkeys((p.run, p.vendor, p.deliver_on) for p in lines):
        kept = [p for p in lines if (p.run, p.vendor, p.deliver_on) == key]
        known = [p for p in rows.orders(connection) if (p.run, p.vendor, p.deliver_on) == key]
        told = {p.code: rows.line_of_order(p) for p in (*known, *kept)}
        number = known[0].number if known else ""
        paper = Paper(ORDER, key[2], tuple(told.values()), number, key[1], run=key[0])
        register.write(connection, paper, ON, "PO-")


def tiny_forecast():
    """Two services, two dishes (the second off the menu), one path."""
    slots = (Slot(ON, "lunch", 0), Slot(ON, "dinner", 0))
    quantiles = np.arange(7.0)
    return Forecast(
        (ON,),
        slots,
        ("pie", "soup"),
        np.array([10.0, 20.0]),
        np.stack([quantiles + 7, quantiles + 17]),
        np.zeros((2, 1)),
        np.array([[3.0, 4.0], [0.0, 0.0]]),
        np.stack([np.stack([quantiles, quantiles + 1]), np.zeros((2, 7))]),
        np.zeros((2, 2, 1)),
        np.zeros((2, 2)),
        np.full(2, np.nan),
    )


def test_a_command_waits_for_another_as_long_as_a_person_would():
    """About a minute (common practice, no source): the slowest command holds the ledger for some seconds."""
    assert 45 <= BUSY_SECONDS <= 90


def test_without_a_ledger_the_books_come_back_and_no_file_is_made(tmp_path):
    books = Books(counts=(CountedLot(ON, "flour", 3.0),))
    assert store.with_ledger(books, HOUSE, tmp_path, ON) == books
    assert store.last_prices(tmp_path) == {}
    assert store.spent(tmp_path, House("Home"), ON, ON) == 0
    assert store.issued(tmp_path, ON, ON).empty
    assert list(tmp_path.iterdir()) == []


def test_a_forecast_is_kept_as_issued_with_every_quantile(tmp_path):
    store.record_forecast(tmp_path, "2026-11-26", tiny_forecast(), ON)
    table = store.issued(tmp_path, ON, ON)
    assert list(table["dish"]) == ["*", "pie", "*", "pie"]
    dinner = table[(table["service"] == "dinner") & (table["dish"] == "pie")].iloc[0]
    assert dinner["mean"] == 4.0
    assert list(dinner[["q05", "q50", "q95"]]) == [1.0, 4.0, 7.0]
    assert dinner["issued_on"].date() == ON


def test_what_nothing_is_known_of_is_not_kept_as_a_forecast_of_nobody(tmp_path):
    """Held against what came, a zero would be called a forecast that was all wrong."""
    store.record_forecast(tmp_path, "2026-11-26", replace(tiny_forecast(), unknown=frozenset({0})), ON)
    table = store.issued(tmp_path, ON, ON)
    assert list(table["dish"]) == ["*", "pie"]
    assert len(set(table["service"])) == 1


def test_the_same_run_recorded_again_is_not_held_twice(tmp_path):
    for _ in range(2):
        store.record_forecast(tmp_path, "2026-11-26", tiny_forecast(), ON)
    assert len(store.issued(tmp_path, ON, ON)) == 4


def test_of_two_runs_on_one_day_the_last_counts(tmp_path):
    store.record_forecast(tmp_path, "2026-11-26", tiny_forecast(), ON)
    store.record_forecast(tmp_path, "2026-11-26-2", tiny_forecast(), ON)
    assert set(store.issued(tmp_path, ON, ON)["run"]) == {"2026-11-26-2"}


@pytest.mark.parametrize(("waived_over", "money"), [(None, "5.30"), ("0.30", "0.30")])
def test_what_was_spent_counts_the_fee_of_a_delivery_once_unless_it_is_waived(tmp_path, waived_over, money):
    with open_ledger(tmp_path) as connection, transaction(connection):
        lines = [placed(amount=Decimal("0.10")), placed(code="M-2", amount=Decimal("0.20"))]
        write_orders(connection, lines)
    over = None if waived_over is None else Decimal(waived_over)
    seller = Vendor(lines[0].vendor, "Seller", delivery_fee=Decimal(5), fee_waived_over=over)
    home = House("Home", vendors={seller.id: seller})
    assert store.spent(tmp_path, home, ON, ON) == Decimal(money)


def test_money_goes_in_and_out_as_decimal(tmp_path):
    with open_ledger(tmp_path) as connection, transaction(connection):
        lines = [placed(amount=Decimal("0.10")), placed(code="M-2", amount=Decimal("0.20"))]
        write_orders(connection, lines)
    home = House("Home")
    assert store.spent(tmp_path, home, ON, ON) == Decimal("0.30")
    assert store.bookings(tmp_path).orders[0].price == Decimal("20.10")
    assert store.spent(tmp_path, home, ON + timedelta(days=1), ON + timedelta(days=7)) == 0


def delivery(*lines, **more):
    """A list of what came; each line is (day, code, packs, price)."""
    kept = [
        Line(day, "flour", packs * 25.0, "kg", "miller", code, packs, Decimal(price) if price else None)
        for day, code, packs, price in lines
    ]
    return Paper(DELIVERY, kept[0].day, tuple(kept), source="a.csv", **more)


def test_the_last_price_is_the_one_of_the_latest_delivery(tmp_path):
    came = [(ON, "M-1", 1.0, "21.50"), (ON - timedelta(7), "M-1", 1.0, "20"), (ON, "M-2", 1.0, None)]
    store.book(tmp_path, delivery(*came), ON, Meant())
    assert store.last_prices(tmp_path) == {("miller", "M-1"): Decimal("21.50")}
    assert store.last_prices(tmp_path, ON - timedelta(1)) == {("miller", "M-1"): Decimal("20")}


def test_a_refused_change_leaves_nothing_behind(tmp_path):
    with open_ledger(tmp_path) as connection, transaction(connection):
        write_orders(connection, [placed()])
    with pytest.raises(ZeroDivisionError), open_ledger(tmp_path) as connection, transaction(connection):
        write_orders(connection, [placed(code="M-2"), placed(packs=1 // len(HOUSE.vendors))])
    assert store.bookings(tmp_path).orders == (placed(),)


def test_a_ledger_that_was_never_written_leaves_no_file(tmp_path):
    with pytest.raises(ZeroDivisionError), open_ledger(tmp_path) as connection, transaction(connection):
        write_orders(connection, [placed(packs=1 // len(HOUSE.vendors))])
    assert list(tmp_path.iterdir()) == []


def test_a_command_that_waited_for_a_ledger_that_was_taken_away_writes_into_no_lost_file(tmp_path):
    def wait():
        with open_ledger(tmp_path) as waiting:
            with pytest.raises(ZeroDivisionError), open_ledger(tmp_path) as first, transaction(first):
                write_orders(first, [placed(packs=1 // len(HOUSE.vendors))])
            with transaction(waiting):
                write_orders(waiting, [placed()])

    with pytest.raises(Refused):
        wait()
    assert list(tmp_path.iterdir()) == []


def test_a_value_that_cannot_stand_there_is_damage_said_in_words(tmp_path):
    """One bit is enough to make a day of one that is none."""
    with open_ledger(tmp_path) as connection, transaction(connection):
        write_orders(connection, [placed()])
    path = ledger_path(tmp_path)
    content = path.read_bytes()
    path.write_bytes(content.replace(b"2026-11-28", b"2026-11-68"))
    with pytest.raises(Refused) as refused:
        store.bookings(tmp_path)
    assert [f.kind for f in refused.value.faults] == ["ledger-damaged"]


KILLED = """
    import os, signal, sys
    from pathlib import Path
    sys.path.insert(0, {tests!r})
    import sqlite3
    from ordering.ledger import register, schema
    from ordering.ledger.connection import open_ledger, transaction
    from datetime import date
    from ordering.records.documents import Line, Paper
    {before}
    with open_ledger(Path({books!r})) as connection, transaction(connection):
        connection.execute("PRAGMA cache_size = 1")
        on = date(2026, 11, 26)
        lines = tuple(Line(on, "flour", 1.0, "kg", "v", f"c{{n}}", 1.0) for n in range(5000))
        register.write(connection, Paper("order", on, lines, party="v", run="r"), on, "PO-")
        os.kill(os.getpid(), signal.SIGKILL)
"""


def killed(tmp_path, before=""):
    script = textwrap.dedent(KILLED).format(tests="", books=str(tmp_path), before=before)
    done = subprocess.run([sys.executable, "-c", script], check=False, capture_output=True, text=True)
    assert done.returncode == -signal.SIGKILL, done.stderr


def test_killed_in_the_middle_of_booking_it_is_whole_and_the_command_can_be_run_again(tmp_path):
    """Five thousand lines with a cache of one page: half of them are in the file when the process dies."""
    with open_ledger(tmp_path) as connection, transaction(connection):
        write_orders(connection, [placed()])
    killed(tmp_path)
    assert (tmp_path / "ledger.sqlite-journal").exists(), "the journal of a half-written booking"
    with open_ledger(tmp_path) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
        assert rows.orders(connection) == (placed(),)
        with transaction(connection):
            write_orders(connection, [placed(code="M-2")])
        assert len(rows.orders(connection)) == 2


def test_killed_in_the_middle_of_a_migration_it_is_still_the_old_version(tmp_path):
    kill = """
schema.MIGRATIONS += (("CREATE TABLE one (x)", "CREATE TABLE two (x)"),)
import ordering.ledger.connection as c
c.MIGRATIONS, c.VERSION = schema.MIGRATIONS, len(schema.MIGRATIONS)
import builtins
real = sqlite3.connect
class Dying(sqlite3.Connection):
    def execute(self, text, *more):
        if "CREATE TABLE two" in text:
            os.kill(os.getpid(), signal.SIGKILL)
        return super().execute(text, *more)
sqlite3.connect = lambda *a, **k: real(*a, **k, factory=Dying)
"""
    with open_ledger(tmp_path) as connection, transaction(connection):
        pass
    killed(tmp_path, kill)
    with open_ledger(tmp_path) as connection:
        assert connection.execute("PRAGMA user_version").fetchone() == (schema.VERSION,)
        names = {r[0] for r in connection.execute("SELECT name FROM sqlite_master")}
        assert not {"one", "two"} & names


def test_an_older_ledger_is_brought_up_to_date_with_its_rows(tmp_path, monkeypatch):
    with open_ledger(tmp_path) as connection, transaction(connection):
        write_orders(connection, [placed()])
    later = (*schema.MIGRATIONS, ("ALTER TABLE documents ADD COLUMN note TEXT",))
    monkeypatch.setattr("ordering.ledger.connection.MIGRATIONS", later)
    monkeypatch.setattr("ordering.ledger.connection.VERSION", len(later))
    with open_ledger(tmp_path) as connection, transaction(connection):
        assert connection.execute("PRAGMA user_version").fetchone() == (len(later),)
        assert "note" in {r[1] for r in connection.execute("PRAGMA table_info(documents)")}
        assert rows.orders(connection) == (placed(),)


def test_batches_of_the_first_schema_are_read_as_they_were_written(tmp_path, monkeypatch):
    """What they drew has no unit beside it; what is booked from then on has."""
    with monkeypatch.context() as before:
        before.setattr("ordering.ledger.connection.MIGRATIONS", schema.MIGRATIONS[:1])
        before.setattr("ordering.ledger.connection.VERSION", 1)
        with open_ledger(tmp_path) as connection, transaction(connection):
            connection.execute("INSERT INTO files VALUES (1, 'batches', 'b.csv', '', '', '2026-11-26')")
            connection.execute(
                "INSERT INTO batches (file, started_on, recipe, drawn, made, unit) "
                "VALUES (1, '2026-11-26', 'dough', 1.0, 0.9, 'kg')"
            )
    new = Batch(ON, "dough", 1.0, 0.9, "flour", "kg")
    store.book(tmp_path, Paper(BATCHES, ON, (rows.line_of_batch(new, "kg"),)), ON, Meant(is_further=True))
    assert [(b.number, b.record) for b in store.bookings(tmp_path).batches] == [
        ("B-1", Batch(ON, "dough", 1.0, 0.9)),
        ("B-2", new),
    ]


def refused_kinds(tmp_path, **options):
    with pytest.raises(Refused) as refused, open_ledger(tmp_path, **options):
        pass
    return [fault.kind for fault in refused.value.faults]


def test_a_ledger_of_a_later_version_is_refused(tmp_path):
    with open_ledger(tmp_path) as connection, transaction(connection):
        connection.execute(f"PRAGMA user_version = {schema.VERSION + 1}")
    assert refused_kinds(tmp_path) == ["later-ledger"]


def test_another_program_s_database_is_refused_and_not_touched(tmp_path):
    with sqlite3.connect(ledger_path(tmp_path)) as other:
        other.execute("CREATE TABLE theirs (x)")
    other.close()
    before = ledger_path(tmp_path).read_bytes()
    assert refused_kinds(tmp_path) == ["no-ledger"]
    assert ledger_path(tmp_path).read_bytes() == before


def test_a_damaged_ledger_is_refused_in_words(tmp_path):
    ledger_path(tmp_path).write_bytes(b"date,item\n" * 500)
    assert refused_kinds(tmp_path) == ["ledger-damaged"]


def test_two_commands_at_once_wait_and_then_say_so(tmp_path):
    with open_ledger(tmp_path) as first, transaction(first):
        write_orders(first, [placed()])
        with pytest.raises(Refused) as refused, open_ledger(tmp_path, 0.05) as second, transaction(second):
            pass
    assert [f.kind for f in refused.value.faults] == ["ledger-busy"]
    assert "run this one again" in str(refused.value)
    with open_ledger(tmp_path, 0.05) as second, transaction(second):
        write_orders(second, [placed(code="M-2")])
    assert len(store.bookings(tmp_path).orders) == 2


def test_a_folder_that_is_not_there_is_refused(tmp_path):
    assert refused_kinds(tmp_path / "none") == [""]
    assert list(tmp_path.iterdir()) == []
