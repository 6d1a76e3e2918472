"""What our own sheets say once, and what is written into their boxes, reads back: workbooks and csv."""

import csv
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal

import openpyxl
import pytest
from kitchens import CONFIG, LINES, SAT, THU, delivery_sheet, placed, refused
from run_folders import run_folder

from ordering import bookkeeping
from ordering.records.documents import Meant
from ordering.reviewing import looked_back


def write(path, cells):
    """Write into a sheet: (text at the beginning of a row, heading, or None for the box beside it, value).

    A row is the first after the one before it that begins so: an empty line, a vendor's heading.
    """
    book = openpyxl.load_workbook(path)
    page = book.active
    head = next(row for row in page.iter_rows() if row[0].value in ("code", "what"))
    at = {cell.value: cell.column for cell in head}
    for begins, heading, value in cells:
        row = next(r[0].row for r in page.iter_rows() if begins in (r[0].value, r[1].value))
        cell = page.cell(row, 2 if heading is None else at[heading])
        assert cell.protection.locked is False
        cell.value = value
    book.save(path)


def as_csv(path):
    """The sheet as a spreadsheet saves it: every cell as it is shown."""
    rows = openpyxl.load_workbook(path).active.iter_rows(values_only=True)
    out = path.with_suffix(".csv")
    with out.open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([[_shown(value) for value in row] for row in rows])
    return out


def _shown(value):
    return f"{value:%a} {value.day} {value:%b %Y}" if isinstance(value, datetime) else value


def door(kitchen, *cells, kind="xlsx", config=None):
    if config:
        for name, text in config.items():
            (kitchen.config / name).write_text(text)
    placed(kitchen)
    out, _ = delivery_sheet(kitchen)
    write(out, cells)
    return bookkeeping.receive(
        kitchen.config, kitchen.books, as_csv(out) if kind == "csv" else out, SAT, Meant(is_confirmed=True)
    )


def came(kitchen):
    return {(b.record.vendor, b.record.code, b.record.packs) for b in kitchen.ledger().receipts}


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_a_line_at_the_door_has_the_vendor_above_it_and_the_day_at_the_head(kitchen, kind):
    friday = date(2026, 11, 27)
    door(kitchen, ("M-1", "packs", 3), ("077", "packs", 5), ("delivered on", None, friday), kind=kind)
    assert came(kitchen) == {("miller", "M-1", 3.0), ("poulterer", "077", 5.0)}
    assert {b.record.delivered_on for b in kitchen.ledger().receipts} == {friday}


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_a_substitute_written_into_an_empty_line_answers_the_order_it_replaces(kitchen, kind):
    """The first empty line is that of the miller."""
    new = ("anything else", "code", "M-2"), ("M-2", "packs", 7), ("M-2", "instead of", "M-1")
    report = door(kitchen, *new, kind=kind)
    assert came(kitchen) == {("miller", "M-2", 7.0)}
    assert any("came instead: M-2 for M-1 Bread flour" in line for line in report.lines)
    open_codes = {o.code for o in kitchen.loaded(SAT + timedelta(1)).current.open_orders}
    assert open_codes == {"M-9", "077"}


def test_goods_of_a_vendor_who_was_not_due_are_booked_under_the_name_in_the_box(kitchen):
    vendors = CONFIG["vendors.yaml"] + "dairy:\n  name: Low Dairy\n  email: orders@dairy.example\n"
    placed(kitchen)
    (kitchen.config / "vendors.yaml").write_text(vendors)
    out, _ = delivery_sheet(kitchen)
    book = openpyxl.load_workbook(out)
    page = book.active
    box = next(r[1] for r in page.iter_rows() if r[0].value == "vendor" and r[1].value is None)
    head = next(r for r in page.iter_rows() if r[0].value == "code")
    packs = next(c.column for c in head if c.value == "packs")
    box.value = "Low Dairy"
    page.cell(box.row + 1, 1).value, page.cell(box.row + 1, packs).value = "L-1", 2
    book.save(out)
    report = bookkeeping.receive(kitchen.config, kitchen.books, out, SAT, Meant())
    assert came(kitchen) == {("dairy", "L-1", 2.0)}
    assert any("L-1 is in no offer" in line for line in report.lines)


def test_goods_without_a_vendor_above_them_are_asked_for_one(kitchen):
    placed(kitchen)
    out, _ = delivery_sheet(kitchen)
    book = openpyxl.load_workbook(out)
    page = book.active
    box = next(r[1] for r in page.iter_rows() if r[0].value == "vendor" and r[1].value is None)
    page.cell(box.row + 1, 1).value, page.cell(box.row + 1, 4).value = "L-1", 2
    book.save(out)
    caught = refused(lambda: bookkeeping.receive(kitchen.config, kitchen.books, out, SAT, Meant()))
    assert [fault.line for fault in caught.faults] == [box.row + 1]
    assert came(kitchen) == set()


@pytest.mark.parametrize(
    ("country", "head", "said"), [("US", "temp °F", "38 °F"), ("GB", "temp °C", "3.3 °C")]
)
def test_degrees_are_those_of_the_house_and_are_kept_in_one_scale(kitchen, country, head, said):
    """38 °F is 3.3 °C; nobody in an American kitchen means 38 °C."""
    goods = CONFIG["ingredients.yaml"].replace("  keeps: 5 d\n", "  keeps: 5 d\n  hazards: [raw-poultry]\n")
    house = CONFIG["house.yaml"] + f"holidays: {{country: {country}}}\n"
    written = 38 if country == "US" else 3.3
    cells = ("077", "packs", 5), ("077", head, written), ("077", "condition, tag", "iced; tag 1234")
    report = door(kitchen, *cells, config={"ingredients.yaml": goods, "house.yaml": house})
    (booked,) = kitchen.ledger().receipts
    assert booked.record.temperature == pytest.approx(3.3, abs=0.05)
    assert any(line.endswith(f"iced; tag 1234, {said}") for line in report.lines)


MOLLUSCS = CONFIG["ingredients.yaml"].replace("  keeps: 5 d\n", "  keeps: 5 d\n  hazards: [shellfish]\n")


@pytest.mark.parametrize(("written", "is_asked"), [("", True), ("ok", True), ("tag 1234, 24 Nov", False)])
def test_shellfish_without_a_tag_written_down_is_said_at_the_door(kitchen, written, is_asked):
    """A tag has a date and a number on it; no tag, not accepted (Wyoming Food Safety Rule 3-12, 2019)."""
    cells = ("077", "packs", 5), ("077", "condition, tag", written)
    report = door(kitchen, *cells, config={"ingredients.yaml": MOLLUSCS})
    assert any(line.startswith("no tag written down for Duck") for line in report.lines) is is_asked
    assert (report.status == 1) is is_asked


@pytest.mark.parametrize(
    ("country", "degrees", "most"),
    [("US", 41.1, "41 °F"), ("US", 41, ""), ("GB", 8.1, "8 °C"), ("GB", 8, "")],
)
def test_chilled_goods_that_came_warm_are_said_and_who_decides(kitchen, country, degrees, most):
    """Virginia 12VAC5-421-340 (2021): 41 °F on receipt; SI 2013/2996 Schedule 4 paragraph 2: 8 °C."""
    house = CONFIG["house.yaml"] + f"holidays: {{country: {country}}}\n"
    goods = MOLLUSCS.replace("shellfish", "raw-poultry")
    cells = ("077", "packs", 5), ("077", "temp °F" if country == "US" else "temp °C", degrees)
    report = door(kitchen, *cells, config={"ingredients.yaml": goods, "house.yaml": house})
    said = [line for line in report.lines if line.startswith("warmer than")]
    assert bool(said) is (report.status == 1) is bool(most)
    assert not most or said[0].startswith(
        f"warmer than {most}: Duck ({degrees} °{most[-1]}); see the caution"
    )


def test_a_tag_written_down_at_the_door_is_found_again_in_the_review(kitchen):
    """With the day, where it is booked and the dishes it can have gone into."""
    cells = ("077", "packs", 5), ("077", "temp °C", 3.5), ("077", "condition, tag", "tag 1234, 24 Nov")
    door(kitchen, *cells, config={"ingredients.yaml": MOLLUSCS})
    (one,) = looked_back(kitchen.loaded(SAT), kitchen.books, SAT, (THU, SAT)).at_the_door
    assert (one.delivered_on, one.item, one.document) == (SAT, "duck", "D-1, line 1")
    assert (one.celsius, one.condition, one.dishes) == (3.5, "tag 1234, 24 Nov", ("Duck pie",))


@pytest.mark.parametrize("kind", ["xlsx", "csv"])
def test_a_count_is_of_the_day_in_the_box_at_its_head(kitchen, kind):
    out = kitchen.folder / "count.xlsx"
    bookkeeping.count_out(kitchen.config, kitchen.books, THU, out)
    wednesday = date(2026, 11, 25)
    write(out, [("counted on", None, wednesday), ("Bread flour", "quantity", 28)])
    bookkeeping.count_in(
        kitchen.config, kitchen.books, as_csv(out) if kind == "csv" else out, THU, Meant(is_confirmed=True)
    )
    (booked,) = kitchen.ledger().counts
    assert (booked.record.item, booked.record.counted_on) == ("flour", wednesday)


def test_a_count_whose_box_for_the_day_was_emptied_is_asked_for_it(kitchen):
    out = kitchen.folder / "count.xlsx"
    bookkeeping.count_out(kitchen.config, kitchen.books, THU, out)
    write(out, [("counted on", None, None), ("Bread flour", "quantity", 28)])
    caught = refused(lambda: bookkeeping.count_in(kitchen.config, kitchen.books, out, THU, Meant()))
    assert "counted_on" in str(caught)
    assert kitchen.ledger().counts == ()


def test_a_sheet_that_comes_back_a_day_later_is_asked_which_day_it_was_counted(kitchen):
    """Printed on Thursday, filled in on Friday morning: a day of sales and deliveries lies between."""
    out = kitchen.folder / "count.xlsx"
    bookkeeping.count_out(kitchen.config, kitchen.books, THU, out)
    friday = THU + timedelta(1)
    write(out, [("Bread flour", "quantity", 28)])
    caught = refused(lambda: bookkeeping.count_in(kitchen.config, kitchen.books, out, friday, Meant()))
    assert [fault.kind for fault in caught.faults] == ["which-day"]
    assert kitchen.ledger().counts == ()
    write(out, [("counted on", None, friday)])
    assert bookkeeping.count_in(kitchen.config, kitchen.books, out, friday, Meant()).status == 0
    assert {b.record.counted_on for b in kitchen.ledger().counts} == {friday}


def test_a_short_line_says_what_came_of_it_and_what_came_instead(kitchen):
    """Three of M-1 ordered: one came, and one of a code nobody knows in its place."""
    cells = ("M-1", "packs", 1), ("anything else", "code", "M-55"), ("M-55", "packs", 1)
    report = door(kitchen, *cells, ("M-55", "instead of", "M-1"))
    said = "\n".join(report.lines)
    assert "short: M-1 Bread flour: 1 of 3 packs came, 1 of another code instead, 1 missing" in said
    assert "M-55 is in no offer: 1 pack booked in instead of M-1 as unplanned goods" in said


def test_of_goods_that_did_not_come_no_temperature_is_asked(kitchen):
    goods = CONFIG["ingredients.yaml"].replace("  keeps: 5 d\n", "  keeps: 5 d\n  hazards: [raw-poultry]\n")
    report = door(kitchen, ("077", "packs", 0), ("M-1", "packs", 3), config={"ingredients.yaml": goods})
    assert not any("no temperature" in line for line in report.lines)


def test_an_invoice_is_held_against_the_lines_of_its_vendor(kitchen):
    """Two vendors on one sheet; the miller's invoice comes to 68.00, 48.00 less a sack that went back."""
    placed(kitchen)
    heads = "delivered_on,vendor,code,packs,quantity,unit,price,reason\n"
    rows = "2026-11-28,miller,M-1,3,,,20.00,\n2026-11-28,miller,M-9,2,,,4.00,\n"
    rows += "2026-11-28,miller,M-1,-1,,,20.00,wet\n2026-11-28,poulterer,077,5,10,kg,9.00,\n"
    file = kitchen.folder / "both.csv"
    file.write_text(heads + rows)

    def booked(total):
        invoice = bookkeeping.Invoice("INV-7", Decimal(total))
        return bookkeeping.receive(kitchen.config, kitchen.books, file, SAT, Meant(), invoice)

    assert "(Old Mill 48.00 and Marsh Fowl 90.00)" in str(refused(lambda: booked("138.00")))
    assert booked("68.00").lines[0] == "Booked in as D-1"


def test_what_was_placed_before_is_not_said_to_be_left_out(kitchen):
    kitchen.make_run()
    assert any("left out: Marsh Fowl" in line for line in kitchen.place(only=("miller",)).lines)
    assert not any("left out" in line for line in kitchen.place(only=("poulterer",)).lines)


def test_a_second_room_is_held_against_what_the_first_has_left_to_find(kitchen):
    """30 kg of flour should be there: 24 in the dry store, 5 1/2 in the bakery are half a kilo short."""
    kitchen.count("2026-11-26,flour,24,kg,\n")
    report = kitchen.count("2026-11-26,flour,5.5,kg,\n", name="bakery.csv", also=True)
    assert report.status == 0
    assert "  Bread flour: 29.5 kg counted, 30 kg expected (-0.5 kg, -0.40 GBP)" in report.lines


def test_a_code_on_two_orders_stands_once_and_one_tick_answers_both(kitchen):
    """Three sacks ordered, then two more for the same day: five come, and nothing is counted twice."""
    placed(kitchen)
    more = run_folder(
        kitchen.house,
        kitchen.runs,
        THU,
        (replace(LINES[0], packs=2),),
        kitchen.books,
        kitchen.ledger().orders,
    )
    kitchen.place(run=more.name)
    out, _ = delivery_sheet(kitchen)
    rows = list(openpyxl.load_workbook(out).active.iter_rows(values_only=True))
    assert [row[2] for row in rows if row[0] == "M-1"] == ["5 packs of 25 kg"]
    assert next(row[2] for row in rows if row[1] == "Old Mill").startswith("orders PO-0001 and PO-0003")
    write(out, [("all as ordered", None, "x")])
    bookkeeping.receive(kitchen.config, kitchen.books, out, SAT, Meant())
    assert ("miller", "M-1", 5.0) in came(kitchen)
    assert kitchen.loaded(SAT + timedelta(1)).current.open_orders == ()


@pytest.mark.parametrize("how", ["a tick", "ok"])
def test_as_ordered_is_what_was_due_that_day_and_not_what_is_on_order_for_later(kitchen, how):
    later = replace(LINES[0], packs=4, deliver_on=SAT + timedelta(7))
    run_folder(kitchen.house, kitchen.runs, THU, (*LINES, later), kitchen.books)
    kitchen.place()
    out, _ = delivery_sheet(kitchen)
    write(out, [("all as ordered", None, "x")] if how == "a tick" else [("M-1", "packs", "ok")])
    bookkeeping.receive(kitchen.config, kitchen.books, out, SAT, Meant())
    assert ("miller", "M-1", 3.0) in came(kitchen)
    open_orders = kitchen.loaded(SAT + timedelta(1)).current.open_orders
    assert [(o.code, o.packs) for o in open_orders if o.deliver_on > SAT] == [("M-1", 4)]


def test_the_sheet_prints_the_price_the_order_went_out_at(kitchen):
    """The file still has 20.00; the order went out at what was last invoiced, and so the van brings it."""
    dearer = replace(LINES[0], price=Decimal("21.50"), amount=Decimal("64.50"))
    run_folder(kitchen.house, kitchen.runs, THU, (dearer, *LINES[1:]), kitchen.books)
    kitchen.place()
    out, _ = delivery_sheet(kitchen)
    write(out, [("all as ordered", None, "x")])
    report = bookkeeping.receive(kitchen.config, kitchen.books, out, SAT, Meant())
    assert not any("price:" in line for line in report.lines)
