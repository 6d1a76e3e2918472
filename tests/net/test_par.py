"""The par of a made item, kept by starts on every path from the first day a batch can be ready."""

from dataclasses import replace

import grids
import houses
import numpy as np
import pytest
import strategies
from houses import day, dish, ingredient, recipe
from hypothesis import given, settings
from hypothesis import strategies as st

from ordering.net.batches import Making, batches, rolled
from ordering.net.netting import net_all
from ordering.net.problem import gross_of, parcels_of, problem_of
from ordering.net.recipe_plan import for_par
from ordering.net.safety_stock import worth
from ordering.net.shelf_life import Parcel, draw
from ordering.net.start_days import later
from ordering.net.sweep import sweep
from ordering.records.books import Lot
from ordering.records.plan import Opening

law = settings(strategies.LAW, max_examples=100)


def test_what_nobody_draws_is_brought_back_to_its_par_once():
    grids.check("""
        on hand 2, par 5, lead time 1 day, keeps 60 days
        day                   1    2    3    4
        gross_requirement     0    0    0    0
        planned_order         3    0    0    0
        planned_receipt       0    3    0    0
        projected_on_hand     2    5    5    5
    """)


def test_what_is_drawn_is_made_up_for_the_same_evening():
    grids.check("""
        on hand 5, par 5, lead time 1 day
        day                   1    2    3    4
        gross_requirement     1    3    0    2
        planned_order         4    0    2    0
        planned_receipt       0    4    0    2
        projected_on_hand     4    5    5    5
    """)


def test_whole_batches_bring_back_to_at_least_the_par():
    grids.check("""
        on hand 0, par 5, packs of 4
        day                   1    2    3    4    5
        gross_requirement     1    1    1    1    3
        planned_receipt       8    0    0    4    0
        projected_on_hand     7    6    5    8    5
    """)


def test_what_is_over_a_day_s_limit_comes_as_soon_as_it_can():
    grids.check("""
        on hand 0, par 5, largest 2
        day                   1    2    3    4    5
        gross_requirement     0    1    1    0    0
        planned_receipt       2    2    2    1    0
        projected_on_hand     2    3    4    5    5
    """)


def test_what_goes_off_is_made_anew_and_the_oldest_is_drawn_first():
    """Five ready on day 1 keep two days: one is drawn a day, what is left on day 4 is thrown away."""
    grids.check("""
        on hand 0, par 5, keeps 2 days
        day                   1    2    3    4
        gross_requirement     0    1    1    1
        planned_receipt       5    1    1    4
        expired               0    0    0    3
        projected_on_hand     5    5    5    5
    """)


def test_a_par_is_kept_over_days_on_which_nobody_is_there():
    """Closed on days 3 and 4, and the first five are past after day 3: day 2 makes five for day 4."""
    grids.check("""
        on hand 0, par 5, keeps 2 days, closed 3 4
        day                   1    2    3    4    5    6
        gross_requirement     0    1    0    0    1    0
        planned_receipt       5    5    0    0    6    0
        expired               0    0    0    4    5    0
        projected_on_hand     5    9    9    5    5    5
    """)


def jam(par=5.0, lots=(), sold=(0.0,) * 6, arrival=0, **rest):
    home = houses.house(
        [ingredient("fruit", offers=(houses.offer("v", "fruit"),))],
        [recipe("jam", 1, {"fruit": 1.5}, par=par, **({"takes_days": 1} | rest))],
        [dish("tart", "jam")],
        [houses.vendor("v")],
    )
    return home, net_all(home, Opening(lots), houses.forecast(home, {"tart": sold}), {}, {"fruit": arrival})


def test_what_guests_went_without_is_not_made_for_the_par_later():
    """No fruit until day 2: ten of jam are missed by then, and the par of five is brought back once."""
    _, found = jam(lots=(Lot("jam", 2.0),), sold=[4.0] * 5, arrival=2)
    assert found.flows["jam"].planned.tolist() == [0, 0, 0, 9, 4]
    assert found.flows["jam"].projected.tolist() == [0, 0, 0, 5, 5]


def test_a_par_counted_at_nothing_is_started_and_its_material_bought():
    _, found = jam()
    assert [(s.start_on, s.quantity) for s in found.starts] == [(day(0), 5)]
    assert found.requirements["fruit"].required.tolist() == [7.5] * 6
    assert found.shortfalls == ()


def test_a_par_made_the_same_day_is_listed():
    _, found = jam(takes_days=0)
    assert [(s.start_on, s.quantity) for s in found.starts] == [(day(0), 5)]


def test_a_par_waits_for_its_material_and_the_material_is_bought():
    """A little fruit is there, the rest comes on day 3: nothing is begun that cannot be made in full."""
    _, found = jam(lots=(Lot("fruit", 1.0),), arrival=3)
    assert [(s.start_on, s.quantity) for s in found.starts] == [(day(3), 5)]
    assert found.requirements["fruit"].required[-1] == pytest.approx(6.5)
    assert not found.flows["fruit"].short.any()


def test_no_portion_is_given_up_to_keep_a_par():
    """Two jars for two guests, and none can be made before the week is over."""
    _, found = jam(lots=(Lot("jam", 2.0),), sold=(1.0, 1.0, 0.0, 0.0, 0.0, 0.0), arrival=9)
    assert found.shortfalls == ()
    assert found.flows["jam"].gross.sum() == 2
    assert not found.starts


def glaze(sold, largest):
    """A kettle of stock a day for soup, and for a glaze of which three kilos are to lie ready."""
    home = houses.house(
        [ingredient("bones")],
        [
            recipe("stock", 1, {"bones": 1.0}, largest=largest, keeps_days=0),
            recipe("glaze", 1, {"stock": 2.0}, par=3.0, keeps_days=20),
            recipe("soup", 1, {"stock": 1.0}),
        ],
        [dish("bowl", "soup")],
        [houses.vendor("v")],
    )
    return net_all(home, Opening(), houses.forecast(home, {"bowl": sold}), {}, {"bones": 0})


def test_a_par_waits_for_a_day_on_which_its_parts_can_be_made():
    found = glaze([6.0, 2.0, 2.0, 2.0], largest=8.0)
    assert found.flows["glaze"].planned.tolist() == [0, 3, 0, 0]
    assert found.flows["stock"].planned.tolist() == [6, 8, 2, 2]
    assert found.warnings == ()


def test_a_par_whose_parts_guests_want_every_day_is_not_begun_and_that_is_said():
    found = glaze([2.0] * 4, largest=2.0)
    assert not found.flows["glaze"].planned.any()
    assert not found.flows["stock"].short.any()
    assert found.flows["soup"].planned.tolist() == [2, 2, 2, 2]
    assert found.warnings == (
        "Glaze: its par of 3 kg is not kept, because what goes into it would run short; only what guests "
        "will need is started",
    )


@law
@given(
    st.lists(st.integers(0, 12), min_size=4, max_size=9),
    st.lists(st.tuples(st.integers(0, 5), st.integers(0, 6), st.integers(1, 20)), max_size=3),
    st.sampled_from((None, 0, 1, 2, 4)),
    st.sampled_from((None, 1, 2)),
    st.booleans(),
    st.sets(st.integers(0, 8)),
    st.integers(0, 2),
)
def test_below_par_only_where_no_start_could_make_it_so(needs, stock, keeps, most, is_whole, shut, first):
    """Whatever the limits: an evening is below the par only where every day from which a batch would still be
    good has started all it can; and what is made, replayed day by day, leaves unmet what is said."""
    gross = np.array(needs, dtype=float)[:, None] / 2
    n_days = gross.shape[0]
    ready = np.arange(n_days)
    last = ready + (99 if keeps is None else keeps)
    can = np.isin(ready, sorted(shut), invert=True)
    before = np.maximum.accumulate(np.where(can & (ready >= first), ready, -1))
    on = np.maximum.accumulate(np.where((before >= 0) & (last[before] >= ready), before, ready))
    terms = Making(2.0, is_whole, first, last, most, on, can, par=3.0)
    drawn = draw([Parcel(a, a + k, q / 4) for a, k, q in stock], gross)
    made, short = batches(drawn.unmet, terms, for_par(drawn, terms))
    unmet, _ = rolled(made * 2.0, drawn.unmet, last)
    assert unmet == pytest.approx(short, abs=1e-6)
    assert (made[:, 0] <= terms.room() + 1e-9).all()
    assert not made[:first].any()
    lying = drawn.lying()[:, 0] + _left_ready(made[:, 0] * 2.0, drawn.unmet[:, 0] - unmet[:, 0], last)
    for t in range(first, n_days):
        assert lying[t] >= -1e-9
        if lying[t] < 3.0 - 1e-6:
            for s in range(first, t + 1):
                if last[s] >= t and can[s]:
                    assert made[s, 0] == pytest.approx(terms.room()[s])


def _left_ready(made, used, last):
    """What of the batches is left in date each evening, drawn first in first out, batch by batch."""
    left, out = made.copy(), np.zeros(made.size)
    for t in range(made.size):
        need = used[t]
        for s in range(t + 1):
            given = min(left[s], need) if last[s] >= t else 0.0
            left[s] -= given
            need -= given
        out[t] = sum(left[s] for s in range(t + 1) if last[s] >= t)
    return out


@law
@given(strategies.cases(is_late=False, n_paths=1), st.integers(1, 12))
def test_on_every_path_what_lies_ready_is_not_below_the_par(case, par):
    """In any house that is open every day and has room and material: every par, every evening, every path."""
    home = case.house
    made = {i: replace(r, par=par / 2, largest=None, room=None, hazards=()) for i, r in home.recipes.items()}
    home = replace(home, recipes=made)
    problem = problem_of(home, case.opening, case.forecast, case.arrival, {})
    found = sweep(problem, worth(problem).stakes)
    for item, one in home.recipes.items():
        if item in problem.windows:  # on some days its material is not there
            continue
        gross = gross_of(problem, found.starts, item)
        drawn = draw(parcels_of(problem, found.starts, item), gross)
        started = found.starts.get(item, np.zeros_like(gross))
        ready = later(started, one.takes_days) * one.makes
        last = np.arange(problem.n_days) + (99 if problem.offsets[item] is None else problem.offsets[item])
        unmet, _ = rolled(ready, drawn.unmet, last)
        for path in range(problem.n_paths):
            used = drawn.unmet[:, path] - unmet[:, path]
            lying = drawn.lying()[:, path] + _left_ready(ready[:, path], used, last)
            assert (lying[one.takes_days :] >= par / 2 - 1e-6).all()


def test_nothing_is_kept_before_it_can_be():
    lying = np.array([[0.0], [4.0], [4.0]])
    made, short = batches(np.zeros((3, 1)), Making(4.0, True, 1, np.arange(3) + 9, par=4.0), lying)
    assert made[:, 0].tolist() == [0, 1, 0]
    assert not short.any()
