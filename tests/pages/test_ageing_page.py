"""The time line of what ages and is in process: from its beginning to its last day, a page of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, timedelta

import pytest
import sample_plan

from ordering.pages.ageing import EXCEL_DAY_0, ageing_sheet, spans
from ordering.records.books import Lot

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)


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


@pytest.mark.parametrize(("takes", "is_drawn"), [(2, False), (3, True)])
def test_what_is_ready_is_drawn_when_it_took_three_days_to_make(takes: int, is_drawn: bool) -> None:
    rib = replace(HOUSE.recipes["aged-rib"], takes_days=takes)
    home = replace(HOUSE, recipes=HOUSE.recipes | {rib.id: rib})
    lots = (Lot("aged-rib", 7.0, PLAN.on + timedelta(days=5), None),)
    plan = replace(PLAN, opening=replace(PLAN.opening, lots=lots))
    assert any(span.state == "ready" for span in spans(home, plan)) is is_drawn


@pytest.mark.parametrize(("takes", "is_drawn"), [(6, False), (7, True)])
def test_a_start_is_drawn_when_it_takes_a_week(takes: int, is_drawn: bool) -> None:
    start = replace(PLAN.netting.starts[0], start_on=PLAN.on, ready_on=PLAN.on + timedelta(days=takes))
    plan = replace(PLAN, netting=replace(PLAN.netting, starts=(start,)))
    assert any(span.state == "to be started" for span in spans(HOUSE, plan)) is is_drawn


@pytest.mark.parametrize(("quantity", "is_drawn"), [(4e-4, False), (6e-4, True)])
def test_what_three_decimals_would_write_as_nothing_is_no_lot(quantity: float, is_drawn: bool) -> None:
    lots = (Lot("aged-rib", quantity, date(2026, 12, 20), date(2026, 12, 6)),)
    plan = replace(PLAN, opening=replace(PLAN.opening, lots=lots))
    assert any(span.state == "in process" for span in spans(HOUSE, plan)) is is_drawn
