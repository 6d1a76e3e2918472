"""Dishes: new ones, seasonal ones, slow ones, and those that sold out."""

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace

import numpy as np
import pytest
from known_pasts import sold_out
from pasts import ON, books_of, home, plate, weekly

from ordering.days import span
from ordering.forecast import candidates
from ordering.forecast.demand import forecast
from ordering.forecast.menu_mix import _tightness
from ordering.records.house import Party
from ordering.records.plan import QUANTILES

DAYS = span(ON, 14)
MEDIAN, HIGH = QUANTILES.index(0.5), QUANTILES.index(0.95)


def portions(covers: np.ndarray, share: float, seed: int) -> np.ndarray:
    return np.random.default_rng(seed).poisson(covers * share).astype(float)


def test_a_new_dish_borrows_from_the_one_it_is_like():
    covers = weekly(300)
    sold = {"duck": portions(covers, 0.3, 1), "pie": portions(covers, 0.05, 2)}
    new = plate("goose", like="duck", from_on=ON)
    found = forecast(home(plate("duck"), plate("pie"), new), books_of(covers, sold), DAYS, 1, 20)
    assert found.mean[2] == pytest.approx(found.mean[0], rel=0.15)


def test_a_new_dish_like_no_other_is_taken_as_an_average_one_and_said():
    covers = weekly(300)
    sold = {"duck": portions(covers, 0.3, 1), "pie": portions(covers, 0.1, 2)}
    found = forecast(home(plate("duck"), plate("pie"), plate("goose")), books_of(covers, sold), DAYS, 1, 20)
    assert (found.mean[2] > found.mean[1]).all()
    assert (found.mean[2] < found.mean[0]).all()
    assert any("Goose" in note and "never sold at dinner" in note for note in found.notes)


def test_little_history_is_mixed_with_what_is_lent():
    covers = weekly(300)
    goose = np.full(300, 0.0)
    goose[-10:] = portions(covers[-10:], 0.6, 3)
    house = home(plate("duck"), plate("goose", like="duck", from_on=ON - timedelta(days=10)))
    sold = {"duck": portions(covers, 0.2, 1), "goose": goose}
    found = forecast(house, books_of(covers, sold), DAYS, 1, 20)
    ratio = found.mean[1].sum() / found.mean[0].sum()
    assert 1.3 < ratio < 2.9


def test_dishes_come_and_go_with_the_menu():
    covers = weekly(300)
    sold = {"duck": portions(covers, 0.3, 1)}
    going = plate("duck", until_on=ON + timedelta(days=4))
    found = forecast(home(going), books_of(covers, sold), DAYS, 1, 20)
    on = np.array([slot.day <= 4 for slot in found.slots])
    assert (found.mean[0, on] > 0).all()
    assert (found.portions[0, ~on] == 0).all()
    assert (found.quantiles[0, ~on] == 0).all()


def test_dishes_keep_step_with_a_house_that_grows():
    """Covers grow by 12 % a year and every dish keeps its share: all dishes together are as the covers."""
    grown = weekly(1095) * np.exp(0.12 * np.arange(-1095, 0) / 365)
    covers = np.random.default_rng(4).poisson(grown).astype(float)
    dishes = {f"dish{n}": portions(covers, 0.06, n) for n in range(12)}
    found = forecast(home(*(plate(d) for d in dishes)), books_of(covers, dishes), span(ON, 60), 1, 20)
    assert found.mean.sum() / found.covers_mean.sum() == pytest.approx(12 * 0.06, rel=0.015)


def test_a_slow_seller_has_honest_counts():
    covers = weekly(500)
    found = forecast(
        home(plate("oysters")), books_of(covers, {"oysters": portions(covers, 0.001, 5)}), DAYS, 1, 200
    )
    assert found.mean[0].mean() == pytest.approx(0.05, abs=0.05)
    assert (found.quantiles[0, :, MEDIAN] == 0).all()
    assert (found.quantiles[0, :, HIGH] <= 1).all()
    assert found.portions[0].max() >= 1


def test_days_that_sold_out_are_lower_bounds():
    """A third of the days sold out: taken as demand or dropped, they mislead more."""
    rng = np.random.default_rng(8)
    covers = weekly(500)
    wanted = rng.poisson(0.25 * covers).astype(float)
    made = np.where(rng.random(500) < 0.5, 10.0, 40.0)
    sold, gone = np.minimum(wanted, made), wanted > made
    assert 0.2 < gone.mean() < 0.45
    house = home(plate("duck"))

    def mean(values: np.ndarray, flags: np.ndarray) -> float:
        books = books_of(covers, {"duck": values}, sold_out={"duck": flags})
        return float(forecast(house, books, DAYS, 1, 10).mean.mean())

    bound, as_demand = mean(sold, gone), mean(sold, np.zeros(500, dtype=bool))
    wanted_mean = mean(wanted, np.zeros(500, dtype=bool))
    assert abs(bound / wanted_mean - 1) < 0.08
    assert as_demand < 0.93 * wanted_mean
    assert as_demand < bound
    share_of_days_kept = sold[~gone].sum() / covers[~gone].sum()
    assert abs(bound / wanted_mean - 1) < abs(share_of_days_kept / 0.25 - 1)


def test_sold_out_before_the_first_was_sold_says_nothing():
    covers = weekly(200)
    sold = portions(covers, 0.3, 1)
    flags = np.zeros(200, dtype=bool)
    books = books_of(covers, {"duck": sold}, sold_out={"duck": flags})
    table = books.sales.copy()
    at = table["date"] == table["date"].iloc[-1]
    table.loc[at, ["sold", "sold_out"]] = [0.0, True]
    one = forecast(home(plate("duck")), books, DAYS, 1, 10).mean
    other = forecast(home(plate("duck")), replace(books, sales=table), DAYS, 1, 10).mean
    assert other == pytest.approx(one, rel=0.05)


def test_a_dish_of_two_services_is_learnt_in_each():
    house = home(plate("duck"))
    covers = weekly(300)
    found = forecast(house, books_of(covers, {"duck": portions(covers, 0.3, 1)}), DAYS, 1, 10)
    assert found.mean.sum() == pytest.approx(0.3 * found.covers_mean.sum(), rel=0.15)


def test_a_private_party_of_the_past_is_not_taken_for_walk_ins():
    covers = weekly(200)
    sold = portions(covers, 0.2, 4)
    party_on = ON - timedelta(days=3)
    fat, more = covers.copy(), sold.copy()
    fat[-3] += 60
    more[-3] += 60
    party = Party("Pilots", party_on, "dinner", 60, {"duck": 60.0})
    told = forecast(home(plate("duck"), parties=(party,)), books_of(fat, {"duck": more}), DAYS, 1, 10)
    plain = forecast(home(plate("duck")), books_of(covers, {"duck": sold}), DAYS, 1, 10)
    assert told.covers_mean == pytest.approx(plain.covers_mean, rel=1e-9)
    assert told.mean == pytest.approx(plain.mean, rel=1e-9)


@pytest.mark.parametrize("nights", [30, 60, 120])
def test_sixty_nights_weigh_as_much_as_what_was_believed_of_the_dishes_together(nights):
    """Two dishes that have nothing in common: that much less is believed of it."""
    mean = np.full((2, 1, nights), 8.0)
    came = mean + np.where(np.arange(nights) % 2, 3.0, -3.0) * np.array([[[1.0]], [[0.0]]])
    seen = SimpleNamespace(
        past=came,
        past_mean=mean,
        spread=SimpleNamespace(dispersion=np.zeros(2)),
    )
    assert _tightness(seen, np.full(2, 0.3)) == pytest.approx(np.sqrt(60 / (nights + 60)), rel=0.02)


def test_lower_bounds_and_what_is_expected_above_them_have_settled(monkeypatch):
    """Sold out on three nights of four: more rounds of one from the other change nothing."""
    usual = sold_out(0.7)(np.random.default_rng([3, 1]))
    monkeypatch.setattr(candidates, "CENSORED_ROUNDS", 40)
    longer = sold_out(0.7)(np.random.default_rng([3, 1]))
    assert usual.bias == pytest.approx(longer.bias, abs=0.003)


def test_dishes_never_sold_move_with_the_guests_as_where_each_takes_one_of_eleven_by_chance():
    """Thinning of a Poisson number of guests: the root of one in eleven."""
    house = home(*(plate(f"dish{n}") for n in range(11)))
    found = forecast(house, books_of(weekly(200)), DAYS, 1, 400)
    pairs = [np.corrcoef(found.covers[n], found.portions[d, n])[0, 1] for d in range(11) for n in range(14)]
    assert np.mean(pairs) == pytest.approx(np.sqrt(1 / 11), abs=0.05)
