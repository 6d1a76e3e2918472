"""What the forecast says of a past that cannot be taken as it stands, and what it makes of it."""

from datetime import timedelta

import numpy as np
import pytest
from pasts import ON, books_of, days_before, home, plate, weekly

from ordering.days import span
from ordering.forecast.demand import forecast
from ordering.forecast.history import past_of

DAYS = span(ON, 21)


def test_books_that_end_months_ago_are_said():
    covers = weekly(500)
    covers[-90:] = np.nan
    found = forecast(home(), books_of(covers), DAYS, 1, 20)
    assert found.covers_mean.mean() == pytest.approx(50, rel=0.3)
    assert any("the books end on" in note for note in found.notes)


def test_an_absurd_value_is_said_and_left_out():
    covers = weekly(300)
    slipped = covers.copy()
    slipped[-3] = 48_000
    found = forecast(home(), books_of(slipped), DAYS, 1, 20)
    assert found.covers_mean == pytest.approx(
        forecast(home(), books_of(covers), DAYS, 1, 20).covers_mean, rel=0.1
    )
    assert any("48000 covers" in note and "left out" in note for note in found.notes)


def test_a_weekday_listed_but_never_open_is_taken_as_closed_and_said():
    covers = weekly(300)
    mondays = [n for n, day in enumerate(days_before(300)) if day.weekday() == 0]
    covers[mondays] = np.nan
    found = forecast(home(), books_of(covers), DAYS, 1, 20)
    for n, slot in enumerate(found.slots):
        assert (found.covers_mean[n] == 0) == (slot.date.weekday() == 0)
    assert any("Monday" in note for note in found.notes)


def test_a_night_without_a_dish_that_always_sells_is_asked_about_and_teaches_nothing():
    """Thirty wedges on every Saturday but the last, when the fryer was out and nobody marked it."""
    covers = weekly(300)
    sold = np.round(0.6 * covers)
    without = sold.copy()
    last_saturday = len(sold) - (ON.weekday() - 5) % 7
    assert (ON - timedelta(days=len(sold) - last_saturday)).weekday() == 5
    without[last_saturday] = 0.0
    house = home(plate("wedges"), plate("pie"))
    usual = forecast(house, books_of(covers, {"wedges": sold, "pie": sold}), DAYS, 1, 10)
    found = forecast(house, books_of(covers, {"wedges": without, "pie": sold}), DAYS, 1, 10)
    asked = [n for n in found.notes if n.startswith("0 Wedges sold at dinner on ")]
    assert len(asked) == 1
    assert "are usual: sold out?" in asked[0]
    assert not any("are usual: sold out?" in n for n in usual.notes)
    assert found.mean[0] == pytest.approx(usual.mean[0], rel=0.05)


def test_zeros_of_a_dish_that_has_gone_are_believed():
    covers = weekly(300)
    sold = np.round(0.6 * covers)
    gone = sold.copy()
    gone[-28:] = 0.0
    books = books_of(covers, {"wedges": gone, "pie": sold})
    found = forecast(home(plate("wedges"), plate("pie")), books, DAYS, 1, 10)
    assert found.mean[0].max() < 8


def test_five_years_of_the_books_are_looked_at():
    """No more of a past reaches the forecast: what was sold before is another house's."""
    past = past_of(home(), books_of(np.full(2000, 50.0)), "dinner", ON, ())
    assert past is not None
    assert past.n_days == 5 * 365


@pytest.mark.parametrize(("days_ago", "is_asked"), [(28, True), (29, False)])
def test_a_missing_dish_is_asked_about_for_four_weeks(days_ago, is_asked):
    """Thirty wedges every night but one."""
    covers = np.full(200, 50.0)
    sold = np.full(200, 30.0)
    sold[200 - days_ago] = 0.0
    books = books_of(covers, {"wedges": sold, "pie": covers})
    found = forecast(home(plate("wedges"), plate("pie")), books, span(ON, 2), 1, 5)
    assert any("are usual: sold out?" in note for note in found.notes) == is_asked
