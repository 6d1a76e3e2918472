"""The order sheet: what the vendor reads, what may be changed, and that it reads back without guessing."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
import sample_plan
from hostile import NAMES

from ordering.bookkeeping.order_sheets import Asked, read_order_sheets
from ordering.ledger.sheet_changes import SheetLine
from ordering.pages.letter import letter
from ordering.pages.order_sheet import COLUMNS, order_sheet
from ordering.pages.run_files import order_book
from ordering.records.house import House
from ordering.records.page import Sheet
from ordering.records.plan import Plan
from ordering.records.vendor_orders import Order, orders_of
from ordering.write.paging import scale_of, with_room
from ordering.write.xlsx import workbook_bytes

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)


NUMBERS = {("hollow-mill", date(2026, 11, 28)): "PO-0001", ("hollow-mill", date(2026, 12, 1)): "PO-0002"}


def orders(vendor: str, house: House = HOUSE, plan: Plan = PLAN) -> list[Order]:
    found = orders_of(house, plan.buying.orders, NUMBERS, (), plan.buying.placed)
    return [order for order in found if order.vendor == vendor]


def sheet_of(vendor: str, house: House = HOUSE, plan: Plan = PLAN) -> Sheet:
    made = order_sheet(house, house.vendors[vendor], orders(vendor, house, plan), plan.now)
    (sheet,) = made.sheets
    return sheet


def read(vendor: str, house: House = HOUSE, plan: Plan = PLAN) -> openpyxl.worksheet.worksheet.Worksheet:
    made = order_sheet(house, house.vendors[vendor], orders(vendor, house, plan), plan.now)
    raw = workbook_bytes(made)
    return openpyxl.load_workbook(io.BytesIO(raw)).worksheets[0]


def read_back(vendor: str, folder: Path, house: House = HOUSE, plan: Plan = PLAN) -> list[SheetLine]:
    """The sheet's lines as `place` reads them."""
    mine = orders(vendor, house, plan)
    (folder / "orders").mkdir()
    made = order_sheet(house, house.vendors[vendor], mine, plan.now)
    (folder / "orders" / f"{vendor}.xlsx").write_bytes(workbook_bytes(made))
    lines = tuple(line for order in mine for line in order.lines)
    return read_order_sheets(folder, [Asked(vendor, lines, frozenset(NUMBERS.values()))])


def test_every_line_reads_back_with_code_day_packs_and_price(tmp_path: Path) -> None:
    found = read_back("hollow-mill", tmp_path)
    assert [(s.code, s.deliver_on, s.packs, s.price) for s in found] == [
        ("77", date(2026, 11, 28), "1", "18.25"),
        ("HM-104", date(2026, 11, 28), "2", "21.5"),
        ("HM-105", date(2026, 12, 1), "3", "11.4"),
    ]


def test_an_order_is_one_line_at_the_head_with_its_day_its_cut_off_and_its_number() -> None:
    rows = [[cell.value for cell in row] for row in sheet_of("hollow-mill").rows]
    assert [row for row in rows if len(row) == 5 and row[3] == "order"] == [
        ["deliver on", date(2026, 11, 28), "order by Thu 26 Nov 15:00", "order", "PO-0001"],
        ["deliver on", date(2026, 12, 1), "order by Mon 30 Nov 15:00", "order", "PO-0002"],
    ]


def test_packs_and_prices_can_be_changed_and_lines_added_and_nothing_else() -> None:
    sheet = sheet_of("hollow-mill")
    assert sheet.is_protected
    found = [[cell.value for cell in row if cell.is_open] for row in sheet.rows]
    open_cells = [cells for cells in found if cells]
    assert open_cells[:3] == [[1, Decimal("18.25")], [2, Decimal("21.50")], [3, Decimal("11.40")]]
    assert open_cells[3:] == [[None] * 5] * 3, "day, code, description, packs and price of lines to add"


def test_totals_follow_the_packs_by_our_own_formulas_and_agree_with_the_plan() -> None:
    cells = [cell for row in sheet_of("hollow-mill").rows for cell in row if cell.formula]
    assert next(cell.formula for cell in cells if "ROUND" in cell.formula) == "=ROUND(D10*G10,2)"
    sums = [cell.value for cell in cells if cell.formula.startswith("=SUM")]
    assert sums == [Decimal("61.25"), Decimal("34.20"), Decimal("95.45"), Decimal("16.00"), Decimal("111.45")]


def test_formulas_refer_to_the_cells_they_mean() -> None:
    found = read("hollow-mill")
    for row in found.iter_rows():
        for cell in row:
            if cell.data_type != "f":
                continue
            if "IF(D" in cell.value:
                n = cell.row
                assert cell.value == f'=IF(D{n}="","",ROUND(D{n}*G{n},2))'
            elif "ROUND" in cell.value:
                assert cell.value == f"=ROUND(D{cell.row}*G{cell.row},2)"
            elif "SUMIF" in cell.value:
                first, last = 10, 15
                assert cell.value == f"=SUMIF(A{first}:A{last},A{cell.row},H{first}:H{last})"
                assert found.cell(first - 1, 1).value == "deliver on"
                assert found.cell(last + 1, 1).value is None


def test_catch_weight_says_the_weight_expected_and_how_it_is_charged() -> None:
    sheet = sheet_of("reed-quay")
    (line,) = [row for row in sheet.rows if len(row) == len(COLUMNS) and row[1].value == "T1"]
    assert line[2].value == "Trout, gutted\ncatch weight, 9.50 per kg"
    assert (line[5].value, line[5].unit, line[5].formula) == (6.4, "kg", "=ROUND(D7*0.4,3)")


def test_a_line_without_a_price_has_no_amount() -> None:
    bare = tuple(replace(line, price=None, amount=Decimal(0)) for line in PLAN.buying.orders)
    plan = replace(PLAN, buying=replace(PLAN.buying, orders=bare))
    line = next(row for row in sheet_of("reed-quay", plan=plan).rows if len(row) > 1 and row[1].value == "T1")
    assert (line[6].value, line[7].value, line[7].formula) == (None, None, "")


def test_an_offer_no_longer_in_the_house_keeps_its_weight() -> None:
    bare = replace(HOUSE, ingredients={k: replace(v, offers=()) for k, v in HOUSE.ingredients.items()})
    line = next(row for row in sheet_of("reed-quay", bare).rows if len(row) > 1 and row[1].value == "T1")
    assert line[5].value == 6.4


def test_it_holds_what_the_vendor_needs_and_nothing_else() -> None:
    texts = [str(cell.value) for row in sheet_of("hollow-mill").rows for cell in row if cell.value]
    assert "The Heron and Reed, 1 Causeway, Saltmere" in texts
    assert "A-1047" in texts
    assert "Side gate, before ten; ring twice." in texts
    assert not any("bread" in text.lower() or "safety" in text for text in texts)


def test_a_note_for_the_chef_does_not_reach_the_vendor() -> None:
    noted = tuple(replace(line, note="more than is wanted") for line in PLAN.buying.orders)
    plan = replace(PLAN, buying=replace(PLAN.buying, orders=noted))
    vendor = HOUSE.vendors["reed-quay"]
    mine = orders("reed-quay", HOUSE, plan)
    workbook = order_sheet(HOUSE, vendor, mine, plan.now)
    assert "more than is wanted" not in str(workbook)
    assert "more than is wanted" not in letter(HOUSE, vendor, mine, plan.now, workbook).body


def test_heading_repeats_and_stays_in_sight_just_above_the_lines() -> None:
    sheet = sheet_of("hollow-mill")
    head = next(
        n for n, row in enumerate(sheet.rows) if row and row[0].value == "deliver on" and len(row) > 5
    )
    head = max(n for n, row in enumerate(sheet.rows) if tuple(cell.value for cell in row) == COLUMNS)
    assert sheet.repeat == (head, head)
    assert sheet.freeze == head + 1
    assert sheet.tables[0].first_row == head


def test_it_is_as_wide_as_a_page_of_either_paper_without_becoming_small() -> None:
    """98 digits of 7 pixels fit A4 between half-inch margins at full size; 85 % is still 8.5 points."""
    assert sum(sheet_of("hollow-mill").widths) * 0.85 <= 98


def test_lines_are_grouped_by_delivery_with_a_rule_between() -> None:
    rows = [row for row in sheet_of("hollow-mill").rows if len(row) == len(COLUMNS)][1:4]
    assert [row[0].value for row in rows] == [date(2026, 11, 28), date(2026, 11, 28), date(2026, 12, 1)]
    assert ["rule" in row[0].style for row in rows] == [False, False, True]


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_any_name_of_item_vendor_or_house_can_be_printed(name: str, tmp_path: Path) -> None:
    house = sample_plan.house({"seeds": name, "hollow-mill": name, "house": name})
    found = read("hollow-mill", house, sample_plan.plan(house))
    assert all(cell.data_type != "f" or cell.column in (6, 7, 8) for row in found.iter_rows() for cell in row)
    assert len(read_back("hollow-mill", tmp_path, house, sample_plan.plan(house))) == 3


def test_an_order_below_the_minimum_says_so_on_the_sheet_and_not_in_the_letter(tmp_path: Path) -> None:
    """The purchaser sees it in every place before sending; the letter is for the vendor to read."""
    mill = replace(HOUSE.vendors["hollow-mill"], minimum=Decimal("50.00"))
    house = replace(HOUSE, vendors={**HOUSE.vendors, "hollow-mill": mill})
    top = [[cell.value for cell in row] for row in sheet_of("hollow-mill", house).rows[:10]]
    assert ["minimum", "Tue 1 Dec is 15.80 under the minimum order of 50.00: to be agreed"] in top
    book = {sheet.title: sheet for sheet in order_book(house, PLAN).sheets}
    placed = [row[-1].value for row in book["Today"].rows if len(row) == 6 and "box" in row[-1].style]
    assert "15.80 under minimum" in placed
    mine = orders("hollow-mill", house)
    assert "minimum" not in letter(house, mill, mine, PLAN.now, order_sheet(house, mill, mine, PLAN.now)).body
    assert len(read_back("hollow-mill", tmp_path, house)) == 3, "the sheet reads back all the same"


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_letters_are_of_nine_points_and_no_heading_is_broken_within_a_word(paper: str) -> None:
    """Made for ten points, printed no smaller than nine; a letter of bold Arial is about a digit wide."""
    sheet = with_room(sheet_of("hollow-mill"), is_american=paper == "letter")
    assert 10 * scale_of(sheet, paper) >= 9.0
    assert 10 * scale_of(sheet, paper) < 10.0, "no column is narrower than it need be"
    assert not sheet.fit_tall
    for name, width in zip(COLUMNS, sheet.widths, strict=True):
        assert max(map(len, name.split())) + 0.7 <= width, name


def test_what_is_counted_and_charged_by_weight_is_expected_by_weight() -> None:
    """Chickens by the case of 12, about 42 lb, counted by the piece: 4 cases are 168 lb, not `48 each`."""
    trout = HOUSE.ingredients["trout"]
    (offer,) = [o for o in trout.offers if o.vendor == "reed-quay"]
    cased = replace(offer, pack="12 each ~ 42 lb", pack_quantity=12.0, per_unit="lb")
    goods = HOUSE.ingredients | {"trout": replace(trout, unit="each", offers=(cased,))}
    of_trout = next(line for line in PLAN.buying.orders if line.item == "trout")
    line = replace(of_trout, packs=4, pack=cased.pack, quantity=48.0, unit="each")
    plan = replace(PLAN, buying=replace(PLAN.buying, orders=(line,)))
    sheet = sheet_of("reed-quay", replace(HOUSE, ingredients=goods), plan)
    (weight,) = [cell for row in sheet.rows for cell in row if cell.unit]
    assert (weight.value, weight.unit) == (168.0, "lb")
