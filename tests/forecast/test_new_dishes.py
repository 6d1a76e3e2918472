"""Dishes of few sales: information counts, not days, and what is not known yet widens the spread."""

from datetime import timedelta

import numpy as np
import pytest
from pasts import ON, books_of, home, plate, weekly
from scipy.optimize import minimize_scalar

from ordering.days import span
from ordering.forecast.demand import forecast
from ordering.forecast.menu_mix import DishForecasts
from ordering.forecast.new_dishes import most_probable_level
from ordering.forecast.paths import drawn, scatter_of
from ordering.forecast.service import service_forecast
from ordering.records.plan import QUANTILES

DAYS = span(ON, 14)
LOW, HIGH = QUANTILES.index(0.1), QUANTILES.index(0.9)
SHARES = {"pie": 0.1, "duck": 0.2, "trifle": 0.15, "soup": 0.3, "hake": 0.12}


@pytest.mark.parametrize(
    ("came", "expected", "variance"), [(0, 20, 0.4), (35, 20, 0.4), (3, 1, 0.1), (0, 0, 0.5), (0, 3000, 0.5)]
)
def test_the_level_is_the_mode_of_what_is_believed(came, expected, variance):
    """Counts Poisson about expected x exp(level), the level normal about 0: the mode found by search."""

    def surprise(level: float) -> float:
        return expected * np.exp(level) - came * level + level**2 / (2 * variance)

    best = minimize_scalar(surprise, bounds=(-8, 8), method="bounded", options={"xatol": 1e-9}).x
    ours = most_probable_level(np.array([float(came)]), np.array([float(expected)]), np.array([variance]))
    assert ours[0] == pytest.approx(best, abs=1e-5)


def sold_of(covers: np.ndarray, shares: dict[str, float]) -> dict[str, np.ndarray]:
    return {
        dish: np.random.default_rng(n).poisson(covers * share).astype(float)
        for n, (dish, share) in enumerate(shares.items())
    }


def new_one(n_days: int, each: float, like: str | None = None):
    """A forecast with a dish of so many days that sold `each` a night, beside a menu of five."""
    covers = weekly(400)
    sold = sold_of(covers, SHARES)
    sold["goose"] = np.where(np.arange(400) >= 400 - n_days, each, 0.0)
    goose = plate("goose", from_on=ON - timedelta(days=n_days), like=like)
    return forecast(home(*map(plate, SHARES), goose), books_of(covers, sold), DAYS, 1, 50)


def test_many_portions_in_few_days_are_believed_sooner_than_few():
    """Five days at twice what the menu sells, and five at an eighth of it: the busy dish is known better."""
    menu = 50 * np.exp(np.mean(np.log(list(SHARES.values()))))
    busy, quiet = new_one(5, round(2 * menu)), new_one(5, 1.0)
    assert busy.mean[-1].mean() == pytest.approx(2 * menu, rel=0.15)
    assert 1.1 < quiet.mean[-1].mean() < 0.5 * menu


def test_what_is_not_known_widens_the_spread():
    none, some, more = (new_one(n, 8.0) for n in (0, 4, 25))

    def width(found) -> float:
        return float(((found.quantiles[-1, :, HIGH] - found.quantiles[-1, :, LOW]) / found.mean[-1]).mean())

    assert width(none) > 1.15 * width(some) > 1.15 * width(more)


def test_a_dish_it_is_like_leaves_less_open_than_the_menu():
    alone, lent = new_one(0, 0.0), new_one(0, 0.0, like="soup")
    assert lent.mean[-1] == pytest.approx(lent.mean[3], rel=0.12)
    spread = [
        (one.quantiles[-1, :, HIGH].sum() - one.quantiles[-1, :, LOW].sum()) / one.mean[-1].sum()
        for one in (alone, lent)
    ]
    assert spread[1] < 0.9 * spread[0]


def test_one_portion_in_two_weeks_is_believed_too():
    """A menu sells about eight a night, the new dish one in two weeks: hardly any is planned."""
    covers = weekly(400)
    sold = sold_of(covers, SHARES)
    sold["goose"] = np.where(np.arange(400) == 386, 1.0, 0.0)
    goose = plate("goose", from_on=ON - timedelta(days=14))
    found = forecast(home(*map(plate, SHARES), goose), books_of(covers, sold), DAYS, 1, 50)
    assert found.mean[-1].mean() < 1.0


def of_dinner(n_days: int, sold: dict[str, np.ndarray], *new: str, like: str | None = None) -> DishForecasts:
    """Dishes of one service whose covers are about fifty, some of them never sold."""
    house = home(*map(plate, sold), *(plate(dish, like=like) for dish in new))
    found = service_forecast(house, books_of(weekly(n_days), sold), "dinner", ON, 14)
    assert found is not None
    assert found.portions is not None
    return found.portions


def nightly(n_days: int, *each: float) -> dict[str, np.ndarray]:
    """Dishes that sell the same every night."""
    return {f"dish{n}": np.full(n_days, portions) for n, portions in enumerate(each)}


@pytest.mark.parametrize(("each", "stands_alone"), [(7.8, False), (9.5, True)])
def test_some_six_hundred_portions_stand_alone(each, stands_alone):
    """A hundred nights of 7.8 or of 9.5, of 90 days ago of half the weight, by their variance ratio."""
    found = of_dinner(100, nightly(100, each, 5.0, 5.0, 5.0))
    assert (found.level_variance[0] == 0) == stands_alone


@pytest.mark.parametrize(("portions", "is_heard"), [(18, False), (36, True)])
def test_a_dish_tells_of_the_menu_once_its_share_is_known_to_a_fifth(portions, is_heard):
    """A count of 25 is known to a fifth: a dish of fewer portions says nothing of those never sold."""
    sold = nightly(100, 8.0, 8.0, 8.0)
    without = of_dinner(100, sold, "new").mean[-1]
    seldom = np.where(np.arange(100) < portions, 1.0, 0.0)
    beside = of_dinner(100, {**sold, "seldom": seldom}, "new").mean[-1]
    assert (beside != pytest.approx(without, rel=0.01)) == is_heard


def test_where_too_few_dishes_show_how_they_differ_a_menu_of_ten_by_rank_is_believed():
    """The n-th dish sells 1 / n of the first (Zipf 1949, from memory): the scatter of the logs of 1 to 10."""
    ranks = np.log(np.arange(1, 11))
    found = of_dinner(60, nightly(60, 8.0), "new")
    assert found.level_variance[-1] == pytest.approx(ranks.var(), rel=0.1)


def test_a_dish_it_is_like_leaves_half_of_the_menus_deviation_open():
    menu, dish0 = (of_dinner(60, nightly(60, 2.0, 8.0, 20.0), "new", like=like) for like in (None, "dish0"))
    assert np.sqrt(dish0.level_variance[-1] / menu.level_variance[-1]) == pytest.approx(0.5, rel=0.1)


def test_a_dish_never_sold_moves_with_the_guests_as_one_of_ten_to_twelve():
    """Guests by chance, a share of whom takes it, each for himself: the correlation is the root of it."""
    link = of_dinner(60, nightly(60, 8.0), "new").link[-1]
    assert np.sqrt(1 / 12) < link < np.sqrt(1 / 10)


def test_a_night_of_a_dish_never_sold_strays_by_four_to_five_tenths():
    """The root of 0.2, of a dish of so many portions that chance alone adds little."""
    scatter = scatter_of(None, -1, np.ones(1), np.zeros(1, dtype=int), np.ones(1))
    found = drawn(np.array([2000.0]), scatter, np.random.default_rng(1).standard_normal((1, 2000)))
    assert 0.4 < found.paths.std() / 2000 < 0.5


@pytest.mark.parametrize(("n_dishes", "is_seen"), [(2, False), (3, True)])
def test_three_dishes_show_how_much_a_menu_differs(n_dishes, is_seen):
    """Dishes that sell alike: from three on a new one is taken to be much as they are."""
    found = of_dinner(60, nightly(60, *[8.0] * n_dishes), "new")
    assert (found.level_variance[-1] < 0.1) == is_seen
