"""Date-marked recipes take the freshest of their marked parts; where it pays, those are made for them."""

from dataclasses import replace

import houses
import numpy as np
import pytest

from ordering.net.date_marks import for_marked, with_ages
from ordering.net.netting import net_all
from ordering.net.opening import opening
from ordering.net.problem import problem_of, terms_of
from ordering.net.safety_stock import worth
from ordering.net.sweep import sweep
from ordering.records.books import Batch, CountedLot, Lot
from ordering.records.plan import Opening

MARK = ("date-mark",)
N_DAYS = 28
NOTHING = Opening()
PRICES = (0.5, 2, 5, 15, 50)


def kitchen(stock_batch=8.0, bones=6.5, hens=4.5):
    """Stock for bowls and for a duck jus that is made ahead of it; both keep five days."""
    return houses.house(
        [
            houses.ingredient("bones", offers=(houses.offer("v", "bones", 5, bones),)),
            houses.ingredient("hens", offers=(houses.offer("v", "hens", 5, hens),)),
        ],
        [
            houses.recipe(
                "stock", stock_batch, {"hens": 5}, is_whole=True, takes_days=1, keeps_days=5, hazards=MARK
            ),
            houses.recipe(
                "jus", 2, {"bones": 5, "stock": 3}, is_whole=True, takes_days=1, keeps_days=5, hazards=MARK
            ),
        ],
        [houses.dish("soup", "stock", price=5), houses.dish("duck", "jus", price=20)],
        [houses.vendor("v")],
    )


def planned(home, bowls, ducks, stock=NOTHING):
    """The netting of a house. bowls, ducks : litres a day, or [day, path]."""
    demand = {"soup": bowls + np.zeros((N_DAYS, 1)), "duck": ducks + np.zeros((N_DAYS, 1))}
    n_paths = max(one.shape[1] for one in demand.values())
    demand = {dish: np.broadcast_to(one, (N_DAYS, n_paths)) for dish, one in demand.items()}
    return net_all(home, stock, houses.forecast(home, demand), {}, {"bones": 0, "hens": 0})


@pytest.mark.parametrize("bowls", [0.0, 0.3, 1.0])
def test_a_jus_is_not_ended_by_what_is_left_of_a_stock(bowls):
    """0.4 l a day from day 2: a batch of 2 l is eaten on five days at best, so six of them are the fewest.
    From what is left of old stock it was 8 to 13, of 0.4 l eaten and the rest thrown away."""
    flow = planned(kitchen(), bowls, 0.4).flows["jus"]
    assert flow.short[2:].sum() == pytest.approx(0.0)
    assert flow.planned.sum() == pytest.approx(12.0)
    assert flow.expired.sum() == pytest.approx(0.0)


def test_no_fresh_stock_is_made_for_a_jus_where_that_loses_more_than_it_saves():
    """Forty litres of dear stock for three that a jus of cheap bones takes."""
    dear, cheap = (planned(kitchen(40, 1.0, price), 2.0, 0.4) for price in (400.0, 0.01))
    assert dear.flows["stock"].planned.sum() < cheap.flows["stock"].planned.sum()
    assert dear.flows["jus"].planned.sum() > cheap.flows["jus"].planned.sum()


def test_whether_stock_is_made_for_jus_is_decided_about_as_well_as_by_trying_both(monkeypatch):
    """Kitchens of every kind: goods bought and guests missed, in money, against the better of the two.

    To make it always, or never, costs about a tenth more than that."""
    random, more = np.random.default_rng(11), []
    for _ in range(40):
        batch, bones, hens, bowls, ducks = (
            float(random.choice(one))
            for one in ((4, 8, 12, 20, 40), PRICES, PRICES, (0, 0.3, 0.7, 1.5, 3, 6), (0.1, 0.2, 0.4, 0.7, 1))
        )
        guests = random.poisson(bowls * 10, (N_DAYS, 6)) / 10, random.poisson(ducks * 10, (N_DAYS, 6)) / 10
        money = []
        for together in (None, {"stock"}, set()):
            with monkeypatch.context() as tried:
                if together is not None:
                    tried.setattr(
                        "ordering.net.netting.with_ages",
                        lambda problem, cost, it=together: replace(with_ages(problem, cost), together=it),
                    )
                flows = planned(kitchen(batch, bones, hens), *guests).flows
            bought = flows["bones"].gross.sum() * bones + flows["hens"].gross.sum() * hens
            money.append(bought + 20 * flows["jus"].short[2:].sum() + 5 * flows["stock"].short[2:].sum())
        more.append(np.array(money) / min(money[1:]) - 1)
    decided, always, never = np.mean(more, axis=0)
    assert decided < 0.01
    assert min(always, never) > 0.05


def test_what_later_runs_begin_is_planned_of_fresh_stock_on_every_path():
    """On some path there is old stock on every day: it is no reason to make more jus on all of them."""
    random = np.random.default_rng(5)
    guests = random.poisson(4.0, (N_DAYS, 60)) / 10, random.poisson(8.0, (N_DAYS, 60)) / 10
    flow = planned(kitchen(), guests[1], guests[0]).flows["jus"]
    fewest = np.ceil((guests[0][2:].sum(axis=0)) / 2.0).mean() * 2.0
    assert flow.planned.sum() < 1.35 * fewest


def test_a_jus_takes_the_freshest_stock_in_the_house_and_a_bowl_the_oldest():
    """Tomorrow's jus is begun today: of stock good to Saturday, not to Tuesday; the bowls eat up the rest."""
    there = Opening((Lot("stock", 4.0, houses.day(1)), Lot("stock", 3.0, houses.day(5))))
    found = planned(kitchen(), 2.0, np.r_[0.0, np.full(N_DAYS - 1, 0.4)][:, None], there)
    begun = next(start for start in found.starts if start.recipe == "jus")
    assert (begun.start_on, begun.use_by) == (houses.day(0), houses.day(5))
    assert begun.note == "with the freshest Stock"
    assert found.flows["stock"].short.sum() == pytest.approx(0.0)


def test_a_jus_of_old_stock_keeps_its_date():
    """With no other stock in the house: it is for tomorrow alone, whatever a jus is said to keep."""
    there = Opening((Lot("stock", 4.0, houses.day(1)),))
    found = planned(kitchen(), 0.0, np.r_[0.0, 2.0, np.full(N_DAYS - 2, 0.4)][:, None], there)
    begun = next(start for start in found.starts if start.recipe == "jus")
    assert (begun.start_on, begun.use_by) == (houses.day(0), houses.day(1))
    assert begun.note == ""


def test_by_the_books_a_jus_took_the_freshest_stock_and_keeps_its_date():
    """Two stocks, ready on days 1 and 2, and a jus begun on day 2: good as long as the second."""
    books = houses.books(
        counts=(CountedLot(houses.day(0), "jus", 0.0), CountedLot(houses.day(0), "stock", 0.0)),
        batches=(
            Batch(houses.day(0), "stock", 5.0, 8.0),
            Batch(houses.day(1), "stock", 5.0, 8.0),
            Batch(houses.day(2), "jus", 5.0, 2.0),
        ),
    )
    found = opening(kitchen(), books, houses.day(3))
    there = {(lot.item, lot.use_by): lot.quantity for lot in found.lots}
    assert there == {
        ("jus", houses.day(7)): 2.0,
        ("stock", houses.day(6)): 8.0,
        ("stock", houses.day(7)): 5.0,
    }


def made_for_jus(wanted, largest=None):
    """A problem in which stock is made for jus, and its batches of 8 l where so much is wanted, by path."""
    home = kitchen()
    stock = replace(home.recipes["stock"], largest=largest)
    home = replace(home, recipes={**home.recipes, "stock": stock})
    demand = {dish: np.full((N_DAYS, len(wanted)), litres) for dish, litres in (("soup", 5.0), ("duck", 0.4))}
    forecast = houses.forecast(home, demand)
    problem = replace(problem_of(home, NOTHING, forecast, {"bones": 0, "hens": 0}), together={"stock"})
    drawn = np.zeros((N_DAYS, len(wanted)))
    drawn[1] = wanted
    return problem, for_marked(problem, "stock", drawn, terms_of(problem, "stock", {})).batches[1]


@pytest.mark.parametrize("wanted", [(0, 0, 3, 3, 20), (0, 6, 12, 12, 12), (6, 6, 6, 12, 20)])
def test_stock_begun_for_jus_misses_what_the_paths_want_by_the_least_batches(wanted):
    """It is the same on every path: of all numbers of batches the one that is nearest to what each wants."""
    _, begun = made_for_jus(np.array(wanted, dtype=float))
    needed = np.ceil(np.array(wanted) / 8.0)
    off = [np.abs(needed - n).sum() for n in range(4)]
    assert begun.tolist() == [float(np.argmin(off))] * len(wanted)


def test_half_of_what_a_day_allows_is_for_others_than_the_jus():
    """Four batches of stock a day: thirty litres for jus leave two of them to the bowls: none is missed."""
    problem, begun = made_for_jus(np.full(1, 30.0), largest=32.0)
    assert begun.tolist() == [2.0]
    ducks = np.full((N_DAYS, 1), 0.4)
    ducks[9] = 24.0
    demand = {"soup": np.full((N_DAYS, 1), 5.0), "duck": ducks}
    problem = replace(problem, forecast=houses.forecast(problem.house, demand))
    found = sweep(problem, worth(problem).stakes)
    assert found.made["stock"].short[2:].sum() == pytest.approx(0.0)


def test_a_kitchen_that_asks_every_day_is_short_of_little_jus_and_throws_little_away():
    """Four weeks: what is listed for today is begun, and is good as long as the oldest that went in."""
    random = np.random.default_rng(1)
    lots, made, thrown, missed = [], 0.0, 0.0, 0.0  # lots : [item, first day, last day, quantity]
    for today in range(N_DAYS):
        thrown += sum(lot[3] for lot in lots if lot[0] == "jus" and lot[2] == today - 1)
        lots = [lot for lot in lots if lot[2] >= today and lot[3] > 1e-9]
        there = Opening(tuple(Lot(i, left, houses.day(last - today)) for i, _, last, left in lots))
        guests = random.poisson(30.0, (N_DAYS, 40)) / 10, random.poisson(4.0, (N_DAYS, 40)) / 10
        for start in planned(kitchen(), *guests, there).starts:
            if start.start_on == houses.day(0):
                last = today + 6
                if start.recipe == "jus":
                    made += start.quantity
                    taken = drawn(lots, "stock", today, 1.5 * start.quantity, is_freshest=True)
                    last = min([last, *(lot[2] for lot in taken)])
                lots.append([start.recipe, today + 1, last, start.quantity])
        drawn(lots, "stock", today, random.poisson(30.0) / 10)
        eaten = random.poisson(4.0) / 10
        missed += eaten - sum(lot[4] for lot in drawn(lots, "jus", today, eaten))
    assert made > 8.0
    assert thrown < 0.2 * made
    assert missed < 0.1 * made


def drawn(lots, item, today, wanted, is_freshest=False):
    """The lots that give what is wanted, each with what it gives; they keep the rest."""
    there = [lot for lot in lots if lot[0] == item and lot[1] <= today]
    gave = []
    for lot in sorted(there, key=lambda lot: lot[2], reverse=is_freshest):
        given = min(wanted, lot[3])
        lot[3], wanted = lot[3] - given, wanted - given
        gave += [[*lot, given]] if given > 1e-9 else []
    return gave
