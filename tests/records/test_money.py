"""Money as it is said: decimals as quoted, two at least."""

from decimal import Decimal

import pytest

from ordering.records.money import price_per_said, price_said
from ordering.records.vendors import Offer


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


@pytest.mark.parametrize(
    ("price", "said"),
    [("113.40", "9.45 per lb"), ("117.94", "9.83 per lb"), ("114.00", "9.50 per lb"), (None, "")],
)
def test_a_pack_of_catch_weight_is_quoted_at_the_price_of_its_line(price, said):
    """The house writes 9.45 per lb, a pack of 12 lb: a line at the last invoice's price says that price."""
    price_of_pack, per_lb = Decimal("113.40"), Decimal("9.45")
    offer = Offer("farm", "F-1", "loin", "1 each ~ 12 lb", 12.0, price_of_pack, True, per_lb, "lb")
    assert price_per_said(offer, None if price is None else Decimal(price)) == said
