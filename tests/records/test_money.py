"""Money as it is said: decimals as quoted, two at least."""

from decimal import Decimal

import pytest

from ordering.records.money import price_said


@pytest.mark.parametrize(
    ("price", "said"),
    [
        ("9.5", "9.50"),
        ("9", "9.00"),
        ("10", "10.00"),
        ("0.0125", "0.0125"),
        ("1234.5", "1,234.50"),
        ("0", "0.00"),
    ],
)
def test_a_price_keeps_its_decimals_and_has_two_at_least(price, said):
    assert price_said(Decimal(price)) == said
