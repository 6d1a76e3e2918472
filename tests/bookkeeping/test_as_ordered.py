"""What comes as it was ordered: whole orders by number, ok on a line, the column of an order sheet."""

from __future__ import annotations

import csv
from dataclasses import replace
from datetime import datetime, timedelta
from decimal import Decimal

import openpyxl
import pytest
from kitchens import (
    CONFIG,
    LINES,
    SAT,
    delivery_sheet,
    door,
    fill,
    placed,
    received,
    refused,
)

from ordering import bookkeeping
from ordering.records.documents import Meant


def test_a_whole_order_comes_as_ordered_by_its_number(kitchen):
    """Nobody types 39 lines with the driver waiting."""
    placed(kitchen)
    report = bookkeeping.receive_as_ordered(
        kitchen.config, kitchen.books, ["PO-0001", "PO-0002"], SAT, Meant(), None
    )
    assert report.status == 0
    came = {(b.record.code, b.record.packs, b.record.quantity) for b in kitchen.ledger().receipts}
    assert came == {("M-1", 3.0, 75.0), ("M-9", 2.0, 1000.0), ("077", 5.0, 10.0)}
    again = refused(
        lambda: bookkeeping.receive_as_ordered(kitchen.config, kitchen.books, ["PO-0001"], SAT, Meant(), None)
    )
    assert "all of it has been booked in" in str(again)
    unknown = refused(
        lambda: bookkeeping.receive_as_ordered(kitchen.config, kitchen.books, ["PO-0009"], SAT, Meant(), None)
    )
    assert "there is no order of this number" in str(unknown)


def test_a_line_may_come_as_ordered_beside_one_that_does_not(kitchen):
    placed(kitchen)
    report = door(kitchen, "2026-11-28,miller,M-1,as ordered,,,\n2026-11-28,miller,M-9,1,,,\n")
    assert {(b.record.code, b.record.packs) for b in kitchen.ledger().receipts} == {
        ("M-1", 3.0),
        ("M-9", 1.0),
    }
    assert any("short: M-9 Yeast" in line for line in report.lines)


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_the_sheet_comes_back_as_it_was_ordered_by_one_tick_as_a_workbook_or_as_csv(kitchen, kind):
    placed(kitchen)
    out = kitchen.folder / "door.xlsx"
    bookkeeping.receive_out(kitchen.config, kitchen.books, SAT, out)
    book = openpyxl.load_workbook(out)
    page = book.active
    tick = next(row for row in page.iter_rows() if row[0].value == "all as ordered")
    tick[1].value = "x"
    book.save(out)
    if kind == "csv":
        out = kitchen.folder / "door.csv"
        rows = [["" if c.value is None else str(c.value).removesuffix(" 00:00:00") for c in r] for r in page]
        out.write_text("\n".join(",".join(f'"{cell}"' for cell in row) for row in rows))
    report = bookkeeping.receive(kitchen.config, kitchen.books, out, SAT, Meant())
    assert report.lines[0] == "Booked in as D-1"
    came = {(b.record.code, b.record.packs) for b in kitchen.ledger().receipts}
    assert came == {("M-1", 3.0), ("M-9", 2.0), ("077", 5.0)}


def test_the_received_column_of_the_order_sheet_is_a_delivery(kitchen):
    placed(kitchen)
    sheet = kitchen.runs / "2026-11-26" / "orders" / "miller.xlsx"
    filled_in = received(sheet, {"M-1": 2, "M-9": "ok"})
    report = bookkeeping.receive(kitchen.config, kitchen.books, filled_in, SAT, Meant())
    assert any("short: M-1 Bread flour: 2 of 3 packs came" in line for line in report.lines)
    assert {(b.record.code, b.record.packs) for b in kitchen.ledger().receipts} == {
        ("M-1", 2.0),
        ("M-9", 2.0),
    }


@pytest.mark.parametrize("shown", ["Sat 28 Nov", "11/28/2026", "2026-11-28"])
def test_the_received_column_is_read_from_a_csv_too_however_the_spreadsheet_wrote_the_day(kitchen, shown):
    placed(kitchen)
    sheet = kitchen.runs / "2026-11-26" / "orders" / "miller.xlsx"
    rows = openpyxl.load_workbook(received(sheet, {"M-1": "ok"})).active.iter_rows(values_only=True)
    file = kitchen.folder / "miller.csv"
    with file.open("w", newline="") as out:
        csv.writer(out).writerows([[shown if isinstance(c, datetime) else c for c in row] for row in rows])
    bookkeeping.receive(kitchen.config, kitchen.books, file, SAT, Meant())
    assert [(b.record.code, b.record.packs) for b in kitchen.ledger().receipts] == [("M-1", 3.0)]


def test_ok_on_an_order_sheet_is_what_that_order_asks_for(kitchen):
    """A second order adds a sack for the same day; its van comes alone. The first is still to come."""
    placed(kitchen)
    kitchen.make_run([replace(LINES[0], packs=1, quantity=25.0, amount=Decimal(20))])
    kitchen.place(run="2026-11-26-2")
    sheet = kitchen.runs / "2026-11-26-2" / "orders" / "miller.xlsx"
    filled_in = received(sheet, {"M-1": "ok"})
    bookkeeping.receive(kitchen.config, kitchen.books, filled_in, SAT, Meant())
    assert [(b.record.code, b.record.packs) for b in kitchen.ledger().receipts] == [("M-1", 1.0)]
    open_orders = kitchen.seen(SAT).open_orders
    assert sorted(o.packs for o in open_orders if o.code == "M-1") == [3.0], "all of the first, none of this"


def test_ok_on_a_list_is_the_order_of_its_day_and_of_several_overdue_it_asks_which(kitchen):
    """One sack was due on Saturday and two on Sunday: on Tuesday `ok` could be either."""
    on = {n: replace(LINES[0], packs=n, quantity=25.0 * n, deliver_on=SAT + timedelta(n - 1)) for n in (1, 2)}
    for run, line in (("2026-11-26", on[1]), ("2026-11-26-2", on[2])):
        kitchen.make_run([line])
        kitchen.place(run=run, is_on_top=True)
    late = {"on": SAT + timedelta(3)}
    (fault,) = refused(lambda: door(kitchen, "2026-12-01,miller,M-1,ok,,,\n", **late)).faults
    assert fault.kind == "which-order"
    assert (
        "M-1 is overdue of Sat 28 Nov (1 pack) and Sun 29 Nov (2 packs): which of them came?" in fault.wrong
    )
    door(kitchen, "2026-11-29,miller,M-1,ok,,,\n", **late)
    door(kitchen, "2026-12-01,miller,M-1,ok,,,\n", **late, name="late.csv")
    came = [(b.record.delivered_on.day, b.record.packs) for b in kitchen.ledger().receipts]
    assert sorted(came) == [(1, 1.0), (29, 2.0)]


def test_ok_on_the_sheet_at_the_door_is_all_that_its_line_asks_for(kitchen):
    """One line a code: three sacks overdue and one of today are four on it."""
    placed(kitchen)
    kitchen.make_run([replace(LINES[0], packs=1, quantity=25.0, deliver_on=SAT + timedelta(1))])
    kitchen.place(run="2026-11-26-2", is_on_top=True)
    out, _ = delivery_sheet(kitchen, on=SAT + timedelta(1))
    fill(out, **{"M-1": ("ok",)})
    bookkeeping.receive(kitchen.config, kitchen.books, out, SAT + timedelta(1), Meant())
    assert [b.record.packs for b in kitchen.ledger().receipts] == [4.0]


def test_a_code_that_two_vendors_share_is_received_from_the_one_whose_sheet_it_is(kitchen):
    """Both bring a `077` on Saturday."""
    goods = CONFIG["ingredients.yaml"].replace("code: M-9", 'code: "077"')
    (kitchen.config / "ingredients.yaml").write_text(goods)
    kitchen.make_run([replace(LINES[1], code="077"), LINES[2]])
    kitchen.place()
    for vendor in ("miller", "poulterer"):
        sheet = kitchen.runs / "2026-11-26" / "orders" / f"{vendor}.xlsx"
        bookkeeping.receive(kitchen.config, kitchen.books, received(sheet, {"077": 1}), SAT, Meant())
    assert {(b.record.vendor, b.record.packs) for b in kitchen.ledger().receipts} == {
        ("miller", 1.0),
        ("poulterer", 1.0),
    }


@pytest.mark.parametrize(("packs", "told"), [(3, []), (5, ["5 packs"]), (1, ["1 pack"])])
def test_an_order_sheet_that_was_changed_after_it_was_placed_is_told_at_the_door(kitchen, packs, told):
    """The letter and the books say three; who ticks the sheet off reads something else on it."""
    placed(kitchen)
    kitchen.write_packs("miller", "M-1", packs)
    sheet = received(kitchen.runs / "2026-11-26" / "orders" / "miller.xlsx", {"M-1": 3, "M-9": 2})
    report = bookkeeping.receive(kitchen.config, kitchen.books, sheet, SAT, Meant(is_confirmed=True))
    said = [line for line in report.lines if "changed after it was placed" in line]
    assert said == [
        f"changed after it was placed: the sheet asks for {n} of M-1, the order went out for 3; "
        "what went out counts"
        for n in told
    ]
    assert report.status == bool(told)
    assert {(b.record.code, b.record.packs) for b in kitchen.ledger().receipts} == {
        ("M-1", 3.0),
        ("M-9", 2.0),
    }
