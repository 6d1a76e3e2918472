"""What date-marked recipes are made of: the freshest of their marked parts, where it pays made for them.

What carries a date mark goes off with the oldest marked part in it. So what is made in batches that are kept
takes the freshest of those parts, where all others take the oldest: what is left of a large batch of stock
does not end a sauce on its first day. Where a batch made ahead loses more by an old part than a fresh batch
of the part leaves over, the part is made for it: what is drawn is made to be ready that day, and what whole
batches leave of it is there for the others.

What this run decides keeps the earliest date that may be drawn for it on any path. What later runs decide is
planned with parts as old as they usually are: on some path there is an old part on every day.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

import numpy as np

from ordering.amounts import EPS
from ordering.explode.drawn import drawn_through, in_portions
from ordering.explode.horizon import FAR_DAYS
from ordering.net.batches import Making, gather
from ordering.net.problem import Problem, draws_begun, fresh_last
from ordering.net.shelf_life import Days, Flags, Parcel, drawn_from, in_turn, is_marked, median
from ordering.net.start_days import later
from ordering.records.house import Recipe
from ordering.records.plan import Array


def marked_draws(problem: Problem, starts: Mapping[str, Array], item: str) -> Array:
    """What recipes that take the freshest of an item draw of it, [day, path]."""
    drawn = np.zeros((problem.n_days, problem.n_paths))
    for use in problem.graph.uses.get(item, ()):
        if problem.dated.get(item, {}).get(use.recipe):
            if use.recipe in starts:
                drawn[use.at_days :] += starts[use.recipe][: problem.n_days - use.at_days] * use.quantity
            if use.recipe in problem.begun:
                drawn += draws_begun(problem, use)[:, None]
    return drawn


@dataclass(frozen=True, slots=True)
class ForMarked:
    """What is made of a part for marked recipes.

    batches : by ready day; served : what they give those recipes, by day drawn, in the part's unit; both
    [day, path]; rests : what whole batches leave to others
    """

    batches: Array
    served: Array
    rests: tuple[Parcel, ...]


def for_marked(problem: Problem, item: str, drawn: Array, terms: Making) -> ForMarked:
    """A part made to be ready on the days on which marked recipes draw it, or on the last that can be before.

    What is begun by this run is the same on every path: as much as is likelier to be wanted than not. Half of
    what a day allows is for the others.

    drawn : [day, path], in the part's unit
    """
    on = np.arange(problem.n_days) if terms.on is None else terms.on
    asked, first = np.where(can_be_fresh(problem, item, terms)[:, None], drawn, 0.0), terms.first_ready
    wanted = gather(asked, terms.on).copy()
    for day in range(first, min(problem.decided_days + first, problem.n_days)):
        wanted[day] = median(wanted[day])
    batches = terms.made_up(wanted / terms.makes)
    if terms.most is not None:
        np.minimum(batches, problem.house.recipes[item].at_most(terms.most / 2), out=batches)
    left, served = batches * terms.makes, np.zeros_like(asked)
    for day in np.flatnonzero(asked.any(axis=1)).tolist():
        served[day] = asked[day] - drawn_from([left[on[day]]], asked[day])
    days = np.flatnonzero(left.max(axis=1, initial=0.0) > EPS).tolist()
    return ForMarked(batches, served, tuple(Parcel(t, int(terms.last[t]), left[t], "rest") for t in days))


def can_be_fresh(problem: Problem, item: str, terms: Making) -> Flags:
    """Days on which a part can be drawn that is made for marked recipes, [day].

    Not before one can be ready, where its own parts cannot be there, or are known to be short.
    """
    can = np.arange(problem.n_days) >= terms.first_ready
    if terms.can is not None:
        can &= terms.can
    if item in problem.limits:
        can &= later(np.isinf(problem.limits[item]), terms.first_ready)
    return np.asarray(can if terms.on is None else can[terms.on])


def comes_back(problem: Problem, item: str) -> bool:
    """Whether what was drawn of a marked item comes back, as old as it was."""
    parcels, falls = problem.parcels.get(item, ()), problem.graph.falls.get(item, ())
    comes = any(one.drawn is not None for one in parcels) or any(one.drawn_after is not None for one in falls)
    return comes and is_marked(problem.house, item)


def oldest_drawn(
    problem: Problem,
    starts: Mapping[str, Array],
    item: str,
    terms: Making | None,
    lots: Iterable[Parcel],
    gross: Array,
    until: int,
) -> Days:
    """Earliest last day index among what is drawn of an item on each day, [2, day].

    First of all that is drawn, then of what is taken of the freshest. The earliest on any path for what
    begins before day index `until`, and always where it comes back; later it is fresh where it is made for
    them, else as old as it usually is. Fresh where nothing is drawn.

    starts : by recipe, batches, [day, path]; terms : how it may be made; None: it is bought; lots : what
    there is and will be of it; gross : [day, path]
    """
    n_days = problem.n_days
    takers, fresh, usual = problem.dated.get(item, {}), fresh_last(problem, item), problem.age.get(item, 0)
    until += max((use.at_days for use in problem.graph.uses[item] if use.recipe in takers), default=0)
    is_old = np.arange(n_days) >= until
    if terms is not None:
        np.minimum(fresh, terms.last, out=fresh)
        if terms.on is not None:  # made ahead, it is as old as its batch
            fresh = fresh[terms.on]
        if item in problem.together:
            is_old &= ~can_be_fresh(problem, item, terms)
    fresh[is_old] -= usual
    oldest, known = np.stack([fresh, fresh]), slice(n_days if comes_back(problem, item) else until)
    marked = marked_draws(problem, starts, item)
    found_drawn = _earliest_last(lots, marked[known], (gross - marked)[known])
    np.minimum(oldest[:, known], found_drawn, out=oldest[:, known])
    return oldest


def _earliest_last(lots: Iterable[Parcel], marked: Array, others: Array) -> Days:
    """The earliest last day index of all that is drawn, and of what is taken of the freshest, [2, day].

    On any path. What takes the freshest is begun in the morning; then the others take what goes off first.

    marked, others : what is drawn, [day, path]
    """
    turn = [one for one in in_turn(lots) if one.first < len(marked)]
    left = [one.quantity + np.zeros(marked.shape[1]) for one in turn]
    earliest = np.full((2, len(marked)), FAR_DAYS)
    for day, needs in enumerate(zip(others, marked, strict=True)):
        there = [n for n, one in enumerate(turn) if one.first <= day <= one.last]
        for row, in_order in ((1, there[::-1]), (0, there)):
            need = needs[row]
            for n in in_order:
                if need.max() <= EPS:
                    break
                missing = drawn_from([left[n]], need)
                if (need - missing).max() > EPS:
                    earliest[: row + 1, day] = np.minimum(earliest[: row + 1, day], turn[n].last)
                need = missing
    return earliest


def with_ages(problem: Problem, cost: Mapping[str, float]) -> Problem:
    """The problem with how old dated parts usually are when drawn, and which are made for marked recipes.

    cost : by item, money a unit; of what has none, nothing is said
    """
    use = _use(problem) if problem.dated else {}
    made = [item for item in problem.dated if item in problem.house.recipes and use.get(item)]
    age = {item: _age(problem, item, use[item]) for item in made}
    together = frozenset(i for i in made if i in cost and _pays(problem, cost, i, age[i], use))
    return replace(problem, together=together, age={item: int(days) for item, days in age.items()})


def _age(problem: Problem, item: str, use: float) -> float:
    """Days since a part was made when it is drawn, on average: half of those for which a batch lasts."""
    return min(problem.offsets[item] or 0, _piece(problem.house.recipes[item]) / use) / 2


def _use(problem: Problem) -> dict[str, float]:
    """By item, what is drawn of it on the mean day, in its unit, straight through the recipes."""
    dishes = {dish: float(problem.portions(dish).mean(axis=1).sum()) for dish in problem.house.dishes}
    wanted = in_portions(problem.house, dishes)
    for item, drawn in problem.consumables.items():
        wanted[item] = wanted.get(item, 0.0) + float(drawn.mean(axis=1).sum())
    recipes = [problem.house.recipes[i] for i in problem.graph.items if i in problem.house.recipes]
    return {i: quantity / problem.n_days for i, quantity in drawn_through(recipes, wanted).items()}


def _piece(recipe: Recipe) -> float:
    """The least that is made at once of a recipe, in its unit."""
    return max(recipe.makes * recipe.step if recipe.is_whole else 0.0, recipe.smallest or 0.0)


def _pays(
    problem: Problem, cost: Mapping[str, float], item: str, age: float, use: Mapping[str, float]
) -> bool:
    """Whether a part made fresh for marked recipes saves more money a day of them than it leaves over.

    age : of the part in days when it is drawn without; use : by item, on the mean day
    """
    part, days = problem.house.recipes[item], 1 + (problem.offsets[item] or 0)
    if part.room is not None or part.par:
        return False
    saved = made = at_once = 0.0  # money a day; a day, and where all of these recipes are begun on one day
    for one in problem.graph.uses.get(item, ()):
        recipe, wanted = problem.house.recipes[one.recipe], use.get(one.recipe, 0.0)
        batch = _piece(recipe)
        if problem.dated[item].get(one.recipe) and batch and wanted and one.recipe in cost:
            lasts = 1 + min(problem.offsets[recipe.id] or 0, days - 1 - recipe.takes_days + one.at_days)
            eaten, of_old = (min(batch, wanted * max(1.0, lasts - by)) for by in (0.0, age))
            saved += cost[recipe.id] * batch * (wanted / of_old - wanted / eaten)
            drawn = one.quantity * batch / recipe.makes
            for_it = max(part.enough(drawn / part.makes) * part.makes, _piece(part))
            made, at_once = made + for_it * wanted / eaten, at_once + for_it
    if part.most_batches is not None and at_once > part.at_most(part.most_batches / 2) * part.makes + EPS:
        return False  # half of what a day allows is for the others
    return saved > cost[item] * max(0.0, made - use[item])
