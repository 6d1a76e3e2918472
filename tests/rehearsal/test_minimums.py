"""What a vendor would not come for is filled up; fees once a delivery."""

from datetime import timedelta

import pytest
from houses import MONDAY, house, ingredient, offer, vendor

from ordering.rehearsal.kitchen import Kitchen
from ordering.rehearsal.minimums import Wanted, send

TUESDAY = MONDAY + timedelta(days=1)


@pytest.fixture
def kitchen():
    home = house(
        ingredients=[
            ingredient("herbs", keeps_days=3, offers=(offer("garden", "herbs", 1.0, "4.00"),)),
            ingredient("potatoes", keeps_days=21, offers=(offer("garden", "potatoes", 10.0, "9.00"),)),
        ],
        vendors=[vendor("garden", minimum=50, delivery_fee=6, fee_waived_over=100)],
    )
    return Kitchen(home, {})


def wanted(item, packs, price, pack=1.0, on=TUESDAY):
    return Wanted("garden", on, item, item, float(packs), pack, price)


def test_an_order_above_the_minimum_comes_as_it_is_with_its_fee(kitchen):
    send(kitchen, [wanted("herbs", 15, 4.0)])
    assert [(o.item, o.packs) for o in kitchen.due] == [("herbs", 15)]
    assert kitchen.tally.spent == 66.0


def test_an_order_below_is_filled_with_what_keeps_longest(kitchen):
    send(kitchen, [wanted("herbs", 5, 4.0), wanted("potatoes", 1, 9.0, 10.0)])
    assert [(o.item, o.packs, o.quantity) for o in kitchen.due] == [("herbs", 5, 5), ("potatoes", 4, 40)]
    assert kitchen.tally.spent == 20 + 36 + 6


def test_what_was_ordered_before_for_the_same_delivery_counts(kitchen):
    send(kitchen, [wanted("herbs", 15, 4.0)])
    send(kitchen, [wanted("herbs", 1, 4.0)])
    assert kitchen.tally.spent == 60 + 4 + 6
    send(kitchen, [wanted("herbs", 10, 4.0)])
    assert kitchen.tally.spent == 104.0, "over 100 the fee is waived"
    send(kitchen, [wanted("herbs", 1, 4.0, on=TUESDAY + timedelta(days=7))])
    assert kitchen.tally.spent == 104 + 52 + 6, "another delivery has its own minimum"
