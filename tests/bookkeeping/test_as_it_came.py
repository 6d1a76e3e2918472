"""What comes through the door otherwise than it was ordered: papers, codes, returns, invoices, prices."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from decimal import Decimal

import openpyxl
import pytest
from kitchens import (
    CONFIG,
    LINES,
    SAT,
    THU,
    WITH_REASON,
    delivery_sheet,
    door,
    fill,
    placed,
    refused,
)

from ordering import bookkeeping
from ordering.bookkeeping import Invoice
from ordering.faults import Refused
from ordering.ledger import register, store
from ordering.ledger.prices import at_invoiced_prices, invoiced
from ordering.net.opening import opening
from ordering.pricing import check_prices
from ordering.records.documents import CREDIT, Meant


def test_a_code_nobody_knows_is_booked_in_with_a_question_and_blocks_nothing(kitchen):
    placed(kitchen)
    report = door(kitchen, "2026-11-28,miller,M-1,3,75,kg,20.00\n2026-11-28,miller,M-77,2,,,8.00\n")
    assert report.status == 1
    said = "\n".join(report.lines)
    assert "M-77 is in no offer: 2 packs booked in as unplanned goods" in said
    assert {b.record.code for b in kitchen.ledger().receipts} == {"M-1", "M-77"}
    loaded = kitchen.loaded(SAT + timedelta(1))
    assert [d.kind for d in loaded.doubts if d.subject == "M-77"] == ["unplanned-goods"]
    assert not [r for r in loaded.current.receipts if r.code == "M-77"]
    text = CONFIG["ingredients.yaml"].replace(
        "    - {vendor: miller, code: M-9,",
        "    - {vendor: miller, code: M-77, pack: 1 kg, price: 8.00}\n    - {vendor: miller, code: M-9,",
    )
    (kitchen.config / "ingredients.yaml").write_text(text)
    now = kitchen.loaded(SAT + timedelta(1)).current.receipts
    assert [(r.item, r.quantity) for r in now if r.code == "M-77"] == [("yeast", 2000.0)]


@pytest.mark.parametrize(
    ("row", "said"),
    [
        ("M-77,2,,,8.00", "2 packs booked in as unplanned goods"),
        ("M-77,2,5,,8.00", "2 packs, 5 (of what unit?), booked in as unplanned goods"),
        ("M-77,,5,kg,8.00", "1 pack, 5 kg booked in as unplanned goods"),
        ("M-77,,5,,8.00", "1 pack, 5 (of what unit?), booked in as unplanned goods"),
    ],
)
def test_goods_nobody_planned_are_never_lost_for_want_of_packs_or_of_a_unit(kitchen, row, said):
    placed(kitchen)
    report = door(kitchen, f"2026-11-28,miller,M-1,3,75,kg,20.00\n2026-11-28,miller,{row}\n")
    assert f"M-77 is in no offer: {said}" in "\n".join(report.lines)
    assert {b.record.code for b in kitchen.ledger().receipts} == {"M-1", "M-77"}


def test_goods_that_go_back_are_credited_and_are_no_waste_of_the_house(kitchen):
    placed(kitchen)
    kitchen.receive("2026-11-28,miller,M-1,3,75,kg,20.00\n")
    heads = "delivered_on,vendor,code,packs,quantity,unit,price,reason"
    report = door(kitchen, "2026-11-28,miller,M-1,-1,,,20.00,weevils\n", heads, name="back.csv")
    assert report.lines[:2] == (
        "Credit R-1: 20.00 GBP to be credited",
        "  back: M-1 Bread flour: 1 pack: weevils",
    )
    ledger = kitchen.ledger()
    assert [(b.number, b.record.packs, b.record.reason) for b in ledger.credits] == [("R-1", -1.0, "weevils")]
    assert ledger.waste == ()
    current = kitchen.loaded(SAT + timedelta(1)).current
    lots = opening(kitchen.loaded(SAT).house, current, SAT + timedelta(1)).lots
    assert sum(x.quantity for x in lots if x.item == "flour") == pytest.approx(30 + 75 - 25)
    assert not [o for o in current.open_orders if o.code == "M-1"], "what came and went back is not awaited"


@pytest.mark.parametrize("day", [THU, THU + timedelta(1)])
def test_goods_that_were_counted_and_go_back_are_no_longer_there(kitchen, day):
    """Delivered on Monday, counted on Thursday morning, sent back on Thursday or Friday."""
    monday = THU - timedelta(3)
    kitchen.receive(f"{monday},miller,M-1,1\n", on=monday)
    kitchen.count(f"{THU},flour,50,kg,\n")
    heads = "delivered_on,vendor,code,packs,quantity,unit,price,reason"
    door(kitchen, f"{day},miller,M-1,-1,,,,weevils\n", heads)
    for on in (day, day + timedelta(1)):
        lots = opening(kitchen.house, kitchen.seen(on), on).lots
        assert sum(lot.quantity for lot in lots if lot.item == "flour") == 25.0


def test_a_delivery_and_what_goes_back_with_it_are_booked_together_or_not_at_all(kitchen, monkeypatch):
    placed(kitchen)
    heads = "delivered_on,vendor,code,packs,quantity,unit,price,reason"
    rows = "2026-11-28,miller,M-1,3,75,kg,20.00,\n2026-11-28,miller,M-1,-1,,,20.00,torn\n"
    book = register.book

    def stopped_at_the_credit(connection, paper, *rest):
        if paper.kind == CREDIT:
            raise OSError(28, "no space left on device")
        return book(connection, paper, *rest)

    monkeypatch.setattr(register, "book", stopped_at_the_credit)
    with pytest.raises((OSError, Refused)):
        door(kitchen, rows, heads, name="both.csv")
    assert kitchen.ledger().receipts == ()


@pytest.mark.parametrize("back", ["2026-11-28,miller,M-1,-2,,,20.00,weevils\n", ""])
def test_a_delivery_corrected_takes_what_went_back_with_it_along(kitchen, back):
    """One sheet, one sack back; then it was two, or none: one credit in all."""
    placed(kitchen)
    came = "2026-11-28,miller,M-1,3,75,kg,20.00,\n"
    door(kitchen, f"{came}2026-11-28,miller,M-1,-1,,,20.00,weevils\n", WITH_REASON)
    file = kitchen.folder / "mended.csv"
    file.write_text(f"{WITH_REASON}\n{came}{back}")
    meant = Meant(corrects="D-1", is_confirmed=True)
    said = bookkeeping.receive(kitchen.config, kitchen.books, file, SAT, meant).lines
    assert any(line.startswith("Credit R-1: ") for line in said)
    ledger = kitchen.ledger()
    assert [(b.number, b.record.packs) for b in ledger.credits] == ([("R-1", -2.0)] if back else [])
    again = bookkeeping.receive(kitchen.config, kitchen.books, file, SAT, meant).lines
    assert again[0].endswith("as D-1; nothing changed")


def test_a_line_that_is_due_with_nothing_but_a_return_is_asked_about(kitchen):
    """The yeast came torn and went back on the same van, or it is last week's yeast that goes back."""
    placed(kitchen)
    heads = WITH_REASON
    rows = "2026-11-28,miller,M-1,3,75,kg,20.00,\n2026-11-28,miller,M-9,-2,,,4.00,torn\n"
    (fault,) = refused(lambda: door(kitchen, rows, heads)).faults
    assert (fault.kind, fault.line, fault.subject) == ("back-unseen", 3, "M-9 Yeast")
    both = f"{rows}2026-11-28,miller,M-9,2,1000,g,4.00,\n"
    said = door(kitchen, both, heads, name="both.csv").lines
    assert not [line for line in said if "not on the delivery" in line]
    assert "Credit R-1: 8.00 GBP to be credited" in said


def test_the_sheet_at_the_door_may_hold_nothing_but_what_goes_back(kitchen):
    """The driver takes a sack back and brings nothing; the sheet is the delivery's, filled in later."""
    placed(kitchen)
    out, _ = delivery_sheet(kitchen)
    book = openpyxl.load_workbook(out)
    page = book.active
    at = {c.value: c.column for c in next(r for r in page.iter_rows() if r[0].value == "code")}
    row = next(r[0].row for r in page.iter_rows() if r[0].value == "M-1")
    page.cell(row, at["packs"]).value, page.cell(row, at["condition"]).value = -1, "weevils"
    book.save(out)
    said = bookkeeping.receive(kitchen.config, kitchen.books, out, SAT, Meant()).lines
    assert said[0].startswith("Credit R-1: 20.00 GBP")
    fill(out, **{"077": (5, 10.4, 9.50)})
    assert "Booked in as D-1" in bookkeeping.receive(kitchen.config, kitchen.books, out, SAT, Meant()).lines
    assert [(b.number, b.record.code) for b in kitchen.ledger().credits] == [("R-1", "M-1")]


def test_an_invoice_once_given_stays_with_the_delivery_and_is_held_against_its_corrections(kitchen):
    placed(kitchen)
    rows = "2026-11-28,miller,M-1,3,75,kg,20.00\n2026-11-28,miller,M-9,2,1000,g,4.00\n"
    door(kitchen, rows, invoice=Invoice("INV-7", Decimal("68.00")))
    assert door(kitchen, rows).lines[0].endswith("as D-1; nothing changed"), "the same delivery"
    file = kitchen.folder / "mended.csv"
    file.write_text(
        f"delivered_on,vendor,code,packs,quantity,unit,price\n{rows.replace('M-9,2,1000', 'M-9,1,500')}"
    )
    mended = lambda **meant: bookkeeping.receive(  # noqa: E731
        kitchen.config, kitchen.books, file, SAT, Meant(corrects="D-1", **meant)
    )
    assert "the invoice says 68.00, its lines come to 64.00" in str(refused(mended))
    mended(is_confirmed=True)
    kept = store.document(kitchen.books, "D-1")
    assert (kept.version, kept.invoice, kept.total) == (2, "INV-7", Decimal("68.00"))


def test_a_code_that_comes_as_itself_and_in_place_of_another_is_kept_apart(kitchen):
    """Two small bags ordered and two more sent for the large one that is out: two orders answered."""
    kitchen.make_run([LINES[0], replace(LINES[0], code="M-2", packs=2, quantity=20.0, price=Decimal("9.00"))])
    kitchen.place()
    heads = "delivered_on,vendor,code,packs,quantity,unit,price,instead_of"
    rows = f"{SAT},miller,M-1,0,,,,\n{SAT},miller,M-2,2,,,,\n{SAT},miller,M-2,3,,,,M-1\n"
    report = door(kitchen, rows, heads)
    assert "  came instead: M-2 for M-1 Bread flour: 3 packs, 30 kg for 75 kg ordered" in report.lines
    assert not any("not on the delivery" in line or "more than" in line for line in report.lines)
    assert not kitchen.seen().open_orders


def test_catch_weight_goes_on_at_the_price_the_order_went_out_at(kitchen):
    """Invoiced at 9.50 a kg once, the next order goes out at that, and so does the sheet at the door."""
    placed(kitchen)
    kitchen.receive(f"{SAT},poulterer,077,5,10,kg,9.50\n")
    week = timedelta(7)
    kitchen.make_run([replace(LINES[2], price=Decimal("19.00"), deliver_on=SAT + week)])
    kitchen.place(run="2026-11-26-2")
    out, _ = delivery_sheet(kitchen, on=SAT + week)
    page = openpyxl.load_workbook(out).active
    at = {c.value: c.column - 1 for c in next(r for r in page.iter_rows() if r[0].value == "code")}
    row = next(r for r in page.iter_rows() if r[0].value == "077")
    assert row[at["price"]].value == 9.5
    numbers = ["PO-0003"]
    report = bookkeeping.receive_as_ordered(kitchen.config, kitchen.books, numbers, SAT + week, Meant(), None)
    assert not any("price:" in line for line in report.lines)
    assert kitchen.ledger().receipts[-1].record.price == Decimal("9.50")


def test_what_came_instead_answers_the_order_it_is_said_to_come_for(kitchen):
    """M-2 for M-1: the yeast that is still missing is not used up by it."""
    placed(kitchen)
    heads = "delivered_on,vendor,code,packs,quantity,unit,price,instead_of"
    report = door(
        kitchen,
        "2026-11-28,miller,M-2,7,70,kg,9.00,M-1\n2026-11-28,miller,M-9,2,1000,g,4.00,\n",
        heads,
    )
    assert any("came instead: M-2 for M-1 Bread flour" in line for line in report.lines)
    assert not [o for o in kitchen.loaded(SAT + timedelta(1)).current.open_orders if o.vendor == "miller"]


def test_the_total_of_the_invoice_is_held_against_its_lines(kitchen):
    placed(kitchen)
    rows = "2026-11-28,miller,M-1,3,75,kg,20.00\n2026-11-28,miller,M-9,2,1000,g,4.00\n"
    wrong = Invoice("INV-7", Decimal("86.00"))
    caught = refused(lambda: door(kitchen, rows, invoice=wrong))
    assert "the invoice says 86.00, its lines come to 68.00" in str(caught)
    assert kitchen.ledger().receipts == ()
    assert door(kitchen, rows, invoice=Invoice("INV-7", Decimal("68.00"))).status == 0


def test_temperature_and_condition_are_kept_with_the_line(kitchen):
    placed(kitchen)
    heads = "delivered_on,vendor,code,packs,quantity,unit,price,temperature,condition"
    report = door(kitchen, "2026-11-28,poulterer,077,5,10,kg,9.00,41 F,two boxes torn\n", heads)
    assert "077 Duck: two boxes torn, 5 °C" in report.lines
    (kept,) = kitchen.ledger().receipts
    assert (kept.record.temperature, kept.record.condition) == (5.0, "two boxes torn")


def test_what_was_invoiced_is_what_costs_are_reckoned_with_and_a_rise_is_a_rise(kitchen):
    """Yeast at 4.00 in the file comes at 4.40: said, reckoned with, and written into the file on request."""
    placed(kitchen)
    kitchen.receive("2026-11-28,miller,M-9,2,1000,g,4.40\n")
    monday = SAT + timedelta(2)
    house, bookings = kitchen.loaded(monday).house, kitchen.ledger()
    (lagging,) = invoiced(house, bookings, monday)
    assert "invoiced at 4.40 on Sat 28 Nov, 10.0 % more than the 4.00 in the file" in lagging.told
    priced = at_invoiced_prices(house, [lagging]).ingredients["yeast"].offers[0]
    assert priced.price == Decimal("4.40")
    before = (kitchen.config / "ingredients.yaml").read_text()
    asked = check_prices(kitchen.config, kitchen.books, monday, is_confirmed=False)
    assert asked.status == 1
    assert "10.0 % more than the 4.00 in the file" in asked.lines[0]
    assert (kitchen.config / "ingredients.yaml").read_text() == before
    check_prices(kitchen.config, kitchen.books, monday, is_confirmed=True)
    after = (kitchen.config / "ingredients.yaml").read_text()
    assert after == before.replace("M-9, pack: 500 g, price: 4.00", "M-9, pack: 500 g, price: 4.40")
    assert invoiced(kitchen.loaded(monday).house, bookings, monday) == ()


@pytest.mark.parametrize(
    ("packs", "charged", "told", "written"),
    [
        (3, "21.00", "5.0 % more than the 20.00", "price: 21.00, breaks: {4: 18.00}"),
        (3, "17.00", "15.0 % less than the 20.00", "price: 17.00, breaks: {4: 17.00}"),
        (4, "19.80", "10.0 % more than the 18.00", "price: 20.00, breaks: {4: 19.80}"),
        (4, "22.00", "22.2 % more than the 18.00", "price: 22.00, breaks: {4: 22.00}"),
    ],
)
def test_of_an_offer_with_breaks_the_step_that_was_invoiced_is_replaced(
    kitchen, packs, charged, told, written
):
    """What more packs cost is never more than what fewer do."""
    kitchen.make_run()
    kitchen.write_packs("miller", "M-1", packs)
    kitchen.place()
    kitchen.receive(f"2026-11-28,miller,M-1,{packs},,,{charged}\n")
    monday = SAT + timedelta(2)
    (lagging,) = invoiced(kitchen.loaded(monday).house, kitchen.ledger(), monday)
    assert told in lagging.told
    priced = at_invoiced_prices(kitchen.house, [lagging]).ingredients["flour"].offers[0]
    before = (kitchen.config / "ingredients.yaml").read_text()
    check_prices(kitchen.config, kitchen.books, monday, is_confirmed=True)
    after = (kitchen.config / "ingredients.yaml").read_text()
    assert after == before.replace("price: 20.00, breaks: {4: 18.00}", written)
    assert kitchen.house.ingredients["flour"].offers[0] == priced
    assert invoiced(kitchen.loaded(monday).house, kitchen.ledger(), monday) == ()


def test_a_price_written_into_the_file_since_the_invoice_holds(kitchen):
    placed(kitchen)
    kitchen.receive("2026-11-28,miller,M-9,2,1000,g,4.40\n")
    text = CONFIG["ingredients.yaml"].replace(
        "M-9, pack: 500 g, price: 4.00", "M-9, pack: 500 g, price: 4.20"
    )
    (kitchen.config / "ingredients.yaml").write_text(text)
    monday = SAT + timedelta(2)
    assert invoiced(kitchen.loaded(monday).house, kitchen.ledger(), monday) == ()
