"""Which numbers a house draws: marginals, streams of dishes, evenings that are busy for all."""

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from pasts import ON, books_of, home, menu_of, ordinary, plate, weekly

from ordering.days import span
from ordering.forecast.demand import forecast
from ordering.forecast.paths import draw_keys
from ordering.records.house import Service
from ordering.records.plan import QUANTILES

DAYS = span(ON, 21)


def test_paths_have_the_marginals_of_the_table():
    house, books = ordinary()
    found = forecast(house, books, DAYS, 1, 400)
    paths = np.quantile(found.covers, QUANTILES, axis=-1, method="inverted_cdf").T
    assert np.abs(paths - found.covers_quantiles).max() <= 1 + 0.02 * found.covers_mean.max()
    assert found.covers.mean(axis=-1) == pytest.approx(found.covers_mean, rel=0.01)
    assert found.portions.mean(axis=-1) == pytest.approx(found.mean, abs=0.06, rel=0.01)


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


def test_nothing_beyond_six_times_the_most_ever_seen_is_drawn():
    """Wild scatter: the paths keep within the bound that is stated."""
    covers = np.where(np.random.default_rng(6).random(300) < 0.15, 60.0, 1.0)
    found = forecast(home(), books_of(covers), DAYS, 1, 2000)
    assert found.covers.max() <= 360
    assert found.covers_quantiles.max() <= 360


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
