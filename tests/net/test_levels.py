"""Service levels, what a unit is worth, and until when what is over is good."""

from dataclasses import replace
from datetime import timedelta

import houses
import numpy as np
import pytest
from houses import MONDAY, dish, ingredient, line, recipe

from ordering.net.frame import consumables, frame_of
from ordering.net.levels import levels_of, worth
from ordering.records.costs import unit_costs
from ordering.records.house import Closure, Party, Policy, Service
from ordering.records.plan import Opening


def fish_house(price=20.0, keeps=2, **rest):
    fish = ingredient("fish", keeps_days=keeps, offers=(houses.offer("sea", "fish", 5, 50),))
    butter = ingredient(
        "butter", offers=(houses.offer("sea", "butter", 1, 8), houses.offer("sea", "butter", 10, 60))
    )
    return houses.house(
        [fish, butter],
        [
            recipe("plate", 1, [line("fish", 0.16, yield_fraction=0.8), line("butter", 0.5, returns=0.4)]),
            recipe("sauce", 2, {"butter": 1}, takes_days=2, keeps_days=2),
        ],
        [dish("fish-plate", "plate", price=price), dish("pot", "sauce", 0.1, price=3)],
        [houses.vendor("sea")],
        **rest,
    )


def frame(home, days=6):
    demand = houses.forecast(home, {d: [10.0] * days for d in home.dishes})
    return frame_of(home, Opening(), demand, {})


def test_a_unit_costs_its_cheapest_offer_and_a_batch_its_lines_less_what_returns():
    value = worth(frame(fish_house()))
    assert value.cost["fish"] == 10
    assert value.cost["butter"] == 6
    assert value.cost["plate"] == pytest.approx(0.2 * 10 + 0.1 * 6)
    assert value.cost["sauce"] == pytest.approx(3)


def test_a_unit_is_worth_the_margin_of_what_it_serves():
    """A plate earns 20 - 2.60 = 17.40 of 0.2 kg of fish: 87 a kilo."""
    value = worth(frame(fish_house()))
    assert value.margin["plate"] == pytest.approx(17.4)
    assert value.margin["fish"] == pytest.approx(87)


def test_what_has_no_price_is_left_out_and_said():
    """The fish of a pie costs 2, its salt nobody knows: the pie is worth 10 - 2, its cost known in part."""
    fish = ingredient("fish", keeps_days=2, offers=(houses.offer("sea", "fish", 5, 50),))
    home = houses.house(
        [fish, ingredient("salt", keeps_days=2)],
        [recipe("pie", 1, {"fish": 0.2, "salt": 0.01}), recipe("fillet", 1, {"fish": 1})],
        [dish("d", "pie", price=10)],
        [houses.vendor("sea")],
    )
    value = worth(frame(home))
    assert value.cost == {"fish": 10, "salt": 0, "pie": pytest.approx(2), "fillet": 10}
    assert value.unpriced == {"salt", "pie"}
    assert value.margin["pie"] == pytest.approx(8)
    levels = levels_of(frame(home), value, houses.chances("sea", [1, 5]))
    assert levels["salt"].value == 0.95


def test_levels_go_by_the_same_costs_as_food_cost():
    """By-products are credited and ended offers left out, whoever asks."""
    crown, legs = (
        ingredient("duck", offers=(houses.offer("farm", "duck", 1, 20, until=MONDAY), cheap_once())),
        ingredient("legs", offers=(houses.offer("farm", "legs", 1, 4),)),
    )
    home = houses.house(
        [crown, legs],
        [recipe("crown", 1, {"duck": 1}, also_makes=(("legs", 1.5),))],
        [dish("d", "crown", price=40)],
        [houses.vendor("farm")],
    )
    value = worth(frame(home))
    assert value.cost == unit_costs(home, MONDAY) == {"duck": 20, "legs": 4, "crown": 20 - 1.5 * 4}
    assert value.margin["crown"] == pytest.approx(40 - 14)


def cheap_once():
    """An offer that ended the day before the run."""
    return houses.offer("farm", "duck", 1, 5, code="old", until=MONDAY - timedelta(days=1))


def test_what_ages_for_weeks_is_weighed_by_what_comes_while_it_keeps():
    """Thirty-five days to age and a batch may be hung on any day the meat is good: what is over of one serves
    whoever comes in its three or nine days. On the last day before the next meat nothing is over of three."""
    rib = ingredient("rib", keeps_days=2, offers=(houses.offer("farm", "rib", 8, 160),))
    for keeps, last in ((9, [9, 10, 11, 12, 12, 12, 12, 12, 17]), (3, [3, 4, 5, 6, 6, 6, 6, 7, 11])):
        home = houses.house(
            [rib],
            [recipe("aged", 1, {"rib": 1}, is_whole=True, takes_days=35, keeps_days=keeps)],
            [dish("steak", "aged", price=60)],
            [houses.vendor("farm")],
            policy=Policy(0.98, 50, 1),
        )
        chances = houses.chances("farm", [1, 8, 15, 22, 29])
        demand = houses.forecast(home, {"steak": [10.0] * 60})
        found = frame_of(home, Opening(), demand, {"rib": 1}, chances)
        level = levels_of(found, worth(found), chances)["aged"]
        assert level.value == 0.98
        assert level.spare.good_until[:9].tolist() == last
        assert (level.spare.margin, level.spare.thrown, level.spare.piece) == (40, 20, 1)


def test_what_is_bought_is_weighed_by_what_comes_from_its_delivery_to_its_last_day():
    home = fish_house()
    levels = levels_of(frame(home), worth(frame(home)), houses.chances("sea", [1, 5]))
    spare = levels["fish"].spare
    assert (spare.margin, spare.thrown, spare.piece) == (pytest.approx(87), 10, 5)
    assert spare.good_until.tolist() == [2, 3, 3, 3, 4, 7]
    assert levels["fish"].why == (
        "keeps 2 d; a unit short loses 87.00, a unit over that spoils wastes 10.00; as much as is likelier "
        "to pay than to spoil, up to the service level 0.95 of the house"
    )
    assert levels["butter"].spare is None


@pytest.mark.parametrize(("asked", "kept"), [(0.97, 0.97), (0.9, 0.9), (None, 0.0)])
def test_what_a_dish_asks_for_in_its_own_right_is_a_promise(asked, kept):
    """The fish of a dish asked for at 0.97 is held at that, whatever is thrown away; one that is asked
    for at 0.90 and shared with a dish of the house's 0.95 is held at 0.90 at the least."""
    home = fish_house()
    other = dish("soup", "plate", 0.5, price=9) if asked != 0.97 else dish("soup", "sauce", price=9)
    first = dish("fish-plate", "plate", price=20, service_level=asked)
    home = replace(home, dishes={"fish-plate": first, "soup": other})
    level = levels_of(frame(home), worth(frame(home)), houses.chances("sea", [1, 5]))["fish"]
    assert level.value == max(asked or 0, 0.95)
    assert (level.spare.promised if level.spare else level.value) == kept


def test_what_is_worth_its_level_even_where_all_that_is_over_spoils_is_held_at_it():
    home = fish_house(price=200.0)
    levels = levels_of(frame(home), worth(frame(home)), houses.chances("sea", [1, 5]))
    assert (levels["fish"].value, levels["fish"].spare) == (0.95, None)
    assert levels["fish"].why == "service level 0.95 of the house"


def test_consumables_are_used_only_where_someone_is_served():
    """Tuesday is closed; on Wednesday a party has the house to itself."""
    home = fish_house(
        consumables=[("butter", 1.0, "service"), ("butter", 2.0, "day"), ("butter", 0.1, "cover")],
        services={"dinner": Service("dinner", frozenset({0, 1, 2}))},
        closures=(Closure(MONDAY.replace(day=24), MONDAY.replace(day=24)),),
        parties=(Party("Wedding", MONDAY.replace(day=25), "dinner", 40, {}, is_instead=True),),
    )
    demand = houses.forecast(home, {"pot": [10.0] * 4}, covers=np.array([10.0, 0, 40, 0]))
    assert consumables(home, demand)["butter"][:, 0].tolist() == [4, 0, 7, 0]
