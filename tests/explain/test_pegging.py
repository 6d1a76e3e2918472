"""Pegs: the parts of each order line, by dish and service date, that add up to it."""

from collections import defaultdict
from dataclasses import replace

import houses
import numpy as np
import plans
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.explain.pegging import delivery_windows, pegging
from ordering.explain.trace import fifo, trace
from ordering.net.netting import net_all
from ordering.records.buying import Buying, Shortfall
from ordering.records.house import Consumable, Dish, House, Ingredient, Recipe, RecipeLine
from ordering.records.plan import Netting, Opening

ON = plans.ON
STEW_THEN_SOUP = {"stew-plate": [0, 0, 0, 10, 0, 0, 0, 0], "soup-bowl": [0, 0, 0, 0, 20, 0, 0, 0]}


def house_of(**more):
    """Stew from stock from bones, bread from flour, and a soup that shares the stock."""
    given = {
        "name": "Test house",
        "ingredients": {
            "bones": Ingredient("bones", "Bones", "kg"),
            "flour": Ingredient("flour", "Flour", "kg", par=6.0),
            "salt": Ingredient("salt", "Salt", "kg"),
        },
        "recipes": {
            "stock": Recipe(
                "stock",
                "Stock",
                "l",
                makes=10.0,
                is_whole=True,
                takes_days=2,
                lines=(RecipeLine("bones", 4.0, yield_fraction=0.8), RecipeLine("salt", 0.1, at_days=1)),
            ),
            "stew": Recipe(
                "stew",
                "Stew",
                "kg",
                makes=1.0,
                takes_days=1,
                lines=(RecipeLine("stock", 0.5), RecipeLine("salt", 0.01)),
            ),
            "soup": Recipe("soup", "Soup", "l", makes=1.0, lines=(RecipeLine("stock", 1.0),)),
            "bread": Recipe("bread", "Bread", "kg", makes=2.0, lines=(RecipeLine("flour", 1.2),)),
        },
        "dishes": {
            "stew-plate": Dish("stew-plate", "Stew", "stew", 0.4),
            "soup-bowl": Dish("soup-bowl", "Soup", "soup", 0.25),
            "bread-basket": Dish("bread-basket", "Bread", "bread", 0.1),
        },
    }
    return House(**{**given, **more})


def without_par():
    house = house_of()
    return replace(house, ingredients={**house.ingredients, "flour": Ingredient("flour", "Flour", "kg")})


def parts(pegs, line):
    """{(dish, day index)} of one line, the `*` words under their name alone."""
    found = {}
    for peg in pegs:
        if (peg.code, peg.deliver_on) == (line.code, line.deliver_on):
            key = peg.dish if peg.service_date is None else (peg.dish, (peg.service_date - ON).days)
            found[key] = found.get(key, 0.0) + peg.quantity
    return found


def pegs_of(house, portions, lines, n_days=8, opening=None, margin=0.0, outlook=(), unmet=()):
    forecast = plans.forecast_of(portions, n_days)
    netting = plans.netted(house, forecast, opening, margin)
    return plans.pegged(house, netting, Buying(tuple(lines), tuple(outlook), unmet=tuple(unmet)), forecast)


def test_a_line_is_pegged_to_the_dish_and_day_that_draw_it():
    """10 portions of 0.1 kg on day 2: 1 kg of bread, 0.6 kg of flour."""
    house = house_of(ingredients={"flour": Ingredient("flour", "Flour", "kg")})
    house = replace(
        house,
        recipes={"bread": house.recipes["bread"]},
        dishes={"bread-basket": house.dishes["bread-basket"]},
    )
    line = plans.line(house, "flour", 1, 1, 0.6)
    pegs = pegs_of(house, {"bread-basket": [0, 0, 10, 0, 0, 0, 0, 0]}, [line])
    assert parts(pegs, line) == {("bread-basket", 2): pytest.approx(0.6)}


def test_a_line_is_known_by_vendor_code_and_day():
    """Lines are joined by what they say: copies of them on the way change nothing."""
    house = without_par()
    lines = [plans.line(house, "flour", 1, 1, 0.4, code="A"), plans.line(house, "flour", 1, 1, 0.2, code="B")]
    forecast = plans.forecast_of({"bread-basket": [0, 0, 10, 0, 0, 0, 0, 0]}, 8)
    netting, buying = plans.netted(house, forecast), Buying(tuple(lines), ())
    plain = plans.pegged(house, netting, buying, forecast)
    again = replace(buying, orders=tuple(replace(line) for line in lines))
    windows = delivery_windows(house, netting, again, forecast.days)
    assert pegging(buying, windows, trace(house, netting.flows, 8), forecast.days) == plain
    assert sum(parts(plain, lines[0]).values()) == pytest.approx(0.4)
    assert sum(parts(plain, lines[1]).values()) == pytest.approx(0.2)


def test_packs_beyond_what_is_wanted_are_rounding():
    house = without_par()
    line = plans.line(house, "flour", 1, 1, 25.0)
    pegs = pegs_of(house, {"bread-basket": [0, 0, 10, 0, 0, 0, 0, 0]}, [line])
    assert parts(pegs, line) == {("bread-basket", 2): pytest.approx(0.6), "*rounding": pytest.approx(24.4)}


def test_what_the_service_level_adds_is_safety():
    house = without_par()
    line = plans.line(house, "flour", 1, 2, 0.5)
    pegs = pegs_of(house, {"bread-basket": [0, 0, 10, 0, 0, 0, 0, 0]}, [line], margin=0.5)
    assert parts(pegs, line) == {
        ("bread-basket", 2): pytest.approx(0.6),
        "*safety": pytest.approx(0.3),
        "*rounding": pytest.approx(0.1),
    }


def test_safety_is_paid_once_and_carried_to_the_next_delivery():
    """Steady need of 1 kg a day, margin 1 kg in all: the second delivery brings need alone."""
    house = house_of(ingredients={"flour": Ingredient("flour", "Flour", "kg")})
    forecast = plans.forecast_of({"bread-basket": [1 / 0.06]}, 8)
    netting = plans.netted(house, forecast)
    need = netting.requirements["flour"]
    netting = replace(netting, requirements={"flour": replace(need, required=need.expected + 1.0)})
    first, second = plans.line(house, "flour", 0, 5, 1.0), plans.line(house, "flour", 4, 4, 1.0)
    pegs = plans.pegged(house, netting, Buying((first,), (second,)), forecast)
    one, two = parts(pegs, first), parts(pegs, second)
    assert one["*safety"] == pytest.approx(1.0)
    assert sum(q for k, q in one.items() if k[0] == "bread-basket") == pytest.approx(4.0)
    assert "*safety" not in two or two["*safety"] == pytest.approx(1.0)
    assert sum(two.values()) == pytest.approx(4.0)


def test_a_par_takes_what_need_and_safety_leave():
    """Need 0.6 kg until the next line, par 6 kg with nothing in the house: 6 kg kept after delivery."""
    house = house_of()
    line = plans.line(house, "flour", 1, 7, 1.0)
    pegs = pegs_of(house, {"bread-basket": [0, 0, 10, 0, 0, 0, 0, 0]}, [line])
    assert parts(pegs, line) == {
        ("bread-basket", 2): pytest.approx(0.6),
        "*par": pytest.approx(5.4),
        "*rounding": pytest.approx(1.0),
    }


def test_a_whole_batch_is_shared_by_those_who_use_it_in_turn():
    """One batch of 10 l: stew of day 3 takes 2 l on day 2, soup of day 4 takes 5 l, 3 l are left."""
    house = house_of()
    line = plans.line(house, "bones", 0, 1, 5.0)
    pegs = pegs_of(house, STEW_THEN_SOUP, [line])
    assert parts(pegs, line) == {
        ("stew-plate", 3): pytest.approx(1.0),
        ("soup-bowl", 4): pytest.approx(2.5),
        "*rounding": pytest.approx(1.5),
    }


def test_stock_in_the_house_is_used_before_what_is_bought():
    """4 l of stock in the house feed the first stew; the batch bought for goes to the second."""
    house = house_of()
    line = plans.line(house, "bones", 0, 1, 5.0)
    portions = {"stew-plate": [0, 0, 0, 20, 0, 30, 0, 0], "soup-bowl": [0]}
    pegs = pegs_of(house, portions, [line], opening={"stock": 4.0})
    assert parts(pegs, line) == {("stew-plate", 5): pytest.approx(3.0), "*rounding": pytest.approx(2.0)}


def test_a_line_needed_a_day_after_the_start_goes_to_the_same_batch():
    house = house_of()
    line = plans.line(house, "salt", 1, 1, 0.14)
    pegs = pegs_of(house, {"stew-plate": [0, 0, 0, 10, 0, 0, 0, 0], "soup-bowl": [0]}, [line])
    found = parts(pegs, line)
    assert found[("stew-plate", 3)] == pytest.approx(0.02 + 0.04)
    assert sum(found.values()) == pytest.approx(0.14)


def test_consumables_are_pegged_as_such():
    house = house_of(consumables=(Consumable("salt", 0.05, "day"),))
    line = plans.line(house, "salt", 0, 1, 0.1)
    pegs = pegs_of(house, {"stew-plate": [0]}, [line], n_days=2)
    assert parts(pegs, line) == {
        ("*consumables", 0): pytest.approx(0.05),
        ("*consumables", 1): pytest.approx(0.05),
    }


def test_leftovers_of_a_recipe_with_a_par_are_par():
    house = house_of()
    stock = replace(house.recipes["stock"], par=2.0)
    house = replace(house, recipes={**house.recipes, "stock": stock})
    line = plans.line(house, "bones", 0, 1, 5.0)
    pegs = pegs_of(house, STEW_THEN_SOUP, [line])
    assert parts(pegs, line)["*par"] == pytest.approx(1.0)
    assert parts(pegs, line)["*rounding"] == pytest.approx(0.5)


def test_a_par_that_goes_off_and_is_made_anew_is_par_each_time():
    """Two litres ready on day 0, past after day 2, two more on day 3: all the fruit is for the par."""
    home = houses.house(
        [houses.ingredient("fruit")],
        [houses.recipe("jam", 1, {"fruit": 1.5}, keeps_days=2, par=2.0)],
        [houses.dish("tart", "jam")],
    )
    found = net_all(home, Opening(), houses.forecast(home, {"tart": [0.0] * 6}), {}, {"fruit": 0})
    assert found.flows["fruit"].gross.tolist() == [3, 0, 0, 3, 0, 0]
    traced = trace(home, found.flows, 6)
    ended = traced.ended(traced.source([("fruit", found.flows["fruit"].gross)]))
    keys = [end for end in traced.ends for _ in range(6)]
    assert traced.parts(ended, 0, keys) == {"*par": pytest.approx(6.0)}


def test_need_that_no_delivery_reaches_is_not_pegged():
    """Day 0 is lost; the line of day 1 is for the soup of day 4 alone."""
    house = without_par()
    line = plans.line(house, "flour", 1, 1, 0.6)
    portions = {"bread-basket": [10, 0, 0, 0, 10, 0, 0, 0]}
    pegs = pegs_of(house, portions, [line], unmet=[Shortfall("flour", ON, 0.6, "no-delivery")])
    assert parts(pegs, line) == {("bread-basket", 4): pytest.approx(0.6)}


def test_spoilt_goods_do_not_serve_later_days():
    """Keeps one day: what the first pack leaves is waste, and the second line feeds its own day."""
    house = house_of()
    flour = Ingredient("flour", "Flour", "kg", keeps_days=1)
    house = replace(house, ingredients={**house.ingredients, "flour": flour})
    first, second = plans.line(house, "flour", 0, 1, 2.0), plans.line(house, "flour", 4, 1, 2.0)
    pegs = pegs_of(house, {"bread-basket": [10, 0, 0, 0, 10, 0, 0, 0]}, [first, second])
    assert parts(pegs, first) == {("bread-basket", 0): pytest.approx(0.6), "*rounding": pytest.approx(1.4)}
    assert parts(pegs, second) == {("bread-basket", 4): pytest.approx(0.6), "*rounding": pytest.approx(1.4)}


def test_two_packs_of_one_delivery_share_its_causes():
    house = without_par()
    large, small = (
        plans.line(house, "flour", 1, 1, 0.75),
        plans.line(house, "flour", 1, 1, 0.25, code="small"),
    )
    pegs = pegs_of(house, {"bread-basket": [0, 0, 10, 0, 0, 0, 0, 0]}, [large, small])
    assert parts(pegs, large) == {("bread-basket", 2): pytest.approx(0.45), "*rounding": pytest.approx(0.3)}
    assert parts(pegs, small) == {("bread-basket", 2): pytest.approx(0.15), "*rounding": pytest.approx(0.1)}


def test_a_line_without_a_requirement_still_adds_up():
    house = house_of()
    line = plans.line(house, "bones", 1, 2, 3.0)
    forecast = plans.forecast_of({"stew-plate": [0]}, 4)
    netting = Netting({}, {}, (), (), {})
    assert parts(plans.pegged(house, netting, Buying((line,), ()), forecast), line) == {"*rounding": 6.0}


def sums(pegs):
    total = defaultdict(float)
    for peg in pegs:
        total[(peg.vendor, peg.code, peg.deliver_on)] += peg.quantity
    return total


@settings(max_examples=150)
@given(seed=st.integers(0, 10**6))
def test_pegs_add_up_to_every_line_of_a_random_kitchen(seed):
    """Any stock, margin, packs, keeping time and delivery days: each line is explained exactly.

    And no dish is given more of an ingredient on a day than its portions hold.
    """
    random = np.random.default_rng(seed)
    n_days = int(random.integers(3, 15))
    house = random_house(random)
    portions = {
        dish: list(random.poisson(8, n_days) * random.integers(0, 2, n_days)) for dish in house.dishes
    }
    forecast = plans.forecast_of(portions, n_days)
    stock = {
        item: float(random.gamma(1, 3))
        for item in (*house.recipes, *house.ingredients)
        if random.random() < 0.4
    }
    netting = plans.netted(house, forecast, stock, margin=float(random.random()))
    lines = [
        plans.line(house, item, int(day), int(random.integers(1, 6)), float(random.gamma(1, 4) + 0.01))
        for item in house.ingredients
        for day in sorted(set(random.integers(0, n_days, random.integers(0, 4))))
    ]
    buying = Buying(tuple(lines[::2]), tuple(lines[1::2]))
    pegs = plans.pegged(house, netting, buying, forecast)
    total = sums(pegs)
    assert set(total) == {(x.vendor, x.code, x.deliver_on) for x in lines}
    for line in lines:
        assert total[(line.vendor, line.code, line.deliver_on)] == pytest.approx(line.quantity, abs=1e-6)
        made_up = [q for q in parts(pegs, line).values() if q != round(q, 6)]
        assert len(made_up) <= 1, "only what takes the rest of a line has more than six decimals"
    assert all(peg.quantity > 0 for peg in pegs)
    served = defaultdict(float)
    for line in lines:
        for key, quantity in parts(pegs, line).items():
            served[(line.item, key)] += quantity
    for n, (dish, made) in enumerate(house.dishes.items()):
        for item in house.ingredients:
            content = portion_content(house, made.recipe, item) * made.portion
            for day in range(n_days):
                assert served[(item, (dish, day))] <= content * forecast.mean[n, day] + 1e-5
    assert all(peg.service_date is None or peg.service_date <= forecast.days[-1] for peg in pegs)


@settings(max_examples=60)
@given(seed=st.integers(0, 10**6))
def test_pegs_of_just_what_is_needed_are_the_dishes_alone(seed):
    """One delivery on day 0 of all that is needed, batches of any size: dishes' own arithmetic."""
    random = np.random.default_rng(seed)
    house = random_house(random, is_whole=False)
    n_days = 10
    portions = {dish: [0.0] * 6 + list(random.poisson(8, 4).astype(float)) for dish in house.dishes}
    forecast = plans.forecast_of(portions, n_days)
    netting = plans.netted(house, forecast)
    lines = [
        plans.line(house, item, 0, 1, float(need.expected[-1]))
        for item, need in netting.requirements.items()
        if need.expected[-1] > 1e-6
    ]
    pegs = plans.pegged(house, netting, Buying(tuple(lines), ()), forecast)
    for line in lines:
        found = parts(pegs, line)
        for n, dish in enumerate(house.dishes):
            made = house.dishes[dish]
            content = portion_content(house, made.recipe, line.item) * made.portion
            for day in range(n_days):
                wanted = content * forecast.mean[n, day]
                assert found.get((dish, day), 0.0) == pytest.approx(wanted, abs=1e-5)


def portion_content(house, item, ingredient):
    """Quantity of an ingredient in one unit of an item, by plain recursion."""
    if item == ingredient:
        return 1.0
    recipe = house.recipes.get(item)
    lines = recipe.lines if recipe else ()
    return sum(line.drawn / recipe.makes * portion_content(house, line.item, ingredient) for line in lines)


def random_house(random, is_whole=True):
    """Three levels of recipes over four ingredients; recipes may use those after them."""
    ingredients = {
        f"i{n}": Ingredient(
            f"i{n}",
            f"I{n}",
            "kg",
            par=float(random.gamma(2, 3)) if is_whole and random.random() < 0.3 else None,
            keeps_days=int(random.integers(0, 6)) if is_whole and random.random() < 0.5 else None,
        )
        for n in range(4)
    }
    names = [f"r{n}" for n in range(6)]
    recipes = {}
    for n, name in enumerate(names):
        below = [*names[n + 1 :], *ingredients]
        chosen = random.choice(below, size=min(3, len(below)), replace=False)
        takes = int(random.integers(0, 2))
        recipes[name] = Recipe(
            name,
            name.upper(),
            "kg",
            makes=float(random.gamma(2, 2) + 0.1),
            lines=tuple(
                RecipeLine(str(c), *random_quantities(random), at_days=takes and int(random.integers(0, 2)))
                for c in chosen
            ),
            is_whole=is_whole and bool(random.random() < 0.5),
            takes_days=takes,
            par=1.0 if is_whole and random.random() < 0.2 else None,
        )
    dishes = {f"d{n}": Dish(f"d{n}", f"D{n}", names[n], float(random.gamma(2, 0.2) + 0.01)) for n in range(3)}
    consumables = (Consumable("i0", 0.3, "day"),) if is_whole else ()
    return House("Random", ingredients=ingredients, recipes=recipes, dishes=dishes, consumables=consumables)


def random_quantities(random):
    return float(random.gamma(2, 1) + 0.01), float(random.uniform(0.4, 1))


def test_first_in_first_out_by_hand():
    """Supplies 3, 2, 5 against uses 1, 4, 2: 3 go 1+2, 2 go to the second, 5 give the last 2."""
    supply, use, quantity = fifo(np.array([3.0, 2.0, 5.0]), np.array([1.0, 4.0, 2.0]))
    assert list(zip(supply.tolist(), use.tolist(), quantity.tolist(), strict=True)) == [
        (0, 0, 1.0),
        (0, 1, 2.0),
        (1, 1, 2.0),
        (2, 2, 2.0),
    ]


@settings(max_examples=60)
@given(st.lists(st.floats(0, 50), max_size=9), st.lists(st.floats(0, 50), max_size=9))
def test_first_in_first_out_conserves_and_never_crosses(supplies, uses):
    supply, use, quantity = fifo(np.array(supplies), np.array(uses))
    assert quantity.sum() == pytest.approx(min(sum(supplies), sum(uses)), abs=1e-9)
    assert (np.diff(supply) >= 0).all()
    assert (np.diff(use) >= 0).all()


def test_an_earlier_delivery_of_days_after_it_is_early_and_not_rounding():
    """Everything bought at once although another delivery follows: pegged to the later services."""
    house = without_par()
    first, second = plans.line(house, "flour", 0, 1, 1.5), plans.line(house, "flour", 3, 1, 0.3)
    pegs = pegs_of(house, {"bread-basket": [10, 0, 0, 0, 10, 10, 0, 0]}, [first], outlook=[second])
    one = parts(pegs, first)
    assert one[("bread-basket", 4)] == pytest.approx(0.6)
    assert parts(pegs, second) == {("bread-basket", 5): pytest.approx(0.3)}


def test_what_comes_before_anything_is_wanted_is_for_the_day_it_is_wanted():
    """1.2 kg are wanted on day 6; 1 kg comes on day 1 to make up a minimum, the rest on day 5."""
    house = without_par()
    early, late = plans.line(house, "flour", 1, 1, 1.0), plans.line(house, "flour", 5, 1, 1.0)
    pegs = pegs_of(house, {"bread-basket": [0, 0, 0, 0, 0, 0, 20, 0]}, [early, late])
    assert parts(pegs, early) == {("bread-basket", 6): pytest.approx(1.0)}
    assert parts(pegs, late) == {("bread-basket", 6): pytest.approx(0.2), "*rounding": pytest.approx(0.8)}
