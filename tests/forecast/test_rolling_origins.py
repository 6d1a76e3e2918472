"""Rolling origins and the line that says how good the forecast has been."""

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
from pasts import ON, books_of, home, plate, weekly

from ordering.backtesting import backtest_past
from ordering.days import span
from ordering.forecast.covers import quality_line, seasonal_naive
from ordering.forecast.demand import forecast
from ordering.forecast.rolling_origins import backtest
from ordering.pages.backtest import backtest_table, backtest_text, verdict
from ordering.pages.backtest_book import backtest_workbook
from ordering.pages.forecast_page import forecast_text
from ordering.records.backtest_results import ALL_DISHES, FOUR_WEEKS, NAIVE, OURS
from ordering.records.books import Books
from ordering.records.house import House, Party
from ordering.write.xlsx import workbook_bytes


@pytest.fixture(scope="module")
def case() -> tuple[House, Books]:
    covers = weekly(420)
    sold = {"duck": np.random.default_rng(1).poisson(0.3 * covers).astype(float)}
    return home(plate("duck")), books_of(covers, sold)


@pytest.fixture(scope="module")
def made(case):
    heard = []
    found = backtest(*case, ON, n_origins=4, tell=heard.append)
    assert len(heard) == 4
    return found


def test_seasonal_naive_takes_the_same_weekdays_last_known_value():
    y = np.arange(30, dtype=float)
    y[23] = np.nan
    found = seasonal_naive(y, np.array([28]), 16)
    assert found[0, :7].tolist() == [21, 22, 16, 24, 25, 26, 27]
    assert found[0, 7:14].tolist() == found[0, :7].tolist()


@pytest.mark.parametrize(("weeks", "is_used"), [(8, True), (9, False)])
def test_seasonal_naive_looks_no_further_back_than_eight_weeks(weeks, is_used):
    y = np.full(70, np.nan)
    y[70 - 7 * weeks :][:7] = 5.0
    found = seasonal_naive(y, np.array([70]), 16)
    assert (found == 5.0).all() == is_used


def test_every_series_horizon_and_method_has_a_row(made):
    rows = {(r.series, r.horizon, r.method) for r in made.rows}
    for series in ("*", "duck", ALL_DISHES):
        for horizon in ("1-7", "8-14", "15-60"):
            assert {(series, horizon, m) for m in (OURS, NAIVE, FOUR_WEEKS)} <= rows


def test_the_last_of_the_forecasts_is_two_weeks_back_and_each_other_three_weeks_earlier(made):
    assert [(ON - origin).days for origin in made.origins] == [77, 56, 35, 14]


def test_methods_are_compared_on_the_same_services(made):
    for series in ("*", "duck"):
        for horizon in ("1-7", "8-14", "15-60"):
            n = {r.n for r in made.rows if (r.series, r.horizon) == (series, horizon)}
            assert len(n) == 1


def test_a_service_of_few_guests_is_compared_on_all_its_nights():
    covers = np.random.default_rng(2).poisson(0.8, 150).astype(float)
    found = backtest(home(), books_of(covers), ON, n_origins=2)
    n = {r.horizon: r.n for r in found.rows if r.method == OURS and r.series == "*"}
    assert n == {"1-7": 14, "8-14": 14, "15-60": 21}


def test_a_regular_house_is_forecast_better_than_by_last_week(made):
    wape = {(r.horizon, r.method): r.wape for r in made.rows if r.series == "*"}
    for horizon in ("1-7", "8-14", "15-60"):
        assert wape[horizon, OURS] < wape[horizon, NAIVE]
        assert 0.05 < wape[horizon, OURS] < 0.3
    covered = [r.coverage for r in made.rows if r.method == OURS and r.series == "*"]
    assert np.mean(covered) == pytest.approx(0.8, abs=0.15)


def test_lines_fit_a_terminal_and_say_the_verdict(case, made):
    lines = backtest_text(case[0], made)
    assert max(map(len, lines)) <= 80
    assert any(line.startswith("dinner: the forecast of covers") for line in lines)
    assert verdict(made, "dinner")


def test_the_table_has_a_value_for_each_column(made):
    table = backtest_table(made)
    assert {len(row) for row in table.rows} == {len(table.columns)}
    assert len(table.rows) == len(made.rows)


def test_the_workbook_is_byte_equal_and_has_charts(case, made):
    book = backtest_workbook(case[0], made)
    assert [sheet.title for sheet in book.sheets] == [
        *("Accuracy", "Dishes", "Covers day by day", "Effects", "Measures"),
    ]
    assert book.sheets[0].charts
    assert book.sheets[2].charts
    assert workbook_bytes(book) == workbook_bytes(book)


def test_a_private_party_is_on_neither_side_of_the_comparison(case, made):
    """Eighty guests of a wedding, in the till and in the calendar, make the forecast no better, no worse."""
    house, books = case
    dates = [ON - timedelta(days=n) for n in (3, 5, 24, 26, 40)]
    parties = tuple(Party(f"Wedding {day}", day, "dinner", 80, {"duck": 80.0}) for day in dates)
    covers, sales = books.covers.copy(), books.sales.copy()
    stamps = pd.DatetimeIndex(dates)
    covers.loc[covers["date"].isin(stamps), "covers"] += 80
    sales.loc[sales["date"].isin(stamps), "sold"] += 80
    hosting = replace(books, covers=covers, sales=sales)
    found = backtest(replace(house, parties=parties), hosting, ON, n_origins=4)
    assert [(r.series, r.horizon, r.method) for r in found.rows] == [
        (r.series, r.horizon, r.method) for r in made.rows
    ]
    for row, before in zip(found.rows, made.rows, strict=True):
        assert row.wape == pytest.approx(before.wape, abs=1e-9)
        assert row.pinball == pytest.approx(before.pinball, abs=1e-9)


def test_books_too_short_are_said():
    house = home()
    found = backtest(house, books_of(weekly(40)), ON)
    assert found.rows == ()
    said = " ".join(backtest_text(house, found))
    assert "covers and sales begin on Sat 17 Oct 2026, 40 days before Thu 26 Nov 2026" in said
    assert "70 are needed: 56 to learn from and 14 to forecast. Try again from Sat 26 Dec 2026 on." in said


@pytest.mark.parametrize(("n_days", "is_enough"), [(69, False), (70, True)])
def test_as_many_days_as_are_said_to_be_needed_are_enough(n_days, is_enough):
    assert bool(backtest(home(), books_of(weekly(n_days)), ON).rows) is is_enough


def test_a_house_without_any_past_is_told_so():
    (note,) = backtest(home(), Books(), ON).notes
    assert note.startswith(
        "Too short for a backtest: the books hold no covers and no sales before Thu 26 Nov"
    )


def test_of_a_past_too_short_nothing_is_written(tmp_path):
    """A house without books: what is lacking is said, and no empty file is left behind."""
    (tmp_path / "config").mkdir()
    (tmp_path / "books").mkdir()
    house = "name: New\ntimezone: Europe/London\norder_day: thu\nservices:\n  dinner: {days: [thu, fri]}\n"
    (tmp_path / "config" / "house.yaml").write_text(house, "utf-8")
    out = tmp_path / "out"
    told = backtest_past(tmp_path / "config", tmp_path / "books", ON, out, lambda _: None)
    assert told.lines[-1] == "Nothing is written."
    assert (told.status, told.written) == (1, ())
    assert not out.exists()


def test_forecast_table_fits_a_terminal_and_says_how_good(case):
    found = forecast(*case, span(ON, 16), 1, 20)
    lines = forecast_text(case[0], found)
    assert max(map(len, lines)) <= 80
    text = "\n".join(lines)
    assert "last week's same day" in " ".join(text.split())
    assert "Duck" in text
    assert "Thu 26" in text


def test_a_series_nobody_can_forecast_is_not_praised():
    """Where last week's same day is as good, the line says so."""
    steps = np.random.default_rng(2).choice([30.0, 90.0], 60).repeat(7)
    line = forecast(home(), books_of(steps), span(ON, 7), 1, 5).quality[0]
    assert line.startswith("Dinner: ")
    assert ("no better than" in line) == ("check it against last week" in line)
    assert "off up to 14 days ahead" in line


def line_of(mean: float, n_known: int = 60) -> str:
    """What is said of one earlier forecast of `mean` a day, when fifty came on the days known."""
    past = np.where(np.arange(60) < n_known, 50.0, np.nan)[None, None]
    seen = SimpleNamespace(
        past=past,
        past_mean=np.full(past.shape, mean),
        origins=np.array([40, 100]),
        bucket=np.zeros(60, dtype=int),
        spread=SimpleNamespace(score=np.where(np.isfinite(past), 0.0, np.nan)),
    )
    return quality_line("dinner", seen, np.full(100, 50.0))


@pytest.mark.parametrize(("mean", "is_told"), [(51.4, False), (51.6, True), (48.4, True)])
def test_a_lean_of_three_in_a_hundred_is_told(mean, is_told):
    assert ("in all" in line_of(mean)) == is_told


@pytest.mark.parametrize(("n_known", "is_said"), [(13, False), (14, True)])
def test_how_good_a_forecast_is_is_said_from_two_weeks_on(n_known, is_said):
    assert ("off up to 14 days ahead" in line_of(55.0, n_known)) == is_said
