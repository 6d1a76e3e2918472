"""The forecast on a terminal: nothing without content, lines that fill their width."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import sample_plan

from ordering.pages.forecast_page import forecast_text

HOUSE = sample_plan.house()
FORECAST = sample_plan.plan(HOUSE).forecast


def test_days_on_which_no_dish_is_foreseen_have_no_heads() -> None:
    """A house without a past plans its one party: the other weeks are left out."""
    mean = np.zeros_like(FORECAST.mean)
    mean[0, 0] = 40.0
    lines = forecast_text(HOUSE, replace(FORECAST, mean=mean))
    assert sum(line.startswith("Portions expected") for line in lines) == 1


def test_what_is_not_known_is_said_and_no_number_is_given() -> None:
    covers = FORECAST.covers_mean.copy()
    covers[0] = 0.0
    lines = forecast_text(HOUSE, replace(FORECAST, unknown=frozenset({0}), covers_mean=covers))
    first = next(n for n, line in enumerate(lines) if line.startswith("Covers")) + 1
    assert "nothing known" in lines[first]
    assert not any(c.isdigit() for c in lines[first][12 + 16 : 12 + 16 + 24])
    assert "nothing known" not in lines[first + 1]


def test_who_has_booked_is_the_least_where_walk_ins_are_not_known() -> None:
    lines = forecast_text(HOUSE, replace(FORECAST, unknown=frozenset({0})))
    first = next(n for n, line in enumerate(lines) if line.startswith("Covers")) + 1
    assert lines[first].split()[4:] == [f"{FORECAST.covers_mean[0]:.0f}", "or", "more", "12"]
    assert "or more" not in lines[first + 1]


def test_a_long_line_goes_on_in_full_lines() -> None:
    quality = "dinner: " + "up to 14 days ahead the forecast was near what came; " * 5
    lines = forecast_text(HOUSE, replace(FORECAST, quality=(quality,)))
    said = lines[lines.index("How good it has been") + 1 :]
    told = said[: said.index("")]
    assert all(len(line) > 60 for line in told[:-1])
    assert all(len(line) <= 80 for line in told)


def test_as_many_days_stand_side_by_side_as_a_terminal_of_eighty_columns_has_room_for() -> None:
    heads = [line for line in forecast_text(HOUSE, FORECAST) if line.startswith("Portions expected")]
    assert 72 < len(heads[0]) <= 80
    assert len(heads[0].split()) == 2 + 2 * 7, "a week, so that a weekday stands below itself"
    assert len(heads) > 1
