"""Services held in the past, and the consumables they used up."""

from dataclasses import replace
from datetime import timedelta

import houses
import numpy as np
import pytest
import strategies
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.net.problem import consumables
from ordering.records.house import Closure, Party, Service
from ordering.records.services_held import ServiceHeld, consumed, services_held

law = settings(strategies.LAW, max_examples=80)
USED = [("oak", 180.0, "day"), ("tapers", 2.0, "service"), ("paper", 1.5, "cover")]


def home(**rest):
    """Lunch at weekends, dinner on Wednesday to Sunday."""
    services = {"lunch": Service("lunch", (5, 6)), "dinner": Service("dinner", (2, 3, 4, 5, 6))}
    goods = [houses.ingredient(i, "each") for i, _, _ in USED]
    return houses.house(
        goods,
        [houses.recipe("plate", 1, {"oak": 0})],
        [houses.dish("dish", "plate")],
        services=services,
        consumables=USED,
        **rest,
    )


def iso(n):
    return houses.day(n).isoformat()


def held(house, books, first, before):
    found = services_held(house, books, houses.day(first), houses.day(before))
    return [((one.day - houses.MONDAY).days, one.service, one.covers) for one in found]


def test_held_is_what_the_covers_book_has():
    books = houses.books((), [(iso(2), "dinner", 90), (iso(5), "lunch", 40), (iso(5), "dinner", 100)])
    assert held(home(), books, 0, 6) == [(2, "dinner", 90), (5, "lunch", 40), (5, "dinner", 100)]


def test_oak_goes_by_the_day_tapers_by_the_service_paper_by_the_cover():
    sittings = [ServiceHeld(houses.day(5), "lunch", 40.0), ServiceHeld(houses.day(5), "dinner", 100.0)]
    used = consumed(home(), [*sittings, ServiceHeld(houses.day(6), "lunch", None)])
    assert used == {
        "oak": {houses.day(5): 180.0, houses.day(6): 180.0},
        "tapers": {houses.day(5): 4.0, houses.day(6): 2.0},
        "paper": {houses.day(5): 210.0, houses.day(6): 0.0},
    }


@pytest.mark.parametrize(("days_before", "covers"), [(50, 5.0), (60, 10.0)])
def test_what_a_portion_stands_for_is_learnt_from_the_eight_weeks_before(days_before, covers):
    """Two portions a cover then; of a day further back nothing is learnt, and a portion is a cover."""
    then, now = 70 - days_before, 70
    books = houses.books(
        [(iso(then), "dinner", "dish", 20), (iso(now), "dinner", "dish", 10)], [(iso(then), "dinner", 10)]
    )
    assert held(home(), books, now, now + 1) == [(now, "dinner", covers)]


def test_a_day_without_a_row_between_others_was_closed():
    books = houses.books((), [(iso(2), "dinner", 90), (iso(4), "dinner", 80)])
    assert held(home(), books, 0, 5) == [(2, "dinner", 90), (4, "dinner", 80)]
    nobody = houses.books((), [(iso(2), "dinner", 90), (iso(3), "dinner", 0), (iso(4), "dinner", 80)])
    assert held(home(), nobody, 0, 5) == [(2, "dinner", 90), (4, "dinner", 80)]


def test_what_is_not_yet_written_down_was_held_by_the_calendar_with_covers_unknown():
    shut = home(closures=(Closure(houses.day(4), houses.day(4)),))
    books = houses.books((), [(iso(2), "dinner", 90)])
    assert held(shut, books, 0, 7) == [
        *[(2, "dinner", 90), (3, "dinner", None)],
        *[(5, "lunch", None), (5, "dinner", None), (6, "lunch", None), (6, "dinner", None)],
    ]


def test_covers_that_are_missing_are_what_was_sold_by_the_covers_a_portion_of_other_days():
    """Forty guests took eighty portions; so did thirty those sixty."""
    sold = [(iso(2), "dinner", "dish", 80), (iso(3), "dinner", "dish", 60)]
    assert held(home(), houses.books(sold, [(iso(2), "dinner", 40)]), 2, 4) == [
        (2, "dinner", 40),
        (3, "dinner", 30),
    ]


def test_where_no_covers_are_kept_portions_stand_for_them():
    sold = [(iso(2), "dinner", "dish", 80), (iso(2), "dinner", "other", 5), (iso(3), "dinner", "dish", 60)]
    assert held(home(), houses.books(sold), 2, 4) == [(2, "dinner", 85), (3, "dinner", 60)]


def test_a_party_is_held_with_its_guests_also_on_a_day_on_which_the_house_is_closed():
    let = Party("let", houses.day(0), "dinner", 60, {"dish": 60}, is_instead=True)
    beside = Party("beside", houses.day(2), "dinner", 30, {"dish": 30})
    house = home(parties=(let, beside))
    among = houses.books((), [(iso(2), "dinner", 90)])
    assert held(house, among, 0, 3) == [(0, "dinner", 60), (2, "dinner", 90)]
    not_among = houses.books((), [(iso(2), "dinner", 20)])
    assert held(house, not_among, 0, 3) == [(0, "dinner", 60), (2, "dinner", 50)]
    fewer_came = houses.books((), [(iso(0), "dinner", 55)])
    assert held(house, fewer_came, 0, 1) == [(0, "dinner", 55)]


@law
@given(
    strategies.cases(n_paths=1),
    st.sets(st.integers(0, 11), max_size=4),
    st.lists(
        st.tuples(st.integers(0, 11), st.integers(1, 40), st.booleans()), max_size=3, unique_by=lambda p: p[0]
    ),
)
def test_what_a_forecast_sets_aside_is_what_its_services_use_up_when_it_comes_true(case, shut, parties):
    dates = [houses.day(n) for n in sorted(shut)]
    house = replace(
        case.house,
        closures=tuple(Closure(d, d) for d in dates),
        parties=tuple(Party(f"p{n}", houses.day(n), "dinner", g, {}, only) for n, g, only in parties),
    )
    n_days = len(case.forecast.days)
    guests = {n: (g, only) for n, g, only in parties}
    covers = case.forecast.covers.copy() + 50
    for n in range(n_days):
        walk_ins = covers[n] if house.is_open(houses.day(n), "dinner") else 0.0
        covers[n] = walk_ins + guests.get(n, (0, False))[0]
    expected = consumables(house, replace(case.forecast, covers=covers))
    book = houses.books((), [(iso(n), "dinner", float(covers[n, 0])) for n in range(n_days) if covers[n, 0]])
    first, before = houses.MONDAY, houses.MONDAY + timedelta(days=n_days)
    found = consumed(house, services_held(house, book, first, before))
    assert found.keys() == expected.keys()
    for item, by_day in found.items():
        daily = [by_day.get(houses.day(n), 0.0) for n in range(n_days)]
        assert daily == pytest.approx(np.ravel(expected[item]))
