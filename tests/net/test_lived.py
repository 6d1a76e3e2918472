"""What a plan claims is what a kitchen finds that lives it, one path, day by day: see `lived.py`."""

from collections import defaultdict
from dataclasses import replace
from datetime import timedelta

import houses
import numpy as np
import pytest
import strategies
from hypothesis import given, settings
from hypothesis import strategies as st
from net.lived import by_date, keeps_mark, kitchen, last_day, planned_last

from ordering.explode.graph import folded, recipe_graph
from ordering.net.netting import net_all
from ordering.net.planned_starts import printed_last
from ordering.net.problem import problem_of
from ordering.net.safety_stock import worth
from ordering.net.shelf_life import dated_parts
from ordering.net.sweep import flows_of, sweep
from ordering.records.house import Closure
from ordering.records.plan import Opening

law = settings(strategies.LAW, max_examples=80)
SHUT = st.sets(st.integers(0, 11), max_size=4)


def deliveries(case):
    first = min(case.arrival.values())
    return houses.deliveries("v", range(first, len(case.forecast.days), 3))


def shut_on(case, days):
    dates = [houses.MONDAY + timedelta(days=d) for d in sorted(days)]
    return replace(case, house=replace(case.house, closures=tuple(Closure(d, d) for d in dates)))


def undated(case):
    """The case without date marks: everything is good as long as it is said to keep."""
    return marked(case, "")


def marked(case, item):
    """The case in which one item alone carries a date mark."""

    def hazards(i):
        return ("date-mark",) if i == item else ()

    made = {i: replace(r, hazards=hazards(i)) for i, r in case.house.recipes.items()}
    bought = {i: replace(g, hazards=hazards(i)) for i, g in case.house.ingredients.items()}
    return replace(case, house=replace(case.house, recipes=made, ingredients=bought))


def started(case, flows):
    """By recipe, batches by start day, from what is ready each day."""
    starts = {}
    for item, recipe in folded(case.house).recipes.items():
        ready = flows[item].planned / recipe.makes
        starts[item] = np.concatenate((ready[recipe.takes_days :], np.zeros(recipe.takes_days)))
    return starts


def served(case, flows):
    """By dish, portions by day, from what dishes draw."""
    nothing = np.zeros(len(case.forecast.days))
    return {
        d.id: flows[d.recipe].by_parent.get(f"dish:{d.id}", nothing) / d.portion
        for d in case.house.dishes.values()
    }


@law
@given(strategies.cases(n_paths=1), SHUT)
def test_a_kitchen_that_lives_the_plan_finds_what_the_plan_says(case, shut):
    """Draws, what is short, what is thrown away and what is left, of every item on every day; and what is
    begun and bought can be: whole where it is whole, within the day's limit, no purchase before one can be
    there.

    Who takes the oldest of everything first, planned or not, is short of no more and throws no more away. (A
    batch begun sooner is drawn before the rest of others: there the plan is the more careful of the two.)
    """
    case = shut_on(undated(case), shut)
    found = net_all(case.house, case.opening, case.forecast, deliveries(case), case.arrival)
    flows = found.flows
    bought = {i: flows[i].planned for i in case.house.ingredients}
    starts = started(case, flows)
    lived = kitchen(case, starts, bought, served(case, flows))
    sooner = {s.recipe for s in found.starts if s.note.startswith("early")}
    for item, flow in flows.items():
        assert lived.drawn(item) == pytest.approx(flow.gross, abs=1e-6)
        if item not in sooner:
            seen = lived.live(item, planned_last)
            assert seen.short == pytest.approx(flow.short, abs=1e-6)
            assert seen.thrown == pytest.approx(flow.expired, abs=1e-6)
            assert seen.left == pytest.approx(flow.projected, abs=1e-6)
        strict = lived.live(item, by_date)
        assert (np.cumsum(strict.short) <= np.cumsum(flow.short) + 1e-6).all()
        assert (np.cumsum(strict.thrown) <= np.cumsum(flow.expired) + 1e-6).all()
    for item, recipe in folded(case.house).recipes.items():
        if recipe.is_whole:
            assert starts[item] == pytest.approx(np.round(starts[item]), abs=1e-6)
        if recipe.largest is not None:
            assert starts[item].max() * recipe.makes <= max(recipe.largest, recipe.makes) + 1e-6
    for item, need in found.requirements.items():
        assert not bought[item][: case.arrival[item]].any()
        assert (need.required <= np.cumsum(bought[item]) + 1e-6).all()  # of a pack mostly left over, none
    for start in found.starts:
        day = (start.start_on - houses.MONDAY).days
        if start.ready_on <= case.forecast.days[-1]:
            assert start.batches == pytest.approx(starts[start.recipe][day], abs=1e-6)


@law
@given(strategies.cases(n_paths=1), SHUT)
def test_what_dishes_go_without_is_said_and_no_more_than_they_ask(case, shut):
    """Of what nothing else draws, every portion it is short of but for half a portion a day is said, of that
    thing or of what is missing in it; and of no shortage more portions than are asked."""
    case = shut_on(case, shut)
    found = net_all(case.house, case.opening, case.forecast, deliveries(case), case.arrival)
    asked = dict(zip(case.forecast.dishes, case.forecast.portions[:, :, 0], strict=True))
    said = defaultdict(float)
    for one in found.shortfalls:
        for (dish, on, _), portions in one.portions.items():
            assert portions <= asked[dish][(on - case.forecast.days[0]).days] + 1e-6
            said[dish] += portions
    graph = recipe_graph(folded(case.house))
    for dish in case.house.dishes.values():
        if graph.uses.get(dish.recipe) or len(graph.dishes[dish.recipe]) > 1:
            continue
        lost = found.flows[dish.recipe].short / dish.portion
        assert said[dish.id] >= (lost - 0.5 * len(found.flows)).clip(min=0.0).sum() - 1e-6


@law
@given(strategies.cases(n_paths=1), st.booleans())
def test_no_batch_is_planned_to_outlive_the_oldest_marked_part_it_is_made_of(case, are_made_for_them):
    """Food Code 3-501.17(C); of what this run decides: later the usual age of parts is planned with."""
    problem, found = planned_with(case, are_made_for_them)
    starts = {i: a[:, 0] for i, a in found.starts.items()}
    sold = {d: problem.portions_by_day(d)[:, 0] for d in case.house.dishes}
    flows = flows_of(problem, found, worth(problem), deliveries(case)).flows
    bought = {i: flows[i].planned for i in case.house.ingredients}
    lived = kitchen(case, starts, bought, sold, {i: one.terms.last for i, one in found.made.items()})
    for item, recipe in problem.house.recipes.items():
        if recipe.is_whole:
            assert starts[item] == pytest.approx(np.round(starts[item]), abs=1e-6)
        if recipe.largest is not None:
            assert starts[item].max() * recipe.makes <= max(recipe.largest, recipe.makes) + 1e-6
        for day in np.flatnonzero(starts[item][: problem.n_days - recipe.takes_days]).tolist():
            if day >= problem.decided_days:
                break
            ready = day + recipe.takes_days
            dates = [last_day(problem.house, item, ready)]
            for line in recipe.lines:
                if line.item in dated_parts(problem.house, item):
                    on = day + line.at_days
                    dates.append(
                        dates_drawn(lived.live(line.item, by_date), problem.house, item, line.item)[on]
                    )
            assert found.made[item].terms.last[ready] <= max(ready, min(dates))


@law
@given(strategies.cases(n_paths=5), st.booleans())
def test_no_date_is_written_that_outlives_the_oldest_marked_part_there_is_on_any_path(
    case, are_made_for_them
):
    """Also where the margin of a part made today is left over and goes into a batch begun tomorrow. On every
    path, whatever is sold on it; of bought goods, that are fresh each day, only older lots can be older."""
    problem, found = planned_with(case, are_made_for_them)
    last = printed_last(problem, found)
    for item, days in last.items():
        assert (days <= found.made[item].terms.last).all()
    for path in range(problem.n_paths):
        starts = {i: a[:, path] for i, a in found.starts.items()}
        sold = {d: problem.portions_by_day(d)[:, path] for d in case.house.dishes}
        lived = kitchen(on_path(case, path), starts, {}, sold, last)
        for item in case.house.ingredients:
            for day, quantity in enumerate(lived.live(item, planned_last).short):
                lived.add(item, day, last_day(case.house, item, day), quantity, is_planned=True)
        drawn = {i: lived.live(i, by_date) for i in marked_parts(problem.house)}
        for item, recipe in problem.house.recipes.items():
            until = min(problem.decided_days + 7, problem.n_days - recipe.takes_days)
            for day in np.flatnonzero(starts[item][:until] > 1e-9).tolist():
                ready = day + recipe.takes_days
                parts = [x for x in recipe.lines if x.item in dated_parts(problem.house, item)]
                dates = [
                    dates_drawn(drawn[x.item], problem.house, item, x.item)[day + x.at_days] for x in parts
                ]
                assert last[item][ready] <= max(ready, min(dates, default=ready + 999))


def test_what_the_margin_leaves_of_a_part_tells_the_date_of_the_next_batch():
    """Stock for tomorrow's bowls is made with a margin, and where few come some is left for the sauce begun
    the day after. Stock keeps four days: that of Tuesday is good to Saturday, and so is Thursday's sauce,
    though every path that knows its bowls begins the sauce with stock of Wednesday, good to Sunday."""
    home = houses.house(
        [houses.ingredient("bones")],
        [
            houses.recipe("stock", 1, {"bones": 1}, takes_days=1, keeps_days=4, hazards=("date-mark",)),
            houses.recipe("sauce", 1, {"stock": 1}, takes_days=1, keeps_days=6, hazards=("date-mark",)),
        ],
        [houses.dish("bowl", "stock"), houses.dish("plate", "sauce")],
    )
    bowls = np.zeros((8, 40))
    bowls[1] = np.arange(40) % 11
    plates = np.zeros((8, 40))
    plates[3] = 12.0
    sold = houses.forecast(home, {"bowl": bowls, "plate": plates})
    found = net_all(home, Opening(), sold, {}, {"bones": 0})
    dates = {(s.recipe, s.ready_on): s.use_by for s in found.starts}
    assert dates["stock", houses.day(2)] == houses.day(6)
    assert dates["sauce", houses.day(3)] == houses.day(5)


def planned_with(case, are_made_for_them):
    """The problem of a case, and its sweep; with all parts that can be made for marked recipes, or none."""
    problem = problem_of(case.house, case.opening, case.forecast, case.arrival, deliveries(case))
    if are_made_for_them:
        dated = (problem.house.recipes[i] for i in problem.dated if i in problem.house.recipes)
        together = frozenset(
            r.id for r in dated if r.room is None and not r.par and not 0 < (r.largest or 0) < 2 * r.makes
        )
        problem = replace(problem, together=together)
    return problem, sweep(problem, worth(problem).stakes)


def dates_drawn(lived, house, recipe, part):
    """The earliest date that a recipe drew of a part each day."""
    return lived.marked if keeps_mark(house, recipe, part) else lived.oldest


def marked_parts(house):
    return {part for recipe in house.recipes for part in dated_parts(house, recipe)}


def on_path(case, path):
    """The case on one of its paths."""
    forecast = case.forecast
    return replace(
        case,
        forecast=replace(
            forecast,
            portions=forecast.portions[:, :, path : path + 1],
            covers=forecast.covers[:, path : path + 1],
        ),
    )
