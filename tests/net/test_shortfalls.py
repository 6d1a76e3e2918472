"""What is said of what cannot be had: from how much on, why, and once."""

from datetime import date

import houses
import numpy as np
import pytest
from houses import day, dish, ingredient, line, recipe
from served import hit, shop

from ordering.net.netting import net_all
from ordering.records.books import Lot
from ordering.records.house import Policy
from ordering.records.plan import Opening


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


AGED = "Aged: 7 kg short (7 portions), Thu 26 Nov to Sun 6 Dec. "


@pytest.mark.parametrize(
    ("rib", "arrival", "said"),
    [
        ((), 0, "Anything started today is ready on Mon 7 Dec"),
        ((Lot("rib", 1.4),), 5, "Anything started today is ready on Mon 7 Dec"),
        ((Lot("rib", 1.3),), 5, "The first that can be started, on Sat 28 Nov, is ready on Sat 12 Dec"),
        ((), 5, "The first that can be started, on Sat 28 Nov, is ready on Sat 12 Dec"),
        ((), 9, "The first that can be started, on Wed 2 Dec, is ready too late to help"),
    ],
    ids=[
        "it can be had today",
        "it is in the house",
        "what is there makes no batch",
        "it comes later",
        "it comes too late to be seen",
    ],
)
def test_a_hole_in_the_row_of_ages_is_said_with_what_can_be_begun_when(rib, arrival, said):
    home = houses.house(
        [ingredient("rib")],
        [recipe("aged", 1, {"rib": 1.4}, takes_days=14, is_whole=True)],
        [dish("steak", "aged", 1)],
    )
    lots = (Lot("aged", 3.0), Lot("aged", 4.0, None, day(9)), *rib)
    found = net_all(home, Opening(lots), houses.forecast(home, {"steak": [1.0] * 20}), {}, {"rib": arrival})
    assert found.ageing_gaps == {"aged": AGED + said}


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


def test_what_cannot_be_had_is_said_of_a_dish_that_earns_nothing_too():
    """A plate sold below the cost of its fish is worth no margin at all; that nobody can be served for two
    days is not safety that is missing. The wait for the next fish is longer than fish keeps."""
    found = shop(dish("bargain", "of-bargain", price=3), sold={"bargain": [3.0, 4.0, 6.0]}, keeps=1)
    need = found.requirements["fish"]
    assert need.required == pytest.approx(need.expected)
    assert hit(found, "fish") == {("bargain", 0): 3.0, ("bargain", 1): 4.0}


@pytest.mark.parametrize(("n_busy", "n_said"), [(5, 0), (6, 1)])
def test_what_is_short_on_one_path_in_twenty_is_safety_not_held_and_not_said(n_busy, n_said):
    home = houses.house([ingredient("fish")], [recipe("plate", 1, {"fish": 1})], [dish("fillet", "plate")])
    sold = np.full((1, 100), 10.0)
    sold[0, :n_busy] = 60.0
    found = net_all(
        home, Opening((Lot("fish", 10.0),)), houses.forecast(home, {"fillet": sold}), {}, {"fish": 1}
    )
    assert len(found.shortfalls) == n_said
