"""Gross to net, top to bottom: what to start, what must be bought, what nothing can meet.

What is started and bought is decided for the guests who will come. A sweep down the recipe graph decides it;
what then cannot be had in time is carried up again to those who go without it, and is said. Only a batch
whose own parts cannot be there is not begun. Then lots about to go may move a start, and what must
be bought is worked out.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import replace
from functools import partial

import numpy as np

from ordering.amounts import EPS, shown
from ordering.net.allocation import Cutback, cutback_of
from ordering.net.date_marks import with_ages
from ordering.net.early_starts import Planned, all_above, early_starts
from ordering.net.planned_starts import listed_starts, printed_last
from ordering.net.problem import EarlyStart, Problem, problem_of, terms_of
from ordering.net.recipe_plan import is_listed
from ordering.net.safety_stock import Worth, worth
from ordering.net.shelf_life import Flags
from ordering.net.shortfalls import ageing_gaps, begun_from_nothing, expiring, room_warnings, shortfalls
from ordering.net.start_days import later
from ordering.net.sweep import Sweep, flows_of, lots_left, sweep
from ordering.records.buying import Delivery
from ordering.records.house import House
from ordering.records.plan import Array, Forecast, Netting, Opening


def net_all(
    house: House,
    opening: Opening,
    forecast: Forecast,
    deliveries: Mapping[str, tuple[Delivery, ...]],
    arrival: Mapping[str, int],
) -> Netting:
    """Net every item of the house on every path of the forecast.

    Parameters
    ----------
    deliveries : by vendor, the deliveries that can still be ordered
    arrival : by item, the first day index on which a purchase can be in the house; `n_days` when none
    """
    problem = problem_of(house, opening, forecast, arrival, deliveries)
    value = worth(problem)
    problem = with_ages(problem, value.cost)
    problem, found = _with_pars(problem, value)
    problem, found, short = _within_parts(problem, found, value)
    problem, found = _begun_early(problem, found, value)
    done = flows_of(problem, found, value, deliveries)
    starts = listed_starts(problem, found, done.flows, printed_last(problem, found))
    starts, without_starter = begun_from_nothing(house, opening, starts)
    return Netting(
        flows=done.flows,
        requirements=done.requirements,
        starts=starts,
        shortfalls=shortfalls(problem, short, done.flows),
        levels={
            **{item: one.enough for item, one in found.made.items()},
            **{item: one.level for item, one in done.requirements.items()},
        },
        warnings=(*room_warnings(problem, found.starts), *par_warnings(problem), *without_starter),
        ageing_gaps=ageing_gaps(problem, short),
        expiring=expiring(problem, done.left, value),
    )


def _with_pars(problem: Problem, value: Worth) -> tuple[Problem, Sweep]:
    """The first sweep, and the problem in which every par waits for what would be short for it."""
    found = sweep(problem, value.stakes)
    kept = pars(problem)
    if kept.isdisjoint(all_above(problem, _split(problem, found.shortages)[0])):
        return problem, found
    off = {r: np.ones(problem.n_days, dtype=np.bool_) for r in kept}
    without = sweep(replace(problem, par_off=off), value.stakes, (found, kept))
    while True:  # each turn more evenings wait, so there is an end to it
        off = waits(problem, short_for_pars(problem, _split(problem, found.shortages)[0], without.shortages))
        if not _more_wait(problem, off):  # waiting helps no more
            off = {r: np.maximum.accumulate(days) for r, days in off.items()}
            if not _more_wait(problem, off):
                return problem, found
        problem = replace(problem, par_off={**problem.par_off, **off})
        found = sweep(problem, value.stakes, (found, off))


def _more_wait(problem: Problem, off: Mapping[str, Flags]) -> bool:
    """Whether a par waits on any evening on which it has not before. off : by recipe, [day]."""
    return any((days & ~problem.par_off.get(r, np.False_)).any() for r, days in off.items())


def _split(problem: Problem, shortages: Mapping[str, Array]) -> tuple[dict[str, Array], dict[str, Array]]:
    """What is known to be short, and what only because nothing was counted. All by item, [day, path].

    An item never counted is taken as none, and what that costs is said; but because it is unknown and not
    known to be none, the rest of the plate is bought and begun.
    """
    known: dict[str, Array] = {}
    uncertain: dict[str, Array] = {}
    for item, shortage in shortages.items():
        if item not in problem.unknown:
            known[item] = shortage
            continue
        recipe = problem.house.recipes.get(item)
        until = problem.n_days if recipe is None else recipe.takes_days
        for half, days in ((uncertain, slice(None, until)), (known, slice(until, None))):
            part = np.zeros_like(shortage)
            part[days] = shortage[days]
            if part.any():
                half[item] = part
    return known, uncertain


def _within_parts(problem: Problem, found: Sweep, value: Worth) -> tuple[Problem, Sweep, list[Cutback]]:
    """The sweep in which no batch is begun whose parts cannot be there, and who goes without for it.

    A batch that is not begun today may be wanted tomorrow: what is short then is looked at again, at most
    once for each day.
    """
    known, uncertain = _split(problem, found.shortages)
    short = [cutback_of(problem, found, uncertain, value, {})] if uncertain else []
    said: dict[str, Array] = {}
    limited_by: dict[str, Cutback] = {}
    for _ in range(problem.n_days):
        if not known:
            break
        short.append(_beyond(cutback_of(problem, found, known, value, limited_by), short))
        limits = _limits(problem, found, short[-1])
        if not limits:
            break
        problem = replace(problem, limits={**problem.limits, **limits})
        limited_by |= dict.fromkeys(limits, short[-1])
        said |= {item: said.get(item, 0.0) + shortage for item, shortage in known.items()}
        said |= {item: np.maximum(left, said.get(item, 0.0)) for item, left in short[-1].unmet.items()}
        found = sweep(problem, value.stakes, (found, limits))
        known = _more(_split(problem, found.shortages)[0], said)
    return problem, found, short


def _beyond(cutback: Cutback, before: Iterable[Cutback]) -> Cutback:
    """What is not served beyond what has been said to be."""
    said: dict[tuple[str, int], float] = defaultdict(float)
    for one in before:
        for hits in one.hits.values():
            for at, portions in hits.items():
                said[at] += portions
    for hits in cutback.hits.values():
        for at in hits:
            hits[at] = max(0.0, hits[at] - said[at])
    return cutback


def _more(shortages: Mapping[str, Array], said: Mapping[str, Array]) -> dict[str, Array]:
    """What is short beyond what has been said. All by item, [day, path]."""
    more = {item: np.maximum(shortage - said.get(item, 0.0), 0.0) for item, shortage in shortages.items()}
    return {item: shortage for item, shortage in more.items() if shortage.max() > EPS}


def _limits(problem: Problem, found: Sweep, cutback: Cutback) -> dict[str, Array]:
    """Most batches of a recipe to begin on each day, [day], where parts allow less on half of the paths.

    Only of recipes for which that is less than before.
    """
    limits: dict[str, Array] = {}
    for recipe, given_up in cutback.batches.items():
        if is_listed(problem, recipe) and (is_short := np.median(given_up, axis=1) > EPS).any():
            there = np.maximum(np.median(found.made[recipe].starts - given_up, axis=1), 0.0)
            before = problem.limits.get(recipe, np.full(problem.n_days, np.inf))
            most = np.where(is_short, np.minimum(there, before), before)
            if (most < before).any():
                limits[recipe] = most
    return limits


def _begun_early(problem: Problem, found: Sweep, value: Worth) -> tuple[Problem, Sweep]:
    """The sweep with batches begun sooner to use up lots; without those that would make anything short."""
    left = partial(lots_left, problem, found)
    early = early_starts(problem, Planned(found.starts, left, found.dates, value.cost))
    while early:
        then = replace(problem, early=early)
        swept = sweep(then, value.stakes, (found, early))
        lacking = _newly_lacking(problem, swept, found)
        wrong = all_above(problem, (item for item, share in lacking.items() if share > 0.5))
        wrong |= _begun_now(problem, early) & all_above(problem, lacking)  # later runs see what is left
        wrong |= {r for r, begun in early.items() if _is_shorter(problem, swept, r, begun)}
        if not wrong:
            return then, swept
        kept = {r: begun for r, begun in early.items() if r not in wrong}
        early = kept if len(kept) < len(early) else {}
    return problem, found


def _is_shorter(problem: Problem, swept: Sweep, recipe: str, begun: Iterable[EarlyStart]) -> bool:
    """Whether the parts drawn make a batch begun sooner go off before the day it was expected to last to."""
    last = terms_of(problem, recipe, swept.dates).last
    return any(last[one.ready] < one.last for one in begun)


def _begun_now(problem: Problem, early: Mapping[str, Iterable[EarlyStart]]) -> set[str]:
    """Recipes of which something is begun sooner on the days decided."""
    return {r for r, begun in early.items() if any(one.day < problem.decided_days for one in begun)}


def _newly_lacking(problem: Problem, swept: Sweep, before: Sweep) -> dict[str, float]:
    """By item, the share of the paths on which more of it is short than before, until more can be had."""
    shares: dict[str, float] = {}
    for item, shortage in swept.shortages.items():
        until, known = had_from(problem, item), before.shortages.get(item)
        more = shortage[:until].sum(axis=0) - (0.0 if known is None else known[:until].sum(axis=0))
        if item not in problem.unknown and (more > EPS).any():
            shares[item] = float((more > EPS).mean())
    return shares


def short_for_pars(
    problem: Problem, shortages: Mapping[str, Array], without: Mapping[str, Array]
) -> dict[str, Flags]:
    """By item, [day] whether more is short than without any par.

    Before any can be had on any path; later, as there is no room, on more than half of the paths.
    """
    found: dict[str, Flags] = {}
    for item, shortage in shortages.items():
        share = (shortage - without.get(item, 0.0) > EPS).mean(axis=1)
        days: Flags = share > np.where(np.arange(problem.n_days) < had_from(problem, item), 0.0, 0.5)
        if days.any():
            found[item] = days
    return found


def had_from(problem: Problem, item: str) -> int:
    """The first day index on which more of an item than there is can be had."""
    recipe = problem.house.recipes.get(item)
    return problem.arrival.get(item, problem.n_days) if recipe is None else recipe.takes_days


def waits(problem: Problem, short_items: Mapping[str, Flags]) -> dict[str, Flags]:
    """By recipe with a par, evenings on which it cannot be kept, [day], as things below are short for it."""
    off: dict[str, Flags] = {}
    for item in reversed(problem.graph.items):
        days = np.zeros(problem.n_days, dtype=np.bool_)
        recipe = problem.house.recipes.get(item)
        if item in short_items:
            days |= short_items[item]
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
