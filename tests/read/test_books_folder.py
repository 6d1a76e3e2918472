"""Books from csv and workbooks: tables sorted by date, lots in their item's unit, lines that point home."""

import io
import re
import zipfile
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal

import openpyxl
import pandas as pd
import pytest

from ordering.read.books_folder import read_books, read_counts, read_deliveries
from ordering.read.csv_table import parse_csv
from ordering.read.files import MAX_TABLE_BYTES, fingerprints, read_text
from ordering.read.names import ids_by_name
from ordering.records.books import Batch, Books, CountedLot, LeftOut, OpenOrder, Receipt, Waste
from ordering.records.house import Dish, House, Ingredient, Recipe, RecipeLine, Service
from ordering.records.vendors import Offer, Vendor

OFFER = Offer("farm", "C-1", "carrot", "2 x 5 kg", 10.0, Decimal(6))
HOUSE = House(
    name="Test Kitchen",
    services={"dinner": Service("dinner", frozenset({3})), "lunch": Service("lunch", frozenset())},
    vendors={"farm": Vendor("farm", "Farm")},
    ingredients={"carrot": Ingredient("carrot", "Carrot", "kg", each_g=100, offers=(OFFER,))},
    recipes={"soup": Recipe("soup", "Soup", "l", 4.0, (RecipeLine("carrot", 4.0),), density_kg_per_l=1.0)},
    dishes={"soup": Dish("soup", "Carrot Soup", "soup", 0.25), "pie": Dish("pie", "Pie", "soup", 0.25)},
    headers={"sales": {"Business Day": "date", "Qty": "sold"}},
    dish_names={"SOUP LRG": "soup"},
    service_names={"Evening": "dinner"},
)


def books_of(tmp_path, **files):
    for name, text in files.items():
        content = text if isinstance(text, bytes) else text.encode()
        (tmp_path / name.replace("__", ".")).write_bytes(content)
    return read_books(tmp_path, HOUSE)


def sound(tmp_path, **files):
    books, faults = books_of(tmp_path, **files)
    assert [str(fault) for fault in faults] == []
    return books


def kinds(faults):
    return [(fault.line, fault.kind) for fault in faults]


def workbook(rows, title="Sheet", before=()):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = title
    for row in [*before, *rows]:
        sheet.append(row)
    content = io.BytesIO()
    book.save(content)
    return content.getvalue()


def test_no_books_are_empty_books(tmp_path):
    books = sound(tmp_path)
    empty = Books()
    for table in ("sales", "covers", "bookings"):
        pd.testing.assert_frame_equal(getattr(books, table), getattr(empty, table))
    assert (books.counts, books.left_out, books.files) == ((), (), {})


def test_sales_come_sorted_and_typed_with_headings_and_names_mapped(tmp_path):
    text = (
        "Till,business day,Service,dish,qty,Sold Out\n"
        "1,2026-11-20,dinner,SOUP LRG,7,yes\n"
        "1,2026-11-20,dinner,soup,5,\n"
        "1,2026-11-19,lunch,Carrot soup,0,no\n"
    )
    books = sound(tmp_path, sales__csv=text)
    expected = pd.DataFrame(
        {
            "date": pd.to_datetime(["2026-11-19", "2026-11-20"]).astype("datetime64[ns]"),
            "service": pd.Series(["lunch", "dinner"], dtype="str"),
            "dish": pd.Series(["soup", "soup"], dtype="str"),
            "sold": [0.0, 12.0],
            "sold_out": [False, True],
        }
    )
    pd.testing.assert_frame_equal(books.sales, expected)
    assert books.files == {"sales": f"{tmp_path.as_posix()}/sales.csv"}


def test_tables_have_the_types_of_empty_ones(tmp_path):
    books = sound(
        tmp_path,
        sales__csv="date,service,dish,sold\n2026-11-20,dinner,soup,7\n",
        covers__csv="date,service,covers\n2026-11-20,dinner,30\n",
        bookings__csv="taken_on,date,service,booked\n2026-11-20,2026-11-20,dinner,3\n",
    )
    for table in ("sales", "covers", "bookings"):
        assert (getattr(books, table).dtypes == getattr(Books(), table).dtypes).all(), table
        assert len(getattr(books, table)) == 1


def test_dishes_off_the_menu_are_left_out_and_listed(tmp_path):
    text = "date,service,dish,sold\n2026-11-20,dinner,soup,7\n2026-11-20,dinner,Stew,3\n"
    text += "2026-11-21,dinner,Stew,4\n"
    books = sound(tmp_path, sales__csv=text)
    assert books.sales["dish"].tolist() == ["soup"]
    assert books.left_out == (LeftOut("Stew", 7.0, 2, f"{tmp_path.as_posix()}/sales.csv", 3),)


def test_counts_are_lots_in_their_items_unit(tmp_path):
    text = (
        "counted_on,item,quantity,unit,use_by,ready_on\n"
        "2026-11-26,carrot,1500,g,2026-12-01,\n"
        "2026-11-26,carrot,2,each,,\n"
        "2026-11-25,carrot,,kg,,\n"
        "2026-11-26,soup,3,kg,,2026-11-28\n"
    )
    on = date(2026, 11, 26)
    assert sound(tmp_path, counts__csv=text).counts == (
        CountedLot(on, "carrot", 1.5, date(2026, 12, 1)),
        CountedLot(on, "carrot", 0.2),
        CountedLot(on, "soup", 3.0, None, date(2026, 11, 28)),
    )


def test_the_smaller_books(tmp_path):
    books = sound(
        tmp_path,
        open_orders__csv="vendor,code,packs,deliver_on\nfarm,C-1,2,2026-11-27\n",
        waste__csv="date,item,quantity,unit,reason\n2026-11-20,carrot,500,g,soft\n",
        batches__csv="started_on,recipe,drawn,made,unit\n2026-11-20,soup,4,3.9,kg\n",
    )
    assert books.open_orders == (OpenOrder("farm", "C-1", "carrot", 2.0, 20.0, date(2026, 11, 27)),)
    assert books.waste == (Waste(date(2026, 11, 20), "carrot", 0.5, "soft"),)
    assert books.batches == (Batch(date(2026, 11, 20), "soup", 4.0, 3.9),)


def test_deliveries_by_weight_or_by_packs(tmp_path):
    path = tmp_path / "monday.csv"
    path.write_text(
        "delivered_on,vendor,code,packs,quantity,unit,price,use_by\n"
        "2026-11-26,farm,C-1,2,19.5,kg,6.20,2026-12-01\n"
        "2026-11-27,farm,C-1,3,,,,\n"
    )
    receipts, faults = read_deliveries(path, HOUSE)
    assert faults == []
    assert receipts == (
        Receipt(date(2026, 11, 26), "farm", "C-1", "carrot", 2.0, 19.5, Decimal("6.20"), date(2026, 12, 1)),
        Receipt(date(2026, 11, 27), "farm", "C-1", "carrot", 3.0, 30.0),
    )


def test_a_count_with_nothing_filled_in_is_a_fault(tmp_path):
    path = tmp_path / "count.csv"
    path.write_text("counted_on,item,quantity,unit\n2026-11-26,carrot,,kg\n")
    assert kinds(read_counts(path, HOUSE)[1]) == [(0, "empty-file")]


def test_lines_are_right_with_quoted_line_breaks_blank_lines_and_a_byte_order_mark(tmp_path):
    text = '\ufeffdate,note,service,dish,sold\r\n\r\n2026-11-20,"two\r\nlines",dinner,soup,7\r\n'
    text += "2026-11-20,,diner,soup,x\r\n"
    _, faults = books_of(tmp_path, sales__csv=text)
    assert sorted(kinds(faults)) == [(5, "bad-number"), (5, "unknown-service")]


@pytest.mark.parametrize("mark", [";", "\t"])
def test_other_marks_between_cells_are_found(tmp_path, mark):
    text = "date,service,covers\n2026-11-20,dinner,30\n".replace(",", mark)
    assert sound(tmp_path, covers__csv=text).covers["covers"].tolist() == [30]


def test_equal_rows_name_both_lines(tmp_path):
    text = "date,service,covers\n2026-11-20,dinner,30\n2026-11-19,dinner,30\n2026-11-20, dinner,31\n"
    _, faults = books_of(tmp_path, covers__csv=text)
    assert kinds(faults) == [(4, "equal-rows")]
    assert "line 2" in faults[0].wrong


def test_a_workbook_reads_as_its_csv_would(tmp_path):
    rows = [
        ["date", "service", "dish", "sold", "sold_out", "note"],
        [datetime(2026, 11, 20), "dinner", "soup", 7, True, "=1+1"],
        [None, None, None, None, None, None],
        ["2026-11-21", "dinner", "soup", 8.0, None, None],
    ]
    books = sound(tmp_path, sales__xlsx=workbook(rows))
    assert books.sales["sold"].tolist() == [7, 8]
    assert books.sales["sold_out"].tolist() == [True, False]


def test_what_several_tills_sold_is_added_up(tmp_path):
    books = sound(
        tmp_path,
        sales__csv="date,service,dish,sold,till\n2026-11-20,dinner,soup,7,\n2026-11-20,dinner,soup,2,bar\n",
        covers__csv="date,service,covers,till\n2026-11-20,dinner,30,\n2026-11-20,dinner,5,bar\n",
    )
    assert (books.sales["sold"].tolist(), books.covers["covers"].tolist()) == ([9], [35])
    rows = "date,service,covers,till\n2026-11-20,dinner,30,bar\n2026-11-20,dinner,5,bar\n"
    assert kinds(books_of(tmp_path, covers__csv=rows)[1]) == [(3, "equal-rows")]


def test_a_workbook_may_have_a_title_above_its_heading_and_names_the_cell(tmp_path):
    rows = [["counted_on", "item", "quantity", "unit"], [date(2026, 11, 26), "carrot", "lots", "kg"]]
    _, faults = books_of(tmp_path, counts__xlsx=workbook(rows, "Walk-in", [["Count"], []]))
    assert kinds(faults) == [(4, "bad-number")]
    assert faults[0].place.endswith("counts.xlsx [Walk-in]")
    assert faults[0].subject == "quantity, cell C4"


def test_a_formula_with_its_value_stored_is_read(tmp_path):
    """What the spreadsheet showed when it was saved counts."""
    rows = [["date", "service", "covers"], [date(2026, 11, 20), "dinner", "=10+20"]]
    package = io.BytesIO(workbook(rows))
    filled = io.BytesIO()
    with zipfile.ZipFile(package) as old, zipfile.ZipFile(filled, "w") as new:
        for part in old.infolist():
            content = old.read(part)
            if part.filename.endswith("sheet1.xml"):
                content = re.sub(rb"<v>\s*</v>|<v\s*/>", b"<v>30</v>", content)
            new.writestr(part, content)
    assert sound(tmp_path, covers__xlsx=filled.getvalue()).covers["covers"].tolist() == [30]


def test_entities_and_bombs_in_a_workbook_are_refused(tmp_path):
    whole = workbook([["date", "service", "covers"]])
    lol = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(whole)) as old, zipfile.ZipFile(lol, "w", zipfile.ZIP_DEFLATED) as new:
        for part in old.infolist():
            content = old.read(part)
            if part.filename.endswith("sheet1.xml"):
                content = b'<?xml version="1.0"?><!DOCTYPE x [<!ENTITY a "aaaa">]>' + content
            new.writestr(part, content)
    _, faults = books_of(tmp_path, covers__xlsx=lol.getvalue())
    assert kinds(faults) == [(0, "damaged-file")]
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as new:
        for n in range(8):
            new.writestr(f"xl/worksheets/sheet{n}.xml", b"0" * (40 * 2**20))
    (tmp_path / "covers.xlsx").write_bytes(bomb.getvalue())
    _, faults = read_books(tmp_path, HOUSE)
    assert kinds(faults) == [(0, "large-file")]


def test_a_file_of_200_megabytes_is_not_opened(tmp_path):
    path = tmp_path / "sales.csv"
    with path.open("wb") as opened:
        opened.truncate(200 * 2**20)
    _, faults = read_books(tmp_path, HOUSE)
    assert [str(fault) for fault in faults] == [
        f"{path.as_posix()}: the file has 200 MB, more than the 50 MB that are read; "
        "split it, or export fewer columns and days"
    ]
    assert MAX_TABLE_BYTES == 50 * 2**20


def test_too_many_cells_are_refused():
    table, faults = parse_csv("\n" * 2_000_001, "sales.csv", "sales", {})
    assert table is None
    assert kinds(faults) == [(0, "large-file")]


def test_half_written_files_say_so(tmp_path):
    text = "date,service,dish,sold\n" + "2026-11-20,dinner,soup,7\n" * 1 + "2026-11-21,din"
    _, faults = books_of(tmp_path, sales__csv=text)
    assert kinds(faults) == [(3, "half-file")]


def test_a_slip_that_runs_through_a_file_is_said_once(tmp_path):
    rows = "".join(f"2026-11-{day:02},brunch,soup,7\n" for day in range(1, 11))
    _, faults = books_of(tmp_path, sales__csv=f"date,service,dish,sold\n{rows}")
    assert kinds(faults) == [(2, "unknown-service")]
    assert faults[0].wrong == "'brunch' is not a service (and so in 9 more rows, to line 11)"


def test_of_many_values_of_a_column_the_first_are_named_and_the_rest_counted(tmp_path):
    rows = "".join(f"2026-11-20,dinner,soup,{n}.5\n" for n in range(1000))
    _, faults = books_of(tmp_path, sales__csv=f"date,service,dish,sold\n{rows}", covers__csv="x\n")
    of_sales = [fault for fault in faults if "sales" in fault.place]
    assert [fault.line for fault in of_sales] == [2, 3, 4, 5, 6, 7]
    assert of_sales[-1].wrong == "at least 296 more values like those above, in 296 rows, to line 302"
    assert len(faults) > len(of_sales)


def test_equal_rows_without_end_are_counted(tmp_path):
    row = "2026-11-20,dinner,soup,7\n"
    _, faults = books_of(tmp_path, sales__csv=f"date,service,dish,sold\n{row * 100}")
    assert [fault.line for fault in faults] == [3, 4, 5, 6, 7]
    assert faults[-1].wrong.endswith("already in line 2 (and so in 94 more rows, to line 101)")


def test_the_faults_of_other_rows_come_with_those_of_a_torn_one(tmp_path):
    text = "date,service,covers\n2026-11-20,dinner\n20 Nov 2026,dinner,4\n2026-11-21,dinner,\n"
    _, faults = books_of(tmp_path, covers__csv=text)
    assert kinds(faults) == [(2, "short-row"), (3, "bad-date"), (4, "empty-value")]


def test_services_and_items_go_by_id_or_name_in_any_case(tmp_path):
    books = sound(
        tmp_path,
        covers__csv="date,service,covers\n2026-11-19,Lunch,3\n2026-11-20,EVENING,30\n",
        counts__csv="counted_on,item,quantity,unit\n2026-11-20,Carrot,3,kg\n2026-11-20,SOUP,4,l\n",
        open_orders__csv="vendor,code,packs,deliver_on\nFarm,C-1,2,2026-11-27\n",
    )
    assert books.covers["service"].tolist() == ["lunch", "dinner"]
    assert [lot.item for lot in books.counts] == ["carrot", "soup"]
    assert [order.vendor for order in books.open_orders] == ["farm"]


@pytest.mark.parametrize("unseen", ["\u200b", "\ufeff", "\u200e", "\u202a", "\u2060"])
def test_what_nobody_sees_is_no_part_of_a_name(tmp_path, unseen):
    """It comes with what is copied from web pages and chats; the chef sees the right word refused."""
    rows = [["date", "service", f"covers{unseen}"], ["2026-11-20", f"din{unseen}ner", f"{unseen}44"]]
    text = "".join(",".join(row) + "\n" for row in rows)
    (tmp_path / "csv").mkdir()
    as_text = sound(tmp_path / "csv", covers__csv=text).covers
    as_sheet = sound(tmp_path, covers__xlsx=workbook(rows)).covers
    assert as_text.to_numpy().tolist() == as_sheet.to_numpy().tolist()
    assert as_text[["service", "covers"]].to_numpy().tolist() == [["dinner", 44.0]]


def test_a_name_that_two_share_stands_for_neither():
    ids = ids_by_name([("red", "Onion"), ("white", "Onion"), ("onion-jam", "Jam")], {"Jam": "red"})
    assert ids == {"red": "red", "white": "white", "onion-jam": "onion-jam", "jam": "red"}


def test_a_date_may_have_midnight_behind_it_as_spreadsheets_export_it(tmp_path):
    text = "date,service,covers\n2026-11-19 00:00:00,lunch,3\n2026-11-20T00:00,dinner,30\n"
    assert sound(tmp_path, covers__csv=text).covers["date"].dt.day.tolist() == [19, 20]
    _, faults = books_of(tmp_path, covers__csv="date,service,covers\n2026-11-19 19:42,lunch,3\n")
    assert kinds(faults) == [(2, "bad-date")]


def test_a_count_may_be_in_parts_of_one(tmp_path):
    text = "counted_on,item,quantity,unit\n2026-11-20,soup,1 1/2,l\n2026-11-20,carrot,3/4,kg\n"
    assert [lot.quantity for lot in sound(tmp_path, counts__csv=text).counts] == [1.5, 0.75]


@pytest.mark.parametrize(
    ("written", "right"),
    [
        ("62 lb", "write only the number, 62: the unit has its own column"),
        ("$3.10", "write 3.10"),
        ("none", "write 0 for none"),
        ("-", "write 0 for none"),
        ("5/4", "write a plain number such as 12 or 3.5"),
    ],
)
def test_a_number_written_otherwise_is_said_plainly(tmp_path, written, right):
    text = f"counted_on,item,quantity,unit\n2026-11-20,soup,{written},l\n"
    _, faults = books_of(tmp_path, counts__csv=text)
    assert [fault.right for fault in faults] == [right]


def test_a_batch_may_be_weighed_in_and_measured_out_or_not_weighed(tmp_path):
    text = (
        "started_on,recipe,drawn,made,unit,drawn_unit\n"
        "2026-11-20,soup,4.5,4,l,kg\n"
        "2026-11-21,soup,50,4,l,each\n"
        "2026-11-22,soup,,4,l,\n"
    )
    batches = sound(tmp_path, batches__csv=text).batches
    assert [(b.drawn, b.made) for b in batches] == [(4.5, 4.0), (5.0, 4.0), (0.0, 4.0)]
    _, faults = books_of(tmp_path, batches__csv="started_on,recipe,drawn,made,unit\n2026-11-20,soup,4,4,l\n")
    assert [fault.right for fault in faults] == [
        "write its unit in a column 'drawn_unit', or leave 'drawn' empty where it was not weighed"
    ]


def test_fingerprints_are_of_content_by_path(tmp_path):
    (tmp_path / "b.csv").write_bytes(b"")
    (tmp_path / "a.csv").write_bytes(b"abc")
    found = fingerprints([tmp_path / "b.csv", tmp_path / "a.csv"])
    assert [name.rpartition("/")[2] for name in found] == ["a.csv", "b.csv"]
    # SHA-256 of "abc" and of nothing: FIPS 180-4 examples, from memory.
    assert [*found.values()] == [
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad",
        "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855",
    ]
    assert read_text(tmp_path / "a.csv", 10) == "abc"


def test_what_the_house_ignores_of_its_till_is_left_out_without_a_doubt(tmp_path):
    rows = "date,service,dish,sold\n2026-11-19,dinner,soup,4\n2026-11-19,dinner,House Red GLS,9\n"
    (tmp_path / "sales.csv").write_text(rows + "2026-11-19,dinner,Voucher,1\n", "utf-8")
    books, _ = read_books(tmp_path, replace(HOUSE, ignored=("house red gls",)))
    assert books.sales["dish"].tolist() == ["soup"]
    assert [one.dish for one in books.left_out] == ["Voucher"]
