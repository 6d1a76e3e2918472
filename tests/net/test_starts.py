"""Batches from net requirement, and the list of starts with their parcels."""

from datetime import timedelta

import houses
import numpy as np
import pytest
from houses import MONDAY, day, dish, ingredient, line, recipe
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.net.batches import Making, batches, rolled, whole
from ordering.net.netting import net_all
from ordering.records.books import Lot
from ordering.records.plan import Opening


def test_whole_batches_do_not_round_up_the_dust_of_binary_fractions():
    assert whole(np.array([63 * 0.1 / 0.1, 0.3 / 0.1, 1e-12, 2.0000001])).tolist() == [63, 3, 0, 3]


@settings(max_examples=150)
@given(
    st.lists(st.integers(0, 30), min_size=4, max_size=10),
    st.sampled_from((None, 1, 2, 3)),
    st.sampled_from((None, 0, 1, 3)),
    st.booleans(),
    st.integers(0, 2),
)
def test_batches_meet_the_need_or_say_what_they_leave(needs, most, keeps, is_whole, first):
    """Whatever the limits: made, replayed day by day, leaves what is said; no day makes more than it can;
    nothing is ready before its time; and without a limit all that can be made in time is met."""
    net = np.array(needs, dtype=float)[:, None] / 2
    n_days = net.shape[0]
    last = np.arange(n_days) + (99 if keeps is None else keeps)
    terms = Making(4.0, is_whole, first, last, most)
    made, short = batches(net, terms)
    unmet, _ = rolled(made * 4.0, net, last)
    assert unmet == pytest.approx(short, abs=1e-6)
    assert not made[:first].any()
    if most is not None:
        assert made.max() <= most + 1e-9
    else:
        assert not short[first:].any()
    if is_whole:
        assert made == pytest.approx(np.round(made))


@settings(max_examples=200)
@given(
    st.lists(st.tuples(st.integers(0, 9), st.integers(0, 9), st.integers(0, 3)), min_size=1, max_size=9),
    st.integers(0, 4),
)
def test_totals_say_what_is_unmet_and_thrown_away_as_following_every_batch_does(days, keeps):
    """The oldest date first, batch by batch: what nothing good meets, what is left the day after its last.

    What is made of older parts may be past before what was made the day before.
    """
    made = np.array([m for m, _, _ in days], dtype=float)
    need = np.array([n for _, n, _ in days], dtype=float)
    last = np.arange(len(days)) + keeps - np.array([early for _, _, early in days])
    last = np.maximum(last, np.arange(len(days)))
    left, unmet, thrown = made.copy(), need.copy(), np.zeros(len(days))
    for t in range(len(days)):
        for s in sorted(range(t + 1), key=lambda s: last[s]):
            if last[s] < t:
                thrown[t] += left[s]
                left[s] = 0.0
            given = min(left[s], unmet[t])
            left[s] -= given
            unmet[t] -= given
    found = rolled(made[:, None], need[:, None], last)
    assert found[0][:, 0].tolist() == unmet.tolist()
    assert found[1].tolist() == thrown.tolist()


@settings(max_examples=100)
@given(st.lists(st.integers(0, 20), min_size=4, max_size=9), st.integers(1, 3), st.sampled_from((0, 1, 2)))
def test_within_capacity_no_less_is_lost_than_the_earliest_due_first_rule_loses(needs, most, keeps):
    """Batches of any size: as much is met as any plan could meet (each unit from the last day it can)."""
    net = np.array(needs, dtype=float)[:, None]
    n_days = net.shape[0]
    last = np.arange(n_days) + keeps
    _, short = batches(net, Making(4.0, False, 0, last, float(most)))
    room = np.full(n_days, 4.0 * most)
    lost = 0.0
    for t in range(n_days):  # earliest deadline first, oldest room first: optimal for one machine
        need = net[t, 0]
        for s in range(max(0, t - keeps), t + 1):
            given = min(room[s], need)
            room[s] -= given
            need -= given
        lost += need
    assert short.sum() == pytest.approx(lost, abs=1e-6)


def taken(start):
    return [(x.line.item, pytest.approx(x.quantity), x.use_by, x.comes_on) for x in start.from_lots]


def test_a_long_stage_says_from_which_lots_it_is_made():
    home = houses.house(
        [ingredient("rib"), ingredient("salt", "g")],
        [recipe("aged", 6, {"rib": 8, "salt": 100}, takes_days=10, is_whole=True)],
        [dish("steak", "aged", 1)],
    )
    lots = (Lot("rib", 3.0, day(9)), Lot("rib", 4.5, day(2)), Lot("salt", 900.0))
    coming = (houses.coming("rib", 20.0, day(0), day(12)),)
    sold = [0.0] * 10 + [5.0]
    found = net_all(
        home, Opening(lots, coming), houses.forecast(home, {"steak": sold}), {}, {"rib": 0, "salt": 0}
    )
    assert taken(found.starts[0]) == [
        ("rib", 4.5, day(2), None),
        ("rib", 3.0, day(9), None),
        ("rib", 0.5, None, day(0)),
        ("salt", 100.0, None, None),
    ]
    assert [one.is_only for one in found.starts[0].from_lots] == [False, False, False, True]


@pytest.mark.parametrize(("eaten_on", "from_stock"), [(0, 4), (1, 4), (2, 8), (3, 8)])
def test_a_long_stage_takes_what_others_have_not_drawn_by_then(eaten_on, from_stock):
    """Begun on day 2 from eight kilos of rib, of which a tartare of four is eaten before it or not."""
    home = houses.house(
        [ingredient("rib")],
        [recipe("aged", 1, {"rib": 1}, takes_days=3), recipe("chopped", 1, {"rib": 1})],
        [dish("steak", "aged", 1), dish("tartare", "chopped", 1)],
    )
    sold = {"steak": [0.0] * 5 + [8.0], "tartare": [4.0 * (t == eaten_on) for t in range(6)]}
    found = net_all(home, Opening((Lot("rib", 8.0, day(5)),)), houses.forecast(home, sold), {}, {"rib": 0})
    assert next(s for s in found.starts if s.recipe == "aged").from_lots[0].quantity == from_stock


@pytest.mark.parametrize(("takes", "is_said"), [(1, False), (2, True)])
def test_a_stage_of_one_day_takes_what_is_there(takes, is_said):
    home = houses.house(
        [ingredient("rib")], [recipe("aged", 1, {"rib": 1}, takes_days=takes)], [dish("steak", "aged", 1)]
    )
    demand = houses.forecast(home, {"steak": [0.0] * takes + [5.0]})
    found = net_all(home, Opening((Lot("rib", 9.0, day(9)),)), demand, {}, {"rib": 0})
    assert bool(found.starts[0].from_lots) is is_said


def test_a_part_made_the_same_day_is_taken_apart_into_its_lots():
    home = houses.house(
        [ingredient("duck", "each")],
        [
            recipe("crown", 1, {"duck": 1}, unit="each"),
            recipe("aged", 1, {"crown": 1}, unit="each", takes_days=7, hazards=("long-ageing",)),
        ],
        [dish("duck-plate", "aged", 1)],
    )
    lots = (Lot("duck", 2.0, day(1)), Lot("crown", 1.0, day(0)))
    sold = [0.0] * 7 + [4.0]
    found = net_all(home, Opening(lots), houses.forecast(home, {"duck-plate": sold}), {}, {"duck": 0})
    aged_duck = next(s for s in found.starts if s.recipe == "aged")
    assert taken(aged_duck) == [
        ("crown", 1.0, day(0), None),
        ("duck", 2.0, day(1), None),
        ("duck", 1.0, None, None),
    ]
    assert aged_duck.from_lots[-1].is_missing
    assert aged_duck.hazards == ("long-ageing",)


def test_parts_are_begun_before_what_is_made_from_them_on_the_same_day():
    """Whoever works down the list has the crowns cut before they are hung, and does not cut them twice."""
    home = houses.house(
        [ingredient("duck", "each")],
        [
            recipe("crown", 1, {"duck": 1}, unit="each", is_whole=True, keeps_days=2),
            recipe("aged", 1, {"crown": 1}, unit="each", takes_days=2, keeps_days=7),
        ],
        [dish("duck-plate", "aged")],
    )
    sold = [0.0, 0.0, 3.0, 2.0]
    found = net_all(home, Opening(), houses.forecast(home, {"duck-plate": sold}), {}, {"duck": 0})
    listed = [(s.start_on, s.recipe, s.batches) for s in found.starts]
    assert listed == [
        (day(0), "crown", 3),
        (day(0), "aged", 3),
        (day(1), "crown", 2),
        (day(1), "aged", 2),
    ]


def test_parcels_are_those_left_by_what_others_draw_before():
    """Five kilos, one eaten fresh every day: on day 2 three are left for the stage, the rest is to come."""
    home = houses.house(
        [ingredient("rib")],
        [recipe("aged", 1, {"rib": 1}, takes_days=4), recipe("fresh", 1, {"rib": 1})],
        [dish("steak", "aged", 1), dish("tartare", "fresh", 1)],
    )
    sold = {"steak": [0.0] * 5 + [1.0, 3.0], "tartare": [1.0] * 7}
    lots = (Lot("rib", 5.0, day(9)),)
    found = net_all(home, Opening(lots), houses.forecast(home, sold), {}, {"rib": 0})
    assert [taken(s) for s in found.starts if s.recipe == "aged"] == [
        [("rib", 1.0, day(9), None)],
        [("rib", 2.0, day(9), None), ("rib", 1.0, None, None)],
    ]


def test_what_is_decided_and_what_is_shown():
    """Stages: to the next run as decided and a week on as planned. Plates made to order are not listed."""
    home = houses.house(
        [ingredient("flour")],
        [
            recipe("bread", 1, {"flour": 1}, takes_days=1),
            recipe("soup", 1, {"flour": 1}, keeps_days=2),
            recipe("plate", 1, {"flour": 1}),
            recipe("roux", 1, {"flour": 1}),
            recipe("stew", 1, {"roux": 1}),
        ],
        [dish(f"d-{r}", r) for r in ("bread", "soup", "plate", "stew")],
    )
    sold = {d: [1.0] * 25 for d in home.dishes}
    lots = (Lot("bread", 1.0),)
    found = net_all(home, Opening(lots), houses.forecast(home, sold), {}, {"flour": 0})
    days = {}
    for start in found.starts:
        days.setdefault(start.recipe, []).append((start.start_on - MONDAY).days)
    assert days == {"bread": list(range(14)), "soup": list(range(7)), "roux": list(range(7))}
    assert all(s.ready_on - s.start_on == timedelta(days=1) for s in found.starts if s.recipe == "bread")


def test_a_line_is_drawn_on_its_own_day():
    home = houses.house(
        [ingredient("cheek"), ingredient("wine")],
        [recipe("braise", 1, [line("cheek", 1), line("wine", 1, at_days=2)], takes_days=3)],
        [dish("plate", "braise", 1)],
    )
    found = net_all(
        home, Opening(), houses.forecast(home, {"plate": [0.0] * 3 + [2.0]}), {}, {"cheek": 0, "wine": 0}
    )
    assert found.flows["cheek"].gross.tolist() == [2, 0, 0, 0]
    assert found.flows["wine"].gross.tolist() == [0, 0, 2, 0]


def test_consumables_follow_services_covers_and_days():
    home = houses.house(
        [ingredient(i) for i in ("charcoal", "coffee", "oak")],
        [recipe("plate", 1, {"oak": 0.0})],
        [dish("meal", "plate")],
        consumables=[("charcoal", 5.0, "service"), ("coffee", 0.01, "cover"), ("oak", 1.0, "day")],
        closures=(),
    )
    demand = houses.forecast(home, {"meal": [10.0, 0.0]}, covers=[20.0, 30.0])
    found = net_all(home, Opening(), demand, {}, dict.fromkeys(home.ingredients, 0))
    assert found.flows["charcoal"].by_parent["*consumables"].tolist() == [5, 5]
    assert found.flows["coffee"].gross.tolist() == pytest.approx([0.2, 0.3])
    assert found.flows["oak"].gross.tolist() == [1, 1]


def test_stock_left_is_what_a_par_is_held_against():
    home = houses.house([ingredient("salt", par=3.0)], [recipe("p", 1, {"salt": 1})], [dish("d", "p")])
    found = net_all(
        home,
        Opening((Lot("salt", 4.0, day(1)),), (houses.coming("salt", 2.0, day(1)),)),
        houses.forecast(home, {"d": [1.0, 2.0, 1.0, 1.0]}),
        {},
        {"salt": 0},
    )
    assert found.requirements["salt"].stock_left.tolist() == [4, 5, 2, 1]


def test_a_limit_below_one_whole_batch_still_allows_one():
    made = recipe("loaf", 10, {"dough": 1}, is_whole=True, largest=4)
    assert made.most_batches == 1
    assert recipe("loaf", 10, {"dough": 1}, largest=4).most_batches == 0.4
    assert recipe("loaf", 10, {"dough": 1}, is_whole=True, largest=39.999999999999).most_batches == 4
    assert recipe("loaf", 10, {"dough": 1}).most_batches is None


def test_a_dish_the_forecast_does_not_have_asks_for_nothing():
    home = houses.house(
        [ingredient("flour")], [recipe("p", 1, {"flour": 1})], [dish("known", "p"), dish("new", "p")]
    )
    demand = houses.forecast(houses.house(dishes=[home.dishes["known"]]), {"known": [2.0]})
    found = net_all(home, Opening(), demand, {}, {"flour": 0})
    assert found.flows["flour"].gross.tolist() == [2]


def test_a_house_without_a_menu_nets_to_nothing():
    home = houses.house([ingredient("flour", par=2.0)])
    nobody = houses.forecast(houses.house(dishes=[dish("x", "y")]), {"x": [0.0, 0.0]})
    found = net_all(home, Opening((Lot("flour", 1.0),)), nobody, {}, {})
    assert found.requirements["flour"].required.tolist() == [0, 0]
    assert found.requirements["flour"].stock_left.tolist() == [1, 1]
    assert found.starts == found.shortfalls == found.warnings == ()


def test_a_liquor_made_with_what_it_serves_goes_round_no_list_of_lots():
    """What goes round in a circle is set aside; a long stage is taken apart into its lots without it."""
    home = houses.house(
        [ingredient("bones"), ingredient("soy", "l")],
        [
            recipe("broth", 1, [line("bones", 1.0), line("liquor", 1.0, returns=0.8)]),
            recipe("liquor", 1, {"soy": 0.5, "broth": 0.5}),
            recipe("cured", 1, {"liquor": 1.0}, takes_days=3, keeps_days=3),
        ],
        [dish("plate", "cured")],
    )
    sold = houses.forecast(home, {"plate": [0.0] * 4 + [2.0, 0.0]})
    found = net_all(home, Opening((Lot("bones", 5.0),)), sold, {}, {"bones": 0, "soy": 0})
    aged_duck = next(s for s in found.starts if s.recipe == "cured")
    assert taken(aged_duck) == [("bones", 1.0, None, None), ("soy", 1.0, None, None)]
    assert [one.is_missing for one in aged_duck.from_lots] == [False, True]


def test_what_can_be_halved_is_started_by_halves_and_never_less():
    made = recipe("loaf", 10, {"dough": 1}, is_whole=True, step=0.5, largest=19)
    assert made.most_batches == 1.5
    need = np.array([[0.2], [6.0], [14.0]])
    terms = Making(10.0, True, 0, np.arange(3) + 1, step=0.5)
    assert batches(need, terms)[0].ravel().tolist() == [0.5, 0.5, 1.5]
