"""What a unit too few or too many costs: margins carried down, and what a missed portion costs beyond."""

from datetime import timedelta

import houses
import numpy as np
import pytest
from houses import MONDAY, dish, ingredient, recipe

from ordering.net.netting import net_all
from ordering.net.problem import consumables, problem_of
from ordering.net.safety_stock import EATEN_OF_LAST, worth
from ordering.records.costs import portion_losses, unit_costs
from ordering.records.house import Closure, MissedCost, Party, Policy, Service
from ordering.records.plan import Opening


def fish_house(price=20.0, policy=None, **of_dish):
    """A plate of 0.2 kg of fish at 10 and 0.1 kg of butter at 6: it costs 2.60."""
    return houses.house(
        [
            ingredient("fish", keeps_days=2, offers=(houses.offer("sea", "fish", 5, 50),)),
            ingredient("butter", offers=(houses.offer("sea", "butter", 1, 6),)),
        ],
        [recipe("plate", 1, {"fish": 0.2, "butter": 0.1})],
        [dish("fish-plate", "plate", price=price, **of_dish)],
        [houses.vendor("sea")],
        policy=policy or Policy(paths=1),
    )


def valued(home, days=6):
    demand = houses.forecast(home, {d: [10.0] * days for d in home.dishes})
    return worth(problem_of(home, Opening(), demand, {}))


def test_a_unit_costs_its_cheapest_offer_and_a_batch_its_lines():
    assert valued(fish_house()).cost == {"fish": 10, "butter": 6, "plate": pytest.approx(2.6)}


def test_a_unit_short_loses_the_margin_of_what_it_serves():
    """A plate earns 20 - 2.60 = 17.40 of 0.2 kg of fish: 87 a kilo, and 174 of 0.1 kg of butter."""
    value = valued(fish_house())
    assert value.stakes["plate"].loss == pytest.approx(17.4)
    assert value.stakes["fish"].loss == pytest.approx(87)
    assert value.stakes["butter"].loss == pytest.approx(174)
    assert value.stakes["fish"].cost == 10


@pytest.mark.parametrize(
    ("of_house", "of_dish", "lost"),
    [
        ({}, {}, 17.4),
        ({"missed_cost": MissedCost(times=2)}, {}, 3 * 17.4),
        ({"missed_cost": MissedCost(money=5)}, {}, 22.4),
        ({"missed_cost": MissedCost(money=5)}, {"missed_cost": MissedCost()}, 17.4),
        ({"service_level": 0.95}, {}, 19 * 2.6),
        ({"service_level": 0.8}, {}, 17.4),  # the margin alone gives more than that
        ({"service_level": 0.95, "missed_cost": MissedCost(money=1)}, {}, 18.4),
        ({"missed_cost": MissedCost(money=1)}, {"service_level": 0.98}, 49 * 2.6),
    ],
)
def test_what_a_missed_portion_costs_beyond_its_margin_is_said_by_the_dish_or_the_house(
    of_house, of_dish, lost
):
    """A service level is turned into the loss with which the newsvendor's rule gives it: c x p / (1 - p)."""
    home = fish_house(policy=Policy(paths=1, **of_house), **of_dish)
    assert portion_losses(home, unit_costs(home))["fish-plate"] == pytest.approx(lost)


def test_what_is_on_the_menu_is_worth_what_it_costs_at_the_least():
    home = fish_house(price=1.0)
    assert portion_losses(home, unit_costs(home))["fish-plate"] == pytest.approx(2.6)


def test_what_has_no_price_is_left_out_and_said():
    """The fish of a pie costs 2, its salt nobody knows: the pie is worth 10 - 2, its cost known in part."""
    fish = ingredient("fish", keeps_days=2, offers=(houses.offer("sea", "fish", 5, 50),))
    home = houses.house(
        [fish, ingredient("salt", keeps_days=2), ingredient("charcoal")],
        [recipe("pie", 1, {"fish": 0.2, "salt": 0.01})],
        [dish("d", "pie", price=10)],
        [houses.vendor("sea")],
    )
    value = valued(home)
    assert value.cost == {"fish": 10, "salt": 0, "charcoal": 0, "pie": pytest.approx(2)}
    assert value.unpriced == {"salt", "charcoal", "pie"}
    assert value.stakes["pie"].loss == pytest.approx(8)
    assert value.stakes["charcoal"].loss == 19 * value.stakes["charcoal"].cost


@pytest.mark.parametrize(("price", "n_steps"), [(23.7, 1), (24.3, 2)])
def test_dishes_to_which_a_part_is_worth_nearly_the_same_share_alike(price, n_steps):
    """Salt goes into every dish of a large house, and a step for each would be slow. A kilo of fish is worth
    100 to the one plate, 108.50 or 111.50 to the other."""
    home = houses.house(
        [ingredient("fish", keeps_days=2, offers=(houses.offer("sea", "fish", 1, 10),))],
        [recipe("fillet", 1, {"fish": 0.2})],
        [dish("plate", "fillet", price=22), dish("larger", "fillet", price=price)],
        [houses.vendor("sea")],
    )
    stake = valued(home).stakes["fish"]
    assert len(stake.losses) == n_steps
    assert stake.loss == pytest.approx(((22 - 2) / 0.2 + (price - 2) / 0.2) / 2)


def test_a_shared_part_runs_out_first_for_whom_it_is_worth_least():
    """Of 1 kg of fish 0.6 go into a soup that earns 20 a kilo of it, 0.4 into plates that earn 100: of what
    is short the first 60 % lose 20 a kilo, the rest 100."""
    home = houses.house(
        [ingredient("fish", keeps_days=2, offers=(houses.offer("sea", "fish", 1, 10),))],
        [recipe("soup", 1, {"fish": 0.3}), recipe("fillet", 1, {"fish": 0.2})],
        [dish("bowl", "soup", price=9), dish("plate", "fillet", price=22)],
        [houses.vendor("sea")],
    )
    stake = valued(home).stakes["fish"]
    assert [share for share, _ in stake.losses] == pytest.approx([0.6, 1.0])
    assert [money for _, money in stake.losses] == pytest.approx([20, 100])
    lost = stake.lost(np.array([0.0, 3.0, 6.0, 8.0]), np.full(4, 10.0))
    assert lost == pytest.approx([0, 60, 120, 120 + 200])


def test_what_goes_off_together_shares_the_loss_by_cost():
    """A plate of fish for 8 and cress for 2, both of which go off, and of salt, which keeps: one more of the
    cress alone serves nobody, so both are as likely to be enough as the whole plate pays for."""
    home = houses.house(
        [
            ingredient("fish", keeps_days=0, offers=(houses.offer("sea", "fish", 0.01, "0.08"),)),
            ingredient("cress", keeps_days=0, offers=(houses.offer("sea", "cress", 0.01, "0.02"),)),
            ingredient("salt", offers=(houses.offer("sea", "salt", 1, "0"),)),
        ],
        [recipe("plate", 1, {"fish": 1, "cress": 1, "salt": 0.01})],
        [dish("plate", "plate", price=25)],
        [houses.vendor("sea")],
    )
    stakes = valued(home).stakes
    assert [stakes[i].share for i in ("fish", "cress", "salt")] == pytest.approx([0.8, 0.2, 1.0])
    sold = np.tile(np.arange(1000.0), (1, 1))
    found = net_all(
        home,
        Opening(),
        houses.forecast(home, {"plate": sold}),
        houses.deliveries("sea", [0, 1]),
        dict.fromkeys(home.ingredients, 0),
    )
    for item in ("fish", "cress"):
        assert found.requirements[item].enough[0] == pytest.approx(15 / 25, abs=2e-3)


def test_stakes_go_by_the_same_costs_as_food_cost():
    """By-products are credited and ended offers left out, whoever asks."""
    ended = houses.offer("farm", "duck", 1, 5, code="old", until=MONDAY - timedelta(days=1))
    home = houses.house(
        [
            ingredient("duck", offers=(houses.offer("farm", "duck", 1, 20, until=MONDAY), ended)),
            ingredient("legs", offers=(houses.offer("farm", "legs", 1, 4),)),
        ],
        [recipe("crown", 1, {"duck": 1}, also_makes=(("legs", 1.5),))],
        [dish("d", "crown", price=40)],
        [houses.vendor("farm")],
    )
    value = valued(home)
    assert value.cost == unit_costs(home, MONDAY) == {"duck": 20, "legs": 4, "crown": 20 - 1.5 * 4}
    assert value.stakes["crown"].loss == pytest.approx(40 - 14)


def test_what_keeps_is_held_up_to_what_keeping_it_costs():
    """A twentieth of its cost a day: flour at 1 that earns 5 a kilo is enough 99 times in 100 where it comes
    every day, and 93 where it comes once a week."""
    home = houses.house(
        [ingredient("flour", offers=(houses.offer("mill", "flour", 0.01, "0.01"),))],
        [recipe("bread", 1, {"flour": 1})],
        [dish("loaf", "bread", price=6)],
        [houses.vendor("mill")],
    )
    sold = np.tile(np.arange(1000.0) / 10, (28, 1))
    sold[1:] = 0.0
    for every, enough in ((1, 0.99), (7, 0.935)):
        problem = houses.forecast(home, {"loaf": sold})
        found = net_all(
            home, Opening(), problem, houses.deliveries("mill", range(0, 28, every)), {"flour": 0}
        )
        assert found.requirements["flour"].enough[0] == pytest.approx(enough, abs=2e-3)


def test_of_the_last_batch_of_a_week_half_is_eaten_when_the_next_can_be_begun():
    """Batches of 6.2 kg are begun one by one as the week's portions of 0.3 kg want them."""
    rng = np.random.default_rng(4)
    wanted = 0.3 * rng.poisson(rng.gamma(30, 1.5, 20_000))
    batches = np.ceil(wanted / 6.2)
    eaten_of_last = wanted - 6.2 * (batches - 1)
    assert eaten_of_last.mean() / 6.2 == pytest.approx(EATEN_OF_LAST, abs=0.02)


@pytest.mark.parametrize(("braise", "share"), [({"is_whole": True, "takes_days": 2}, 0.75), ({}, 1.0)])
def test_what_goes_into_whole_batches_is_missed_for_what_is_eaten_of_the_last_of_them(braise, share):
    """Half of the wine goes into braises, by way of a base made the same day; half is drunk."""
    home = houses.house(
        [ingredient("wine", "l", offers=(houses.offer("mill", "wine", 1, 8),))],
        [
            recipe("base", 1, {"wine": 1}),
            recipe("braise", 1, {"base": 1}, **braise),
            recipe("glass", 1, {"wine": 1}),
        ],
        [dish("stew", "braise", price=20), dish("wine", "glass", price=20)],
        [houses.vendor("mill")],
    )
    assert valued(home).stakes["wine"].share == pytest.approx(share)


def test_it_is_told_in_money():
    stake = valued(fish_house()).stakes["fish"]
    assert stake.why(2) == "one more costs 10.00 if it spoils (keeps 2 days) and saves 87.00 if it is wanted"
    assert stake.why(None) == "one more saves 87.00 if it is wanted"


def test_consumables_are_used_only_where_someone_is_served():
    """Tuesday is closed; on Wednesday a party has the house to itself."""
    home = houses.house(
        [ingredient("butter")],
        [recipe("pot", 1, {"butter": 1})],
        [dish("pot", "pot")],
        consumables=[("butter", 1.0, "service"), ("butter", 2.0, "day"), ("butter", 0.1, "cover")],
        services={"dinner": Service("dinner", frozenset({0, 1, 2}))},
        closures=(Closure(MONDAY.replace(day=24), MONDAY.replace(day=24)),),
        parties=(Party("Wedding", MONDAY.replace(day=25), "dinner", 40, {}, is_instead=True),),
    )
    demand = houses.forecast(home, {"pot": [10.0] * 4}, covers=np.array([10.0, 0, 40, 0]))
    assert consumables(home, demand)["butter"][:, 0].tolist() == [4, 0, 7, 0]
