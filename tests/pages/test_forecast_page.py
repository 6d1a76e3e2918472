"""The forecast on paper: portions of the week, and a chart for each service held often enough."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
import sample_plan

from ordering.pages.forecast_page import dishes_sheets, forecast_sheet
from ordering.pages.run_files import order_book

HOUSE = sample_plan.house()
PLAN = sample_plan.plan(HOUSE)


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


def test_a_chart_is_no_flat_line_and_stands_in_room_of_its_own() -> None:
    """A quarter to a half as high as wide (common practice, no source), from 0 to just above the highest."""
    sheet = forecast_sheet(HOUSE, PLAN)
    below = [*(chart.at[0] for chart in sheet.charts[1:]), len(sheet.rows)]
    for chart, end in zip(sheet.charts, below, strict=True):
        assert 0.25 <= chart.height / chart.width <= 0.5
        high, first, last = chart.series[2].values
        most = max(float(str(sheet.rows[row][high].value)) for row in range(first, last + 1))
        assert chart.axis_range is not None
        assert chart.axis_range[0] == 0
        assert most <= chart.axis_range[1] <= 1.5 * most
        rows_taken = chart.height * 0.75 / sheet.row_height  # a pixel is 0.75 points
        assert rows_taken <= end - chart.at[0]
        if end < len(sheet.rows):
            assert end - chart.at[0] < rows_taken + 2
