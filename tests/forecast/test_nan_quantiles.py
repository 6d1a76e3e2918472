"""Quantiles of many series at once against NumPy's, one series at a time."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from ordering.forecast.nan_quantiles import nan_quantiles

LEVELS = np.array([0.0, 0.025, 0.1, 0.5, 0.9, 1.0])
SOME_UNKNOWN = st.one_of(st.just(float("nan")), st.floats(-1e6, 1e6))


@given(arrays(float, (3, 2, 9), elements=SOME_UNKNOWN))
def test_the_same_numbers_as_numpy_of_what_is_known(values):
    found = nan_quantiles(values, LEVELS)
    for place in np.ndindex(3, 2):
        known = values[place][np.isfinite(values[place])]
        if known.size:
            theirs = np.quantile(known, LEVELS, method="hazen")
            assert found[place] == pytest.approx(theirs, abs=1e-6)
        else:
            assert np.isnan(found[place]).all()


def test_the_middle_is_the_median():
    assert nan_quantiles(np.array([4.0, np.nan, 1.0, 9.0, 2.0]), np.array([0.5])) == pytest.approx([3.0])


def test_nothing_at_all_is_nothing_known():
    assert np.isnan(nan_quantiles(np.empty((2, 0)), LEVELS)).all()
