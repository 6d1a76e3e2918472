"""How much is held: against search, against its bounds, and that a margin is carried and not built again."""

import houses
import numpy as np
import pytest
from houses import dish, ingredient, recipe
from hypothesis import given
from hypothesis import strategies as st

from ordering.net import safety_stock
from ordering.net.netting import net_all
from ordering.net.safety_stock import Pieces, Stake
from ordering.net.shelf_life import draw_off
from ordering.records.books import Lot
from ordering.records.plan import Opening

ANY = Pieces()


def poisson(n_days, mean, n_paths=2000, seed=5):
    return np.random.default_rng(seed).poisson(mean, (n_days, n_paths)).astype(float)


def stake(loss=8.0, cost=4.0, a_day=0.0):
    return Stake(((1.0, loss),), cost, a_day)


def worth_holding(now, total, stake, pieces, days):
    """Of one item, [path]."""
    return safety_stock.worth_holding(now[None], total[None], [stake], [pieces], days)[0]


def held(need, deliveries, last, stake, pieces):
    """Amounts, [day], and what each path is short of, [day, path], of one item."""
    found = safety_stock.held(need[None], deliveries, last, [stake], [pieces])
    return found.amounts[0], found.rest[0]


@pytest.mark.parametrize("size", [1.0, 4.0, 12.0, 15.0])
@pytest.mark.parametrize("mean", [3, 12.5, 20])
def test_as_many_pieces_as_bring_most(size, mean):
    """Tried one number after the other: what a batch brings is what is eaten of it."""
    needs = poisson(1, mean)[0]
    found = worth_holding(needs, needs, stake(8, 3), Pieces(size, is_whole=True), 1)
    tried = np.arange(0, 60 // size + 2) * size
    brings = [(8 * np.minimum(needs, n) - 3 * np.maximum(n - needs, 0)).mean() for n in tried]
    assert found == tried[int(np.argmax(brings))]


def test_a_shared_part_is_held_for_those_who_would_go_without():
    """A cheap and a dear dish share a fish; the dear one is served first. Tried one amount after another."""
    cheap, dear = poisson(1, 6)[0], poisson(1, 6, seed=6)[0]
    both = cheap + dear
    shared = Stake(((0.5, 2.0), (1.0, 30.0)), 6.0, 0.0)
    found = worth_holding(both, both, shared, ANY, 1)
    amounts = np.arange(40.0)
    served = [(np.minimum(dear, x), np.minimum(cheap, np.maximum(x - dear, 0))) for x in amounts]
    brings = [(30 * d + 2 * c - 6 * (x - d - c)).mean() for x, (d, c) in zip(amounts, served, strict=True)]
    assert max(brings) - brings[int(found)] < 0.03 * max(brings)
    mean_margin = worth_holding(both, both, stake(16, 6), ANY, 1)
    assert max(brings) - brings[int(found)] < max(brings) - brings[int(mean_margin)]


def test_what_keeps_is_held_up_to_what_keeping_it_costs():
    needs = poisson(1, 20)[0]
    never = np.full_like(needs, np.inf)
    assert worth_holding(needs, never, stake(9, 4, a_day=1.0), ANY, 1) == np.quantile(needs, 0.9)
    assert worth_holding(needs, never, stake(9, 4, a_day=1.0), ANY, 7) < np.quantile(needs, 0.6)


def test_the_chance_to_be_wanted_later_pays_too():
    """Comes on days 0 and 3. What is still good on day 3 is worth holding more of than what is not."""
    needs = poisson(4, 10)
    short = held(needs, [0, 3], np.arange(4) + 2, stake(), ANY)[0][0]
    long = held(needs, [0, 3], np.arange(4) + 3, stake(), ANY)[0][0]
    assert np.median(needs[:3].sum(axis=0)) < short < long


def test_a_batch_that_pays_only_over_its_life_is_begun_once_it_does():
    """Twelve at once, three wanted a day: on any one day a batch earns less than what goes over. It keeps two
    days, and in three it earns; where the second day wants all of it, the first day waits for it."""
    steady = np.full((12, 1), 3.0)
    batch = Pieces(12.0, is_whole=True)
    dear = stake(6.0, 6.0)
    found = held(steady, list(range(12)), np.arange(12) + 2, dear, batch)[0]
    assert found[:7].tolist() == [12, 0, 0, 12, 0, 0, 12]
    late = np.array([[1.0], [8.0], [4.0], [0.0]])
    found = held(late, [0, 1, 2, 3], np.arange(4) + 1, stake(6.0, 9.0), batch)[0]
    assert found.tolist() == [0, 12, 0, 0]
    later = np.array([[1.0], [0.0], [9.0], [3.0], [0.0]])  # day 0 would eat ten of it, day 2 all
    found = held(later, [0, 1, 2, 3, 4], np.arange(5) + 2, stake(6.0, 9.0), batch)[0]
    assert found.tolist() == [0, 0, 12, 0, 0]


@given(
    st.integers(0, 10**6),
    st.floats(0.5, 20),
    st.floats(0.5, 20),
    st.sampled_from((0.0, 1.0, 5.0)),
    st.integers(0, 5),
)
def test_bounds_and_order(seed, loss, cost, size, keeps):
    """Never more than the most that is wanted; a dearer loss or a cheaper waste never makes it less."""
    needs = np.random.default_rng(seed).poisson(4, (8, 60)).astype(float)
    now, total = needs[0], needs[: keeps + 1].sum(axis=0)

    def amount(loss=loss, cost=cost):
        return worth_holding(now, total, stake(loss, cost), Pieces(size), 1)

    assert 0 <= amount() <= now.max()
    assert amount(loss=loss / 2) <= amount() <= amount(loss=2 * loss)
    assert amount(cost=2 * cost) <= amount() <= amount(cost=cost / 2)


@pytest.mark.parametrize("size", [0.0, 1.0, 6.0])
@pytest.mark.parametrize(("loss", "cost"), [(8.0, 4.0), (1.0, 9.0), (9.0, 1.0)])
def test_what_has_been_got_is_not_asked_for_again(size, loss, cost):
    """With what was asked for in the house, in whole packs, the next run asks for nothing."""
    needs = poisson(1, 20)
    got = worth_holding(needs[0], needs[0], stake(loss, cost), Pieces(size), 1)
    got = np.ceil(got / size) * size if size else got
    draw_off(needs, got)
    assert worth_holding(needs[0], needs[0], stake(loss, cost), Pieces(size), 1) == 0.0


def test_one_path_is_decided_as_it_is():
    needs = poisson(20, 5, 1)
    for keeps in (0, 1, 3, 99):
        amounts, rest = held(needs, list(range(21)), np.arange(20) + keeps, stake(), ANY)
        assert amounts == pytest.approx(needs[:, 0])
        assert rest == pytest.approx(0.0)


def daily(keeps=20, **rest):
    """A braise of one day, a sauce of the day under it, a plate of both, and a vendor who comes every day."""
    home = houses.house(
        [
            ingredient("meat", keeps_days=9, offers=(houses.offer("v", "meat", 1, 3),)),
            ingredient("onion", offers=(houses.offer("v", "onion", 1, 1),)),
        ],
        [
            recipe("base", 2.0, {"onion": 1.0}, takes_days=0, keeps_days=2),
            recipe("braise", 1.0, {"meat": 1.0, "base": 0.5}, takes_days=1, keeps_days=keeps),
            recipe("plate", 1.0, {"braise": 1.0, "base": 0.1}),
        ],
        [dish("plate", "plate", price=20)],
        [houses.vendor("v")],
        order_weekdays=frozenset(range(7)),
        **rest,
    )
    return home, np.random.default_rng(3).poisson(10, (30, 400)).astype(float)


def test_a_margin_is_carried_and_not_built_again():
    """Run every day in a house where just the mean comes: after the margin of the first days each day starts
    what was eaten the day before, and what each plan says will be drawn from then on is what is drawn."""
    home, sold = daily()
    there = {"braise": 10.0}
    planned, drawn = [], []
    for _ in range(8):
        lots = tuple(Lot(item, quantity) for item, quantity in there.items() if quantity > 0)
        stock = Opening((*lots, Lot("meat", 500.0), Lot("onion", 500.0)))
        demand = houses.forecast(home, {"plate": sold})
        found = net_all(home, stock, demand, houses.deliveries("v", range(30)), {"meat": 1, "onion": 1})
        today = sum(s.batches for s in found.starts if s.recipe == "braise" and s.start_on == houses.MONDAY)
        planned.append(found.flows["meat"].gross[1:8].sum() / 7)
        drawn.append(today)
        there["braise"] += today - 10.0
    assert sum(drawn[:2]) > 24  # the margin, once
    assert drawn[2:] == pytest.approx([10.0] * 6, abs=0.35)
    assert planned[1:] == pytest.approx([10.0] * 7, abs=0.35)


def test_a_margin_that_is_not_decided_is_not_foreseen():
    """Ten days to ready, and what there is lasts for three weeks on every path: nothing is begun for them."""
    home = houses.house(
        [ingredient("rib", offers=(houses.offer("farm", "rib", 1, 10),))],
        [recipe("aged", 1, {"rib": 1.0}, takes_days=10, keeps_days=7)],
        [dish("steak", "aged", 1, price=30)],
        [houses.vendor("farm")],
    )
    demand = houses.forecast(home, {"steak": poisson(30, 10)})
    found = net_all(home, Opening((Lot("aged", 400.0, houses.day(20)),)), demand, {}, {"rib": 0})
    assert found.flows["aged"].planned[:21].sum() == 0
    assert found.flows["aged"].planned[21:].sum() == pytest.approx(90, abs=3)


def test_what_is_made_for_the_service_shares_its_margin():
    """Eight plates made for the service: the onions are held for their sum, not eight times over."""
    dishes = [dish(f"plate-{n}", f"sauce-{n}", price=3) for n in range(8)]
    sauces = [recipe(f"sauce-{n}", 1, {"onion": 1}) for n in range(8)]
    offers = (houses.offer("v", "onion", 0.001, "0.001"),)
    home = houses.house(
        [ingredient("onion", keeps_days=0, offers=offers)], sauces, dishes, [houses.vendor("v")]
    )
    sold = {f"plate-{n}": poisson(7, 6, 2000, n) for n in range(8)}
    found = net_all(home, Opening(), houses.forecast(home, sold), {}, {"onion": 0})
    total = sum(sold.values())
    daily_need = np.diff(found.requirements["onion"].required, prepend=0.0)
    assert daily_need == pytest.approx(np.quantile(total, 2 / 3, axis=1), abs=1)


def test_an_ageing_stage_is_begun_for_the_whole_of_its_time():
    """Ten days to ready: today's start is for the need of that day, on paths that run that far."""
    offers = (houses.offer("farm", "rib", 1, 10),)
    home = houses.house(
        [ingredient("rib", offers=offers)],
        [recipe("aged", 1, {"rib": 1.0}, takes_days=10, keeps_days=0)],
        [dish("steak", "aged", 1, price=30)],
        [houses.vendor("farm")],
    )
    sold = poisson(25, 5)
    found = net_all(
        home, Opening((Lot("aged", 50.0),)), houses.forecast(home, {"steak": sold}), {}, {"rib": 0}
    )
    today = next(s for s in found.starts if s.start_on == houses.MONDAY)
    there = np.maximum(50 - sold[:10].sum(axis=0), 0)  # what ran out before cannot be made up for
    wanted = np.sort(np.maximum(sold[10] - there, 0))
    assert today.quantity == wanted[int(np.ceil(wanted.size * 2 / 3)) - 1]


def test_no_more_is_begun_than_the_parts_there_allow():
    """Meat for twelve is in the house and more comes on day 3: before it no thirteenth is begun."""
    home = houses.house(
        [ingredient("meat", offers=(houses.offer("v", "meat", 1, 1),))],
        [recipe(f"braise-{n}", 1, {"meat": 1}, takes_days=1) for n in range(2)],
        [dish(f"plate-{n}", f"braise-{n}", price=9) for n in range(2)],
        [houses.vendor("v")],
    )
    sold = {f"plate-{n}": np.vstack([np.zeros((1, 500)), poisson(6, 5, 500, n)]) for n in range(2)}
    found = net_all(home, Opening((Lot("meat", 12.0),)), houses.forecast(home, sold), {}, {"meat": 3})
    early = sum(s.quantity for s in found.starts if (s.start_on - houses.MONDAY).days < 3)
    assert 11 <= early <= 12 + 1e-9
    assert found.flows["meat"].short.sum() == pytest.approx(0.0)


def test_guests_who_will_come_are_planned_for_whatever_is_short():
    """Fish is not to be had for a week. What is aged for the same plate for the weeks after is begun, and
    nobody's portions are taken off what is planned."""
    home = houses.house(
        [ingredient("fish", keeps_days=2), ingredient("lemon", offers=(houses.offer("v", "lemon", 1, 1),))],
        [
            recipe("preserve", 1, {"lemon": 1.0}, takes_days=14, keeps_days=30),
            recipe("plate", 1, {"fish": 0.2, "preserve": 0.1}),
        ],
        [dish("plate", "plate", price=20)],
        [houses.vendor("v")],
    )
    demand = houses.forecast(home, {"plate": [10.0] * 30})
    found = net_all(home, Opening(), demand, {}, {"fish": 30, "lemon": 0})
    assert found.flows["fish"].gross.tolist() == [2.0] * 30
    assert found.flows["preserve"].gross.tolist() == [1.0] * 30
    assert [s.quantity for s in found.starts if s.recipe == "preserve"][:3] == [1.0, 1.0, 1.0]
    assert {(s.item, s.cause) for s in found.shortfalls} >= {("fish", "no-offer")}
