"""The order sheet: what the vendor reads, what may be changed, and that it reads back without guessing."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, datetime
from decimal import Decimal

import openpyxl
import pytest
import sample_plan
from hostile import NAMES

from ordering.pages.letter import letter
from ordering.pages.order_book import order_book
from ordering.pages.order_sheet import COLUMNS, order_sheet, standing
from ordering.records.house import House
from ordering.records.page import Sheet
from ordering.records.plan import Plan
from ordering.write.xlsx import workbook_bytes

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)


def sheet_of(vendor: str, house: House = HOUSE, plan: Plan = PLAN) -> Sheet:
    (sheet,) = order_sheet(house, plan, house.vendors[vendor]).sheets
    return sheet


def read(vendor: str, house: House = HOUSE, plan: Plan = PLAN) -> openpyxl.worksheet.worksheet.Worksheet:
    raw = workbook_bytes(order_sheet(house, plan, house.vendors[vendor]))
    return openpyxl.load_workbook(io.BytesIO(raw)).worksheets[0]


def test_every_line_reads_back_with_code_day_and_packs() -> None:
    found = read("hollow-mill")
    rows = list(found.iter_rows(values_only=True))
    where = standing(rows)
    assert where is not None
    lines = rows[where.first_row : where.last_row + 1]
    assert [(r[where.code], r[where.deliver_on], r[where.packs]) for r in lines] == [
        ("77", datetime(2026, 11, 28), 1),
        ("HM-104", datetime(2026, 11, 28), 2),
        ("HM-105", datetime(2026, 12, 1), 3),
    ]


def test_a_sheet_that_is_none_has_nothing_standing() -> None:
    assert standing([("a", "b"), (None, "code", "packs")]) is None
    assert standing([]) is None


def test_lines_end_at_the_first_row_without_a_code() -> None:
    rows = [("x",), ("Packs ", "CODE", "Deliver on"), (1, "a", None), (2, "b"), (3, None), (4, "c")]
    where = standing(rows)
    assert where is not None
    assert (where.first_row, where.last_row, where.packs, where.code, where.deliver_on) == (2, 3, 0, 1, 2)


def test_only_the_packs_can_be_changed() -> None:
    sheet = sheet_of("hollow-mill")
    assert sheet.is_protected
    found = [cell.value for row in sheet.rows for cell in row if cell.is_open]
    assert found == [1, 2, 3]


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
            if "ROUND" in cell.value:
                assert cell.value == f"=ROUND(D{cell.row}*G{cell.row},2)"
            elif "SUMIF" in cell.value:
                first, last = 10, 12
                assert cell.value == f"=SUMIF(A{first}:A{last},A{cell.row},H{first}:H{last})"
                assert found.cell(first - 1, 1).value == "deliver on"
                assert found.cell(last + 1, 1).value is None


def test_catch_weight_says_the_weight_expected_and_how_it_is_charged() -> None:
    sheet = sheet_of("reed-quay")
    (line,) = [row for row in sheet.rows if len(row) == len(COLUMNS) and row[1].value == "T1"]
    assert line[2].value == "Trout, gutted\ncatch weight, 9.50 per kg"
    assert (line[5].value, line[5].unit, line[5].formula) == (6.4, "kg", "=ROUND(D7*0.4,3)")


def test_a_line_without_a_price_has_no_amount() -> None:
    orders = tuple(replace(line, price=None, amount=Decimal(0)) for line in PLAN.buying.orders)
    plan = replace(PLAN, buying=replace(PLAN.buying, orders=orders))
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
    orders = tuple(replace(line, note="more than is wanted") for line in PLAN.buying.orders)
    plan = replace(PLAN, buying=replace(PLAN.buying, orders=orders))
    vendor = HOUSE.vendors["reed-quay"]
    workbook = order_sheet(HOUSE, plan, vendor)
    assert "more than is wanted" not in str(workbook)
    assert "more than is wanted" not in letter(HOUSE, plan, vendor, workbook).body
    assert "more than is wanted" in str(order_book(HOUSE, plan))


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
    rows = [row for row in sheet_of("hollow-mill").rows if len(row) == len(COLUMNS)][1:]
    assert [row[0].value for row in rows] == [date(2026, 11, 28), date(2026, 11, 28), date(2026, 12, 1)]
    assert ["rule" in row[0].style for row in rows] == [False, False, True]


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_any_name_of_item_vendor_or_house_can_be_printed(name: str) -> None:
    house = sample_plan.house({"seeds": name, "hollow-mill": name, "house": name})
    found = read("hollow-mill", house, sample_plan.plan(house))
    assert all(cell.data_type != "f" or cell.column in (6, 7, 8) for row in found.iter_rows() for cell in row)
    where = standing(list(found.iter_rows(values_only=True)))
    assert where is not None
    assert where.last_row - where.first_row == 2


def test_an_order_below_the_minimum_says_so_on_the_sheet_and_not_in_the_letter() -> None:
    """The purchaser sees it in every place before sending; the letter is for the vendor to read."""
    mill = replace(HOUSE.vendors["hollow-mill"], minimum=Decimal("50.00"))
    house = replace(HOUSE, vendors={**HOUSE.vendors, "hollow-mill": mill})
    top = [[cell.value for cell in row] for row in sheet_of("hollow-mill", house).rows[:8]]
    assert ["minimum", "Tue 1 Dec is 15.80 under the minimum order of 50.00: to be agreed"] in top
    book = {sheet.title: sheet for sheet in order_book(house, PLAN).sheets}
    vendors = [[cell.value for cell in row] for row in book["Vendors"].rows]
    assert ["minimum", date(2026, 12, 1), "15.80 under the minimum: ask the vendor, or fill it"] in vendors
    placed = [row[-1].value for row in book["Today"].rows if len(row) == 6 and row[-1].style == "box"]
    assert "15.80 under the minimum" in placed
    workbook = order_sheet(house, PLAN, mill)
    assert "minimum" not in letter(house, PLAN, mill, workbook).body
    where = standing(list(read("hollow-mill", house).iter_rows(values_only=True)))
    assert where is not None
    assert where.last_row - where.first_row == 2, "the sheet reads back all the same"
