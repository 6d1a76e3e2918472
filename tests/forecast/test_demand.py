"""The forecast as the rest of the program sees it: its contract, its laws."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest
from pasts import ON, books_of, covers_table, home, ordinary, plate, sales_table, weekly

from ordering.days import span
from ordering.forecast.demand import forecast
from ordering.records.books import Books
from ordering.records.house import House, Service
from ordering.records.plan import QUANTILES, Forecast

DAYS = span(ON, 21)


def obeys_the_contract(found: Forecast, house: House, n_days: int, n_paths: int) -> None:
    """Shapes, order of quantiles, whole numbers, nothing negative, paths with the stated marginals."""
    n_slots, n_dishes = len(found.slots), len(house.dishes)
    assert len(found.days) == n_days
    assert found.dishes == tuple(house.dishes)
    assert found.covers_mean.shape == found.booked.shape == (n_slots,)
    assert found.covers_quantiles.shape == (n_slots, len(QUANTILES))
    assert found.covers.shape == (n_slots, n_paths)
    assert found.mean.shape == found.party.shape == (n_dishes, n_slots)
    assert found.quantiles.shape == (n_dishes, n_slots, len(QUANTILES))
    assert found.portions.shape == (n_dishes, n_slots, n_paths)
    for values in (found.covers_mean, found.covers_quantiles, found.mean, found.quantiles):
        assert np.isfinite(values).all()
        assert (values >= 0).all()
    for paths in (found.covers, found.portions):
        assert (paths >= 0).all()
        assert (paths == np.round(paths)).all()
    assert (np.diff(found.covers_quantiles, axis=-1) >= 0).all()
    assert (np.diff(found.quantiles, axis=-1) >= 0).all()


@pytest.mark.parametrize("n_days", [0, 1, 2, 8, 30, 100, 400, 800])
def test_contract_at_every_length_of_history(n_days):
    house, books = ordinary(n_days) if n_days else (ordinary(30)[0], Books())
    found = forecast(house, books, DAYS, 1, 50)
    obeys_the_contract(found, house, 21, 50)
    if n_days:
        assert found.covers_mean.mean() == pytest.approx(books.covers["covers"].mean(), rel=0.4)
        assert found.covers_quantiles.max() < 4 * books.covers["covers"].max()


def test_nothing_after_the_day_of_the_run_leaks_in():
    """Whatever the books hold from today on, the forecast stays."""
    house, books = ordinary()
    later = covers_table(np.full(30, 999.0), on=ON + timedelta(days=30))
    sold = sales_table({"duck": np.full(30, 99.0)}, on=ON + timedelta(days=30))
    shifted = replace(
        books,
        covers=type(later)(np.concatenate([books.covers, later]), columns=later.columns).astype(later.dtypes),
        sales=type(sold)(np.concatenate([books.sales, sold]), columns=sold.columns).astype(sold.dtypes),
    )
    before, after = forecast(house, books, DAYS, 1, 40), forecast(house, shifted, DAYS, 1, 40)
    assert (before.covers == after.covers).all()
    assert (before.portions == after.portions).all()


def test_an_earlier_day_sees_only_what_came_before_it():
    """A forecast made for a past day is that of books which end the day before."""
    house, books = ordinary()
    origin = ON - timedelta(days=40)
    known = books.covers["date"] < np.datetime64(origin)
    sold = books.sales["date"] < np.datetime64(origin)
    cut = replace(books, covers=books.covers[known], sales=books.sales[sold])
    days = span(origin, 14)
    assert (forecast(house, books, days, 1, 20).covers == forecast(house, cut, days, 1, 20).covers).all()


def test_ten_times_the_covers_is_about_ten_times_the_forecast():
    covers = weekly(400, level=80)
    one = forecast(home(), books_of(covers), DAYS, 1, 10)
    ten = forecast(home(), books_of(10 * covers), DAYS, 1, 10)
    assert ten.covers_mean == pytest.approx(10 * one.covers_mean, rel=0.05)
    assert ten.covers_quantiles == pytest.approx(10 * one.covers_quantiles, rel=0.08, abs=10)


@pytest.mark.parametrize("level", [0.05, 3, 40, 900, 60_000, 400_000])
def test_any_scale(level):
    covers = weekly(250, level=level)
    found = forecast(home(), books_of(covers), DAYS, 1, 20)
    obeys_the_contract(found, home(), 21, 20)
    assert found.covers_mean.mean() == pytest.approx(level, rel=0.35, abs=0.05)


def test_all_zeros_is_nothing_expected():
    found = forecast(home(plate("duck")), books_of(np.zeros(120), {"duck": np.zeros(120)}), DAYS, 1, 20)
    obeys_the_contract(found, home(plate("duck")), 21, 20)
    assert found.covers_mean.max() < 0.5


def test_a_gap_of_months_is_survived():
    covers = weekly(700)
    covers[300:460] = np.nan
    found = forecast(home(holiday_country="GB"), books_of(covers), DAYS, 1, 20)
    assert found.covers_mean.mean() == pytest.approx(50, rel=0.3)


def test_sales_without_covers_stand_in_for_them():
    covers = weekly(200)
    found = forecast(home(plate("duck")), books_of(None, {"duck": covers}), DAYS, 1, 10)
    assert found.covers_mean == pytest.approx(found.mean[0], rel=0.25)
    assert any("stand in" in note for note in found.notes)


def test_services_are_forecast_each_by_itself():
    two = {"lunch": Service("lunch", frozenset({5, 6})), "dinner": Service("dinner", frozenset(range(7)))}
    books = books_of(weekly(300))
    lunch = covers_table(weekly(300, level=20, seed=4), service="lunch")
    both = replace(books, covers=type(lunch)(np.concatenate([books.covers, lunch]), columns=lunch.columns))
    both = replace(both, covers=both.covers.astype(lunch.dtypes))
    found = forecast(home(services=two), both, DAYS, 1, 10)
    alone = forecast(home(), books, DAYS, 1, 10)
    dinner = [n for n, slot in enumerate(found.slots) if slot.service == "dinner"]
    assert found.covers_mean[dinner] == pytest.approx(alone.covers_mean, rel=1e-9)
    lunches = [n for n, slot in enumerate(found.slots) if slot.service == "lunch"]
    assert found.covers_mean[lunches].mean() == pytest.approx(23, rel=0.3)
    assert len(found.quality) == 2
