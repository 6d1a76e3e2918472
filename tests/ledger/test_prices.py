"""What a run says of file prices that lag behind the invoices."""

from datetime import date
from decimal import Decimal

import houses
import pytest

from ordering.ledger.prices import Invoiced, lagging_doubts

OFFERS = [houses.offer("v", "beef", 5.0, "10.00", code=f"B-{n}") for n in range(4)]
HOUSE = houses.house(
    ingredients=[houses.ingredient("beef", offers=OFFERS)], vendors=[houses.vendor("v", range(7))]
)


@pytest.mark.parametrize(
    ("quoted", "said"),
    [
        (("11", "12", "13", "14"), "4 prices in the files differ from the last invoice, which is higher"),
        (("9", "8", "7", "6"), "4 prices in the files differ from the last invoice, which is lower"),
        (
            ("9", "8", "7", "14"),
            "4 prices in the files differ from the last invoice, which is higher for 1 of them",
        ),
    ],
)
def test_many_prices_are_told_in_one_line(quoted, said):
    found = [
        Invoiced(offer, Decimal(price), Decimal(10), date(2026, 11, 20), 1.0)
        for offer, price in zip(OFFERS, quoted, strict=True)
    ]
    (doubt,) = lagging_doubts(HOUSE, found)
    assert doubt.wrong == said


def test_a_few_prices_are_told_one_by_one():
    """Three, each at its line; of four it is one thing to look at."""
    found = [Invoiced(offer, Decimal(11), Decimal(10), date(2026, 11, 20), 1.0) for offer in OFFERS]
    assert [len(list(lagging_doubts(HOUSE, found[:n]))) for n in range(5)] == [0, 1, 2, 3, 1]
