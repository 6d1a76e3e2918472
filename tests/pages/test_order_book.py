"""The order book: every sheet, its links and charts, and Today on one page whatever the day holds."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal

import numpy as np
import openpyxl
import pytest
import sample_plan
from hostile import NAMES

from ordering.amounts import shown
from ordering.pages.ageing import EXCEL_DAY_0, ageing_sheet, spans
from ordering.pages.forecast_page import dishes_sheets
from ordering.pages.order_book import order_book
from ordering.pages.parts import dish_name, item_name
from ordering.pages.start_list import coming_starts, start_list, starts_sheet
from ordering.pages.today import placings, today_sheet
from ordering.pages.vendor_page import busy_vendors, vendors_sheet
from ordering.pages.why_page import cause_name, why_sheet
from ordering.records.books import Lot
from ordering.records.page import Cell, Sheet
from ordering.records.plan import Expiring, Peg, Plan, Shortage
from ordering.write.paging import row_heights
from ordering.write.xlsx import workbook_bytes

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)


def column(sheet: Sheet, head: str) -> list[object]:
    """Values under a heading, to the end of its table."""
    for table in sheet.tables:
        names = [cell.value for cell in sheet.rows[table.first_row]]
        if head in names:
            at = names.index(head)
            return [row[at].value for row in sheet.rows[table.first_row + 1 : table.last_row + 1]]
    raise AssertionError(f"no column {head}")


def busy(plan: Plan) -> Plan:
    """A day with thirty orders, forty starts, thirty shortages, twenty lots to use up and twenty doubts."""
    line = plan.buying.orders[0]
    orders = tuple(
        replace(line, order_by=datetime(2026, 11, 26, 8) + timedelta(hours=n), code=f"c{n}")
        for n in range(30)
    )
    short = tuple(
        Shortage(
            sample_plan.SAT,
            f"thing-{n}",
            1.5,
            "kg",
            "A dish with a long name: 9 portions; B",
            "no-time",
            "x" * 150,
        )
        for n in range(30)
    )
    return replace(
        plan,
        buying=replace(plan.buying, orders=orders),
        netting=replace(
            plan.netting,
            starts=plan.netting.starts[:1] * 40,
            expiring=(Expiring("aged-rib", sample_plan.SAT, 7.2, 3.1, cost=88.0),) * 20,
        ),
        shortages=short,
        doubts=("This is doubtful for a reason that takes a whole sentence to say. " * 3,) * 20,
    )


def test_sheets_stand_in_the_sequence_a_chef_turns_to_them() -> None:
    assert [sheet.title for sheet in order_book(HOUSE, PLAN).sheets] == [
        *("Today", "Starts", "Short", "Use first", "Ageing", "Forecast", "Dishes"),
        *("Vendors", "Pars", "Why", "Allergens", "Cautions", "Doubts"),
    ]


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_any_name_of_house_vendor_item_and_dish_makes_a_book(name: str) -> None:
    ids = ("house", "hollow-mill", "reed-quay", "flour", "trout", "loaf", "bread", "rib-plate")
    house = sample_plan.house(dict.fromkeys(ids, name))
    plan = replace(sample_plan.plan(house), doubts=(name,))
    found = openpyxl.load_workbook(io.BytesIO(workbook_bytes(order_book(house, plan))))
    assert len(found.sheetnames) == len({title.casefold() for title in found.sheetnames}) == 13
    formulas = [cell for sheet in found for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    assert formulas == []


def test_links_of_today_lead_to_where_each_vendor_begins() -> None:
    found = openpyxl.load_workbook(io.BytesIO(workbook_bytes(order_book(HOUSE, PLAN))))
    linked = {cell.value: cell.hyperlink for row in found["Today"].iter_rows() for cell in row}
    named = {name: link.location for name, link in linked.items() if link}
    assert set(named) == {"Hollow Mill", "Reed Quay Fish & Sons"}
    for name, location in named.items():
        sheet, at = location.replace("'", "").split("!")
        assert found[sheet][at].value == name


@pytest.mark.parametrize("sheet", order_book(HOUSE, PLAN).sheets, ids=lambda sheet: sheet.title)
def test_no_column_is_wider_than_the_paper(sheet: Sheet) -> None:
    """Programs shrink a sheet of many columns to the width of a page, but cut a column that is alone."""
    page = (10.0 if sheet.is_landscape else 7.27) * 96
    assert max(sheet.widths) * 7 + 5 <= page


@pytest.mark.parametrize("plan", [PLAN, busy(PLAN)], ids=["quiet", "busy"])
def test_today_fits_one_page_at_a_size_that_can_be_read(plan: Plan) -> None:
    """Seven points at least: 10 points shrunk by no more than what width and height of A4 ask."""
    sheet = today_sheet(HOUSE, plan, {})
    assert sheet.fit_tall == 1
    tall = sum(row_heights(sheet).get(n, sheet.row_height) for n in range(len(sheet.rows)))
    wide = sum(sheet.widths) * 7 * 0.75
    page_wide, page_tall = (8.27 - 1.0) * 72, (11.69 - 1.25) * 72
    assert 10 * min(page_wide / wide, page_tall / tall, 1.0) >= 7


def test_what_does_not_fit_today_is_counted_and_found_elsewhere() -> None:
    texts = [str(cell.value) for row in today_sheet(HOUSE, busy(PLAN), {}).rows for cell in row]
    assert "and 11 more: see sheet Vendors" in texts
    assert "and 34 more: see sheet Starts" in texts
    assert "and 25 more: see sheet Short" in texts
    assert "and 17 more: see sheet Doubts" in texts


def test_placings_come_by_cut_off_with_their_fees() -> None:
    found = placings(HOUSE, PLAN)
    assert [(one.vendor, one.n_lines, one.amount, one.fee) for one in found] == [
        ("reed-quay", 1, Decimal("60.80"), Decimal(0)),
        ("hollow-mill", 2, Decimal("61.25"), Decimal("8.00")),
        ("hollow-mill", 1, Decimal("34.20"), Decimal("8.00")),
    ]
    assert list(found) == sorted(found, key=lambda one: one.order_by)


def test_nothing_to_do_is_said_on_every_sheet() -> None:
    plan = replace(
        PLAN,
        buying=replace(PLAN.buying, orders=(), outlook=(), pars=(), notes=(), bound_gap=None),
        netting=replace(PLAN.netting, starts=(), warnings=()),
        opening=replace(PLAN.opening, lots=(), scheduled=()),
        shortages=(),
        pegging=(),
        doubts=(),
    )
    text = str(order_book(HOUSE, plan).sheets)
    for words in (
        *("Nothing to order", "Nothing to start", "Nothing should run short"),
        *("Nothing is ageing", "No item has a par", "Nothing is ordered", "was not proved"),
    ):
        assert words in text
    assert workbook_bytes(order_book(HOUSE, plan))


def test_the_start_list_runs_by_day_with_the_longest_first_and_room_to_tick() -> None:
    starts = coming_starts(PLAN)
    assert [s.recipe for s in starts] == ["aged-rib", "levain", "loaf", "brined-trout", "loaf", "levain"]
    sheet = starts_sheet(HOUSE, PLAN)
    assert column(sheet, "start on") == sorted(column(sheet, "start on"))  # type: ignore[type-var]
    ticks = [row[-1] for row in sheet.rows[4:10]]
    assert all(cell == Cell(None, "box") for cell in ticks)
    (wall,) = start_list(HOUSE, PLAN).sheets
    assert [[cell.value for cell in row] for row in wall.rows] == [
        [cell.value for cell in row] for row in sheet.rows
    ]
    assert wall.row_height > sheet.row_height


def test_the_start_list_says_what_goes_in_by_parcel_or_by_recipe() -> None:
    sheet = starts_sheet(HOUSE, PLAN)
    takes = dict(zip(column(sheet, "recipe"), column(sheet, "take"), strict=True))
    loaf = HOUSE.recipes["loaf"]
    n_batches = [s.batches for s in coming_starts(PLAN) if s.recipe == "loaf"][-1]
    assert takes[loaf.name] == "; ".join(
        f"{shown(line.drawn * n_batches, HOUSE.unit_of(line.item))} {HOUSE.name_of(line.item)}"
        for line in loaf.lines
    )
    trout = next(text for name, text in takes.items() if "rout" in str(name))
    assert trout == "6.6 kg Trout, gutted; 300 g Sea salt", "less than a kilo is weighed in grams"
    (aged,) = [s for s in coming_starts(PLAN) if s.recipe == "aged-rib"]
    assert takes[HOUSE.recipes["aged-rib"].name].startswith("; ".join(aged.from_lots))


def test_starts_after_the_coming_week_wait() -> None:
    late = replace(PLAN.netting.starts[0], start_on=sample_plan.ON + timedelta(days=7))
    early = replace(PLAN.netting.starts[0], start_on=sample_plan.ON - timedelta(days=1))
    assert coming_starts(replace(PLAN, netting=replace(PLAN.netting, starts=(late, early)))) == ()


def test_cautions_stand_under_the_work_with_source_and_who_decides() -> None:
    texts = [str(cell.value) for row in starts_sheet(HOUSE, PLAN).rows for cell in row]
    assert any("Dry ageing" in text and "Rib of beef, 35 days" in text for text in texts)
    assert sum(text.startswith("Source: ") for text in texts) == 5
    assert texts[-1] == "Local code and licensed practice decide. No sheet can say that food is safe."


def test_no_caution_is_torn_between_two_pages() -> None:
    """Each is a part of the sheet: its title, its text and its source; the heading goes with the first."""
    sheet = starts_sheet(HOUSE, PLAN)
    first, heading, *others = sheet.parts
    assert sheet.rows[first][1].value == "Rib of beef, 35 days"
    assert (sheet.rows[heading], sheet.rows[heading + 1][0].value) == ((), "Cautions")
    assert all("strong" in sheet.rows[row][0].style for row in others)
    assert all(str(sheet.rows[row - 1][0].value).startswith("Source: ") for row in others)
    assert len(others) == 4


def test_the_time_line_counts_days_in_process_and_days_to_use() -> None:
    found = {(s.name, s.state): s for s in spans(HOUSE, PLAN)}
    ageing = found[("Rib of beef, 35 days, 15 kg", "in process")]
    assert (ageing.begins_on, ageing.process_days, ageing.ready_on) == (
        date(2026, 11, 1),
        35,
        date(2026, 12, 6),
    )
    assert ageing.use_days == 15  # 6 to 20 December, both counted
    ready = found[("Rib of beef, 35 days, 7.5 kg", "ready")]
    assert (ready.process_days, ready.use_days) == (0, 7)
    assert found[("Rib of beef, 35 days, 15 kg", "to be started")].use_by == date(2027, 1, 14)
    assert not any("flour" in name.lower() for name, _ in found)


def test_the_time_line_draws_from_the_first_beginning_to_the_last_day() -> None:
    sheet = ageing_sheet(HOUSE, PLAN)
    (chart,) = sheet.charts
    assert chart.axis_range == (
        date(2026, 11, 1).toordinal() - EXCEL_DAY_0,
        date(2027, 1, 15).toordinal() - EXCEL_DAY_0,
    )
    begins, process, use = chart.series
    assert begins.style == "hidden"
    heads = [cell.value for cell in sheet.rows[begins.values[1] - 1]]
    assert [heads[s.values[0]] for s in (begins, process, use)] == [
        "begins on",
        "days in process",
        "days to use it",
    ]
    table = sheet.tables[0]
    assert all(s.values[1:] == (table.first_row + 1, table.last_row) for s in chart.series)
    assert chart.at[0] + chart.height / 21 <= table.first_row


def test_a_long_ageing_room_gets_a_page_for_its_chart() -> None:
    days = [date(2026, 12, 1) + timedelta(days=n) for n in range(40)]
    lots = tuple(Lot("aged-rib", 7.0, day + timedelta(days=14), day) for day in days)
    sheet = ageing_sheet(HOUSE, replace(PLAN, opening=replace(PLAN.opening, lots=lots)))
    (chart,) = sheet.charts
    assert sheet.breaks == (sheet.tables[0].first_row,)
    assert chart.height <= 640
    rest = replace(PLAN.opening, lots=(Lot("aged-rib", 1e-9, date(2026, 12, 20), date(2026, 12, 6)),))
    assert not any(s.state == "in process" for s in spans(HOUSE, replace(PLAN, opening=rest)))


def test_lots_with_the_same_dates_are_one_bar() -> None:
    lots = tuple(Lot("aged-rib", q, date(2026, 12, 20), date(2026, 12, 6)) for q in (7.5, 8.0))
    found = spans(HOUSE, replace(PLAN, opening=replace(PLAN.opening, lots=lots)))
    assert found[0].name == "Rib of beef, 35 days, 2 lots, 15.5 kg"


def test_day_numbers_are_those_of_a_workbook() -> None:
    """1900-03-01 is day 61 of the 1900 date system (ECMA-376, 18.17.4.1; from memory)."""
    assert date(1900, 3, 1).toordinal() - EXCEL_DAY_0 == 61


def test_why_has_one_row_a_line_whose_parts_add_up() -> None:
    sheet = why_sheet(HOUSE, PLAN)
    (table,) = sheet.tables
    assert table.last_row - table.first_row == len(PLAN.buying.orders)
    rows = sheet.rows[table.first_row + 1 : table.last_row + 1]
    pegged = [row for row in rows if row[-1].value]
    for row in pegged:
        parts = [cell.value for cell in row[4:-1] if cell.value is not None]
        assert sum(parts) == pytest.approx(row[3].value)  # type: ignore[arg-type]
    assert [row[-1].value for row in pegged] == [
        "Sat 28 Nov to Sun 29 Nov: Bread and butter",
        "Tue 1 Dec: Smoked trout, pickles",
    ]


def test_why_names_the_dishes_that_take_most_and_counts_the_rest() -> None:
    pegs = tuple(
        Peg("reed-quay", "T1", sample_plan.SAT, dish, sample_plan.TUE, quantity, "kg")
        for dish, quantity in (("a", 1.0), ("bread", 2.0), ("trout-plate", 3.0), ("b", 0.4))
    )
    said = column(why_sheet(HOUSE, replace(PLAN, pegging=pegs)), "most of it for")[-1]
    assert said == "Tue 1 Dec: Smoked trout, pickles, Bread and butter and 2 more"


def test_what_is_foreseen_is_one_row_for_each_offer() -> None:
    """A vendor who comes four times a week would fill pages otherwise; the days are in outlook.csv."""
    line = PLAN.buying.outlook[0]
    weekly = tuple(replace(line, deliver_on=line.deliver_on + timedelta(days=n)) for n in (0, 3, 6))
    plan = replace(PLAN, buying=replace(PLAN.buying, outlook=weekly))
    sheet = vendors_sheet(HOUSE, plan, [HOUSE.vendors["reed-quay"]])
    foreseen = [row for row in sheet.rows if row and row[-1].value == "in 3 deliveries"]
    assert [(row[1].value, row[4].value) for row in foreseen] == [(line.deliver_on, 30)]


def test_every_vendor_with_something_to_see_has_a_part_of_the_sheet() -> None:
    vendors = busy_vendors(HOUSE, PLAN)
    sheet = vendors_sheet(HOUSE, PLAN, vendors)
    assert [sheet.rows[row][0].value for row in sheet.parts] == [vendor.name for vendor in vendors]
    idle = replace(PLAN, buying=replace(PLAN.buying, orders=(), outlook=()))
    assert busy_vendors(HOUSE, replace(idle, opening=replace(PLAN.opening, scheduled=()))) == ()


def test_an_item_and_a_dish_of_one_id_keep_their_own_names() -> None:
    home = replace(HOUSE, dishes=HOUSE.dishes | {"flour": replace(HOUSE.dishes["bread"], name="A dish")})
    assert item_name(home, "flour") == "Strong white flour"
    assert dish_name(home, "flour") == cause_name(home, "flour") == "A dish"
    assert item_name(home, "bread") == "bread"


def test_causes_are_said_in_words() -> None:
    assert cause_name(HOUSE, "*par") == "par"
    assert cause_name(HOUSE, "trout-plate") == "Smoked trout, pickles"
    assert cause_name(HOUSE, "gone-dish") == "gone-dish"


def test_the_high_stands_beside_what_is_expected_and_apart_where_services_are_many() -> None:
    (sheet,) = dishes_sheets(HOUSE, PLAN)
    heads = [cell.value for cell in sheet.rows[sheet.tables[0].first_row]]
    assert heads[1:3] == ["Thu 26 Nov dinner", "Thu 26 Nov dinner, high"]
    slots = tuple(replace(slot, service=name) for slot in PLAN.forecast.slots[:6] for name in ("a", "b"))
    wide = replace(
        PLAN.forecast,
        slots=slots,
        mean=np.ones((len(PLAN.forecast.dishes), 12)),
        quantiles=np.full((len(PLAN.forecast.dishes), 12, 7), 2.0),
    )
    plan = replace(PLAN, forecast=wide)
    assert [s.title for s in dishes_sheets(HOUSE, plan)] == ["Dishes", "Dishes high"]
    assert [s.rows[-1][1].value for s in dishes_sheets(HOUSE, plan)] == [1, 2]


def test_forecast_charts_draw_the_columns_beside_them() -> None:
    sheet = next(s for s in order_book(HOUSE, PLAN).sheets if s.title == "Forecast")
    for chart, table in zip(sheet.charts, sheet.tables, strict=True):
        heads = [cell.value for cell in sheet.rows[table.first_row]]
        assert [heads[s.values[0]] for s in chart.series] == ["expected", "low", "high"]
        assert all(s.values[1:] == (table.first_row + 1, table.last_row) for s in chart.series)


def test_two_runs_give_the_same_bytes() -> None:
    again = sample_plan.plan(sample_plan.house())
    assert workbook_bytes(order_book(HOUSE, PLAN)) == workbook_bytes(order_book(sample_plan.house(), again))
