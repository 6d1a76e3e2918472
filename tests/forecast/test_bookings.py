"""Covers on the books: filled in, learnt from, and no more than the past supports."""

from datetime import timedelta

import numpy as np
import pandas as pd
import pytest
from pasts import ON, books_of, days_before, home, weekly

from ordering.days import span
from ordering.forecast.bookings import age_of, on_the_books, pick_up
from ordering.forecast.demand import forecast

RNG_SEED = 11


def booked_past(covers: np.ndarray, share: float = 0.5) -> tuple[np.ndarray, np.ndarray]:
    """Books 3 days before, moving with covers; last column entry is for tomorrow."""
    rng = np.random.default_rng(RNG_SEED)
    expected = np.full(len(covers), 50.0)
    return np.round(share * covers + rng.normal(0, 1, len(covers))), expected


def test_an_entry_stands_until_the_next_and_for_a_week_at_most():
    day = pd.Timestamp(ON)
    table = pd.DataFrame({"taken_on": [day - pd.Timedelta(days=20)], "date": [day], "booked": [7.0]})
    books = on_the_books(table, ON, 1, 30)
    assert np.flatnonzero(np.isfinite(books[0])).tolist() == list(range(13, 21))


def test_more_on_the_books_than_usual_lifts_the_day():
    rng = np.random.default_rng(3)
    covers = np.round(50 * np.exp(0.2 * rng.standard_normal(200)))
    booked, expected = booked_past(covers)
    books = np.full((230, 5), np.nan)
    books[:200, 3] = booked
    books[203, 3] = 45.0
    found = pick_up(books, covers, expected, np.full(30, 50.0))
    assert found.booked[3] == 45
    assert found.lift[3] == pytest.approx(90 / 50, rel=0.15)
    assert found.left[3] < 0.5
    assert (found.lift[:3] == 1).all()


def test_books_that_say_nothing_move_nothing():
    rng = np.random.default_rng(4)
    covers, books = rng.poisson(50, 300).astype(float), np.full((330, 3), np.nan)
    books[:300, 2] = rng.poisson(20, 300)
    books[302, 2] = 30
    found = pick_up(books, covers, np.full(300, 50.0), np.full(30, 50.0))
    assert found.lift[2] == pytest.approx(1, abs=0.12)


def test_too_short_a_past_of_books_teaches_nothing_but_that_who_has_booked_will_come():
    """Nineteen past entries: 30 booked do not lower an expectation of 50, 60 booked are the least."""
    books = np.full((110, 3), np.nan)
    books[:100, 2][:19] = 25
    books[101, 1], books[102, 2] = 30, 60
    found = pick_up(books, np.full(100, 50.0), np.full(100, 50.0), np.full(10, 50.0))
    assert found.booked[1:3].tolist() == [30, 60]
    assert found.lift[1] == 1
    assert found.lift[2] == pytest.approx(60 / 50)
    assert (found.left == 1).all()


def test_books_reach_the_forecast_and_are_shown_beside_it():
    covers = weekly(300)
    days = [*days_before(300), *span(ON, 8)]
    came = [*covers, *np.full(8, 50.0)]
    rows = [
        (day - timedelta(days=2), day, "dinner", float(round(0.6 * value)))
        for day, value in zip(days, came, strict=True)
    ]
    table = pd.DataFrame(rows, columns=["taken_on", "date", "service", "booked"])
    table = table.astype({"taken_on": "datetime64[ns]", "date": "datetime64[ns]"})
    full = table.copy()
    full.loc[full["date"] == pd.Timestamp(ON + timedelta(days=2)), "booked"] = 66.0
    usual = forecast(home(), books_of(covers, bookings=table), span(ON, 6), 1, 10)
    busy = forecast(home(), books_of(covers, bookings=full), span(ON, 6), 1, 10)
    assert busy.booked[2] == 66
    assert np.isnan(busy.booked[5])
    assert busy.covers_mean[2] > 1.3 * usual.covers_mean[2]
    assert busy.covers_mean[4] == usual.covers_mean[4]


def as_they_grew(covers: np.ndarray, last_taken: int, every: int = 1) -> pd.DataFrame:
    """Bookings taken every so many days, the last so many days before `ON`: a tenth more each day nearer."""
    first = ON - timedelta(days=len(covers))
    rows = []
    for back in range(last_taken, len(covers), every):
        taken = ON - timedelta(days=back)
        for lead in range(9):
            n = (taken - first).days + lead
            came = covers[n] if n < len(covers) else covers[n % 7 :: 7].mean()
            booked = float(round(came * (0.9 - 0.1 * lead)))
            rows.append((taken, taken + timedelta(days=lead), "dinner", booked))
    table = pd.DataFrame(rows, columns=["taken_on", "date", "service", "booked"])
    return table.astype({"taken_on": "datetime64[ns]", "date": "datetime64[ns]"})


@pytest.mark.parametrize("days", [3, 7, 40])
def test_old_bookings_are_no_bookings_and_that_is_said(days):
    """Taken daily until three days ago, they would show a third fewer guests than usual."""
    covers = weekly(300)
    table = as_they_grew(covers, days)
    without = forecast(home(), books_of(covers), span(ON, 6), 1, 10)
    found = forecast(home(), books_of(covers, bookings=table), span(ON, 6), 1, 10)
    assert found.covers_mean == pytest.approx(without.covers_mean)
    assert np.isnan(found.booked).all()
    note = next(n for n in found.notes if n.startswith("bookings: "))
    assert f"{days} days ago, so they are left out of the forecast" in note


@pytest.mark.parametrize(("every", "last"), [(1, 0), (1, 1), (7, 0), (7, 3), (7, 6)])
def test_bookings_as_old_as_usual_are_held_against_those_of_as_long_before(every, last):
    """Taken once a week, they lower no forecast by being some days old; and nothing is said."""
    covers = weekly(420)
    without = forecast(home(), books_of(covers), span(ON, 6), 1, 10)
    found = forecast(home(), books_of(covers, bookings=as_they_grew(covers, last, every)), span(ON, 6), 1, 10)
    assert np.isfinite(found.booked[: 9 - last]).all()
    assert found.covers_mean == pytest.approx(without.covers_mean, rel=0.2)
    assert not any(n.startswith("bookings: ") for n in found.notes)


def test_how_old_bookings_may_be_follows_how_often_they_are_taken():
    covers = weekly(300)
    assert age_of(as_they_grew(covers, 3), ON).is_old
    assert not age_of(as_they_grew(covers, 3, every=7), ON).is_old
    assert age_of(as_they_grew(covers, 8, every=7), ON).is_old
    assert age_of(as_they_grew(covers, 0), ON).days == 0
    assert age_of(as_they_grew(covers, 0).iloc[:0], ON) is None


def test_of_twenty_entries_that_say_nothing_a_third_is_believed():
    """Ten entries' worth is believed beforehand: that covers move as bookings do."""
    books = np.full((25, 1), np.nan)
    books[:20, 0] = np.tile([20.0, 30.0], 10)
    books[20, 0] = 30.0
    found = pick_up(books, np.full(20, 50.0), np.full(20, 50.0), np.full(5, 50.0))
    assert found.lift[0] == pytest.approx(1 + (30 / 50 - 25 / 50) * 10 / 30)


def test_no_bookings_lift_a_day_more_than_three_times():
    books = np.full((45, 1), np.nan)
    books[:40, 0] = np.tile([20.0, 30.0], 20)
    books[40, 0] = 400.0
    found = pick_up(books, 2 * books[:40, 0], np.full(40, 50.0), np.full(5, 50.0))
    assert found.lift[0] == 3.0


def taken(*gaps: int, last: int) -> pd.DataFrame:
    """Bookings taken so many days apart, oldest first, the last of them so many days before `ON`."""
    back = last + np.concatenate([[0], np.cumsum(gaps[::-1])])
    when = [pd.Timestamp(ON) - pd.Timedelta(days=int(n)) for n in back[::-1]]
    return pd.DataFrame({"taken_on": when, "date": pd.Timestamp(ON), "booked": 5.0})


@pytest.mark.parametrize(("n_gaps", "is_old"), [(4, False), (5, True)])
def test_how_often_bookings_are_taken_is_known_after_six_times(n_gaps, is_old):
    assert age_of(taken(*[3] * n_gaps, last=5), ON).is_old == is_old


@pytest.mark.parametrize(("gaps", "is_old"), [([7] * 60 + [1] * 60, True), ([7] * 15 + [1] * 45, False)])
def test_how_often_goes_by_the_last_sixty_times(gaps, is_old):
    assert age_of(taken(*gaps, last=3), ON).is_old == is_old
