"""Dishes of few sales: information counts, not days, and what is not known yet widens the spread."""

from datetime import timedelta

import numpy as np
import pytest
from pasts import ON, books_of, home, plate, weekly
from scipy.optimize import minimize_scalar

from ordering.days import span
from ordering.forecast.demand import forecast
from ordering.forecast.new_dishes import LIKE_PART, most_probable_level
from ordering.records.plan import QUANTILES

DAYS = span(ON, 14)
LOW, HIGH = QUANTILES.index(0.1), QUANTILES.index(0.9)
SHARES = {"pie": 0.1, "duck": 0.2, "trifle": 0.15, "soup": 0.3, "hake": 0.12}


@pytest.mark.parametrize(
    ("came", "expected", "variance"), [(0, 20, 0.4), (35, 20, 0.4), (3, 1, 0.1), (0, 0, 0.5)]
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
    assert LIKE_PART < 1
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
