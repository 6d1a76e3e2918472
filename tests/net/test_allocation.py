"""What cannot be had in time: who goes without, why, and that nothing is bought or begun for it."""

import math
from dataclasses import replace
from datetime import date

import houses
import numpy as np
import pytest
import strategies
from houses import MONDAY, day, dish, ingredient, line, recipe
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.sparse import csr_array
from scipy.sparse.csgraph import maximum_flow

from ordering.net.allocation import Claim, refused
from ordering.net.netting import net_all
from ordering.net.shelf_life import Parcel
from ordering.records.books import Lot
from ordering.records.house import Policy, Service
from ordering.records.plan import Opening

law = settings(strategies.LAW, max_examples=150)


def hit(found, item, on=None):
    """Portions hit for want of an item, by dish and day index."""
    hits = {}
    for short in found.shortfalls:
        if short.item == item and (on is None or short.needed_on == day(on)):
            for (name, when, _), portions in short.portions.items():
                key = (name, (when - MONDAY).days)
                hits[key] = hits.get(key, 0.0) + portions
    return hits


def shop(*dishes, lots=(), sold=None, arrival=2, keeps=None, takes=0, **rest):
    """Dishes that each take one fish a portion; fish can be had from day `arrival` on."""
    offers = (houses.offer("sea", "fish", 1, 4),)
    plates = [recipe(f"of-{d.id}", 1, {"fish": 1}, takes_days=takes) for d in dishes]
    home = houses.house(
        [ingredient("fish", keeps_days=keeps, offers=offers)], plates, dishes, [houses.vendor("sea")], **rest
    )
    demand = houses.forecast(home, sold)
    return net_all(home, Opening(tuple(lots)), demand, houses.deliveries("sea", [2, 5]), {"fish": arrival})


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


def test_an_ageing_room_too_small_for_christmas_is_said_weeks_before():
    home = houses.house(
        [ingredient("rib")],
        [recipe("aged", 1, {"rib": 1.4}, takes_days=14, largest=4, keeps_days=3)],
        [dish("steak", "aged", 1)],
    )
    sold = np.zeros(30)
    sold[20] = 20.0
    found = net_all(home, Opening(), houses.forecast(home, {"steak": sold}), {}, {"rib": 0})
    assert hit(found, "aged") == {("steak", 20): 4.0}
    full = [w for w in found.warnings if "is full" in w]
    assert full == [
        "Aged: the room for 4 kg a day is full on 4 days from Thu 26 Nov to Sun 29 Nov. What does "
        "not fit is started earlier where it keeps, and is short where it does not"
    ]


@pytest.mark.parametrize(("takes", "is_said"), [(6, False), (7, True)])
def test_the_room_of_a_stage_of_less_than_a_week_is_not_watched(takes, is_said):
    home = houses.house(
        [ingredient("rib")],
        [recipe("aged", 1, {"rib": 1.4}, takes_days=takes, largest=4, keeps_days=3)],
        [dish("steak", "aged", 1)],
    )
    sold = houses.forecast(home, {"steak": [0.0] * 12 + [20.0]})
    found = net_all(home, Opening(), sold, {}, {"rib": 0})
    assert any("is full" in w for w in found.warnings) is is_said


@pytest.mark.parametrize(("n_of_ten", "is_said"), [(4, False), (6, True)])
def test_a_shortage_is_said_from_half_a_portion_on(n_of_ten, is_said):
    """One portion too few on so many of ten nights."""
    sold = np.zeros((3, 10))
    sold[0, :n_of_ten] = 1.0
    found = shop(dish("plate", "of-plate"), sold={"plate": sold})
    assert bool(found.shortfalls) is is_said


def test_an_ageing_room_that_holds_so_much_at_one_time_is_never_fuller_and_is_said_to_be_full():
    home = houses.house(
        [ingredient("rib")],
        [recipe("aged", 1, {"rib": 1.4}, takes_days=14, room=12, keeps_days=20)],
        [dish("steak", "aged", 1)],
    )
    hung = Lot("aged", 5.0, ready_on=day(6))
    sold = np.zeros(40)
    sold[16], sold[24] = 20.0, 6.0
    found = net_all(home, Opening((hung,)), houses.forecast(home, {"steak": sold}), {}, {"rib": 0})
    made = found.flows["aged"].planned  # by ready day: on the start day 14 days before, all under way fits
    for start in range(26):
        hanging = made[start + 1 : start + 15].sum() + (5.0 if start < 6 else 0.0)
        assert hanging <= 12 + 1e-9
    assert hit(found, "aged")["steak", 16] == pytest.approx(20 - 5 - 7)
    assert [w for w in found.warnings if "at one time is full" in w]


def test_a_hole_in_the_row_of_ages_is_said():
    home = houses.house(
        [ingredient("rib")],
        [recipe("aged", 1, {"rib": 1.4}, takes_days=14)],
        [dish("steak", "aged", 1)],
    )
    lots = (Lot("aged", 3.0), Lot("aged", 4.0, None, day(9)))
    found = net_all(home, Opening(lots), houses.forecast(home, {"steak": [1.0] * 20}), {}, {"rib": 0})
    assert found.ageing_gaps == {
        "aged": "Aged: 7 kg short (7 portions), Thu 26 Nov to Sun 6 Dec. Anything started today is ready on "
        "Mon 7 Dec"
    }


def test_a_liquor_needs_a_batch_that_is_there():
    """Nothing in the tub and the liquor takes a day: today's braise cannot be begun, tomorrow's can."""
    home = houses.house(
        [ingredient("cheek"), ingredient("bones")],
        [
            recipe("braise", 4, [line("cheek", 5), line("liquor", 3, returns=2.4)], takes_days=1),
            recipe("liquor", 10, {"bones": 6}, takes_days=1, is_whole=True),
        ],
        [dish("plate", "braise", 1)],
    )
    demand = houses.forecast(home, {"plate": [0.0, 4.0, 4.0, 4.0]})
    found = net_all(home, Opening(), demand, {}, {"cheek": 0, "bones": 0})
    assert [(s.item, s.cause) for s in found.shortfalls] == [("liquor", "no-batch")]
    assert hit(found, "liquor") == {("plate", 1): 4.0}
    liquor = found.flows["liquor"]
    assert liquor.planned.tolist() == [0, 10, 0, 0]
    assert liquor.gross.tolist() == pytest.approx([0, 3, 3, 0])
    assert liquor.by_product.tolist() == pytest.approx([0, 0, 2.4, 2.4])
    assert liquor.projected.tolist() == pytest.approx([0, 7, 6.4, 8.8])


def test_with_liquor_in_the_tub_only_the_loss_is_drawn():
    home = houses.house(
        [ingredient("cheek"), ingredient("bones")],
        [
            recipe("braise", 4, [line("cheek", 5), line("liquor", 3, returns=2.4)], takes_days=1),
            recipe("liquor", 10, {"bones": 6}, takes_days=1),
        ],
        [dish("plate", "braise", 1)],
    )
    demand = houses.forecast(home, {"plate": [0.0] + [4.0] * 5})
    found = net_all(home, Opening((Lot("liquor", 6.0),)), demand, {}, {"cheek": 0, "bones": 0})
    assert not found.shortfalls
    assert found.flows["liquor"].planned.sum() == 0
    assert found.flows["liquor"].projected[-1] == pytest.approx(6.0 - 5 * 0.6)


def test_by_products_are_used_before_anything_is_bought_and_thrown_away_when_nobody_wants_them():
    home = houses.house(
        [ingredient("rib"), ingredient("trim", keeps_days=2)],
        [
            recipe("steak", 1, {"rib": 1.5}, also_makes=(("trim", 0.25),)),
            recipe("patty", 1, {"trim": 1}),
        ],
        [dish("grill", "steak", 1), dish("burger", "patty", 1)],
    )
    sold = {"grill": [8.0, 0, 0, 8, 0, 0, 0], "burger": [0.0, 3, 0, 0, 0, 0, 0]}
    found = net_all(home, Opening(), houses.forecast(home, sold), {}, {"rib": 0, "trim": 0})
    trim = found.flows["trim"]
    assert trim.by_product.tolist() == [2, 0, 0, 2, 0, 0, 0]
    assert trim.planned.tolist() == [0, 1, 0, 0, 0, 0, 0]
    assert trim.expired.tolist() == [0, 0, 0, 0, 0, 0, 2]
    assert found.requirements["trim"].required[-1] == 1


def test_what_goes_round_in_a_circle_is_counted_of_batches_begun_and_not_of_those_to_come():
    """Rib leaves trim, and trim is cut from rib where there is too little: the rib that hangs already leaves
    its trim on day 2; the ribs yet to be hung for want of trim leave theirs unplanned."""
    home = houses.house(
        [ingredient("carcass")],
        [
            recipe("burger", 1, {"trim": 1}),
            recipe("trim", 1, {"rib": 2}),
            recipe("rib", 1, {"carcass": 2}, takes_days=2, also_makes=(("trim", 0.1),)),
        ],
        [dish("sandwich", "burger")],
    )
    demand = houses.forecast(home, {"sandwich": [0.0, 0.0, 0.0, 3.0, 3.0]})
    lots = (Lot("rib", 10.0, None, day(2)),)
    found = net_all(home, Opening(lots, begun=houses.begun(home, lots)), demand, {}, {"carcass": 0})
    assert found.flows["trim"].by_product.tolist() == [0, 0, 1, 0, 0]
    assert found.flows["trim"].planned.tolist() == [0, 0, 0, 2, 3]
    assert found.requirements["carcass"].required.tolist() == [0, 0, 0, 0, 0]
    assert found.shortfalls == ()


def test_what_falls_out_of_a_lot_in_process_is_expected():
    home = houses.house(
        [ingredient("rib"), ingredient("trim")],
        [recipe("aged", 1, {"rib": 2}, takes_days=9, also_makes=(("trim", 0.25),))],
        [dish("steak", "aged", 1)],
    )
    lots = (Lot("aged", 4.0, None, day(2)),)
    nobody, begun = houses.forecast(home, {"steak": [0.0] * 4}), houses.begun(home, lots)
    found = net_all(home, Opening(lots, begun=begun), nobody, {}, {"rib": 0, "trim": 0})
    assert found.flows["trim"].by_product.tolist() == [0, 0, 1, 0]
    counted = (*lots, Lot("trim", 0.9, None, day(2)))
    again = net_all(home, Opening(counted, begun=begun), nobody, {}, {"rib": 0, "trim": 0})
    assert again.flows["trim"].by_product.sum() == 0
    assert again.flows["trim"].in_process.tolist() == [0, 0, 0.9, 0]


@pytest.mark.parametrize(
    ("offers", "closed", "lots", "cause"),
    [
        ((), frozenset(), (), "no-offer"),
        ((houses.offer("sea", "fish", until=date(2026, 11, 24)),), frozenset(), (), "no-offer"),
        ((houses.offer("sea", "fish"),), frozenset({date(2026, 11, 25)}), (), "vendor-closed"),
        ((houses.offer("sea", "fish"),), frozenset(), (Lot("fish", 9.0, day(0)),), "expires"),
        ((houses.offer("sea", "fish"),), frozenset(), (), "no-delivery"),
    ],
)
def test_why_bought_goods_are_short(offers, closed, lots, cause):
    home = houses.house(
        [ingredient("fish", offers=offers)],
        [recipe("plate", 1, {"fish": 1})],
        [dish("fish-plate", "plate")],
        [houses.vendor("sea", closed=closed)],
    )
    demand = houses.forecast(home, {"fish-plate": [0.0, 0, 5, 0, 0, 5]})
    found = net_all(home, Opening(lots), demand, {}, {"fish": 5})
    assert [s.cause for s in found.shortfalls] == [cause]
    assert hit(found, "fish") == {("fish-plate", 2): 5.0}


def test_charcoal_that_cannot_be_had_is_said_without_portions():
    home = houses.house(
        [ingredient("charcoal", offers=(houses.offer("v", "charcoal"),))],
        vendors=[houses.vendor("v")],
        consumables=[("charcoal", 5.0, "service")],
        dishes=[dish("air", "nothing")],
        recipes=[recipe("nothing", 1, {})],
    )
    demand = houses.forecast(home, {"air": [0.0, 0.0, 0.0]})
    found = net_all(home, Opening((Lot("charcoal", 7.0),)), demand, {}, {"charcoal": 2})
    assert [(s.needed_on, s.short, dict(s.portions)) for s in found.shortfalls] == [(day(1), 3.0, {})]
    assert found.requirements["charcoal"].required.tolist() == [0, 0, 5]


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


def test_what_is_short_only_on_rare_paths_is_no_shortage():
    sold = np.full((3, 100), 5.0)
    sold[1, :4] = 25.0
    found = shop(
        dish("plate", "of-plate"), lots=[Lot("fish", 10.0)], sold={"plate": sold}, policy=Policy(0.95)
    )
    assert found.shortfalls == ()  # 0.8 portions on the mean, but on 4 paths of 100 only
    assert found.flows["fish"].gross[1] == pytest.approx(5.8)
    often = np.full((3, 100), 5.0)
    often[1, :40] = 9.0
    found = shop(
        dish("plate", "of-plate"), lots=[Lot("fish", 10.0)], sold={"plate": often}, policy=Policy(0.95)
    )
    assert hit(found, "fish") == {("plate", 1): pytest.approx(1.6)}


def test_two_things_short_for_one_plate_are_each_said():
    home = houses.house(
        [ingredient(i, offers=(houses.offer("v", i),)) for i in ("egg", "ham")],
        [recipe("plate", 1, {"egg": 1, "ham": 1})],
        [dish("breakfast", "plate")],
        [houses.vendor("v")],
    )
    demand = houses.forecast(home, {"breakfast": [10.0]})
    found = net_all(home, Opening((Lot("egg", 4.0), Lot("ham", 7.0))), demand, {}, {"egg": 9, "ham": 9})
    assert hit(found, "egg") == {("breakfast", 0): 6.0}
    assert hit(found, "ham") == {("breakfast", 0): 3.0}
    assert found.flows["plate"].gross[0] == 10


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


@pytest.mark.parametrize("lots", [(), (Lot("levain", 0.0),)], ids=["never counted", "counted as none"])
def test_a_starter_without_its_last_batch_is_said_and_noted_on_the_first_start_alone(lots):
    starter = recipe("levain", 1, [line("flour", 0.8), line("levain", 0.2, returns=0.2)], takes_days=1)
    home = houses.house([ingredient("flour")], [starter], [dish("loaf", "levain", 1)])
    demand = houses.forecast(home, {"loaf": [0.0, 2.0, 1.0]})
    found = net_all(home, Opening(lots), demand, {}, {"flour": 0})
    assert found.warnings == (
        "Levain, Mon 23 Nov: it is started with 400 g of its last batch, and there is none in the house: "
        "start it without, or get some from another kitchen",
    )
    assert [(s.quantity, s.note) for s in found.starts] == [
        (2, "takes 400 g of its last batch, and there is none: start it without"),
        (1, ""),
    ]
    with_some = net_all(home, Opening((Lot("levain", 0.2),)), demand, {}, {"flour": 0})
    assert with_some.warnings == ()
    assert not any(s.note for s in with_some.starts)
    nobody = houses.forecast(home, {"loaf": [0.0, 0.0]})
    assert net_all(home, Opening(), nobody, {}, {"flour": 0}).warnings == ()


def test_what_was_never_counted_is_said_once_and_stops_nothing_else():
    """No salt was ever counted: it is short on paper, but the stew is begun and its meat is bought."""
    home = houses.house(
        [ingredient("salt", offers=(houses.offer("v", "salt"),)), ingredient("meat")],
        [recipe("stew", 1, {"salt": 0.01, "meat": 1}, takes_days=2)],
        [dish("bowl", "stew", 1)],
        [houses.vendor("v")],
    )
    demand = houses.forecast(home, {"bowl": [0.0, 0, 5, 5, 5, 5]})
    found = net_all(home, Opening(unknown=frozenset({"salt"})), demand, {}, {"salt": 2, "meat": 0})
    assert [(s.item, s.needed_on, s.short) for s in found.shortfalls] == [
        ("salt", day(0), pytest.approx(0.1))
    ]
    assert hit(found, "salt") == {("bowl", 2): 5.0, ("bowl", 3): 5.0}
    assert found.requirements["meat"].required.tolist() == [5, 10, 15, 20, 20, 20]
    assert found.requirements["salt"].required[-1] == pytest.approx(0.1)
    counted = net_all(home, Opening(), demand, {}, {"salt": 2, "meat": 0})
    assert counted.requirements["meat"].required.tolist() == [0, 0, 5, 10, 10, 10]


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


def test_what_cannot_be_had_is_said_of_a_dish_that_earns_nothing_too():
    """A plate sold below the cost of its fish is worth no margin at all; that nobody can be served for two
    days is not safety that is missing. The wait for the next fish is longer than fish keeps."""
    found = shop(dish("bargain", "of-bargain", price=3), sold={"bargain": [3.0, 4.0, 6.0]}, keeps=1)
    need = found.requirements["fish"]
    assert need.required == pytest.approx(need.expected)
    assert hit(found, "fish") == {("bargain", 0): 3.0, ("bargain", 1): 4.0}


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


PARCELS = st.lists(st.tuples(st.integers(0, 8), st.integers(0, 5), st.integers(1, 9)), max_size=7)
ASKS = st.lists(st.tuples(st.integers(0, 8), st.integers(1, 9), st.integers(0, 4)), min_size=1, max_size=9)


def most_given(parcels, asks):
    """The most that can be given of parcels to asks, (day, quantity): a maximum flow."""
    n, end = len(parcels), len(parcels) + len(asks) + 1
    pipes = np.zeros((end + 1, end + 1), dtype=np.int32)
    for i, (first, days, quantity) in enumerate(parcels, start=1):
        pipes[0, i] = quantity
        for k, (on, _) in enumerate(asks, start=1):
            pipes[i, n + k] = 99 if first <= on <= first + days else 0
    for k, (_, quantity) in enumerate(asks, start=1):
        pipes[n + k, end] = quantity
    return maximum_flow(csr_array(pipes), 0, end).flow_value


def missing(parcels, asks):
    """What each ask goes without, in turn, as the program has it."""
    there = [Parcel(first, first + days, float(q)) for first, days, q in parcels]
    asked = [
        Claim((0.0, 0, 0.0, 0.0, ""), on, np.array([float(q)]), float(piece), slot=k)
        for k, (on, q, piece) in enumerate(asks)
    ]
    found = {ask.slot: float(short[0]) for ask, short in refused(there, asked)}
    return [found.get(k, 0.0) for k in range(len(asks))]


@law
@given(PARCELS, ASKS)
def test_whoever_ranks_first_is_given_all_that_can_be_given_beside_those_before(parcels, asks):
    """A maximum flow, ask by ask, says the same."""
    short = missing(parcels, [(on, q, 0) for on, q, _ in asks])
    given_so_far = 0
    for k, (_, q, _) in enumerate(asks):
        most = most_given(parcels, [(on, quantity) for on, quantity, _ in asks[: k + 1]])
        assert short[k] == pytest.approx(q - (most - given_so_far))
        given_so_far = most


@law
@given(PARCELS, ASKS)
def test_what_is_short_adds_up_to_what_must_be_got_and_no_more(parcels, asks):
    """Of asks in whole pieces too; what they then still draw can be drawn, and nobody goes without a piece
    that is there beside what those before it and after it draw."""
    short = missing(parcels, asks)
    wanted = [(on, q) for on, q, _ in asks]
    assert sum(short) == pytest.approx(sum(q for _, q in wanted) - most_given(parcels, wanted))
    without = [
        min(q, math.ceil(one / piece - 1e-9) * piece) if piece else one
        for one, (_, q, piece) in zip(short, asks, strict=True)
    ]
    drawn = [(on, round(q - w)) for (on, q), w in zip(wanted, without, strict=True)]
    assert most_given(parcels, drawn) == sum(q for _, q in drawn)
    for k, (on, q, piece) in enumerate(asks):
        if without[k]:
            more = drawn[k][1] + min(max(piece, 1), q - drawn[k][1])
            others = [*drawn[:k], (on, more), *drawn[k + 1 :]]
            assert most_given(parcels, others) < sum(quantity for _, quantity in others)


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


@pytest.mark.parametrize(("n_busy", "n_said"), [(5, 0), (6, 1)])
def test_what_is_short_on_one_path_in_twenty_is_safety_not_held_and_not_said(n_busy, n_said):
    home = houses.house([ingredient("fish")], [recipe("plate", 1, {"fish": 1})], [dish("fillet", "plate")])
    sold = np.full((1, 100), 10.0)
    sold[0, :n_busy] = 60.0
    found = net_all(
        home, Opening((Lot("fish", 10.0),)), houses.forecast(home, {"fillet": sold}), {}, {"fish": 1}
    )
    assert len(found.shortfalls) == n_said
