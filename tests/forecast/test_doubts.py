"""What of the past cannot be taken as it stands."""

import numpy as np
import pytest

from ordering.forecast.doubts import never_open, off_the_menu, without_absurd, without_closed_zeros

NO_HOLIDAY = np.zeros(140, dtype=bool)
WEEKDAY = np.arange(140) % 7


def test_a_slip_of_the_pen_is_found():
    y = np.full(140, 50.0)
    y[70] = 5000
    kept, is_absurd = without_absurd(y)
    assert np.flatnonzero(is_absurd).tolist() == [70]
    assert np.isnan(kept[70])


def test_a_house_that_has_grown_is_believed():
    y = np.concatenate([np.full(130, 20.0), np.full(10, 150.0)])
    assert not without_absurd(y)[1].any()


def test_a_lone_zero_was_a_closed_day():
    y = np.full(140, 50.0)
    y[33] = 0
    assert np.isnan(without_closed_zeros(y, WEEKDAY, NO_HOLIDAY)[33])


def test_a_zero_of_a_slow_series_is_a_zero():
    y = np.full(140, 1.0)
    y[33] = 0
    assert without_closed_zeros(y, WEEKDAY, NO_HOLIDAY)[33] == 0


def test_a_weekday_that_is_always_zero_stays_so():
    y = np.where(WEEKDAY == 0, 0.0, 50.0)
    assert (without_closed_zeros(y, WEEKDAY, NO_HOLIDAY)[WEEKDAY == 0] == 0).all()


def test_a_holiday_without_guests_stays_zero():
    y, holiday = np.full(140, 50.0), NO_HOLIDAY.copy()
    y[33], holiday[33] = 0, True
    assert without_closed_zeros(y, WEEKDAY, holiday)[33] == 0


def test_months_of_zeros_were_a_closed_house_unless_they_last_until_today():
    y = np.full(140, 50.0)
    y[40:80] = 0
    assert np.isnan(without_closed_zeros(y, WEEKDAY, NO_HOLIDAY)[40:80]).all()
    y = np.full(140, 50.0)
    y[110:] = 0
    assert (without_closed_zeros(y, WEEKDAY, NO_HOLIDAY)[130:] == 0).all()


def test_never_open_needs_eight_weeks_of_service():
    y = np.where(WEEKDAY == 0, np.nan, 50.0)
    every = frozenset(range(7))
    assert never_open(y, WEEKDAY, every) == {0}
    assert never_open(y[:40], WEEKDAY[:40], every) == frozenset()
    assert never_open(np.full(140, np.nan), WEEKDAY, every) == frozenset()


def test_a_dish_that_came_back_was_off_the_menu_between():
    sold = np.full(140, 4.0)
    sold[50:90] = 0
    away = off_the_menu(sold)
    assert away[50:90].all()
    assert not away[:50].any()


def test_a_slow_seller_is_not_off_the_menu():
    sold = np.zeros(140)
    sold[::12] = 1
    assert not off_the_menu(sold).any()


@pytest.mark.parametrize(("covers", "is_slip"), [(249.0, False), (251.0, True)])
def test_a_slip_is_more_than_five_times_a_busy_day(covers, is_slip):
    y = np.full(140, 50.0)
    y[70] = covers
    assert without_absurd(y)[1].any() == is_slip


@pytest.mark.parametrize(("n_days", "is_off"), [(13, False), (14, True)])
def test_a_dish_was_off_the_menu_where_fourteen_would_have_been_sold(n_days, is_off):
    """Of a dish that sells one a night: none in so many nights, once in a million by chance."""
    sold = np.ones(140)
    sold[60 : 60 + n_days] = 0
    assert off_the_menu(sold).sum() == (n_days if is_off else 0)


@pytest.mark.parametrize(("covers", "is_slip"), [(20.0, False), (21.0, True)])
def test_of_a_house_of_few_guests_nothing_up_to_twenty_is_a_slip(covers, is_slip):
    y = np.ones(140)
    y[70] = covers
    assert without_absurd(y)[1].any() == is_slip


@pytest.mark.parametrize(("usual", "is_closed"), [(7.0, False), (8.0, True)])
def test_no_guests_where_eight_are_usual_is_no_chance(usual, is_closed):
    """Once in 3,000 nights by chance (a Poisson of mean 8 is 0), once in 1,100 where seven are usual."""
    y = np.full(140, usual)
    y[33] = 0
    assert np.isnan(without_closed_zeros(y, WEEKDAY, NO_HOLIDAY)[33]) == is_closed


@pytest.mark.parametrize(("n_days", "is_off"), [(9, False), (10, True)])
def test_a_dish_missing_for_fewer_than_ten_services_was_on_the_menu(n_days, is_off):
    sold = np.full(140, 8.0)
    sold[60 : 60 + n_days] = 0
    assert off_the_menu(sold).any() == is_off


@pytest.mark.parametrize(("weeks_ago", "is_shut"), [(12, False), (13, True)])
def test_a_weekday_is_closed_after_twelve_weeks_without_a_service(weeks_ago, is_shut):
    y = np.where(WEEKDAY == 0, np.nan, 50.0)
    y[140 - 7 * weeks_ago] = 50.0
    assert (never_open(y, WEEKDAY, frozenset(range(7))) == {0}) == is_shut
