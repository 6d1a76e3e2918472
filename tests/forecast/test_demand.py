"""The forecast as the rest of the program sees it: its contract, its laws, its guards."""

from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import pandas as pd
import pytest
from pasts import ON, books_of, covers_table, days_before, home, plate, sales_table, weekly

from ordering.days import span
from ordering.forecast.demand import forecast
from ordering.forecast.history import past_of
from ordering.forecast.paths import draw_keys
from ordering.records.books import Books
from ordering.records.house import Closure, House, NamedEvent, Party, Service
from ordering.records.plan import QUANTILES, Forecast

DAYS = span(ON, 21)


def menu_of(covers: np.ndarray, shares: dict[str, float], seed: int = 3) -> dict[str, np.ndarray]:
    """Portions sold, each dish with a stream of its own."""
    return {
        dish: np.random.default_rng([seed, n]).poisson(np.nan_to_num(covers) * share).astype(float)
        for n, (dish, share) in enumerate(shares.items())
    }


def ordinary(n_days: int = 400) -> tuple[House, Books]:
    covers = weekly(n_days)
    house = home(plate("duck"), plate("pie"), plate("oysters"), holiday_country="GB")
    return house, books_of(covers, menu_of(covers, {"duck": 0.3, "pie": 0.15, "oysters": 0.01}))


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


def test_paths_have_the_marginals_of_the_table():
    house, books = ordinary()
    found = forecast(house, books, DAYS, 1, 400)
    paths = np.quantile(found.covers, QUANTILES, axis=-1, method="inverted_cdf").T
    assert np.abs(paths - found.covers_quantiles).max() <= 1 + 0.02 * found.covers_mean.max()
    assert found.covers.mean(axis=-1) == pytest.approx(found.covers_mean, rel=0.01)
    assert found.portions.mean(axis=-1) == pytest.approx(found.mean, abs=0.06)


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


def test_same_seed_same_paths_other_seed_others():
    house, books = ordinary(200)
    one, two, other = (forecast(house, books, DAYS, seed, 60) for seed in (7, 7, 8))
    assert one.portions.tobytes() == two.portions.tobytes()
    assert one.covers.tobytes() == two.covers.tobytes()
    assert (one.covers != other.covers).any()
    assert one.covers_quantiles.tobytes() == other.covers_quantiles.tobytes()


def test_adding_a_dish_changes_no_other():
    """Means and quantiles stay; how far dishes move together is learnt from all: paths are dealt anew."""
    covers = weekly(300)
    shares = {"duck": 0.3, "pie": 0.15, "trifle": 0.2}
    sold = menu_of(covers, shares)
    few = home(plate("duck"), plate("pie"))
    many = home(plate("trifle"), plate("duck"), plate("pie"))
    two = forecast(few, books_of(covers, {d: sold[d] for d in ("duck", "pie")}), DAYS, 1, 80)
    three = forecast(many, books_of(covers, sold), DAYS, 1, 80)
    assert (two.covers == three.covers).all()
    assert (two.quantiles == three.quantiles[1:]).all()
    assert (np.sort(two.portions) == np.sort(three.portions[1:])).all()
    assert two.mean == pytest.approx(three.mean[1:], rel=1e-9)


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


def test_a_holiday_never_seen_moves_little():
    """100 days without any public holiday, then Christmas: no more than what is usual for holidays."""
    covers = weekly(100, on=date(2026, 12, 20))
    books = Books(covers=covers_table(covers, on=date(2026, 12, 20)))
    days = span(date(2026, 12, 20), 10)
    with_holidays = forecast(home(holiday_country="GB"), books, days, 1, 10)
    without = forecast(home(), books, days, 1, 10)
    assert with_holidays.covers_mean == pytest.approx(without.covers_mean, rel=0.25)


def test_a_holiday_learnt_from_the_past_is_expected():
    covers = weekly(1100)
    for n, day in enumerate(days_before(1100)):
        if (day.month, day.day) == (12, 25):
            covers[n] *= 2.5
    days = span(ON, 35)
    found = forecast(home(holiday_country="GB"), books_of(covers), days, 1, 10)
    plain = forecast(home(), books_of(covers), days, 1, 10)
    at = [n for n, slot in enumerate(found.slots) if (slot.date.month, slot.date.day) == (12, 25)]
    assert found.covers_mean[at] > 1.5 * plain.covers_mean[at]


def test_a_named_event_is_learnt_and_a_new_one_is_said():
    regatta = tuple(date(year, 12, 5) for year in (2023, 2024, 2025, 2026))
    covers = weekly(1100)
    for n, day in enumerate(days_before(1100)):
        if day in regatta:
            covers[n] *= 2
    house = home(events=(NamedEvent("Regatta", regatta), NamedEvent("First fair", (date(2026, 12, 8),))))
    found = forecast(house, books_of(covers), DAYS, 1, 10)
    plain = forecast(home(), books_of(covers), DAYS, 1, 10)
    at = [n for n, slot in enumerate(found.slots) if slot.date == date(2026, 12, 5)]
    assert found.covers_mean[at] > 1.4 * plain.covers_mean[at]
    assert any("First fair" in note for note in found.notes)


def test_a_closed_service_has_no_slot():
    house = home(weekdays=frozenset({4, 5}), closures=(Closure(date(2026, 12, 4), date(2026, 12, 4)),))
    found = forecast(house, ordinary()[1], DAYS, 1, 5)
    assert {slot.date.weekday() for slot in found.slots} == {4, 5}
    assert date(2026, 12, 4) not in {slot.date for slot in found.slots}


def test_parties_are_certain():
    """Added to the walk-ins, or in place of them; the same on every path."""
    added = Party("Pilots", date(2026, 12, 1), "dinner", 24, {"duck": 24.0})
    instead = Party("Wedding", date(2026, 12, 2), "dinner", 60, {"pie": 60.0}, is_instead=True)
    house, books = ordinary()
    with_parties = forecast(replace(house, parties=(added, instead)), books, DAYS, 1, 30)
    without = forecast(house, books, DAYS, 1, 30)
    on = {slot.date: n for n, slot in enumerate(with_parties.slots)}
    first, second = on[added.date], on[instead.date]
    assert (with_parties.portions[0, first] == without.portions[0, first] + 24).all()
    assert (with_parties.covers[first] == without.covers[first] + 24).all()
    assert (with_parties.portions[1, second] == 60).all()
    assert (with_parties.portions[0, second] == 0).all()
    assert (with_parties.covers[second] == 60).all()
    assert with_parties.party[0, first] == 24


def test_a_house_without_history_still_plans_its_events():
    party = Party("Opening", date(2026, 11, 28), "dinner", 40, {"duck": 40.0})
    found = forecast(home(plate("duck"), parties=(party,)), Books(), DAYS, 1, 10)
    assert found.mean.sum() == 40
    assert any("only private parties" in note for note in found.notes)
    assert found.unknown == frozenset(range(len(found.slots))), (
        "walk-ins join the party, how many is not known"
    )


def test_a_service_taken_by_a_party_is_known_without_history():
    """Nobody walks in where the party is instead of the service; every other evening is not known."""
    party = Party("Opening", date(2026, 11, 28), "dinner", 40, {"duck": 40.0}, is_instead=True)
    found = forecast(home(plate("duck"), parties=(party,)), Books(), DAYS, 1, 10)
    known = [n for n, slot in enumerate(found.slots) if slot.date == party.date]
    assert found.unknown == frozenset(range(len(found.slots))) - set(known)
    house, books = ordinary()
    assert forecast(house, books, DAYS, 1, 10).unknown == frozenset()


def test_sales_without_covers_stand_in_for_them():
    covers = weekly(200)
    found = forecast(home(plate("duck")), books_of(None, {"duck": covers}), DAYS, 1, 10)
    assert found.covers_mean == pytest.approx(found.mean[0], rel=0.25)
    assert any("stand in" in note for note in found.notes)


def test_dishes_of_a_busy_evening_are_busy_together():
    house, books = ordinary(600)
    rng = np.random.default_rng(5)
    covers = weekly(600) * np.exp(0.25 * rng.standard_normal(600))
    books = books_of(np.round(covers), menu_of(covers, {"duck": 0.5, "pie": 0.4, "oysters": 0.1}))
    found = forecast(house, books, DAYS, 1, 300)
    with_covers = [np.corrcoef(found.covers[n], found.portions[0, n])[0, 1] for n in range(len(found.slots))]
    together = [
        np.corrcoef(found.portions[0, n], found.portions[1, n])[0, 1] for n in range(len(found.slots))
    ]
    assert np.mean(with_covers) > 0.4
    assert np.mean(together) > 0.15


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


def test_nothing_beyond_six_times_the_most_ever_seen_is_drawn():
    """Wild scatter: the paths keep within the bound that is stated."""
    covers = np.where(np.random.default_rng(6).random(300) < 0.15, 60.0, 1.0)
    found = forecast(home(), books_of(covers), DAYS, 1, 2000)
    assert found.covers.max() <= 360
    assert found.covers_quantiles.max() <= 360


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


def test_another_id_for_a_dish_changes_no_draw():
    """A dish renamed in the menu and in the books is the same dish, also one without a past."""
    covers = weekly(200)
    sold = np.round(0.3 * covers)
    old = forecast(home(plate("duck"), plate("pie")), books_of(covers, {"duck": sold}), DAYS, 1, 50)
    new = forecast(home(plate("goose"), plate("tart")), books_of(covers, {"goose": sold}), DAYS, 1, 50)
    assert (old.portions == new.portions).all()
    assert (old.quantiles == new.quantiles).all()
    assert not (old.portions[0] == old.portions[1]).all()


def test_dishes_that_are_alike_in_all_but_name_are_drawn_apart():
    covers = weekly(200)
    sold = np.round(0.3 * covers)
    books = books_of(covers, {"duck": sold, "pie": sold})
    found = forecast(home(plate("duck"), plate("pie")), books, DAYS, 1, 50)
    swapped = forecast(home(plate("pie"), plate("duck")), books, DAYS, 1, 50)
    assert not (found.portions[0] == found.portions[1]).all()
    assert (found.portions == swapped.portions[::-1]).all()


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


@pytest.mark.parametrize(("n", "is_another"), [(7, True), (8, False)])
def test_a_dish_is_known_by_its_first_eight_services(n, is_another):
    """A slip put right later in the books changes no draw."""
    sold = np.full(30, 9.0)
    mended = sold.copy()
    mended[n] = 8.0
    house = home(plate("duck"))
    one, two = (draw_keys(house, books_of(None, {"duck": values})) for values in (sold, mended))
    assert (one != two) == is_another


def test_a_day_is_forecast_the_same_however_many_are_asked_for():
    house, books = ordinary(300)
    few, many = (forecast(house, books, span(ON, n), 1, 5) for n in (7, 60))
    assert few.covers_mean == pytest.approx(many.covers_mean[:7], rel=1e-9)
    assert few.mean == pytest.approx(many.mean[:, :7], rel=1e-9)


def test_services_of_a_day_are_busy_together_by_a_sixth():
    """Each moves with the house by 0.4, so with each other by the square of it."""
    services = {name: Service(name, frozenset(range(7))) for name in ("lunch", "dinner")}
    books = books_of(weekly(100))
    both = replace(books, covers=pd.concat([books.covers, books.covers.assign(service="lunch")]))
    found = forecast(home(services=services), both, span(ON, 14), 1, 1500)
    pairs = [np.corrcoef(found.covers[n], found.covers[n + 1])[0, 1] for n in range(0, 28, 2)]
    assert np.mean(pairs) == pytest.approx(0.16, abs=0.03)
