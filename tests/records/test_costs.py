"""What an item costs through its recipes."""

from datetime import date

import pytest
from houses import dish, house, ingredient, line, offer, recipe

from ordering.records.costs import portion_costs, unit_costs, unpriced


def a_house(**rest):
    return house(
        ingredients=[
            ingredient(
                "rib", offers=(offer("a", "rib", 10, "200.00"), offer("b", "rib", 1, "25.00", code="B1"))
            ),
            ingredient("bones", offers=(offer("a", "bones", 1, "2.00"),)),
            ingredient("salt"),
        ],
        recipes=[
            recipe(
                "steak",
                6.0,
                [line("rib", 8.0, yield_fraction=0.8), line("salt", 0.1)],
                also_makes=(("bones", 2.0),),
            ),
            recipe("broth", 4.0, [line("bones", 2.0), line("broth", 1.0, returns=0.5)], unit="l"),
            recipe("plate", 1.0, {"steak": 0.3, "broth": 0.1}, unit="each"),
        ],
        dishes=[dish("steak-frites", "plate", portion=2)],
        **rest,
    )


def test_what_is_made_in_forty_stages_costs_what_goes_into_the_first():
    stages = [
        recipe("s0", 1.0, {"rib": 1.0}),
        *(recipe(f"s{n}", 1.0, {f"s{n - 1}": 1.0}) for n in range(1, 40)),
    ]
    made = house(
        ingredients=[ingredient("rib", offers=(offer("a", "rib", 10, "200.00"),))], recipes=stages[::-1]
    )
    assert unit_costs(made)["s39"] == 20.0


def test_a_bought_item_costs_its_cheapest_offer_per_unit_and_nothing_known_is_nothing():
    costs = unit_costs(a_house())
    assert costs["rib"] == 20.0
    assert costs["salt"] == 0.0


def test_a_batch_costs_what_it_draws_less_the_worth_of_its_by_products():
    """8/0.8 = 10 kg of rib at 20, less 2 kg of bones at 2, over 6 kg of steak."""
    assert unit_costs(a_house())["steak"] == pytest.approx((200 - 4) / 6)


def test_what_has_no_price_is_named_with_all_that_it_goes_into():
    assert unpriced(a_house()) == {"salt", "steak", "plate"}


def test_an_offer_counts_on_the_days_it_holds():
    """An offer of 20 until the 30th, one of 24 from the 1st on: each on its days, both ends counted in."""
    old = offer("a", "rib", 1, "20.00", until=date(2026, 11, 30))
    new = offer("a", "rib", 1, "24.00", code="new", from_on=date(2026, 12, 1))
    home = house([ingredient("rib", offers=(old, new))], [recipe("steak", 1, {"rib": 1})], [])
    assert unit_costs(home, date(2026, 11, 30))["steak"] == 20.0
    assert unit_costs(home, date(2026, 12, 1))["steak"] == 24.0
    assert unpriced(home, date(2026, 12, 1)) == frozenset()


def test_what_has_no_offer_that_holds_has_no_price():
    ended = offer("a", "rib", 1, "20.00", until=date(2026, 11, 25))
    home = house([ingredient("rib", offers=(ended,))], [recipe("steak", 1, {"rib": 1})], [])
    assert unpriced(home, date(2026, 11, 26)) == {"rib", "steak"}


def test_a_batch_that_feeds_the_next_costs_its_fixed_point():
    """c = (2 x 2 + 0.5 c) / 4, so c = 4 / 3.5."""
    assert unit_costs(a_house())["broth"] == pytest.approx(4 / 3.5)


@pytest.mark.parametrize("turn", [1, -1])
def test_by_products_that_go_round_in_a_circle_without_end_are_worth_nothing(turn):
    """A kilo of glaze takes 3 kg of stock, and a batch of stock gives 0.4 kg of glaze off: its worth would
    swing up and down for ever, so a kilo of stock costs what goes in, whichever recipe is read first; what
    else is made in the house keeps what comes off it."""
    made = [
        recipe("glaze", 1.0, {"stock": 3.0}),
        recipe("stock", 1.0, {"rib": 1.0}, also_makes=(("glaze", 0.4),)),
        recipe("steak", 1.0, {"rib": 2.0}, also_makes=(("bones", 1.0),)),
    ]
    bought = [
        ingredient(item, offers=(offer("a", item, 1, price),)) for item, price in (("rib", 6), ("bones", 2))
    ]
    costs = unit_costs(house(bought, made[::turn]))
    assert {item: costs[item] for item in ("stock", "glaze", "steak")} == pytest.approx(
        {"stock": 6.0, "glaze": 18.0, "steak": 10.0}
    )


def test_a_portion_costs_its_share_of_the_recipe():
    home = a_house()
    costs = unit_costs(home)
    expected = 2 * (0.3 * costs["steak"] + 0.1 * costs["broth"])
    assert portion_costs(home, costs) == {"steak-frites": pytest.approx(expected)}
