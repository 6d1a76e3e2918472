"""The par of what is made: batches that bring it back to the amount that is always to lie ready.

From the first day on which a batch can be ready, what lies ready and in date at the end of each day, after
its draws, is not below the par on any path, if a start can make it so: whole batches, `largest`, keeping time
and the days on which a recipe can be started all hold, and no house that is closed is opened for it. It is
drawn like anything else, the oldest first, and what goes past its date is made anew. Guests come before a
par: short is what they do not get, and no portion is given up to keep one. A decided start holds the par as
surely as it holds the dishes, at the service level.

A par waits for what goes into it: on days for which something below would lack by it that guests alone do
not lack, because more cannot be had yet or no more can be made in a day, it is not kept. Where it could not
be kept at all, that is said.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ordering.amounts import shown
from ordering.net.problem import Problem
from ordering.net.starts import Making, batches, drawn_from, whole
from ordering.net.stock import DUST, Drawn, Flags
from ordering.net.windows import later
from ordering.records.plan import Array

EXPECTED = 0.5  # share of the paths
Cohorts = list[tuple[int, Array]]  # last day index and what is left, [path], first to expire first


def planned(drawn: Drawn, terms: Making) -> tuple[Array, Array]:
    """Batches by ready day for what parcels do not meet and for the par, and what is left unmet."""
    if not terms.par:
        return batches(drawn.unmet, terms)
    gap = np.maximum(terms.par - drawn.lying(), 0.0)
    gap[: terms.first_ready] = 0.0
    if terms.par_off is not None:
        gap[terms.par_off] = 0.0
    return kept_up(drawn.unmet, gap, terms)


def kept_up(net: Array, gap: Array, terms: Making) -> tuple[Array, Array]:
    """Batches by ready day, and what of the net requirement they leave unmet. Both [day, path].

    Each day makes the least that, with all that later days can make, leaves nothing short for as long as what
    is made keeps.

    net : [day, path]; gap : [day, path], what is to be left of these batches at the end of each day
    """
    made, short = np.zeros_like(net), np.zeros_like(net)
    room, cohorts = terms.room(), Cohorts()
    for t in range(net.shape[0]):
        cohorts = [(last, left) for last, left in cohorts if last >= t and left.max() > DUST]
        if t >= terms.first_ready and room[t] > 0:
            wanted = _wanted(net, gap, terms, cohorts, t) / terms.makes
            made[t] = np.minimum(whole(wanted) if terms.is_whole else wanted, room[t])
            cohorts = sorted([*cohorts, (int(terms.last[t]), made[t] * terms.makes)], key=lambda c: c[0])
        need = drawn_from(cohorts, net[t].copy())
        short[t] = np.where(need > DUST, need, 0.0)
    return made, short


def _wanted(net: Array, gap: Array, terms: Making, cohorts: Cohorts, today: int) -> Array:
    """The least to make on a day, [path]: what later days cannot make of what will then be short."""
    room = terms.room() * terms.makes
    is_for_par = terms.can is None or bool(terms.can[today])
    left = [(last, quantity.copy()) for last, quantity in cohorts]
    owed, wanted, later = np.zeros(net.shape[1]), np.zeros(net.shape[1]), 0.0
    for t in range(today, min(int(terms.last[today]) + 1, net.shape[0])):
        left = [(last, quantity) for last, quantity in left if last >= t]
        later += room[t] if t > today else 0.0
        if later == np.inf:
            break
        owed += drawn_from(left, net[t].copy())
        asked = owed
        if is_for_par:
            asked = owed + np.maximum(gap[t] - sum(quantity for _, quantity in left), 0.0)
        np.maximum(wanted, asked - later, out=wanted)
    return wanted


def lacking_more(
    problem: Problem, lacks: Mapping[str, Array], without: Mapping[str, Array]
) -> dict[str, Flags]:
    """By item, [day] whether more lacks than without any par: before any can be had on any path, later, for
    want of room, on more than half of the paths."""
    found: dict[str, Flags] = {}
    for item, lack in lacks.items():
        share = (lack - without.get(item, 0.0) > DUST).mean(axis=1)
        days: Flags = share > np.where(np.arange(problem.n_days) < had_from(problem, item), 0.0, EXPECTED)
        if days.any():
            found[item] = days
    return found


def had_from(problem: Problem, item: str) -> int:
    """The first day index on which more of an item than there is can be had."""
    recipe = problem.house.recipes.get(item)
    return problem.arrival.get(item, problem.n_days) if recipe is None else recipe.takes_days


def waits(problem: Problem, lacking: Mapping[str, Flags]) -> dict[str, Flags]:
    """By recipe with a par, evenings on which it cannot be kept, [day], as things below lack for it."""
    off: dict[str, Flags] = {}
    for item in reversed(problem.graph.items):
        days = np.zeros(problem.n_days, dtype=np.bool_)
        recipe = problem.house.recipes.get(item)
        if item in lacking:
            days |= lacking[item]
            days[: had_from(problem, item)] = True
        if recipe is not None:
            for line in recipe.lines:
                if line.drawn > 0 and line.item in off:
                    days |= later(off[line.item], recipe.takes_days - line.at_days)
        if days.any():
            off[item] = days
    return {r: off[r] | problem.par_off.get(r, False) for r in pars(problem) if r in off}


def pars(problem: Problem) -> set[str]:
    """Recipes with a par."""
    return {r for r, one in problem.house.recipes.items() if one.par}


def par_warnings(problem: Problem) -> tuple[str, ...]:
    """Pars that are not kept on any day, one sentence each, by recipe."""
    never = [
        r for r in sorted(problem.par_off) if problem.par_off[r][problem.house.recipes[r].takes_days :].all()
    ]
    return tuple(
        f"{one.name}: its par of {shown(one.par or 0.0, one.unit)} is not kept, because what goes into it "
        "would run short; only what guests will need is started"
        for one in (problem.house.recipes[r] for r in never)
    )
