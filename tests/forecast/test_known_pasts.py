"""Pasts whose coming days are known: the forecast is no further off than stated, over a few seeds.

`python tests/bench/forecast_known.py` holds the same cases to the leasts themselves over many seeds.
"""

import pytest
from known_pasts import CASES, WIDTHS, lived, outside, widths

SEEDS = range(4)
FEW = 0.04  # what four seeds stray by chance


@pytest.mark.parametrize("case", CASES, ids=lambda case: case.name)
def test_a_known_past_is_forecast_within_the_stated_bias(case):
    assert not list(outside(case, lived(case, SEEDS), FEW))


def test_nights_and_sums_of_days_and_dishes_are_calibrated():
    low, high = WIDTHS
    found = widths(range(8))
    assert all(low - FEW < width < high + FEW for width in found.values()), found
