"""Planned starts begun sooner from a lot that would go past its date."""

from functools import partial

import houses
import numpy as np
import pytest
import strategies
from houses import MONDAY, day, dish, ingredient, recipe
from hypothesis import given, settings

from ordering.net.early_starts import Planned, early_starts
from ordering.net.netting import net_all
from ordering.net.problem import problem_of
from ordering.net.safety_stock import worth
from ordering.net.sweep import lots_left, sweep
from ordering.records.books import Lot
from ordering.records.house import Closure
from ordering.records.plan import Opening

law = settings(strategies.LAW, max_examples=100)


def braising(sold, *lots, closed=(), coming=(), cheek=0, wine=0, cost=9, tartare=(0.0,), **rest):
    """A braise of 4 kg from 6 kg cheek and a litre of wine, made whole in two days, good for five more; and
    a tartare of a kilo of cheek."""
    home = houses.house(
        [
            ingredient("cheek", keeps_days=4, offers=(houses.offer("butcher", "cheek", 2, cost * 2),)),
            ingredient("wine", "l", offers=(houses.offer("mill", "wine", 1, 8),)),
        ],
        [
            recipe(
                "braise",
                4.0,
                {"cheek": 6.0, "wine": 1.0},
                **({"is_whole": True, "takes_days": 2, "keeps_days": 5} | rest),
            ),
            recipe("chopped", 1.0, {"cheek": 1.0}),
        ],
        [dish("stew", "braise"), dish("tartare", "chopped")],
        [houses.vendor("butcher"), houses.vendor("mill")],
        closures=[Closure(day(d), day(d)) for d in closed],
    )
    demand = houses.forecast(home, {"stew": sold, "tartare": tartare})
    return net_all(home, Opening(lots, tuple(coming)), demand, {}, {"cheek": cheek, "wine": wine})


def begun(found):
    return [((s.start_on - MONDAY).days, s.batches, s.note) for s in found.starts]


LATE = [0.0] * 6 + [2.0, 2.0, 2.0, 2.0]  # begun just in time: on days 4 and 6


def test_a_start_of_next_week_is_begun_on_the_last_day_of_the_cheek_that_would_be_thrown_away():
    found = braising(LATE, Lot("cheek", 6.0, day(2)))
    assert begun(found) == [
        (2, 1, "early, to use 6 kg Cheek, use by Wed 25 Nov"),
        (6, 1, ""),
    ]
    assert not found.flows["cheek"].expired.any()
    assert found.expiring == ()
    assert found.requirements["cheek"].expected[-1] == 6
    assert found.flows["braise"].planned.tolist() == [0, 0, 0, 0, 4, 0, 0, 0, 4, 0]


def test_what_is_begun_sooner_comes_on_top_of_what_is_begun_that_day_anyway():
    """One batch for day 4 is begun on day 2 from half of the lot, and with it the one for days 6 and 7."""
    found = braising([0.0] * 4 + [4.0, 0.0, 2.0, 2.0, 2.0, 2.0], Lot("cheek", 12.0, day(2)))
    assert begun(found) == [(2, 2, "early, to use 6 kg Cheek, use by Wed 25 Nov"), (6, 1, "")]
    assert not found.flows["cheek"].expired.any()


def test_what_only_some_paths_begin_that_day_is_not_begun_on_all_of_them():
    """Three of four paths begin a batch on day 8 themselves; all want one on day 11."""
    sold = np.zeros((16, 4))
    sold[10], sold[13] = [4, 4, 4, 0], 4
    assert begun(braising(sold, Lot("cheek", 12.0, day(8))))[0][:2] == (8, 1)


def test_without_the_lot_nothing_is_begun_sooner():
    assert begun(braising(LATE)) == [(4, 1, ""), (6, 1, "")]


def test_a_delivery_on_its_way_is_used_in_its_time_too():
    found = braising(LATE, coming=(houses.coming("cheek", 6.0, day(1), day(3)),))
    assert begun(found)[0] == (3, 1, "early, to use 6 kg Cheek, use by Thu 26 Nov")


def test_the_last_open_day_before_is_taken():
    assert begun(braising(LATE, Lot("cheek", 6.0, day(2)), closed=(1, 2)))[0][0] == 0
    nobody = braising(LATE, Lot("cheek", 6.0, day(2)), closed=(0, 1, 2))
    assert begun(nobody) == [(4, 1, ""), (6, 1, "")]


def test_less_than_a_batch_is_left_on_the_list_of_what_to_use_up():
    found = braising(LATE, Lot("cheek", 5.9, day(2)))
    assert [n for _, _, n in begun(found)] == ["", ""]
    assert [lot.unused for lot in found.expiring] == [5.9]


def test_a_recipe_made_in_any_amount_takes_what_of_it_can_be_used():
    """Ready on day 4, good until day 9: eight kilos are wanted by then, and the lot gives three."""
    found = braising(LATE, Lot("cheek", 4.5, day(2)), is_whole=False)
    assert begun(found)[0] == (2, 0.75, "early, to use 4.5 kg Cheek, use by Wed 25 Nov")
    assert found.flows["braise"].planned.sum() == pytest.approx(8)
    lots = (Lot("cheek", 30.0, day(2)),)
    assert braising(LATE, *lots, is_whole=False).flows["braise"].planned.sum() == pytest.approx(8)


@pytest.mark.parametrize(("keeps", "first"), [(5, 2), (3, 2), (2, 2), (1, 4)])
def test_what_is_made_is_drawn_in_its_own_time_and_not_a_day_later(keeps, first):
    """Begun on day 2 it is ready on day 4; two kilos, half of it, are wanted on day 6."""
    found = braising(LATE, Lot("cheek", 6.0, day(2)), keeps_days=keeps)
    assert begun(found)[0][0] == first


@pytest.mark.parametrize(("wanted", "first"), [(2.0, 2), (1.8, 4)])
def test_less_than_half_a_batch_drawn_in_its_time_is_not_worth_beginning(wanted, first):
    """Ready on day 4 and good until day 6, on which `wanted` of its four kilos are drawn."""
    sold = [0.0] * 6 + [wanted, 2.0, 2.0, 2.0]
    assert begun(braising(sold, Lot("cheek", 6.0, day(2)), keeps_days=2))[0][0] == first


@pytest.mark.parametrize(("cost", "first"), [(5.1, 2), (5.6, 4)])
def test_a_lot_worth_less_than_a_fifth_of_the_batch_changes_no_plan(cost, first):
    """A litre of wine at 8 in a batch with six kilos of cheek: 20.7 % of it at 5.1, 19.2 % at 5.6."""
    assert begun(braising(LATE, Lot("wine", 1.0, day(2)), cost=cost))[0][0] == first


def test_no_more_is_begun_than_is_planned():
    found = braising(LATE, Lot("cheek", 60.0, day(2)))
    assert begun(found) == [(2, 2, "early, to use 12 kg Cheek, use by Wed 25 Nov")]


def test_a_batch_of_which_more_would_be_lost_than_the_lot_is_worth_is_not_begun():
    """Half of it is wanted in time. A litre of wine that goes off is not worth six kilos of cheek."""
    half = [0.0] * 9 + [2.0, 2.0]
    assert begun(braising(half, Lot("cheek", 6.0, day(2))))[0][0] == 2
    assert begun(braising(half, Lot("wine", 1.0, day(2)), cost=30))[0][0] == 7


def test_nothing_is_begun_for_which_the_rest_is_not_there():
    next_week = houses.coming("cheek", 6.0, day(7), day(9))
    for found in (
        braising(LATE, Lot("cheek", 6.0, day(2)), wine=3),
        braising([0.0] * 7 + LATE, coming=(next_week,), wine=10),
    ):
        assert [n for _, _, n in begun(found)] == ["", ""]
        assert not found.flows["wine"].short.any()


def test_material_others_are_promised_is_not_taken():
    """A litre of wine in the house, and another dish drinks it before more comes."""
    home = houses.house(
        [ingredient("cheek", keeps_days=4), ingredient("wine", "l")],
        [
            recipe("braise", 4.0, {"cheek": 6.0, "wine": 1.0}, is_whole=True, takes_days=2, keeps_days=5),
            recipe("glass", 1.0, {"wine": 1.0}, unit="l"),
        ],
        [dish("stew", "braise"), dish("cup", "glass", 0.25)],
    )
    sold = houses.forecast(home, {"stew": LATE, "cup": [0, 0, 0, 4.0, 0, 0, 0, 0, 0, 0]})
    lots = (Lot("cheek", 6.0, day(2)), Lot("wine", 1.0))
    found = net_all(home, Opening(lots), sold, {}, {"cheek": 0, "wine": 4})
    assert found.shortfalls == ()
    assert [s.note for s in found.starts if s.recipe == "braise"] == ["", ""]


def test_it_is_done_only_when_more_than_half_of_the_paths_leave_the_lot():
    for n_left, is_sooner in ((1, False), (2, False), (3, True)):
        tartare = [[0.0] * n_left + [6.0] * (4 - n_left)]
        found = braising(
            np.repeat(np.array(LATE)[:, None], 4, axis=1), Lot("cheek", 6.0, day(2)), tartare=tartare
        )
        assert any(n for _, _, n in begun(found)) == is_sooner


@pytest.mark.parametrize(("later", "n_short", "is_sooner"), [(0, 1, False), (7, 2, True)])
def test_a_later_run_begins_what_is_left_then(later, n_short, is_sooner):
    """Some of five paths want a kilo of the lot as tartare on its last day, before more can come. What this
    run decides makes nobody go without; of a lot of next week it is enough that most paths have all of it."""
    tartare = np.zeros((later + 3, 5))
    tartare[later + 2, :n_short] = 1
    stew = np.repeat(np.array([0.0] * later + LATE)[:, None], 5, axis=1)
    lot = houses.coming("cheek", 6.0, day(later), day(later + 2))
    found = braising(stew, coming=(lot,), cheek=later + 4, tartare=tartare)
    assert any(n for _, _, n in begun(found)) == is_sooner


def test_a_part_made_the_same_day_is_reached_through():
    home = houses.house(
        [ingredient("duck", "each")],
        [
            recipe("crown", 1, {"duck": 1}, unit="each"),
            recipe("aged", 1, {"crown": 1}, unit="each", takes_days=2, keeps_days=7),
        ],
        [dish("duck-plate", "aged", 1)],
    )
    sold = houses.forecast(home, {"duck-plate": [0.0] * 6 + [4.0, 0.0]})
    found = net_all(home, Opening((Lot("duck", 3.0, day(1)),)), sold, {}, {"duck": 0})
    aged = [((s.start_on - MONDAY).days, s.batches) for s in found.starts if s.recipe == "aged"]
    assert aged == [(1, 3), (4, 1)]
    assert not found.flows["duck"].expired.any()


@law
@given(strategies.cases())
def test_whatever_is_begun_sooner_is_there_to_be_taken_and_drawn_in_time(case):
    """No more than half of the paths leave of a lot; in its days; ready, good and planned in the batch's."""
    deliveries = houses.deliveries("v", range(0, len(case.forecast.days), 3))
    problem = problem_of(case.house, case.opening, case.forecast, case.arrival, deliveries)
    value = worth(problem)
    found = sweep(problem, value.stakes)
    left_over = partial(lots_left, problem, found)
    plan = Planned(found.starts, left_over, found.dates, value.cost)
    used = {}
    for item, many in early_starts(problem, plan).items():
        one = problem.house.recipes[item]
        for begun in many:
            used[begun.item, begun.lot_last] = used.get((begun.item, begun.lot_last), 0.0) + begun.quantity
            assert begun.day <= begun.lot_last
            assert begun.ready == begun.day + one.takes_days <= begun.last
            assert not one.is_whole or begun.batches == round(begun.batches) > 0
            later = found.starts[item][begun.day + 1 : begun.last - one.takes_days + 1].sum(axis=0)
            more = begun.batches - begun.own
            assert np.median(later) >= more - 1e-9 or (later >= more - 1e-9).mean() >= 0.5
    for (item, last), quantity in used.items():
        spare = sum(
            np.sort(left)[left.size // 2]
            for (_, _, day_), (_, left) in left_over(item).items()
            if day_ == last
        )
        assert quantity <= spare + 1e-9


def pickled(salad_marked):
    """A salad of cooked beans and dressing, all date-marked but perhaps the beans."""
    mark = ("date-mark",)
    home = houses.house(
        [
            ingredient(
                "beans", hazards=mark if salad_marked else (), offers=(houses.offer("v", "beans", 1, 5),)
            ),
            ingredient("dressing", hazards=mark, offers=(houses.offer("v", "dressing", 1, 1),)),
        ],
        [
            recipe("drained", 1, {"beans": 1.0}, hazards=mark),
            recipe("salad", 1, {"drained": 0.9, "dressing": 0.1}, takes_days=1, keeps_days=6, hazards=mark),
        ],
        [dish("bowl", "salad")],
        [houses.vendor("v")],
    )
    return home, houses.forecast(home, {"bowl": [0.0] * 5 + [1.0, 1.0, 0.0]})


def test_what_keeps_the_date_of_the_lot_by_way_of_its_parts_gains_no_day_by_being_begun():
    """Marked beans are past after day 2, and so is their salad; raw ones start a new count when cooked."""
    for is_marked, is_sooner in ((True, False), (False, True)):
        home, sold = pickled(is_marked)
        found = net_all(home, Opening((Lot("beans", 3.0, day(2)),)), sold, {}, {"beans": 0, "dressing": 0})
        assert any(s.note for s in found.starts) == is_sooner


def test_another_part_of_an_earlier_date_forbids_it():
    """The dressing in the house is past after day 4: a salad of it begun on day 2 does not serve day 5."""
    home, sold = pickled(False)
    lots = (Lot("beans", 3.0, day(2)), Lot("dressing", 5.0, day(4)))
    found = net_all(home, Opening(lots), sold, {}, {"beans": 0, "dressing": 0})
    assert not any(s.note for s in found.starts if s.recipe == "salad")
    assert found.shortfalls == ()


def test_a_pinch_that_goes_off_moves_no_batch():
    home, sold = pickled(False)
    lots = (Lot("dressing", 5.0, day(2)),)
    found = net_all(home, Opening(lots), sold, {}, {"beans": 0, "dressing": 0})
    assert not any(s.note for s in found.starts)


def test_of_a_part_and_what_is_made_from_it_one_is_begun_and_nothing_is_made_twice():
    home, sold = pickled(False)
    found = net_all(home, Opening((Lot("beans", 3.0, day(2)),)), sold, {}, {"beans": 0, "dressing": 0})
    assert sum(1 for s in found.starts if s.note) == 1
    assert found.flows["drained"].planned.sum() == pytest.approx(1.8)
    assert found.flows["salad"].planned.sum() == pytest.approx(2.0)
