"""The order book: every sheet, its links and charts, and Today on one page whatever the day holds."""

from __future__ import annotations

import io
import re
from dataclasses import replace
from datetime import date, datetime, timedelta
from decimal import Decimal

import numpy as np
import openpyxl
import pytest
import sample_plan
from hostile import NAMES

from ordering.amounts import shown
from ordering.faults import answer_code
from ordering.pages.ageing import EXCEL_DAY_0, ageing_sheet, spans
from ordering.pages.forecast_page import dishes_sheets, forecast_sheet
from ordering.pages.parts import dish_name, item_name
from ordering.pages.run_files import order_book
from ordering.pages.start_list import by_station, coming_starts, start_list
from ordering.pages.today import placings, today_sheet
from ordering.records.books import Lot
from ordering.records.house import House, RecipeLine
from ordering.records.page import Cell, Sheet
from ordering.records.plan import Expiring, Plan, Shortage, TakenForStart
from ordering.write.paging import scale_of, with_room
from ordering.write.styles import properties
from ordering.write.xlsx import workbook_bytes

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)
RIBS, LATER = RecipeLine("rib", 8.5), date(2026, 12, 8)


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
        *("Today", "Short", "Use first", "Ageing", "Forecast", "Dishes", "Allergens"),
    ]


@pytest.mark.parametrize("name", NAMES.values(), ids=NAMES.keys())
def test_any_name_of_house_vendor_item_and_dish_makes_a_book(name: str) -> None:
    ids = ("house", "hollow-mill", "reed-quay", "flour", "trout", "loaf", "bread", "rib-plate")
    house = sample_plan.house(dict.fromkeys(ids, name))
    plan = replace(sample_plan.plan(house), doubts=(name,))
    found = openpyxl.load_workbook(io.BytesIO(workbook_bytes(order_book(house, plan))))
    assert len(found.sheetnames) == len({title.casefold() for title in found.sheetnames}) == 7
    formulas = [cell for sheet in found for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    assert formulas == []


SHEETS = [
    *((9.0, sheet) for plan in (PLAN, busy(PLAN)) for sheet in order_book(HOUSE, plan).sheets),
    *((10.0, sheet) for plan in (PLAN, busy(PLAN)) for sheet in start_list(HOUSE, plan).sheets),
]


@pytest.mark.parametrize(("least", "sheet"), SHEETS, ids=[sheet.title for _, sheet in SHEETS])
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_letters_can_be_read_at_arms_length(paper: str, least: float, sheet: Sheet) -> None:
    """Nine points on paper, ten on the wall but for the sources: no sheet is shrunk to fit its page."""
    scale = scale_of(with_room(sheet, is_american=paper == "letter"), paper)
    cells = [cell for row in sheet.rows for cell in row]
    sources = [cell for cell in cells if str(cell.value).startswith("Sources: [1]")]
    sizes = {float(str(properties(c.style)["font_size"])) for c in cells if c not in sources}
    assert not sheet.fit_tall
    assert min(sizes) * scale >= least
    assert all(float(str(properties(c.style)["font_size"])) * scale >= 9.0 for c in sources)


def test_what_does_not_fit_today_is_counted_and_found_elsewhere() -> None:
    texts = [str(cell.value) for row in today_sheet(HOUSE, busy(PLAN)).rows for cell in row]
    assert "and 26 more: see Short" in texts
    assert "and 15 more: see Use first" in texts
    assert sum(text.startswith("This is doubtful") for text in texts) == 20, "what to check is all there"


def test_a_doubt_has_the_code_that_answers_it() -> None:
    texts = [str(cell.value) for row in today_sheet(HOUSE, PLAN).rows for cell in row]
    (asked,) = [text for text in texts if "never counted" in text]
    assert asked.endswith(f"[{answer_code(PLAN.doubts[0])}]")
    assert any("answered" in text and "house.yaml" in text for text in texts)


def test_placings_come_by_cut_off_with_their_fees() -> None:
    found = placings(HOUSE, PLAN)
    assert [(one.vendor, one.n_lines, one.amount, one.fee) for one in found] == [
        ("reed-quay", 1, Decimal("60.80"), Decimal(0)),
        ("hollow-mill", 2, Decimal("61.25"), Decimal("8.00")),
        ("hollow-mill", 1, Decimal("34.20"), Decimal("8.00")),
    ]
    assert list(found) == sorted(found, key=lambda one: one.order_by)


def test_nothing_to_do_is_said_today_and_takes_no_sheet() -> None:
    plan = replace(
        PLAN,
        buying=replace(PLAN.buying, orders=(), outlook=(), pars=(), notes=(), bound_gap=None),
        netting=replace(PLAN.netting, starts=(), warnings=(), expiring=()),
        opening=replace(PLAN.opening, lots=(), scheduled=()),
        shortages=(),
        pegging=(),
        doubts=(),
    )
    today, *others = order_book(HOUSE, plan).sheets
    for words in ("Nothing to order", "Nothing to start", "Nothing should run short"):
        assert words in str(today)
    assert [sheet.title for sheet in others] == ["Forecast", "Dishes", "Allergens"]
    assert workbook_bytes(order_book(HOUSE, plan))


def starts_sheet(house: House, plan: Plan) -> Sheet:
    return start_list(house, plan).sheets[0]


def test_the_start_list_runs_by_day_with_the_longest_first_and_room_to_tick() -> None:
    starts = coming_starts(PLAN)
    assert [s.recipe for s in starts] == ["aged-rib", "levain", "loaf", "brined-trout", "loaf", "levain"]
    rows = [row for row in starts_sheet(HOUSE, PLAN).rows if len(row) == 5 and row[0].value is None]
    assert [row[0] for row in rows] == [Cell(None, "tick")] * len(starts)
    assert [row[1].value for row in rows] == [HOUSE.name_of(s.recipe) for s in starts]


def test_the_start_list_has_a_heading_for_each_day_and_station() -> None:
    recipes = dict(HOUSE.recipes)
    for name, station in (("levain", "Bakery"), ("loaf", "Bakery"), ("aged-rib", "Butchery")):
        recipes[name] = replace(recipes[name], station=station)
    home = replace(HOUSE, recipes=recipes)
    heads = [row[0].value for row in starts_sheet(home, PLAN).rows if row and "shade" in row[0].style]
    assert heads[:2] == ["Thu 26 Nov: Butchery", "Thu 26 Nov: Bakery"] or heads[:2] == [
        "Thu 26 Nov: Bakery",
        "Thu 26 Nov: Butchery",
    ]
    assert "Sat 28 Nov: Kitchen" in heads, "what has no station stands under the kitchen"


def test_what_goes_into_another_of_the_same_day_comes_before_it() -> None:
    ready = {"start_on": sample_plan.ON, "ready_on": sample_plan.ON}
    starts = [replace(s, **ready) for s in PLAN.netting.starts if s.recipe in ("loaf", "levain")][:2]
    (work,) = by_station(HOUSE, starts).values()
    assert [s.recipe for s in work] == ["levain", "loaf"]


def test_what_is_made_and_served_the_same_day_stands_two_to_a_line() -> None:
    loaf = replace(
        PLAN.netting.starts[0], recipe="loaf", start_on=sample_plan.ON, ready_on=sample_plan.ON, note=""
    )
    plan = replace(PLAN, netting=replace(PLAN.netting, starts=(loaf, loaf, loaf)))
    rows = [row for row in starts_sheet(HOUSE, plan).rows if len(row) == 5 and row[0].value is None]
    assert [[cell.style.startswith("tick") for cell in row] for row in rows] == [
        [True, False, False, True, False],
        [True, False, False, False, False],
    ]
    assert [row[4].value for row in rows] == [
        f"also make Seeded loaf, {shown(loaf.quantity, loaf.unit)}",
        None,
    ]


def test_how_it_is_made_stands_on_the_back_where_the_house_wrote_it() -> None:
    recipes = HOUSE.recipes | {"loaf": replace(HOUSE.recipes["loaf"], notes="Fold twice.")}
    _, back = start_list(replace(HOUSE, recipes=recipes), PLAN).sheets
    assert "Fold twice." in [cell.value for row in back.rows for cell in row]


def test_the_start_list_says_what_goes_in_by_parcel_or_by_recipe() -> None:
    takes = takes_of(HOUSE, PLAN)
    loaf = HOUSE.recipes["loaf"]
    n_batches = [s.batches for s in coming_starts(PLAN) if s.recipe == "loaf"][-1]
    assert takes[loaf.name] == "; ".join(
        f"{shown(line.drawn * n_batches, HOUSE.unit_of(line.item))} {HOUSE.name_of(line.item)}"
        for line in loaf.lines
    )
    trout = next(text for name, text in takes.items() if "rout" in name)
    assert trout == "6.6 kg Trout, gutted; 300 g Sea salt", "less than a kilo is weighed in grams"
    assert takes["Rib of beef, 35 days"] == "17 kg Rib of beef, oldest first"


def takes_of(house: House, plan: Plan) -> dict[str, str]:
    """What the start list says goes in, by the name of what is made."""
    rows = [row for row in starts_sheet(house, plan).rows if len(row) == 5 and row[0].value is None]
    return {str(row[1].value): str(row[4].value) for row in rows}


@pytest.mark.parametrize(
    ("parcels", "said"),
    [
        ((TakenForStart(RIBS, 8.0, LATER),), ""),  # there is but one
        ((TakenForStart(RIBS, 8.0, LATER, is_only=False),), ", use by Tue 8 Dec"),
        (
            (TakenForStart(RIBS, 6.0, LATER, is_only=False), TakenForStart(RIBS, 2.0, is_only=False)),
            ", oldest first",
        ),
        ((TakenForStart(RIBS, 8.0, comes_on=sample_plan.ON),), ", coming Thu 26 Nov"),
        (
            (TakenForStart(RIBS, 6.0, LATER), TakenForStart(RIBS, 2.0, comes_on=sample_plan.ON)),
            ", some coming Thu 26 Nov",
        ),
        ((TakenForStart(RIBS, 8.0, comes_on=sample_plan.ON - timedelta(days=1)),), ""),  # it is there by then
    ],
)
def test_parcels_are_told_apart_where_a_cook_has_a_choice(
    parcels: tuple[TakenForStart, ...], said: str
) -> None:
    aged = next(start for start in PLAN.netting.starts if start.recipe == "aged-rib")
    starts = (replace(aged, start_on=sample_plan.ON, from_lots=parcels),)
    plan = replace(PLAN, netting=replace(PLAN.netting, starts=starts))
    assert takes_of(HOUSE, plan)["Rib of beef, 35 days"] == f"8 kg Rib of beef{said}"


def test_what_goes_in_is_said_in_the_unit_of_the_recipe() -> None:
    """The kitchen holds salt by the kilo and weighs three ounces of it out (1 oz is 28.349523125 g)."""
    brined = HOUSE.recipes["brined-trout"]
    trout, salt = brined.lines
    in_ounces = replace(salt, quantity=3 * 0.028349523125, unit="oz", unit_size=0.028349523125)
    house = replace(HOUSE, recipes=HOUSE.recipes | {brined.id: replace(brined, lines=(trout, in_ounces))})
    assert takes_of(house, PLAN)[brined.name].endswith("; 4 1/2 oz Sea salt"), "a batch and a half"


def test_starts_after_the_coming_week_wait() -> None:
    late = replace(PLAN.netting.starts[0], start_on=sample_plan.ON + timedelta(days=7))
    early = replace(PLAN.netting.starts[0], start_on=sample_plan.ON - timedelta(days=1))
    assert coming_starts(replace(PLAN, netting=replace(PLAN.netting, starts=(late, early)))) == ()


def test_cautions_stand_under_the_work_with_source_and_who_decides() -> None:
    texts = [str(cell.value) for row in starts_sheet(HOUSE, PLAN).rows for cell in row]
    assert any("Dry ageing" in text and "Rib of beef, 35 days" in text for text in texts)
    (sources,) = [text for text in texts if text.startswith("Sources: [1] ")]
    named = {n for text in texts if text != sources for n in re.findall(r"(?:\[|, )([0-9]+)(?=[],])", text)}
    assert named == set(re.findall(r"\[([0-9]+)\] ", sources)), "each source is named once, and used"
    assert sum("Source: none was read" in text for text in texts) == 1
    assert texts[-1] == "Local code and licensed practice decide. No sheet can say that food is safe."


def test_no_caution_is_torn_between_two_pages() -> None:
    """Each is a part of the sheet: its title and its text; the heading goes with the first."""
    sheet = starts_sheet(HOUSE, PLAN)
    is_station = [
        ": " in str(row[0].value) and "shade" in row[0].style if row else False for row in sheet.rows
    ]
    heading, *others = [part for part in sheet.parts if not is_station[part]]
    assert (sheet.rows[heading], sheet.rows[heading + 1][0].value) == ((), "Cautions")
    assert all("strong" in sheet.rows[row][0].style for row in others)
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


def test_a_long_ageing_room_is_drawn_as_far_as_a_page_goes_and_the_rest_counted() -> None:
    days = [date(2026, 12, 1) + timedelta(days=n) for n in range(40)]
    lots = tuple(Lot("aged-rib", 7.0, day + timedelta(days=14), day) for day in days)
    plan = replace(PLAN, opening=replace(PLAN.opening, lots=lots))
    sheet = ageing_sheet(HOUSE, plan)
    (table,) = sheet.tables
    assert table.last_row - table.first_row == 17
    rest = len(spans(HOUSE, plan)) - 17
    assert sheet.rows[-1][0].value == f"and {rest} more lots: see the count sheet"
    rest_of = replace(PLAN.opening, lots=(Lot("aged-rib", 1e-9, date(2026, 12, 20), date(2026, 12, 6)),))
    assert not any(s.state == "in process" for s in spans(HOUSE, replace(PLAN, opening=rest_of)))


def test_what_keeps_for_months_is_drawn_for_three_weeks() -> None:
    """Ready on 6 December and good until May: the axis ends on the 27th."""
    lots = (Lot("aged-rib", 7.0, date(2027, 5, 1), date(2026, 12, 6)),)
    netting = replace(PLAN.netting, starts=())
    plan = replace(PLAN, opening=replace(PLAN.opening, lots=lots), netting=netting)
    (chart,) = ageing_sheet(HOUSE, plan).charts
    assert chart.axis_range is not None
    assert chart.axis_range[1] == date(2026, 12, 27).toordinal() - EXCEL_DAY_0


def test_lots_with_the_same_dates_are_one_bar() -> None:
    lots = tuple(Lot("aged-rib", q, date(2026, 12, 20), date(2026, 12, 6)) for q in (7.5, 8.0))
    found = spans(HOUSE, replace(PLAN, opening=replace(PLAN.opening, lots=lots)))
    assert found[0].name == "Rib of beef, 35 days, 2 lots, 15.5 kg"


def test_day_numbers_are_those_of_a_workbook() -> None:
    """1900-03-01 is day 61 of the 1900 date system (ECMA-376, 18.17.4.1; from memory)."""
    assert date(1900, 3, 1).toordinal() - EXCEL_DAY_0 == 61


def test_an_item_and_a_dish_of_one_id_keep_their_own_names() -> None:
    home = replace(HOUSE, dishes=HOUSE.dishes | {"flour": replace(HOUSE.dishes["bread"], name="A dish")})
    assert item_name(home, "flour") == "Strong white flour"
    assert dish_name(home, "flour") == "A dish"
    assert item_name(home, "bread") == "bread"


def test_the_high_stands_behind_what_is_expected_and_many_services_take_two_sheets() -> None:
    (sheet,) = dishes_sheets(HOUSE, PLAN)
    heads = [cell.value for cell in sheet.rows[sheet.tables[0].first_row]]
    assert heads[1] == "Thu 26 Nov dinner"
    slots = tuple(replace(slot, service=name) for slot in PLAN.forecast.slots[:6] for name in ("a", "b"))
    wide = replace(
        PLAN.forecast,
        slots=slots,
        mean=np.ones((len(PLAN.forecast.dishes), 12)),
        quantiles=np.full((len(PLAN.forecast.dishes), 12, 7), 2.0),
    )
    sheets = dishes_sheets(HOUSE, replace(PLAN, forecast=wide))
    assert [s.title for s in sheets] == ["Dishes", "Dishes 2"]
    assert [s.rows[-1][1].value for s in sheets] == ["1 (2)", "1 (2)"]


@pytest.mark.parametrize(("n_lunches", "n_drawn"), [(5, 1), (6, 2)])
def test_a_service_is_drawn_from_six_times_on(n_lunches: int, n_drawn: int) -> None:
    """A line through five points says nothing that the table does not."""
    slots = tuple(
        replace(slot, service="lunch" if n < n_lunches else "dinner", date=PLAN.on + timedelta(days=n // 2))
        for n, slot in enumerate(PLAN.forecast.slots)
    )
    sheet = forecast_sheet(HOUSE, replace(PLAN, forecast=replace(PLAN.forecast, slots=slots)))
    assert len(sheet.charts) == n_drawn


def test_forecast_charts_draw_the_columns_of_their_service() -> None:
    sheet = next(s for s in order_book(HOUSE, PLAN).sheets if s.title == "Forecast")
    (table,) = sheet.tables
    heads = [cell.value for cell in sheet.rows[table.first_row]]
    assert sheet.charts
    for chart in sheet.charts:
        assert [heads[s.values[0]] for s in chart.series] == ["expected", "low", "high"]
        first, last = chart.series[0].values[1:]
        services = {sheet.rows[row][1].value for row in range(first, last + 1)}
        assert services == {chart.title.removeprefix("Covers, ")}
        assert chart.at[0] > table.last_row


def test_two_runs_give_the_same_bytes() -> None:
    again = sample_plan.plan(sample_plan.house())
    assert workbook_bytes(order_book(HOUSE, PLAN)) == workbook_bytes(order_book(sample_plan.house(), again))
