from datetime import date
from decimal import Decimal

import pytest
from houses import MONDAY, dish, house, ingredient, offer, recipe, vendor

from ordering.buy.pack_prices import losses, packs_needed, price_tiers
from ordering.records.house import MissedCost, Policy
from ordering.records.money import cents, fee_for, line_amount, price_at


@pytest.mark.parametrize(
    ("quantity", "pack", "expected"),
    [
        (0, 5, 0),
        (-3, 5, 0),
        (0.1, 5, 1),
        (5, 5, 1),
        (5.001, 5, 2),
        (0.3, 0.1, 3),
        (2.1, 0.7, 3),
        (1e-13, 1, 0),
    ],
)
def test_packs_are_rounded_up_but_not_for_what_floating_point_left(quantity, pack, expected):
    assert packs_needed(quantity, pack) == expected


@pytest.mark.parametrize("pack", [0, -1, float("nan")])
def test_an_empty_pack_is_refused(pack):
    with pytest.raises(ValueError, match="a pack must hold something"):
        packs_needed(1, pack)


def test_half_a_cent_rounds_away_from_zero():
    assert cents(Decimal("0.125")) == Decimal("0.13")
    assert cents(Decimal("0.135")) == Decimal("0.14")


def test_a_break_holds_for_all_packs_of_the_line():
    rice = offer("mill", "rice", 25, "104.00", breaks=((4, Decimal("98.00")), (8, Decimal("95.00"))))
    assert [price_at(rice, n) for n in (1, 3, 4, 7, 8)] == [
        Decimal(p) for p in ("104", "104", "98", "98", "95")
    ]
    assert line_amount(price_at(rice, 4), 4) == Decimal("392.00")


def test_an_amount_is_rounded_once_and_not_pack_by_pack():
    """Three catch-weight pieces at an expected 4.155 each are 12.465, not three times 4.16."""
    assert line_amount(price_at(offer("sea", "cod", 1, "4.155"), 3), 3) == Decimal("12.47")


def test_no_price_is_no_amount():
    assert price_at(offer("mill", "rice", price=None), 5) is None
    assert line_amount(price_at(offer("mill", "rice", price=None), 5), 5) == 0


def test_the_fee_is_waived_from_the_value_on():
    farm = vendor("farm", delivery_fee=Decimal("8.00"), fee_waived_over=Decimal("250.00"))
    assert [fee_for(farm, Decimal(v)) for v in ("249.99", "250.00")] == [Decimal("8.00"), 0]
    assert fee_for(vendor("farm", delivery_fee=Decimal(8)), Decimal(10_000)) == 8


def test_a_break_never_makes_it_dearer():
    odd = offer("mill", "rice", 1, "10", breaks=((3, Decimal(11)), (5, Decimal(9))))
    assert [price_at(odd, n) for n in (2, 3, 5)] == [10, 10, 9]
    assert price_tiers(odd, 0.0) == [(1, 10.0), (5, 9.0)]
    assert price_tiers(offer("mill", "rice", price=None), 7.5) == [(1, 7.5)]


@pytest.mark.parametrize(("missed", "lost"), [(MissedCost(), 9.0), (MissedCost(times=1), 18.0)])
def test_a_unit_that_does_not_come_loses_what_its_cheapest_portions_would(missed, lost):
    """A plate of half a kilo at 19.00 earns 37.00 a kilo, a soup of one at 10.00 only 9.00: it goes first.
    What the house says a missed guest costs comes on top; an offer that has ended is not counted.
    """
    ended = offer("sea", "fish", 1, "0.10", until=date(2020, 1, 1))
    fish = ingredient("fish", offers=(offer("sea", "fish", 1, 1), ended))
    home = house(
        [fish],
        [recipe("fillet", 2, {"fish": 2}), recipe("broth", 1, {"fish": 1})],
        [dish("plate", "fillet", portion=0.5, price=19), dish("soup", "broth", price=10)],
        policy=Policy(missed_cost=missed),
    )
    found = losses(home, MONDAY)
    assert found["fish"] == pytest.approx(lost)
    assert found["fillet"] == pytest.approx(37 * lost / 9)
