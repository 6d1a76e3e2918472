"""The sheet of what is due, filled in and booked in."""

from __future__ import annotations

from datetime import timedelta

import openpyxl
from kitchens import (
    CONFIG,
    SAT,
    THU,
    delivery_sheet,
    fill,
    placed,
    refused,
)

from ordering import bookkeeping
from ordering.records.documents import Meant


def test_what_is_due_is_written_out_filled_in_and_booked_as_any_delivery(kitchen):
    placed(kitchen)
    out, report = delivery_sheet(kitchen)
    assert report.written == (out,)
    assert report.lines[0].startswith("D-1: 3 lines of 2 vendors for Sat 28 Nov written to")
    fill(out, **{"M-1": (2,), "077": (5, 10.4, 9.50)})
    said = bookkeeping.receive(kitchen.config, kitchen.books, out, SAT, Meant()).lines
    assert any("short: M-1 Bread flour: 2 of 3 packs came" in line for line in said)
    assert any("9.00 agreed, 9.50 charged per kg" in line for line in said)
    booked = {(b.record.code, b.record.packs, b.record.quantity) for b in kitchen.ledger().receipts}
    assert booked == {("M-1", 2.0, 50.0), ("077", 5.0, 10.4)}, "what was left empty is not booked in"


def test_the_sheet_asks_for_temperature_and_condition_where_goods_carry_a_hazard(kitchen):
    """Written there, they are booked in with the line; goods without a hazard have no box."""
    text = CONFIG["ingredients.yaml"].replace("  keeps: 5 d\n", "  keeps: 5 d\n  hazards: [raw-poultry]\n")
    (kitchen.config / "ingredients.yaml").write_text(text)
    placed(kitchen)
    out, _ = delivery_sheet(kitchen)
    book = openpyxl.load_workbook(out)
    sheet = book.active
    head = next(r for r in sheet.iter_rows() if r[0].value == "code")
    at = {c.value: c.column for c in head}
    row = next(r[0].row for r in sheet.iter_rows() if r[0].value == "077")
    for name, value in (("packs", 5), ("quantity", 10.0), ("temp °C", 3.5), ("condition, tag", "well iced")):
        sheet.cell(row, at[name]).value = value
    book.save(out)
    said = bookkeeping.receive(kitchen.config, kitchen.books, out, SAT, Meant()).lines
    assert any("Duck: well iced, 3.5 °C" in line for line in said)
    (booked,) = kitchen.ledger().receipts
    assert (booked.record.temperature, booked.record.condition) == (3.5, "well iced")


def test_what_came_is_not_on_the_sheet_again_and_what_is_overdue_is(kitchen):
    placed(kitchen)
    kitchen.receive("2026-11-28,miller,M-1,3")
    out, _ = delivery_sheet(kitchen, on=SAT + timedelta(1))
    rows = [[c.value for c in r] for r in openpyxl.load_workbook(out).active.iter_rows()]
    lines = {row[0]: row[2] for row in rows if row[0] in {"M-1", "M-9", "077"}}
    assert lines == {"M-9": "2 packs of 500 g", "077": "5, about 2 kg each"}
    vendors = {row[1]: row[2] for row in rows if row[0] == "vendor" and row[1]}
    assert vendors["Old Mill"] == "order PO-0001 due Sat 28 Nov; tel. +44 1632 960 001"


def test_a_line_of_the_books_not_looked_at_shifts_no_other(kitchen):
    placed(kitchen)
    fault = refused(lambda: kitchen.receive("2026-11-28,miller,M-1,, 2026-11-28,miller,M-9,2,9,kg")).faults[0]
    assert (fault.line, fault.kind) == (3, "pack-weight")


def test_nothing_due_writes_no_sheet_and_says_when_something_is(kitchen):
    out, report = delivery_sheet(kitchen)
    assert report.lines == (
        "Nothing on order is due by Sat 28 Nov; 'ordering place' records orders; no sheet written",
    )
    placed(kitchen)
    out, report = delivery_sheet(kitchen, on=THU)
    assert "the next is due Sat 28 Nov" in report.lines[0]
    assert not out.exists()


def test_a_delivery_sheet_never_overwrites_one_that_may_be_filled(kitchen):
    placed(kitchen)
    delivery_sheet(kitchen)
    assert refused(lambda: delivery_sheet(kitchen)).faults[0].kind == "file-there"
