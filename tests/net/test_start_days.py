"""On which days a recipe is started: when its material is there, and when somebody is."""

import grids
import houses
import numpy as np
import pytest
from houses import day, dish, ingredient, line, recipe
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.net.batches import Making, batches, rolled
from ordering.net.bought import comes_on
from ordering.net.netting import net_all
from ordering.net.problem import problem_of
from ordering.net.start_days import Window
from ordering.records.books import Lot
from ordering.records.house import Closure, Party, Service
from ordering.records.plan import Opening


def test_a_start_is_moved_to_the_last_day_its_material_is_there():
    """There on days 1-2, 5-6 and 9-10: what is due to be started on day 4 or 8 is started two days before."""
    grids.check("""
        lead time 1 day, keeps 4 days, material comes 1 5 9, lasts 1 day
        day                   1    2    3    4    5    6    7    8    9
        gross_requirement     0    3    0    0    5    0    2    0    4
        planned_order         3    5    0    0    0    6    0    0    0
        planned_receipt       0    3    5    0    0    0    6    0    0
        projected_on_hand     0    0    5    5    0    0    4    4    0
        short                 0    0    0    0    0    0    0    0    0
    """)


def test_a_start_is_not_moved_further_than_what_it_makes_keeps():
    """What is ready on day 3 is past on day 5; it stays just in time, and what it draws says it is short."""
    grids.check("""
        lead time 1 day, keeps 1 day, material comes 1 5, lasts 1 day
        day                   1    2    3    4    5
        gross_requirement     0    0    0    2    5
        planned_order         0    2    0    5    0
        planned_receipt       0    0    2    0    5
    """)


def test_material_that_lasts_to_its_next_delivery_moves_nothing():
    grids.check("""
        lead time 1 day, keeps 4 days, material comes 1 4 7, lasts 2 days
        day                   1    2    3    4    5    6    7
        gross_requirement     0    3    2    1    5    1    2
        planned_order         3    2    1    5    1    2    0
    """)


def test_what_is_over_a_day_s_limit_spills_over_the_days_the_material_is_there():
    grids.check("""
        lead time 1 day, keeps 5 days, largest 4, material comes 1 7, lasts 2 days
        day                   1    2    3    4    5    6    7    8
        gross_requirement     0    0    0    0    6    5    0    0
        planned_order         3    4    4    0    0    0    0    0
        short                 0    0    0    0    0    0    0    0
    """)


def test_what_is_over_a_day_s_limit_goes_to_the_days_on_which_somebody_is_there():
    """Closed on days 3 and 4: what day 5 cannot make of its own need is made on day 2 and before."""
    grids.check("""
        on hand 0, largest 2, keeps 6 days, closed 3 4
        day                   1    2    3    4    5    6
        gross_requirement     0    0    0    0    5    1
        planned_receipt       1    2    0    0    2    1
        short                 0    0    0    0    0    0
    """)
    grids.check("""
        on hand 0, lead time 1 day, largest 2, keeps 6 days, closed 3 4
        day                   1    2    3    4    5    6
        gross_requirement     0    0    0    0    4    2
        planned_order         2    2    0    0    2    0
    """)


def test_what_no_open_day_has_room_for_is_short_and_said():
    grid = grids.read("""
        on hand 0, largest 2, keeps 3 days, closed 3 4
        day                   1    2    3    4    5    6
        gross_requirement     0    0    0    0    5    0
    """)
    found = grids.netted(grid)
    assert found.flows["part"].planned.tolist() == [0, 2, 0, 0, 2, 0]
    said = [(s.item, s.needed_on, s.short, s.cause) for s in found.shortfalls]
    assert said == [("part", day(4), 1.0, "capacity")]


def test_whole_batches_serve_until_their_own_last_day_when_they_were_begun_early():
    """The batch of day 2 is ready on day 3 and past after day 6; the rest of it does not serve day 7."""
    grids.check("""
        lead time 1 day, packs of 10, keeps 3 days, material comes 1 6, lasts 1 day
        day                   1    2    3    4    5    6    7
        gross_requirement     0    0    0    0    3    3    3
        planned_order         0   10    0    0    0   10    0
        planned_receipt       0    0   10    0    0    0   10
        expired               0    0    0    0    0    0    4
    """)


def test_nothing_is_begun_on_a_day_nobody_is_there_if_the_day_before_will_do():
    grids.check("""
        lead time 1 day, keeps 2 days, closed 3 4
        day                   1    2    3    4    5    6
        gross_requirement     0    0    0    2    3    1
        planned_order         0    5    0    0    1    0
    """)


def test_what_does_not_keep_is_begun_on_a_day_nobody_is_there():
    grids.check("""
        lead time 1 day, keeps 0 days, closed 3
        day                   1    2    3    4
        gross_requirement     0    0    0    2
        planned_order         0    0    2    0
    """)


def test_today_is_not_too_late_because_the_house_is_closed():
    grids.check("""
        lead time 1 day, keeps 5 days, closed 1
        day                   1    2    3
        gross_requirement     0    2    3
        planned_order         2    3    0
    """)


def test_a_closed_day_is_kept_where_more_material_comes_on_it():
    """A little is there before; what comes on the closed day itself is what the batch is to be made from."""
    home = houses.house(
        [ingredient("meat")],
        [recipe("braise", 1, {"meat": 1}, takes_days=1, keeps_days=5)],
        [dish("stew", "braise")],
        closures=[Closure(day(2), day(2))],
    )
    sold = houses.forecast(home, {"stew": [0.0, 0, 0, 6]})
    for arrival, started in ((2, [0, 0, 6, 0]), (1, [0, 6, 0, 0])):
        found = net_all(home, Opening((Lot("meat", 1.0),)), sold, {}, {"meat": arrival})
        assert found.flows["meat"].gross.tolist() == started
        assert not found.shortfalls


def test_a_closed_day_is_kept_for_material_drawn_later_or_made_from_what_comes():
    """Wine of day 2 is drawn a day after the start; stock from bones of day 6 is there on day 7."""
    later = houses.house(
        [ingredient("wine")],
        [recipe("braise", 1, [line("wine", 1, at_days=1)], takes_days=2, keeps_days=5)],
        [dish("stew", "braise")],
        closures=[Closure(day(1), day(1))],
    )
    sold = houses.forecast(later, {"stew": [0.0, 0, 0, 6]})
    found = net_all(later, Opening((Lot("wine", 1.0),)), sold, {}, {"wine": 2})
    assert found.flows["wine"].gross.tolist() == [0, 0, 6, 0]
    assert not found.shortfalls

    made = houses.house(
        [ingredient("bones")],
        [
            recipe("stock", 1, {"bones": 1}, takes_days=1, keeps_days=9),
            recipe("sauce", 1, {"stock": 1}, takes_days=1, keeps_days=9),
        ],
        [dish("gravy", "sauce")],
        closures=[Closure(day(7), day(7))],
    )
    sold = houses.forecast(made, {"gravy": [0.0] * 8 + [6]})
    coming = Opening((), (houses.coming("bones", 1.0, day(2)),))
    found = net_all(made, coming, sold, {}, {"bones": 6})
    assert found.flows["stock"].gross.nonzero()[0].tolist() == [7]
    assert not found.shortfalls


def test_meat_on_its_way_is_hung_before_it_is_past():
    """Comes on Friday, keeps four days, ages four weeks, then keeps a week: what is due on the Thursday
    after is hung by the Tuesday, and no steak is called short."""
    home = houses.house(
        [ingredient("rib", keeps_days=4, offers=(houses.offer("farm", "rib", 12, 174),))],
        [recipe("aged", 1, {"rib": 1.4}, takes_days=28, keeps_days=7)],
        [dish("steak", "aged", 0.4)],
        [houses.vendor("farm", (4,), weeks_ahead=2)],
    )
    sold = np.zeros(45)
    sold[[32, 33, 38]] = 15
    coming = (houses.coming("rib", 36.0, day(4)),)
    found = net_all(
        home,
        Opening((), coming),
        houses.forecast(home, {"steak": sold}),
        houses.deliveries("farm", [18, 25, 32]),
        {"rib": 18},
    )
    assert found.flows["rib"].gross[:18].nonzero()[0].tolist() == [4, 5, 8]
    assert found.flows["rib"].gross[8] == pytest.approx(15 * 0.4 * 1.4)
    assert found.shortfalls == ()
    first = [(s.start_on, s.quantity) for s in found.starts]
    assert first == [(day(4), pytest.approx(6)), (day(5), pytest.approx(6)), (day(8), pytest.approx(6))]


def test_a_window_reaches_up_through_parts_made_the_same_day():
    """Ducks come on day 1 and 8 and keep two days; crowns keep a day more; hung crowns keep a week."""
    home = houses.house(
        [ingredient("duck", keeps_days=2, offers=(houses.offer("farm", "duck"),))],
        [
            recipe("crown", 1, {"duck": 1}, keeps_days=1),
            recipe("aged", 1, {"crown": 1}, takes_days=2, keeps_days=7),
        ],
        [dish("duck-plate", "aged")],
    )
    demand = houses.forecast(home, {"duck-plate": [0.0] * 7 + [4.0] + [0.0] * 4})
    problem = problem_of(home, Opening(), demand, {"duck": 1}, houses.deliveries("farm", [1, 8]))
    assert np.flatnonzero(problem.windows["crown"].allowed).tolist() == [1, 2, 3, 8, 9, 10]
    assert np.flatnonzero(problem.windows["aged"].allowed).tolist() == [1, 2, 3, 4, 8, 9, 10, 11]
    found = net_all(home, Opening(), demand, houses.deliveries("farm", [1, 8]), {"duck": 1})
    assert found.flows["crown"].gross.nonzero()[0].tolist() == [4]
    assert found.flows["duck"].gross.nonzero()[0].tolist() == [3]
    assert found.shortfalls == ()


def test_a_line_drawn_later_must_be_there_later():
    """The wine is only wanted a day after the start: it is the day after that must be its day."""
    home = houses.house(
        [ingredient("wine", keeps_days=0, offers=(houses.offer("v", "wine"),))],
        [recipe("braise", 1, [line("wine", 1, at_days=1)], takes_days=2, keeps_days=9)],
        [dish("stew", "braise")],
    )
    demand = houses.forecast(home, {"stew": [0.0] * 6 + [1.0]})
    problem = problem_of(home, Opening(), demand, {"wine": 2}, houses.deliveries("v", [2, 6]))
    assert np.flatnonzero(problem.windows["braise"].allowed).tolist() == [1, 5, 6]


def test_a_plate_is_made_for_its_service_and_moved_to_no_other_day():
    home = houses.house(
        [ingredient("fish", keeps_days=1, offers=(houses.offer("v", "fish"),))],
        [recipe("plate", 1, {"fish": 1})],
        [dish("fish-plate", "plate")],
    )
    demand = houses.forecast(home, {"fish-plate": [1.0] * 8})
    assert not problem_of(home, Opening(), demand, {"fish": 0}, houses.deliveries("v", [0, 5])).windows
    found = net_all(home, Opening(), demand, houses.deliveries("v", [0, 5]), {"fish": 0})
    assert found.flows["fish"].gross.tolist() == [1] * 8


def test_an_offer_counts_only_while_it_runs_and_a_day_let_to_a_party_is_open():
    offer = houses.offer("v", "fish", until=day(3))
    home = houses.house(
        [ingredient("fish", keeps_days=0, offers=(offer,)), ingredient("salt")],
        [
            recipe("smoked", 1, {"fish": 1}, takes_days=1, keeps_days=9),
            recipe("pickle", 1, {"salt": 1}, takes_days=1, keeps_days=9),
        ],
        [dish("plate", "smoked"), dish("side", "pickle")],
        services={"dinner": Service("dinner", frozenset({0, 1, 2, 4}))},
        parties=[Party("Wedding", day(5), "dinner", 40)],
    )
    demand = houses.forecast(home, {"plate": [1.0] * 8, "side": [1.0] * 8})
    windows = problem_of(
        home, Opening(), demand, {"fish": 0, "salt": 0}, houses.deliveries("v", [0, 3, 6])
    ).windows
    assert np.flatnonzero(windows["smoked"].allowed).tolist() == [0, 3]
    assert np.flatnonzero(windows["pickle"].preferred).tolist() == [0, 1, 2, 4, 5, 7]


def test_what_was_never_counted_may_be_there_until_it_can_be_bought_unless_some_is_on_its_way():
    home = houses.house(
        [ingredient("rib", keeps_days=1, offers=(houses.offer("farm", "rib"),))],
        [recipe("aged", 1, {"rib": 1}, takes_days=1, keeps_days=9)],
        [dish("steak", "aged")],
    )
    demand = houses.forecast(home, {"steak": [1.0] * 9})
    for coming, days in (
        ((), [0, 1, 2, 3, 4, 5, 8]),
        ((houses.coming("rib", 4.0, day(1)),), [1, 2, 4, 5, 8]),
    ):
        opening = Opening((), coming, unknown=frozenset({"rib"}))
        problem = problem_of(home, opening, demand, {"rib": 4}, houses.deliveries("farm", [4, 8]))
        assert np.flatnonzero(problem.windows["aged"].allowed).tolist() == days


def test_what_falls_out_of_other_recipes_or_was_never_counted_closes_no_window():
    home = houses.house(
        [ingredient("trim", keeps_days=0), ingredient("bird", keeps_days=0), ingredient("joint")],
        [
            recipe("roast", 1, {"joint": 2}, also_makes=(("trim", 0.5),)),
            recipe("pie", 1, {"trim": 1}, takes_days=1, keeps_days=9),
            recipe("ham", 1, {"bird": 1}, takes_days=1, keeps_days=9),
        ],
        [dish(f"d-{r}", r) for r in ("roast", "pie", "ham")],
    )
    demand = houses.forecast(home, {d: [1.0] * 8 for d in home.dishes})
    unknown = Opening(unknown=frozenset({"bird"}))
    assert problem_of(home, unknown, demand, {"joint": 0}, {}).windows == {}


@settings(max_examples=300)
@given(
    st.lists(st.integers(0, 30), min_size=4, max_size=10),
    st.integers(0, 2**10 - 1),
    st.integers(0, 2**10 - 1),
    st.sampled_from((None, 1, 2, 3)),
    st.sampled_from((None, 0, 1, 3)),
    st.booleans(),
    st.integers(0, 2),
)
def test_a_window_loses_nothing_and_is_kept_wherever_it_can_be(
    needs, can, opened, most, keeps, is_whole, takes
):
    """Whatever the window: what is made, replayed day by day, leaves what is said; without a limit all that
    can be made in time is met; and a batch is ready outside the window only where none within it would do."""
    net = np.array(needs, dtype=float)[:, None] / 2
    n_days = net.shape[0]
    last = np.arange(n_days) + (99 if keeps is None else keeps)
    allowed = np.array([can >> t & 1 for t in range(n_days)], dtype=bool)
    preferred = allowed & np.array([opened >> t & 1 for t in range(n_days)], dtype=bool)
    window = Window(allowed, preferred, np.zeros(n_days, dtype=np.int64))
    on, ready = window.ready_days(takes, last)
    terms = Making(4.0, is_whole, takes, last, most, on, ready)
    made, short = batches(net, terms)
    unmet, _ = rolled(made * 4.0, net, last)
    assert unmet == pytest.approx(short, abs=1e-6)
    assert not made[:takes].any()
    assert (on <= np.arange(n_days)).all()
    if most is not None:
        assert made.max() <= most + 1e-9
    else:
        assert not short[takes:].any()
    for t in np.flatnonzero(made[:, 0] > 1e-9):
        if not allowed[t - takes]:
            before = [s for s in range(takes, t) if allowed[s - takes] and last[s] >= t]
            assert not before


def test_chances_are_told_apart_for_three_weeks_and_then_the_next_one():
    home = houses.house(
        [ingredient("wine", offers=(houses.offer("v", "wine"),))],
        [recipe("glass", 1, {"wine": 1})],
        [dish("a-glass", "glass")],
    )
    deliveries = houses.deliveries("v", [1, 8, 15, 20, 21, 28, 35])
    demand = houses.forecast(home, {"a-glass": [1.0] * 40})
    assert comes_on(problem_of(home, Opening(), demand, {"wine": 1}), "wine", deliveries) == [
        1,
        8,
        15,
        20,
        21,
    ]
