"""A count held against theory, its slips, its rooms, its sheet."""

from __future__ import annotations

from datetime import date, datetime

import openpyxl
import pytest
from kitchens import (
    CONFIG,
    SAT,
    THU,
    filled,
    lines_of,
    refused,
    sheet_of_lots,
)

from ordering import bookkeeping
from ordering.ledger import store
from ordering.pages.count_sheet import PAST
from ordering.records.documents import Meant


def test_a_count_is_held_against_theory_in_quantity_and_money(kitchen):
    """30 kg of flour counted on the 19th, nothing since: 28 kg is 2 kg at 0.80 (20.00 for 25 kg) short."""
    report = kitchen.count("2026-11-26,flour,28,kg,\n")
    assert report.lines == (
        "Counted 1 item: 1 lot booked in as C-1",
        "against what there should be: -1.60 GBP over all, 1.60 GBP of it missing",
        "  Bread flour: 28 kg counted, 30 kg expected (-2 kg, -1.60 GBP)",
    )
    assert [c.quantity for c in kitchen.seen().counts if c.item == "flour"] == [30.0, 28.0]


def test_a_delivery_of_that_day_is_not_expected_by_a_morning_s_count(kitchen):
    kitchen.receive("2026-11-28,miller,M-1,3,75,kg,20.00\n")
    assert "  Bread flour: 28 kg counted, 30 kg expected" in "\n".join(
        kitchen.count("2026-11-28,flour,28,kg,\n", on=SAT).lines
    )


@pytest.mark.parametrize(
    ("row", "kind", "words"),
    [
        ("flour,150,kg,", "far-from-expected", "150 kg counted, there should be 30 kg"),
        ("flour,30000,kg,", "far-from-expected", "(is 30 kg meant?)"),
        ("flour,0,kg,", "far-from-expected", "0 kg counted, there should be 30 kg"),
        ("yeast,4,kg,", "far-from-expected", "4000 g counted"),
        ("yeast,0.4,g,", "hundredth", "0.4 g counted, there should be 400 g"),
        ("yeast,300,g,2026-11-20", "use-by-passed", "had passed when it was counted"),
        ("yeast,300,g,2027-11-20", "use-by-far", "but it keeps 10 days"),
    ],
)
def test_a_slip_is_asked_about_and_booked_only_when_confirmed(kitchen, row, kind, words):
    text = f"2026-11-26,{row}\n"
    caught = refused(lambda: kitchen.count(text))
    assert [f.kind for f in caught.faults] == [kind]
    assert words in str(caught)
    assert "--yes" in str(caught)
    assert not store.ledger_path(kitchen.books).exists()
    report = kitchen.count(text, yes=True)
    assert report.status == 1
    assert any(line.startswith("check: ") for line in report.lines)
    assert len(kitchen.ledger().counts) == 1


def test_far_from_what_there_should_be_is_asked_about_though_there_was_more_once(kitchen):
    """3 kg should be there and 30 were counted a month ago: 30 again is ten times too much."""
    (kitchen.books / "counts.csv").write_text(
        "counted_on,item,quantity,unit\n2026-10-19,flour,30,kg\n2026-11-19,flour,3,kg\n"
    )
    assert [f.kind for f in refused(lambda: kitchen.count("2026-11-26,flour,30,kg,\n")).faults] == [
        "far-from-expected"
    ]
    assert kitchen.count("2026-11-26,flour,14,kg,\n", "b.csv").status == 0  # less than a sack more


def test_ten_times_the_most_there_ever_was_is_asked_about_where_nothing_is_left(kitchen):
    (kitchen.books / "counts.csv").write_text(
        "counted_on,item,quantity,unit\n2026-10-19,flour,30,kg\n2026-11-19,flour,0,kg\n"
    )
    (fault,) = refused(lambda: kitchen.count("2026-11-26,flour,300,kg,\n")).faults
    assert fault.kind == "ten-times"
    assert kitchen.count("2026-11-26,flour,299,kg,\n").status == 0


def test_what_is_counted_without_a_date_is_said_to_be_taken_as_fresh(kitchen):
    """Confit that no batch in the books explains is dated from the count; with its label's date it is not."""
    said = kitchen.count("2026-11-26,confit,2,kg,\n2026-11-26,flour,28,kg,\n").lines
    assert said[-1] == (
        "counted without a use-by, so taken as fresh that day: Duck confit (to Wed 16 Dec); where one is "
        "older, write the date on its label and book the sheet in again"
    )
    again = kitchen.count("2026-11-26,confit,2,kg,2026-12-01\n2026-11-26,flour,28,kg,\n", corrects="C-1")
    assert not any("without a use-by" in line for line in again.lines)


def test_goods_counted_with_what_came_that_day_are_asked_about(kitchen):
    """30 kg should be there and 75 came at six: 104 kg at ten has them in, and they would be there twice."""
    kitchen.receive("2026-11-28,miller,M-1,3,75,kg,20.00\n")
    row = f"{SAT},flour,104,kg,\n"
    (fault,) = refused(lambda: kitchen.count(row, on=SAT)).faults
    assert fault.kind == "counted-with-delivery"
    assert "Bread flour (75 kg came)" in fault.wrong
    assert kitchen.count(f"{SAT},flour,29,kg,\n", on=SAT).status == 0


def test_a_delivery_booked_after_a_count_that_looks_to_hold_it_is_asked_about(kitchen):
    """30 kg should be there, 104 were counted: the 75 that are booked in now for that day are among them."""
    kitchen.count(f"{SAT},flour,104,kg,\n", on=SAT, yes=True)
    came = f"{SAT},miller,M-1,3,75,kg,20.00\n"
    (fault,) = refused(lambda: kitchen.receive(came)).faults
    assert fault.kind == "counted-already"
    assert "Bread flour (75 kg came)" in fault.wrong
    assert kitchen.ledger().receipts == ()
    kitchen.receive(came, yes=True)
    assert kitchen.receive(came + f"{SAT},miller,M-9,1\n", corrects="D-1", on=SAT), "not asked about twice"


def test_a_delivery_booked_after_a_count_without_it_is_no_question(kitchen):
    kitchen.count(f"{SAT},flour,29,kg,\n", on=SAT)
    kitchen.receive(f"{SAT},miller,M-1,3,75,kg,20.00\n")
    assert [b.record.packs for b in kitchen.ledger().receipts] == [3.0]


def test_what_is_past_its_date_stands_on_the_count_sheet_with_no_box_to_count_it_in(kitchen):
    """4 kg of duck counted on the 19th keep five days; on Thursday nobody should count them as good again."""
    out = kitchen.folder / "sheet.xlsx"
    bookkeeping.count_out(kitchen.config, kitchen.books, THU, out)
    page = openpyxl.load_workbook(out).active
    rows = [row for row in page.iter_rows() if row[0].value in ("Duck", f"Duck, {PAST}")]
    assert [row[5].value for row in rows] == ["duck", None]
    assert rows[1][3].value == datetime(2026, 11, 24)
    assert all(cell.protection.locked for cell in rows[1])


def test_none_counted_is_none_and_no_slip(kitchen):
    assert kitchen.count("2026-11-26,yeast,0,g,\n").status == 0
    assert [c.quantity for c in kitchen.seen().counts if c.item == "yeast"] == [400.0, 0.0]


def test_a_count_of_a_day_to_come_is_refused_even_when_confirmed(kitchen):
    caught = refused(lambda: kitchen.count("2026-11-28,flour,28,kg,\n", yes=True))
    assert [f.kind for f in caught.faults] == ["future"]


def test_a_corrected_count_takes_the_place_of_the_whole_sheet_and_says_so(kitchen):
    kitchen.count("2026-11-26,flour,28,kg,\n2026-11-26,yeast,400,g,\n")
    assert (
        refused(lambda: kitchen.count("2026-11-26,flour,29,kg,\n", "again.csv")).faults[0].kind
        == "looks-alike"
    )
    report = kitchen.count("2026-11-26,flour,29,kg,\n2026-11-26,yeast,400,g,\n", "again.csv", corrects="C-1")
    assert "corrected: Bread flour on Thu 26 Nov: was 28, now 29 kg" in report.lines
    at_day = [(c.item, c.quantity) for c in kitchen.seen().counts if c.counted_on == THU]
    assert sorted(at_day) == [("flour", 29.0), ("yeast", 400.0)]


def test_what_a_second_room_holds_adds_to_the_first(kitchen):
    kitchen.count("2026-11-26,flour,18,kg,\n")
    kitchen.count("2026-11-26,flour,10,kg,\n", "dry store.csv", also=True)
    assert sum(c.quantity for c in kitchen.seen().counts if c.counted_on == THU) == 28.0


def test_the_same_count_again_changes_nothing(kitchen):
    kitchen.count("2026-11-26,flour,28,kg,\n")
    assert kitchen.count("2026-11-26,flour,28,kg,\n", "copy.csv").lines == (
        "copy.csv was booked in on 2026-11-26 as C-1; nothing changed",
    )


def test_the_count_sheet_reads_back_what_is_filled_in_and_nothing_else(kitchen):
    out = kitchen.folder / "sheet.xlsx"
    report = bookkeeping.count_out(kitchen.config, kitchen.books, THU, out, with_expected=True)
    assert report.written == (out,)
    book = openpyxl.load_workbook(out)
    sheet = book.active
    heads = {c.value: c.column for c in next(r for r in sheet.iter_rows() if r[0].value == "what")}
    at = {row[heads["item"] - 1].value: row[0].row for row in sheet.iter_rows(min_row=5)}
    assert sheet.cell(at["flour"], heads["expected"]).value == 30
    assert sheet.cell(at["flour"], heads["last count"]).value == "30 kg, Thu 19 Nov"
    assert sheet.protection.sheet
    for name in ("quantity", "unit", "use by", "ready on"):
        assert sheet.cell(at["flour"], heads[name]).protection.locked is False
    assert sheet.cell(at["flour"], heads["item"]).protection.locked
    sheet.cell(at["flour"], heads["quantity"]).value = 28.5
    sheet.cell(at["yeast"], heads["quantity"]).value = 0
    book.save(out)
    bookkeeping.count_in(kitchen.config, kitchen.books, out, THU, Meant())
    assert {(b.record.item, b.record.quantity, b.record.counted_on) for b in kitchen.ledger().counts} == {
        ("flour", 28.5, THU),
        ("yeast", 0.0, THU),
    }


def test_the_count_sheet_goes_by_storage_area_in_the_sequence_of_the_configuration(kitchen):
    out = kitchen.folder / "sheet.xlsx"
    bookkeeping.count_out(kitchen.config, kitchen.books, THU, out)
    sheet = openpyxl.load_workbook(out).active
    head = next(r[0].row for r in sheet.iter_rows() if r[0].value == "what")
    names = [row[0].value for row in sheet.iter_rows(min_row=head + 1)]
    room = ["anything else"] * 2
    fridge = ["Yeast", "Duck", f"Duck, {PAST}", "Duck confit"]
    assert names == ["dry store", "Bread flour", *room, "fridge", *fridge, *room]


def test_a_count_sheet_never_overwrites_a_file_that_may_be_filled(kitchen):
    out = kitchen.folder / "sheet.xlsx"
    bookkeeping.count_out(kitchen.config, kitchen.books, THU, out)
    before = out.read_bytes()
    again = refused(lambda: bookkeeping.count_out(kitchen.config, kitchen.books, THU, out))
    assert again.faults[0].kind == "file-there"
    assert out.read_bytes() == before


def test_every_count_sheet_has_a_number_of_its_own_and_is_read_back_by_it(kitchen):
    files = [kitchen.folder / name for name in ("a.xlsx", "b.xlsx")]
    for file in files:
        bookkeeping.count_out(kitchen.config, kitchen.books, THU, file)
    numbers = [openpyxl.load_workbook(file).active.cell(2, 2).value for file in files]
    assert numbers == ["C-1", "C-2"]
    for quantity in (28.5, 27.5):
        book = openpyxl.load_workbook(files[1])
        sheet = book.active
        heads = {c.value: c.column for c in next(r for r in sheet.iter_rows() if r[0].value == "what")}
        row = next(r[0].row for r in sheet.iter_rows() if r[heads["item"] - 1].value == "flour")
        sheet.cell(row, heads["quantity"]).value = quantity
        book.save(kitchen.folder / "renamed.xlsx")
        bookkeeping.count_in(kitchen.config, kitchen.books, kitchen.folder / "renamed.xlsx", THU, Meant())
    assert [(b.number, b.version, b.record.quantity) for b in kitchen.ledger().counts] == [("C-2", 2, 27.5)]


def test_a_count_sheet_is_blind_unless_what_there_should_be_is_asked_for(kitchen):
    blind, told = kitchen.folder / "blind.xlsx", kitchen.folder / "told.xlsx"
    bookkeeping.count_out(kitchen.config, kitchen.books, THU, blind)
    bookkeeping.count_out(kitchen.config, kitchen.books, THU, told, with_expected=True)
    values = [{cell.value for row in openpyxl.load_workbook(f).active for cell in row} for f in (blind, told)]
    assert 30 not in values[0]
    assert not {"expected", "last count"} & values[0]
    assert {30, "expected", "last count", "30 kg, Thu 19 Nov"} <= values[1]


def test_lots_of_one_use_by_are_one_line_and_the_sheet_reads_back_its_own_figures(kitchen):
    """Three parcels, two of them good until the same day: two lines; both filled in, both booked."""
    out = sheet_of_lots(
        kitchen,
        "2026-11-24,duck,4,kg,2026-11-28\n2026-11-24,duck,1,kg,2026-11-30\n2026-11-24,duck,2,kg,2026-11-28\n",
    )
    assert lines_of(out).count(("duck", date(2026, 11, 28))) == 1
    filled(out, {"duck": [6, 1]})
    assert bookkeeping.count_in(kitchen.config, kitchen.books, out, THU, Meant()).status == 0
    assert sorted((b.record.quantity, b.record.use_by) for b in kitchen.ledger().counts) == [
        (1.0, date(2026, 11, 30)),
        (6.0, date(2026, 11, 28)),
    ]


def test_a_half_filled_item_is_asked_about_and_never_taken_as_none(kitchen):
    """Two printed lots of duck, one filled in: 2,412 of beef went that way once."""
    out = sheet_of_lots(
        kitchen, "2026-11-24,duck,4,kg,2026-11-28\n2026-11-24,duck,3,kg,2026-11-30\n2026-11-24,flour,9,kg,\n"
    )
    filled(out, {"duck": [4], "flour": [9]})
    caught = refused(lambda: bookkeeping.count_in(kitchen.config, kitchen.books, out, THU, Meant()))
    assert [f.kind for f in caught.faults] == ["half-counted"]
    assert "1 of 2 lines of duck filled in" in str(caught)
    assert kitchen.ledger().counts == ()
    filled(out, {"duck": [4, 0]})
    bookkeeping.count_in(kitchen.config, kitchen.books, out, THU, Meant())
    counted = {(b.record.item, b.record.quantity) for b in kitchen.ledger().counts}
    assert counted == {("duck", 4.0), ("duck", 0.0), ("flour", 9.0)}


def test_every_filled_sheet_in_sight_is_read(kitchen):
    """One sheet for the cellar, one for the dry store, and a hidden one that somebody keeps for himself."""
    book = openpyxl.Workbook()
    book.active.title = "old"
    heads = ["counted on", "item", "quantity", "unit"]
    for name, rows in (
        ("old", [["2026-11-26", "flour", 999, "kg"]]),
        ("cellar", [["2026-11-26", "flour", 10, "kg"], ["2026-11-26", "duck", 4, "kg"]]),
        ("notes", [["milk is off"]]),
        ("dry store", [["2026-11-26", "flour", 18, "kg"], ["2026-11-26", "yeast", None, "g"]]),
    ):
        page = book[name] if name in book.sheetnames else book.create_sheet(name)
        for row in ([heads] if name != "notes" else []) + rows:
            page.append(row)
    book["old"].sheet_state = "hidden"
    file = kitchen.folder / "rooms.xlsx"
    book.save(file)
    bookkeeping.count_in(kitchen.config, kitchen.books, file, THU, Meant())
    counted = {(c.item, c.quantity) for c in kitchen.seen().counts if c.counted_on == THU}
    assert counted == {("flour", 10.0), ("flour", 18.0), ("duck", 4.0)}


def test_faults_of_all_sheets_are_said_with_sheet_and_cell(kitchen):
    book = openpyxl.Workbook()
    for name in ("cellar", "dry store"):
        page = book.create_sheet(name)
        page.append(["counted on", "item", "quantity", "unit"])
        page.append(["2026-11-26", "flour", "much", "kg"])
    file = kitchen.folder / "rooms.xlsx"
    book.save(file)
    said = str(refused(lambda: bookkeeping.count_in(kitchen.config, kitchen.books, file, THU, Meant())))
    assert "rooms.xlsx [cellar]:2: quantity, cell C2" in said
    assert "rooms.xlsx [dry store]:2: quantity, cell C2" in said


@pytest.mark.parametrize(
    ("pack", "quantity", "unit", "grams"),
    [
        ("500 g", "1 case", "g", 500),
        ("500 g", "1 cs + 30", "g", 530),
        ("500 g", "1 pack + 0.03 kg", "g", 530),
        ("500 g", "1", "case", 500),
        ("10 x 42 g", "1 cs + 3", "g", 546),
        ("10 x 42 g", "1.5", "cs", 630),
        ("4 x 10 x 42 g", "0 cs + 12", "g", 504),
        ("10 x 42 g", "2 x 250 g + 3", "g", 503),
        ("500 g", "420", "g", 420),
    ],
)
def test_packs_and_pieces_are_counted_by_what_the_vendor_s_pack_holds(kitchen, pack, quantity, unit, grams):
    """Loose is what is in a pack, where that holds pieces; else it is in the unit of the line."""
    text = CONFIG["ingredients.yaml"]
    assert "code: M-9, pack: 500 g" in text
    (kitchen.config / "ingredients.yaml").write_text(text.replace("M-9, pack: 500 g", f"M-9, pack: {pack}"))
    kitchen.count(f"2026-11-26,yeast,{quantity},{unit},\n")
    assert [b.record.quantity for b in kitchen.ledger().counts] == [pytest.approx(grams)]


@pytest.mark.parametrize(("pack", "unit"), [("500 g", "case"), ("500 g", "each"), ("1 each ~ 500 g", "cs")])
def test_three_more_of_a_pack_that_is_one_piece_is_asked_about_and_never_four_packs(kitchen, pack, unit):
    """`1 cs + 3` of a sack: three more sacks, or three of something smaller?"""
    text = CONFIG["ingredients.yaml"].replace(
        "M-9, pack: 500 g, price: 4.00", f"M-9, pack: {pack}, price: 4.00"
    )
    (kitchen.config / "ingredients.yaml").write_text(text)
    caught = refused(lambda: kitchen.count(f"2026-11-26,yeast,1 cs + 3,{unit},\n"))
    assert [fault.kind for fault in caught.faults] == ["which-pack"]
    assert "3 more of what? write 4 cs if it is packs, or the unit of what is loose: 1 cs + 3 g" in str(
        caught
    )
    assert kitchen.ledger().counts == ()
    kitchen.count("2026-11-26,yeast,1 cs + 3 g,g,\n")
    assert [b.record.quantity for b in kitchen.ledger().counts] == [503]
