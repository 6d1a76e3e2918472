"""A rehearsed kitchen: deliveries, starts, services and spoilage follow the recipes to the gram."""

from datetime import timedelta

import numpy as np
import pytest
from houses import MONDAY, dish, house, ingredient, line, offer, recipe, vendor

from ordering.records.books import Lot, OpenOrder
from ordering.rehearsal.first_morning import opening_lots, put_in
from ordering.rehearsal.kitchen import Kitchen, finish, morning, put, serve, start, stock_worth, take, usable
from ordering.rehearsal.tuned_pars import Factors, start_to_par


def day(n):
    return MONDAY + timedelta(days=n)


@pytest.fixture
def home():
    return house(
        ingredients=[
            ingredient("beef", keeps_days=3, offers=(offer("butcher", "beef", 1.0, "10.00"),)),
            ingredient("liquor", "l"),
            ingredient("bones", keeps_days=2),
            ingredient("herb"),
        ],
        recipes=[
            recipe(
                "braise",
                4.0,
                [line("beef", 4.0, yield_fraction=0.8), line("liquor", 3.0, returns=2.4)],
                takes_days=2,
                keeps_days=4,
                is_whole=True,
                also_makes=(("bones", 0.5),),
            ),
            recipe("slow", 1, [line("beef", 1.0), line("herb", 2.0, at_days=1)], takes_days=2),
            recipe("plate", 1.0, {"braise": 0.25}, unit="each"),
        ],
        dishes=[dish("braise-plate", "plate", price=20)],
        vendors=[vendor("butcher")],
    )


@pytest.fixture
def kitchen(home):
    kitchen = Kitchen(home, {"beef": 10.0})
    put(kitchen, Lot("beef", 5.0, day(3)))
    put(kitchen, Lot("liquor", 3.0))
    return kitchen


def test_a_batch_draws_as_purchased_and_gives_back_what_it_carries_over(home, kitchen):
    """4 kg edible at a yield of 0.8 is 5 kg drawn; of 3 l of liquor 2.4 l come back when it is ready."""
    assert start(kitchen, home.recipes["braise"], 1, MONDAY) == 1
    assert usable(kitchen, "beef", MONDAY) == 0
    assert usable(kitchen, "liquor", MONDAY) == 0
    assert usable(kitchen, "braise", day(1)) == 0
    assert usable(kitchen, "braise", day(2)) == 4.0
    assert usable(kitchen, "liquor", day(2)) == pytest.approx(2.4)
    assert usable(kitchen, "bones", day(2)) == 0.5


def marked(at):
    """A kitchen that poaches fish in a marked broth, drawn `at` days after the start; it comes back."""
    mark = ("date-mark",)
    return Kitchen(
        house(
            [ingredient("fish"), ingredient("bones")],
            [
                recipe("broth", 4.0, {"bones": 4.0}, takes_days=1, keeps_days=5, hazards=mark),
                recipe(
                    "poached",
                    1.0,
                    [line("fish", 1.0), line("broth", 2.0, returns=1.5, at_days=at)],
                    takes_days=2,
                    keeps_days=6,
                    hazards=mark,
                    also_makes=(("trim", 0.5),),
                ),
                recipe("trim", 1.0, {"fish": 1.0}, hazards=mark),
            ],
            [dish("plate", "poached"), dish("bowl", "broth"), dish("potted", "trim")],
        ),
        {},
    )


@pytest.mark.parametrize("at", [0, 1])
@pytest.mark.parametrize(("good_until", "back_until"), [(3, 3), (None, 5)])
def test_what_comes_back_keeps_the_date_of_what_was_drawn(at, good_until, back_until):
    """Five days from the day it was drawn at most, not from the day it is back: the mark goes on."""
    kitchen = marked(at)
    put(kitchen, Lot("fish", 1.0))
    put(kitchen, Lot("broth", 2.0, None if good_until is None else day(good_until)))
    start(kitchen, kitchen.house.recipes["poached"], 1, MONDAY)
    finish(kitchen, day(1))
    last = back_until + (at if good_until is None else 0)
    assert usable(kitchen, "broth", day(2)) == 1.5
    assert usable(kitchen, "broth", day(last)) == 1.5
    assert usable(kitchen, "broth", day(last + 1)) == 0


@pytest.mark.parametrize("at", [0, 1])
def test_a_marked_batch_goes_off_with_the_oldest_marked_part_in_it(at):
    """Ready on Wednesday it would be good until Tuesday; the broth in it is good until Thursday."""
    kitchen = marked(at)
    put(kitchen, Lot("fish", 1.0, day(1)))
    put(kitchen, Lot("broth", 2.0, day(3)))
    start(kitchen, kitchen.house.recipes["poached"], 1, MONDAY)
    finish(kitchen, day(1))
    assert usable(kitchen, "poached", day(3)) == 1.0
    assert usable(kitchen, "poached", day(4)) == 0


def test_a_whole_marked_batch_takes_the_freshest_of_its_parts_and_all_else_the_oldest():
    home = house(
        [ingredient("bones")],
        [
            recipe("stock", 4.0, {"bones": 4.0}, takes_days=1, keeps_days=5, hazards=("date-mark",)),
            recipe("jus", 1.0, {"stock": 2.0}, keeps_days=5, is_whole=True, hazards=("date-mark",)),
        ],
        [dish("duck", "jus"), dish("soup", "stock")],
    )
    kitchen = Kitchen(home, {})
    put(kitchen, Lot("stock", 3.0, day(1)))
    put(kitchen, Lot("stock", 3.0, day(4)))
    assert take(kitchen, "stock", 1.0, MONDAY) == (1.0, day(1))
    start(kitchen, home.recipes["jus"], 1, MONDAY)
    assert [(lot.quantity, lot.use_by) for lot in kitchen.lots["stock"]] == [(2.0, day(1)), (1.0, day(4))]
    assert [lot.use_by for lot in kitchen.lots["jus"]] == [day(4)]


def test_what_comes_off_a_marked_batch_is_as_old_as_the_batch():
    """Day 1 of the mark is Monday: day 7 is Sunday, though the batch is ready on Wednesday."""
    kitchen = marked(0)
    put(kitchen, Lot("fish", 1.0))
    put(kitchen, Lot("broth", 2.0))
    start(kitchen, kitchen.house.recipes["poached"], 1, MONDAY)
    assert usable(kitchen, "trim", day(6)) == 0.5
    assert usable(kitchen, "trim", day(7)) == 0


def test_what_was_drawn_before_the_first_morning_comes_back_and_is_not_drawn_again():
    kitchen = marked(1)
    put_in(kitchen, Lot("poached", 1.0, day(6), day(1)), MONDAY + timedelta(days=1))
    assert not kitchen.late_draws
    assert usable(kitchen, "broth", day(1)) == 1.5


def test_only_whole_batches_that_have_their_material_are_started(home, kitchen):
    assert start(kitchen, home.recipes["braise"], 3, MONDAY) == 1
    assert start(kitchen, home.recipes["braise"], 1, MONDAY) == 0


def test_a_dish_is_cooked_to_order_from_what_was_prepared_and_runs_out_when_that_does(home, kitchen):
    start(kitchen, home.recipes["braise"], 1, MONDAY)
    assert serve(kitchen, {"braise-plate": 20.0}, day(2)) == {"braise-plate": 16.0}
    assert kitchen.tally.lost == {"braise-plate": 4.0}
    assert kitchen.tally.revenue == 16 * 20
    assert kitchen.tally.lost_revenue == 4 * 20


def test_a_later_line_is_drawn_on_its_day_and_not_before_the_count_of_that_morning(home, kitchen):
    """Herbs that go into a braise the day after it was begun still lie on the shelf that morning."""
    put(kitchen, Lot("herb", 3.0))
    start(kitchen, home.recipes["slow"], 1, MONDAY)
    morning(kitchen, day(1))
    assert usable(kitchen, "herb", day(1)) == 3.0
    finish(kitchen, day(1))
    assert usable(kitchen, "herb", day(1)) == 1.0
    finish(kitchen, day(2))
    assert usable(kitchen, "herb", day(2)) == 1.0


def test_nothing_is_used_after_its_date_and_what_expires_is_waste_at_cost(kitchen):
    morning(kitchen, day(3))
    assert usable(kitchen, "beef", day(3)) == 5.0
    morning(kitchen, day(4))
    assert usable(kitchen, "beef", day(4)) == 0
    assert kitchen.tally.wasted == 50.0


def test_first_expired_is_drawn_first(kitchen):
    put(kitchen, Lot("beef", 1.0, day(1)))
    assert take(kitchen, "beef", 2.0, MONDAY) == (2.0, day(1))
    assert [(lot.quantity, lot.use_by) for lot in kitchen.lots["beef"]] == [(4.0, day(3))]


def test_a_delivery_is_usable_on_its_day(kitchen):
    kitchen.due.append(OpenOrder("butcher", "butcher-beef", "beef", 2, 2.0, day(1)))
    assert stock_worth(kitchen) == 70.0
    morning(kitchen, day(1))
    assert usable(kitchen, "beef", day(1)) == 7.0
    assert kitchen.due == []


def test_a_batch_that_goes_without_a_late_line_is_lost_in_that_part():
    """Two batches of 4 kg want 2 twines each a day later; three are there: a quarter is lost, at cost."""
    braise = recipe(
        "braise",
        4.0,
        [line("beef", 4.0), line("twine", 2.0, at_days=1)],
        takes_days=3,
        keeps_days=4,
    )
    home = house(ingredients=[ingredient("beef"), ingredient("twine", "each")], recipes=[braise])
    kitchen = Kitchen(home, {"braise": 12.0})
    put(kitchen, Lot("beef", 8.0))
    put(kitchen, Lot("twine", 3.0))
    start(kitchen, braise, 2, MONDAY)
    finish(kitchen, day(1))
    assert usable(kitchen, "braise", day(3)) == pytest.approx(6.0)
    assert kitchen.tally.wasted == pytest.approx(2.0 * 12.0)
    finish(kitchen, day(2))
    assert usable(kitchen, "braise", day(3)) == pytest.approx(6.0)


def test_a_par_of_what_is_made_lasts_while_a_batch_is_in_the_making_and_two_days_more(home, kitchen):
    put(kitchen, Lot("beef", 90.0))
    put(kitchen, Lot("herb", 90.0))
    coming = {"slow": np.array([1.0, 1.0, 1.0, 1.0, 40.0, 40.0])}
    start_to_par(kitchen, coming, Factors(1.0, 1.0, 1.0), day(0))
    assert [(lot.quantity, lot.ready_on) for lot in kitchen.lots["slow"]] == [(4.0, day(2))]


@pytest.mark.parametrize(("keeps", "factor"), [(4, 2.0), (5, 3.0), (None, 3.0)])
def test_what_keeps_four_days_is_fresh(keeps, factor):
    fish = house(ingredients=[ingredient("fish", keeps_days=keeps)])
    assert Factors(1.0, 2.0, 3.0).of(fish, "fish") == factor


def test_the_first_morning_has_a_week_of_everything(home):
    (herb,) = (one for one in opening_lots(home, {"herb": np.full(10, 2.0)}, day(0)) if one.item == "herb")
    assert herb.quantity == 14.0
