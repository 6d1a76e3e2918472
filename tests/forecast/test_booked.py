"""A service without a past is planned for the guests on its books, the least that will come."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st
from pasts import ON, books_of, days_before, home, plate, sales_table, weekly

from ordering.days import span
from ordering.forecast.booked import share_quantiles
from ordering.forecast.demand import forecast
from ordering.ledger.store import forecast_rows
from ordering.pages.forecast_page import forecast_text
from ordering.pages.tables import forecast_table
from ordering.records.books import Books
from ordering.records.house import Party, Service

WEEK = span(ON, 7)
TWO_PLATES = home(plate("duck"), plate("pie"))


def bookings(*rows: tuple[int, float], service: str = "dinner", taken_on: date = ON) -> pd.DataFrame:
    """Bookings as they stand: (days from today, covers)."""
    table = pd.DataFrame(
        [(taken_on, ON + timedelta(days=n), service, float(booked)) for n, booked in rows],
        columns=["taken_on", "date", "service", "booked"],
    )
    return table.astype({"taken_on": "datetime64[ns]", "date": "datetime64[ns]"})


def of(house=TWO_PLATES, n_paths=200, **books):
    return forecast(house, Books(**books), WEEK, 1, n_paths)


def test_who_has_booked_will_come_and_eats_one_portion_of_the_menu_in_equal_shares():
    found = of(bookings=bookings((1, 14), (2, 19)))
    assert found.booked[1:3].tolist() == [14, 19]
    assert found.covers_mean.tolist() == [0, 14, 19, 0, 0, 0, 0]
    assert (found.covers[1] == 14).all()
    assert (found.covers_quantiles[1] == 14).all()
    assert found.mean[:, 1] == pytest.approx([7, 7], abs=0.05)
    assert found.mean[:, 2] == pytest.approx([9.5, 9.5], abs=0.05)
    assert not found.mean[:, [0, 3, 4, 5, 6]].any()


def test_how_many_take_a_dish_is_not_known_but_no_guest_takes_two():
    found = of(bookings=bookings((1, 14)))
    assert found.portions[0, 1].std() > 2
    assert found.portions[:, 1].max() <= 14
    assert (found.portions == np.round(found.portions)).all()


def test_what_is_not_known_is_said():
    """Walk-ins and what guests eat; a day without bookings stays one of which nothing is known."""
    found = of(bookings=bookings((1, 14)))
    first, second = found.notes
    assert "planned for 14 covers booked (1 service), the least that will come" in first
    assert "nothing is planned for walk-ins" in first
    assert "one portion each is planned, all dishes alike; look over every amount before" in second
    assert found.unknown == set(range(7))
    rows = [line for line in forecast_text(TWO_PLATES, found) if "Dinner  " in line]
    assert rows[0].split()[-2:] == ["nothing", "known"]
    assert rows[1].split()[-4:] == ["14", "or", "more", "14"]


def test_the_least_is_in_the_table_and_in_no_ledger():
    """A day of which nothing is known has no row; the least is no forecast to be held against what came."""
    found = of(bookings=bookings((1, 14)))
    rows = forecast_table(found).rows
    assert [(row[0], row[2], row[3]) for row in rows if row[2] == "*"] == [(ON + timedelta(days=1), "*", 14)]
    assert forecast_rows(found) == []


def test_the_last_entry_stands_however_old_it_is():
    old = bookings((1, 30), taken_on=ON - timedelta(days=40))
    new = bookings((1, 14), taken_on=ON - timedelta(days=20))
    assert of(bookings=pd.concat([new, old])).booked[1] == 14


def test_what_is_booked_tomorrow_is_not_known_today():
    found = of(bookings=bookings((2, 14), taken_on=ON + timedelta(days=1)))
    assert not found.covers.any()
    assert "only private parties are planned" in found.notes[0]


def party(covers, is_instead):
    when = ON + timedelta(days=1)
    return Party("Feast", when, "dinner", covers, {"duck": float(covers)}, is_instead=is_instead)


@pytest.mark.parametrize(("booked", "expected"), [(14, 14 + 25), (25, 25), (40, 40)])
def test_a_party_that_may_stand_in_the_bookings_is_not_counted_twice(booked, expected):
    """25 guests on top of the walk-ins: where 25 or more are booked, they may be among them."""
    house = replace(TWO_PLATES, parties=(party(25, is_instead=False),))
    assert of(house, bookings=bookings((1, booked))).covers_mean[1] == expected


def test_a_party_in_place_of_walk_ins_stays_as_it_is():
    house = replace(TWO_PLATES, parties=(party(25, is_instead=True),))
    found = of(house, bookings=bookings((1, 25)))
    assert found.covers_mean[1] == 25
    assert found.mean[:, 1].tolist() == [25, 0]
    assert found.booked[1] == 25


def test_what_is_eaten_at_another_service_is_eaten_here_and_like_counts():
    """Lunch sells three ducks to ten guests. Dinner has duck, goose like duck, and a pie nobody knows."""
    both = frozenset({"lunch", "dinner"})
    dinner = frozenset({"dinner"})
    house = home(
        plate("duck", services=both),
        plate("goose", services=dinner, like="duck"),
        plate("pie", services=dinner),
        services={s: Service(s, frozenset(range(7))) for s in ("lunch", "dinner")},
    )
    covers = weekly(120)
    past = books_of(covers)
    lunch = past.covers.assign(service="lunch")
    sold = sales_table({"duck": np.round(0.3 * covers)}, service="lunch")
    found = forecast(house, Books(covers=lunch, sales=sold, bookings=bookings((1, 30))), WEEK, 1, 400)
    (at,) = [n for n, slot in enumerate(found.slots) if slot.service == "dinner" and found.covers_mean[n]]
    assert found.covers_mean[at] == 30
    assert found.mean[:, at] == pytest.approx([9, 9, 10], rel=0.06)
    assert any("taken from the other services" in note for note in found.notes)


def test_a_young_house_expects_no_fewer_than_have_booked():
    """Eight days of about 12 guests, and 40 on the books: 40 are expected, and portions rise with them."""
    covers = np.full(8, 12.0)
    past = books_of(covers, {"duck": np.full(8, 6.0)})
    found = forecast(TWO_PLATES, replace(past, bookings=bookings((1, 40))), WEEK, 1, 400)
    usual = forecast(TWO_PLATES, past, WEEK, 1, 400)
    assert found.covers_mean[1] == pytest.approx(40, rel=0.1)
    assert found.mean[0, 1] == pytest.approx(usual.mean[0, 1] * 40 / usual.covers_mean[1], rel=0.15)
    assert found.covers_mean[2] == usual.covers_mean[2]


def test_covers_without_any_sales_are_shared_alike_over_what_is_on_the_menu_that_day():
    """A door counted for 200 days and no till: duck and pie halve the guests until the pie goes off."""
    until = ON + timedelta(days=2)
    house = home(plate("duck"), plate("pie", until_on=until), plate("old", until_on=ON - timedelta(days=9)))
    found = forecast(house, books_of(weekly(200)), WEEK, 1, 400)
    share = found.mean / found.covers_mean
    assert share[:2, :3] == pytest.approx(np.full((2, 3), 0.5), rel=0.05)
    assert share[0, 3:] == pytest.approx(np.ones(4), rel=0.05)
    assert not share[1, 3:].any()
    assert not share[2].any()
    assert sum("one portion each is planned, all dishes alike" in note for note in found.notes) == 1


def test_a_house_two_days_old_is_planned_for_all_who_have_booked():
    """Two quiet days of 5 guests, 60 on the books: more than six times the most ever seen, and known."""
    past = books_of(np.full(2, 5.0), {"duck": np.full(2, 3.0)})
    found = forecast(TWO_PLATES, replace(past, bookings=bookings((1, 60))), WEEK, 1, 400)
    assert found.covers_mean[1] == pytest.approx(60, rel=0.1)
    assert found.mean[0, 1] == pytest.approx(36, rel=0.2)


def test_a_weekday_long_closed_is_open_when_somebody_has_booked():
    """No Thursday for 40 weeks; today is one, and 20 are booked for it. For the next nobody is."""
    covers = weekly(280)
    covers[[day.weekday() == ON.weekday() for day in days_before(280)]] = np.nan
    past = books_of(covers)
    assert forecast(TWO_PLATES, past, span(ON, 8), 1, 50).covers_mean[[0, 7]].tolist() == [0, 0]
    found = forecast(TWO_PLATES, replace(past, bookings=bookings((0, 20))), span(ON, 8), 1, 50)
    assert found.covers_mean[0] >= 19
    assert found.covers_mean[7] == 0


@given(
    guests=st.integers(1, 3000),
    share=st.floats(0.001, 2.0),
    rank=st.lists(st.floats(0.001, 0.999), min_size=2, max_size=9),
)
def test_takers_of_a_dish_are_whole_ordered_and_no_more_than_guests(guests, share, rank):
    found = share_quantiles(share * guests, float(guests), np.sort(rank))
    assert (found == np.round(found)).all()
    assert (found >= 0).all()
    assert (np.diff(found) >= 0).all()
    assert found.max() <= max(guests, np.ceil(share * guests))


@given(guests=st.integers(4, 400), share=st.floats(0.05, 1.0))
def test_takers_of_a_dish_have_the_mean_asked_for(guests, share):
    ranks = (np.arange(4000) + 0.5) / 4000
    found = share_quantiles(share * guests, float(guests), ranks)
    assert found.mean() == pytest.approx(share * guests, abs=0.5, rel=0.02)
