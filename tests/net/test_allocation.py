"""What cannot be had in time: who goes without, why, and that nothing is bought or begun for it."""

from dataclasses import replace

import houses
import numpy as np
import pytest
from houses import MONDAY, day, dish, ingredient, line, recipe
from served import hit, shop

from ordering.net.netting import net_all
from ordering.records.books import Lot
from ordering.records.house import Policy, Service
from ordering.records.plan import Opening
from ordering.rehearsal.kitchen import Kitchen, put
from ordering.rehearsal.kitchen import start as begin


def test_the_earliest_service_is_served_first():
    found = shop(dish("plate", "of-plate"), lots=[Lot("fish", 5.0)], sold={"plate": [3.0, 4.0, 6.0]})
    assert hit(found, "fish") == {("plate", 1): 2.0}
    short = found.shortfalls[0]
    assert (short.needed_on, short.short, short.cause) == (day(1), 2.0, "no-delivery")
    assert found.requirements["fish"].required.tolist() == [0, 0, 6]


def test_then_the_higher_service_level():
    found = shop(
        dish("plain", "of-plain", price=90),
        dish("promised", "of-promised", service_level=0.99, price=9),
        lots=[Lot("fish", 5.0)],
        sold={"plain": [4.0], "promised": [4.0]},
    )
    assert hit(found, "fish") == {("plain", 0): 3.0}


def test_then_the_larger_margin():
    found = shop(
        dish("cheap", "of-cheap", price=9),
        dish("dear", "of-dear", price=20),
        lots=[Lot("fish", 5.0)],
        sold={"cheap": [4.0], "dear": [4.0]},
    )
    assert hit(found, "fish") == {("cheap", 0): 3.0}


def test_margin_is_of_a_unit_of_what_is_scarce():
    """A large plate at 20 earns less for each fish than a small one at 12."""
    offers = (houses.offer("sea", "fish", 1, 1),)
    home = houses.house(
        [ingredient("fish", offers=offers)],
        [recipe("large", 1, {"fish": 2}), recipe("small", 1, {"fish": 1})],
        [dish("large-plate", "large", price=20), dish("small-plate", "small", price=12)],
        [houses.vendor("sea")],
    )
    demand = houses.forecast(home, {"large-plate": [4.0], "small-plate": [4.0]})
    found = net_all(home, Opening((Lot("fish", 6.0),)), demand, {}, {"fish": 9})
    assert hit(found, "fish") == {("large-plate", 0): 3.0}


def test_lunch_is_before_dinner():
    home = houses.house(
        [ingredient("fish", offers=(houses.offer("sea", "fish"),))],
        [recipe("plate", 1, {"fish": 1})],
        [dish("fish-plate", "plate", services=("lunch", "dinner"))],
        [houses.vendor("sea")],
        services={s: Service(s, houses.EVERY_DAY) for s in ("lunch", "dinner")},
    )
    one = houses.forecast(home, {"fish-plate": [3.0, 4.0]})
    slots = tuple(
        replace(s, service=n, day=0, date=MONDAY) for s, n in zip(one.slots, ("lunch", "dinner"), strict=True)
    )
    found = net_all(home, Opening((Lot("fish", 5.0),)), replace(one, slots=slots), {}, {"fish": 2})
    assert {(k[2], v) for k, v in found.shortfalls[0].portions.items()} == {("dinner", 2.0)}


def test_a_service_soon_goes_before_a_stage_for_a_service_in_a_fortnight():
    """Today's ageing would take the fish that tomorrow's guests eat: it waits."""
    offers = (houses.offer("sea", "fish", 1, 1),)
    home = houses.house(
        [ingredient("fish", offers=offers)],
        [recipe("fresh", 1, {"fish": 1}), recipe("aged", 1, {"fish": 1}, takes_days=14)],
        [dish("tomorrow", "fresh", price=5), dish("later", "aged", price=500)],
        [houses.vendor("sea")],
    )
    sold = {"tomorrow": [0.0, 4.0], "later": [0.0] * 14 + [3.0, 2.0]}
    demand = houses.forecast(home, sold)
    found = net_all(home, Opening((Lot("fish", 5.0),)), demand, {}, {"fish": 2})
    assert hit(found, "fish") == {("later", 14): 2.0, ("later", 15): 2.0}
    assert [(s.recipe, s.quantity) for s in found.starts if s.recipe == "aged"] == [("aged", 1.0)]


def test_a_part_made_today_for_a_stage_counts_as_far_off():
    """The crown is cut today, but for an ageing of 14 days: tomorrow's guests come first."""
    home = houses.house(
        [ingredient("duck", offers=(houses.offer("b", "duck", 1, 1),))],
        [
            recipe("fresh", 1, {"duck": 1}),
            recipe("crown", 1, {"duck": 1}),
            recipe("aged", 1, {"crown": 1}, takes_days=14),
        ],
        [dish("tomorrow", "fresh", price=5), dish("later", "aged", price=500)],
        [houses.vendor("b")],
    )
    demand = houses.forecast(home, {"tomorrow": [0.0, 4.0], "later": [0.0] * 14 + [3.0]})
    found = net_all(home, Opening((Lot("duck", 5.0),)), demand, {}, {"duck": 2})
    assert hit(found, "duck") == {("later", 14): 2.0}


def test_nobody_is_served_part_of_a_portion():
    found = shop(dish("plate", "of-plate"), lots=[Lot("fish", 4.5)], sold={"plate": [6.0]})
    assert hit(found, "fish") == {("plate", 0): 2.0}
    assert found.flows["fish"].gross[0] == 6


def test_a_stage_that_cannot_be_finished_is_not_begun_and_nothing_is_bought_for_it():
    found = shop(dish("plate", "of-plate"), sold={"plate": [0.0, 0, 5, 5, 0, 5]}, arrival=1, takes=3)
    assert hit(found, "of-plate") == {("plate", 2): 5.0}
    assert {s.cause for s in found.shortfalls if s.item == "of-plate"} == {"no-time"}
    assert hit(found, "fish") == {("plate", 3): 5.0}
    assert found.requirements["fish"].required[-1] == 5
    assert [(s.start_on, s.quantity) for s in found.starts] == [(day(2), 5.0)]


def test_a_whole_batch_for_which_there_is_too_little_is_not_begun():
    home = houses.house(
        [ingredient("meat", offers=(houses.offer("b", "meat"),)), ingredient("bun")],
        [recipe("pie", 10, {"meat": 5, "bun": 10}, is_whole=True)],
        [dish("slice", "pie", 1)],
        [houses.vendor("b")],
    )
    demand = houses.forecast(home, {"slice": [8.0, 8.0, 8.0]})
    found = net_all(home, Opening((Lot("meat", 4.0),)), demand, {}, {"meat": 1, "bun": 0})
    assert hit(found, "meat") == {("slice", 0): 8.0}
    assert found.flows["bun"].gross.tolist() == [0, 10, 10]
    assert [(s.start_on, s.batches) for s in found.starts] == [(day(1), 1.0), (day(2), 1.0)]


@pytest.mark.parametrize(
    ("meat", "begun", "is_said"),
    [(4.74, 0, False), (4.76, 0.952, True), (9.7, 1, False), (9.76, 1.952, True), (10.0, 2, False)],
)
def test_a_whole_batch_is_begun_of_a_little_less_than_it_takes(meat, begun, is_said):
    """5 kg of meat a batch: less than a twentieth short, a cook begins it, and it makes what they allow."""
    home = houses.house(
        [ingredient("meat", offers=(houses.offer("b", "meat"),))],
        [recipe("pie", 10, {"meat": 5}, is_whole=True, takes_days=1, keeps_days=9, room=30, smallest=10)],
        [dish("slice", "pie", 1)],
        [houses.vendor("b")],
    )
    demand = houses.forecast(home, {"slice": [0.0, 20.0, 0.0]})
    found = net_all(home, Opening((Lot("meat", meat),)), demand, {}, {"meat": 9})
    assert sum(one.batches for one in found.starts) == pytest.approx(begun)
    assert any("a little less than a whole batch" in one.note for one in found.starts) == is_said
    assert found.flows["meat"].short.sum() == pytest.approx(0.0) if begun == 2 else found.shortfalls
    kitchen = Kitchen(home, {})
    put(kitchen, Lot("meat", meat))
    assert begin(kitchen, home.recipes["pie"], 2.0, MONDAY) == pytest.approx(begun)


def test_a_batch_that_fails_today_can_be_made_when_the_goods_come():
    """Only today's guests go without the jam; tomorrow a batch is made for all who come after."""
    home = houses.house(
        [ingredient("onion", offers=(houses.offer("b", "onion"),))],
        [recipe("jam", 10, {"onion": 10}, is_whole=True, keeps_days=20)],
        [dish("burger", "jam", 1)],
        [houses.vendor("b")],
    )
    demand = houses.forecast(home, {"burger": [2.0] * 6})
    found = net_all(home, Opening(), demand, {}, {"onion": 1})
    assert hit(found, "onion") == {("burger", 0): 2.0}
    assert found.flows["jam"].planned.tolist() == [0, 10, 0, 0, 0, 0]


def test_capacity_that_no_earlier_day_can_help():
    home = houses.house(
        [ingredient("dough")],
        [recipe("loaf", 1, {"dough": 1}, largest=10, keeps_days=0)],
        [dish("bread", "loaf", 1)],
    )
    found = net_all(home, Opening(), houses.forecast(home, {"bread": [8.0, 13.0]}), {}, {"dough": 0})
    assert hit(found, "loaf") == {("bread", 1): 3.0}
    assert found.shortfalls[0].cause == "capacity"
    assert found.requirements["dough"].required.tolist() == [8, 18]


def test_what_no_more_is_begun_of_for_want_of_a_part_is_owed_to_the_part():
    """The brine there is allows so many hams, decided alike for a busy and a quiet night. Who then goes
    without on the quiet one does so for want of brine, too: nothing limits the hams themselves."""
    home = houses.house(
        [ingredient("salt")],
        [
            recipe("ham", 1, [line("brine", 1.0, returns=0.75)]),
            recipe("brine", 1, {"salt": 1.0}, largest=1.0),
        ],
        [dish("plate", "ham")],
        [houses.vendor("v")],
    )
    sold = houses.forecast(home, {"plate": [[8.0, 6.0], [8.0, 6.0], [8.0, 4.0]]})
    found = net_all(home, Opening(), sold, {}, {"salt": 0}).shortfalls
    assert {one.item for one in found} == {"brine"}
    assert sum(found[0].portions.values()) == 1.0


def test_an_open_order_saves_the_day_it_comes():
    coming = (houses.coming("fish", 4.0, day(1)), houses.coming("fish", 1.0, day(-1)))
    home = houses.house(
        [ingredient("fish", offers=(houses.offer("sea", "fish"),))],
        [recipe("plate", 1, {"fish": 1})],
        [dish("fish-plate", "plate")],
        [houses.vendor("sea")],
    )
    demand = houses.forecast(home, {"fish-plate": [2.0, 4.0]})
    found = net_all(home, Opening((), coming), demand, {}, {"fish": 2})
    assert hit(found, "fish") == {("fish-plate", 0): 1.0}
    assert found.flows["fish"].scheduled.tolist() == [1, 4]


def test_a_margin_two_stages_up_is_not_drawn_from_what_is_not_there():
    """Two glazes need two stocks, the stocks bones; bones for 26 are there and no more until day 4."""
    home = houses.house(
        [ingredient("bones")],
        [
            *(recipe(f"glaze-{n}", 1, {f"stock-{n}": 1}, takes_days=1) for n in range(2)),
            *(recipe(f"stock-{n}", 1, {"bones": 1}, takes_days=1) for n in range(2)),
        ],
        [dish(f"plate-{n}", f"glaze-{n}", 1) for n in range(2)],
        policy=Policy(0.95, 400, 1),
    )
    rng = np.random.default_rng(4)
    sold = {f"plate-{n}": np.vstack([np.zeros((2, 400)), rng.poisson(3, (6, 400))]) for n in range(2)}
    demand = houses.forecast(home, sold)
    found = net_all(home, Opening((Lot("bones", 26.0),)), demand, {}, {"bones": 4})
    early = sum(s.quantity for s in found.starts if s.recipe.startswith("stock") and s.start_on < day(4))
    assert 24 < early <= 26 + 1e-9
    assert found.flows["bones"].short.sum() == 0


def test_a_batch_moved_to_tomorrow_must_be_possible_tomorrow():
    """Onions come on day 2: giving up today's batch alone would leave one for tomorrow, as impossible."""
    home = houses.house(
        [ingredient("onion", offers=(houses.offer("b", "onion"),))],
        [recipe("jam", 10, {"onion": 10}, is_whole=True, keeps_days=20)],
        [dish("burger", "jam", 1)],
        [houses.vendor("b")],
    )
    found = net_all(home, Opening(), houses.forecast(home, {"burger": [4.0] * 4}), {}, {"onion": 2})
    assert hit(found, "onion") == {("burger", 0): 4.0, ("burger", 1): 4.0}
    assert found.flows["jam"].planned.tolist() == [0, 0, 10, 0]
    assert found.flows["onion"].short.sum() == 0


def test_a_stage_for_tomorrow_is_not_given_up_for_a_dish_that_tomorrows_delivery_serves():
    """Five of cream today, ten on their way. Today's sauces take three, the custards begun for tomorrow want
    three, so one goes without. Tomorrow's sauces pay better but can wait for the delivery, and so can those
    of the day after, of which three go without too."""
    home = houses.house(
        [ingredient("cream", offers=(houses.offer("b", "cream"),))],
        [recipe("sauce", 1, {"cream": 1}), recipe("set-custard", 1, {"cream": 1}, takes_days=1)],
        [dish("fish", "sauce", price=30), dish("custard", "set-custard", price=6)],
        [houses.vendor("b")],
    )
    coming = houses.coming("cream", 10.0, day(1))
    sold = {"fish": [3.0, 4.0, 9.0], "custard": [0.0, 3.0, 0.0]}
    found = net_all(
        home, Opening((Lot("cream", 5.0),), (coming,)), houses.forecast(home, sold), {}, {"cream": 3}
    )
    assert hit(found, "cream") == {("custard", 1): 1.0, ("fish", 2): 3.0}
    assert [(s.recipe, s.quantity) for s in found.starts if s.start_on == day(0)] == [("set-custard", 2.0)]


def smokehouse(beans, links, trim=5.0):
    """Smoked meat leaves 2.4 kg of trim a day from Wednesday on; beans for the next day take 2.1 kg of it, a
    batch of ten links, begun ten days ahead, 1.4 kg. Trim is good for four days and nobody sells it."""
    home = houses.house(
        [ingredient("brisket"), ingredient("trim", keeps_days=4), ingredient("pork"), ingredient("bean")],
        [
            recipe("smoked", 1, {"brisket": 2}, takes_days=1, keeps_days=1, also_makes=(("trim", 0.2),)),
            recipe("pot", 1, {"bean": 1, "trim": 0.3}, takes_days=1, keeps_days=4),
            recipe("cured", 10, {"pork": 9, "trim": 1.4}, takes_days=10, keeps_days=14, is_whole=True),
        ],
        [dish("meat", "smoked", price=17), dish("beans", "pot", price=6), dish("link", "cured", price=7)],
    )
    smoked = [0.0, 0.0] + [12.0] * (len(links) - 2)
    demand = houses.forecast(home, {"meat": smoked, "beans": beans, "link": links})
    lots = (Lot("trim", trim, day(4)),)
    goods = {"brisket": 0, "pork": 0, "bean": 0, "trim": len(links)}
    return net_all(home, Opening(lots), demand, {}, goods)


def test_what_comes_again_within_days_is_no_reason_to_begin_nothing_today():
    """There is trim for every day's beans and for two batches of links, not for four. Beans rank first, but
    from Wednesday on they can have what fell out the day before; Monday's 2.9 kg that Tuesday's do not
    need are good for the links of Monday and Tuesday, and only those begun after them are given up."""
    found = smokehouse([0.0, 0.0] + [7.0] * 12, [0.0] * 10 + [10.0] * 4)
    assert hit(found, "trim") == {("link", 12): 10.0, ("link", 13): 10.0}
    assert [s.start_on for s in found.starts if s.recipe == "cured"] == [day(0), day(1)]
    assert found.flows["trim"].short.sum() == 0


def test_what_can_be_begun_tomorrow_waits_and_no_longer():
    """Without the 5 kg on Monday the beans of Wednesday and the links of Monday cannot be had; from Wednesday
    on trim comes off, so links are begun on Wednesday for all who come from then on."""
    beans = [0.0, 0.0] + [3.0] * 11
    found = smokehouse(beans, [0.0] * 10 + [3.0, 3.0, 4.0], trim=0.0)
    assert hit(found, "trim") == {("beans", 2): 3.0, ("link", 10): 3.0, ("link", 11): 3.0}
    assert [(s.start_on, s.batches) for s in found.starts if s.recipe == "cured"] == [(day(2), 1.0)]


def test_starts_of_what_is_scarce_count_on_what_will_fall_out():
    """Trim is scarce, and more comes off every day from Wednesday on: pots are on the list of every day
    until the next run, with no more trim than there is by then."""
    beans = np.zeros((14, 50))
    beans[2:] = 5.5 + np.arange(50) % 5
    links = np.zeros((14, 50))
    links[10] = np.where(np.arange(50) % 10 < 7, 10.0, 14.0)
    found = smokehouse(beans, links)
    begun = {recipe_id: np.zeros(7) for recipe_id in ("cured", "pot")}
    for start in found.starts:
        if start.recipe in begun and start.start_on < day(7):
            begun[start.recipe][(start.start_on - MONDAY).days] += start.batches
    assert (begun["pot"][1:] > 5).all()
    trim = 5.0 + 2.4 * np.maximum(np.arange(7) - 1, 0)
    assert (np.cumsum(1.4 * begun["cured"] + 0.3 * begun["pot"]) <= trim + 1e-6).all()


def test_what_makes_no_whole_batch_is_left_to_those_who_can_use_it():
    """Six kg of meat: too little for the pies of ten, which rank first; the hash gets all six."""
    home = houses.house(
        [ingredient("meat", offers=(houses.offer("b", "meat"),))],
        [recipe("pie", 10, {"meat": 10}, is_whole=True), recipe("hash", 1, {"meat": 1})],
        [dish("slice", "pie", 1, service_level=0.99), dish("fry", "hash", 1)],
        [houses.vendor("b")],
    )
    demand = houses.forecast(home, {"slice": [10.0, 0.0], "fry": [7.0, 0.0]})
    found = net_all(home, Opening((Lot("meat", 6.0),)), demand, {}, {"meat": 1})
    assert hit(found, "meat") == {("slice", 0): 10.0, ("fry", 0): 1.0}
    assert [s.short for s in found.shortfalls] == [11.0]


@pytest.mark.parametrize("under", ["herb", "oil"], ids=["itself", "what it is made of"])
def test_what_is_optional_stops_no_dish_and_is_still_said(under):
    """Steak is there, herb is not: the plate is served without it, and nothing of the steak is given up."""
    offers = (houses.offer("sea", "fish", 1, 4),)
    plate = [houses.line("steak", 1.0), houses.line(under, 0.1, is_optional=True)]
    home = houses.house(
        [ingredient("steak", offers=offers), ingredient("herb", offers=offers)],
        [recipe("plate", 1, plate), recipe("oil", 1, {"herb": 1})],
        [dish("steak-plate", "plate", price=40)],
        [houses.vendor("sea")],
    )
    demand = houses.forecast(home, {"steak-plate": [5.0, 5.0, 0.0]})
    found = net_all(home, Opening((Lot("steak", 10.0),)), demand, {}, {"herb": 2, "steak": 2})
    told = [(short.item, short.needed_on, dict(short.portions)) for short in found.shortfalls]
    assert told == [("herb", day(0), {}), ("herb", day(1), {})]
    assert found.flows["steak"].gross.tolist() == [5, 5, 0]


def test_a_dish_that_needs_it_comes_before_one_that_can_go_without():
    home = houses.house(
        [ingredient("steak"), ingredient("herb", offers=(houses.offer("sea", "herb", 1, 4),))],
        [
            recipe("plate", 1, [houses.line("steak", 1.0), houses.line("herb", 1.0, is_optional=True)]),
            recipe("salad", 1, {"herb": 1}),
        ],
        [dish("a-steak", "plate", price=90), dish("salad", "salad", price=9)],
        [houses.vendor("sea")],
    )
    demand = houses.forecast(home, {"a-steak": [4.0], "salad": [4.0]})
    stock = Opening((Lot("steak", 4.0), Lot("herb", 5.0)))
    found = net_all(home, stock, demand, {}, {"herb": 2, "steak": 2})
    (short,) = found.shortfalls
    assert (short.item, short.short, dict(short.portions)) == ("herb", 3.0, {})
