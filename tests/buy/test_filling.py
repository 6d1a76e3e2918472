"""What a line says of packs that only its vendor's terms ask for: a minimum, a fee, a price break."""

from decimal import Decimal

import pytest
from buy.needs import bought, need, packs, shop
from houses import house, ingredient, offer, vendor


def farm(herbs_price=5, salt_price=8, **terms):
    """Herbs that keep two days and salt that keeps, from one farm that comes on Tuesdays."""
    herbs = ingredient("herbs", keeps_days=2, offers=(offer("farm", "herbs", 1, herbs_price),))
    salt = ingredient("salt", offers=(offer("farm", "salt", 1, salt_price),))
    return house([herbs, salt], vendors=[vendor("farm", (1,), **terms)])


def notes(buying):
    return {line.item: line.note for line in buying.orders}


def test_a_pack_bought_for_the_minimum_says_so_and_what_is_needed_does_not():
    """Herbs for 20.00 and salt for 24.00 are wanted; the fourth salt makes 52.00 of a minimum of 50.00."""
    buying = bought(farm(minimum=Decimal(50)), need("herbs", {2: 4}), need("salt", {2: 3}))
    assert packs(buying.orders) == [("farm-herbs", 1, 4), ("farm-salt", 1, 4)]
    assert notes(buying) == {
        "herbs": "",
        "salt": "1 of 4 not needed by Wed 2 Dec: without it the delivery is below the minimum of 50.00",
    }


@pytest.mark.parametrize(
    ("minimum", "filled", "start"),
    [(44, {}, ""), (45, {"herbs": "1 of 5"}, "about 1 kg more"), (50, {"salt": "1 of 4"}, "1 of 4")],
)
def test_it_is_said_only_where_a_pack_less_falls_below_the_minimum(minimum, filled, start):
    """Four herbs and three salts are wanted, for 44.00. What is told of waste comes before it."""
    buying = bought(farm(minimum=Decimal(minimum)), need("herbs", {2: 4}), need("salt", {2: 3}))
    said = {item: note for item, note in notes(buying).items() if note}
    assert said.keys() == filled.keys()
    for item, number in filled.items():
        assert said[item].startswith(start)
        assert f"{number} not needed by Wed 2 Dec: without" in said[item]
        assert said[item].endswith(f"below the minimum of {minimum}.00")


def test_a_fee_saved_is_said_as_such():
    """A fee of 20.00 on 44.00, waived over 50.00: another salt at 8.00 is the cheaper."""
    terms = {"delivery_fee": Decimal(20), "fee_waived_over": Decimal(50)}
    buying = bought(farm(**terms), need("herbs", {2: 4}), need("salt", {2: 3}))
    assert notes(buying)["salt"] == (
        "1 of 4 not needed by Wed 2 Dec: without it the delivery fee of 20.00 is charged"
    )


def test_a_price_break_is_said_as_such():
    """Three packs at 10.00 are 30.00; four at 7.00 are 28.00."""
    home = shop(offer("mill", "rice", 1, 10, breaks=((4, Decimal(7)),)))
    assert notes(bought(home, need("rice", {2: 3}))) == {
        "rice": "1 of 4 not needed by Wed 2 Dec: without it the price of 4 or more is lost"
    }


def test_packs_that_reach_the_minimum_are_for_it_even_where_a_pack_less_costs_only_a_break():
    """Rice is wanted later alone: four at 7.00 reach 40.00, three at 10.00 would too, for more money."""
    rice = ingredient("rice", offers=(offer("mill", "rice", 1, 10, breaks=((4, Decimal(7)),)),))
    salt = ingredient("salt", offers=(offer("mill", "salt", 1, 12),))
    home = house([rice, salt], vendors=[vendor("mill", (1,), minimum=Decimal(40))])
    buying = bought(home, need("rice", {20: 4}, 28), need("salt", {2: 1}, 28))
    assert packs(buying.orders) == [("mill-rice", 1, 4), ("mill-salt", 1, 1)]
    assert notes(buying)["rice"] == (
        "4 of 4 not needed by Wed 2 Dec: without them the delivery is below the minimum of 40.00"
    )


def test_what_is_ordered_for_later_days_at_no_term_of_the_vendor_says_nothing():
    assert notes(bought(shop(offer("mill", "rice", 1, 10)), need("rice", {2: 3, 9: 2}))) == {"rice": ""}


@pytest.mark.parametrize(("wanted", "is_told"), [(17, False), (15, True)])
def test_it_needs_attention_when_asking_below_the_minimum_would_cost_less_were_it_not_used(wanted, is_told):
    """A minimum of 100.00 at 5.00 a pack, asked below for a fifth of it, 20.00: three packs more are 15.00,
    five are 25.00, and pay only because they are used later."""
    home = shop(
        offer("farm", "salt", 1, 5), item="salt", vendors=[vendor("farm", (1,), minimum=Decimal(100))]
    )
    buying = bought(home, need("salt", {2: wanted, 20: 30}, 28))
    assert packs(buying.orders) == [("farm-salt", 1, 20)]
    told = "25.00 buys goods not needed yet, to reach minimums: Salt 25.00"
    assert buying.warnings == ((told,) if is_told else ())


def test_an_outlook_line_says_that_its_delivery_is_below_the_minimum():
    """Herbs keep a day; Tuesday's and Friday's come to 10.00 each, the last within sight is not judged."""
    herbs = ingredient("herbs", keeps_days=1, offers=(offer("farm", "herbs", 1, 10),))
    home = house([herbs], vendors=[vendor("farm", (1, 4), minimum=Decimal(100))])
    buying = bought(home, need("herbs", {8: 1, 11: 1, 18: 1}, 21))
    low = "delivery of 10.00, below the minimum of 100.00: to be added to when it is ordered"
    assert [line.note for line in buying.outlook] == [low, low, ""]
