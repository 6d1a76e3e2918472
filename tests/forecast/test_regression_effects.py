"""What moves covers, as told to people: weekday, holiday, trend, each with its bounds."""

from datetime import date, timedelta

import numpy as np
import pytest
from houses import EVERY_DAY, books, house

from ordering.forecast.regression_effects import effects
from ordering.forecast.rolling_origins import pasts_of
from ordering.pages.backtest_book import effect_said
from ordering.records.backtest_results import Effect
from ordering.records.house import NamedEvent, Service

FIRST = date(2025, 1, 6)


def covers_of(n_days, regatta=()):
    """Saturdays twice as busy as other days, regatta days half as busy again, Poisson about it."""
    rng = np.random.default_rng(7)
    rows = []
    for n in range(n_days):
        day = FIRST + timedelta(days=n)
        mean = 40.0 * (2 if day.weekday() == 5 else 1) * (1.5 if day in regatta else 1)
        rows.append((day.isoformat(), "dinner", float(rng.poisson(mean))))
    return rows


def told(n_days, regatta=()):
    home = house(
        services={"dinner": Service("dinner", EVERY_DAY)}, events=(NamedEvent("regatta", tuple(regatta)),)
    )
    on = FIRST + timedelta(days=n_days)
    past = pasts_of(home, books(covers=covers_of(n_days, regatta)), on)[0]
    return {effect.name: effect for effect in effects(home, past)}


def test_a_weekday_is_set_against_the_mean_of_the_weekdays():
    """On the log scale a doubled Saturday is 2 / 2^(1/7) of the mean of seven days: 1.81."""
    saturday = told(300)["Saturday"]
    assert saturday.low < 2 ** (6 / 7) < saturday.high
    assert saturday.high - saturday.low < 0.2


def test_an_event_is_set_against_days_without_it():
    regatta = [FIRST + timedelta(days=n) for n in (20, 61, 101, 150, 201, 260)]
    found = told(300, regatta)["regatta"]
    assert found.low < 1.5 < found.high
    assert found.low > 1.2


@pytest.mark.parametrize(("n_days", "is_told"), [(59, False), (60, True)])
def test_with_fewer_than_sixty_services_nothing_is_said(n_days, is_told):
    assert bool(told(n_days)) == is_told


@pytest.mark.parametrize(("times", "is_told"), [(2, False), (3, True)])
def test_an_event_is_told_once_it_has_come_three_times(times, is_told):
    regatta = [FIRST + timedelta(days=20 + 30 * n) for n in range(times)]
    assert ("regatta" in told(120, regatta)) == is_told


def test_two_years_show_no_trend_where_there_is_none():
    found = told(720)["each year"]
    assert found.low < 1 < found.high


@pytest.mark.parametrize(
    ("effect", "words"),
    [
        (Effect("dinner", "Saturday", 1.8, 1.7, 1.9), "80 % more covers"),
        (Effect("dinner", "Monday", 0.75, 0.7, 0.8), "25 % fewer covers"),
        (Effect("dinner", "bridge", 1.1, 0.8, 1.4), "no clear effect"),
    ],
)
def test_an_effect_is_said_in_words_with_its_doubt(effect, words):
    assert effect_said(effect) == words
