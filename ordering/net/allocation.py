"""Who goes without when something cannot be had in time: shortages carried up to the portions they cost.

Stated rule: scarce stock goes to the earliest service, then to whoever loses most by going without, for each
unit of the scarce item (margin, and what a missed portion costs beyond), then by name. Consumables of
a day come after the dishes of that day, and after these what is optional in a recipe, which stops
nothing. The rule is applied item by item, from ingredients upward:
what a recipe goes without it cannot make, and whoever draws from it shares what is left by the
same rule. Who comes later in that order gives nothing up that those before it can have from elsewhere:
what is drawn today and comes again tomorrow is no reason to begin nothing today.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from ordering.explode.graph import Use
from ordering.net.batches import limited
from ordering.net.claims import Claim, refused
from ordering.net.lots import EPS, Parcel, cohorts, draw
from ordering.net.making import whole
from ordering.net.problem import Problem, by_ready, draws_begun, gross_of, parcels_of, terms_of
from ordering.net.stakes import Worth
from ordering.net.sweep import Sweep
from ordering.records.plan import Array

# What is short, on which day index it was to be drawn.
ShortageSource = tuple[str, int]
FAR_DAYS = 10_000


@dataclass(slots=True)
class Cutback:
    """What cannot be had, and who goes without.

    sources : what is short, [path] of its unit; hits : by source, mean portions by (dish, slot index);
    batches : by recipe, batches that cannot be made because parts are short, [day, path], by start day
    unmet : by recipe of which fewer are made, what of its draws that leaves unmet, [day, path]
    """

    sources: dict[ShortageSource, Array] = field(default_factory=dict)
    hits: dict[ShortageSource, dict[tuple[str, int], float]] = field(
        default_factory=lambda: defaultdict(dict)
    )
    batches: dict[str, Array] = field(default_factory=dict)
    unmet: dict[str, Array] = field(default_factory=dict)


@dataclass(slots=True)
class AllocationState:
    """The state of one way up.

    starts : by recipe, batches by start day, [day, path]
    attribution : by recipe and source, mean batches given up by start day
    """

    problem: Problem
    shortages: Mapping[str, Array]
    found: Sweep
    value: Worth
    lags: Mapping[str, int]
    starts: Mapping[str, Array]
    cutback: Cutback = field(default_factory=Cutback)
    attribution: dict[str, dict[ShortageSource, Array]] = field(default_factory=lambda: defaultdict(dict))


def cutback_of(problem: Problem, found: Sweep, shortages: Mapping[str, Array], value: Worth) -> Cutback:
    """Who goes without because of what a sweep found short, up to the portions not served.

    shortages : by item, [day, path].
    """
    state = AllocationState(problem, shortages, found, value, service_lags(problem), found.starts)
    for item in reversed(problem.graph.items):
        if item in shortages or item in state.cutback.batches:
            _share_out(state, item)
    return state.cutback


def service_lags(problem: Problem) -> dict[str, int]:
    """By item: days from when it is there to the earliest service it can serve."""
    lags: dict[str, int] = {}
    for item in problem.graph.items:
        ahead = [
            problem.house.recipes[u.recipe].takes_days - u.at_days + lags[u.recipe]
            for u in problem.graph.uses.get(item, ())
        ]
        lags[item] = min(([0] if problem.graph.dishes.get(item) else []) + ahead, default=FAR_DAYS)
    return lags


def _share_out(state: AllocationState, item: str) -> None:
    """Share what there is of one item among its draws; note who goes without."""
    parcels, until, direct = _supply(state, item)
    if until < 0:
        return
    claims = sorted(_claims(state, item, until), key=lambda a: a.rank)
    for claim, unmet in refused(parcels, claims):
        shares = _shares(state, item, claim.day, unmet, direct)
        if claim.use is not None:
            if not claim.use.is_optional:
                _give_up_batches(state, claim, unmet, shares)
        elif claim.dish:
            _give_up_portions(state, claim, unmet, shares)


def _supply(state: AllocationState, item: str) -> tuple[list[Parcel], int, Array | None]:
    """Parcels to share, the last day on which any path goes short, what is short by itself, [day, path]."""
    problem, found = state.problem, state.found
    parcels = parcels_of(problem, state.starts, item, found.oldest.get(item))
    shortage = state.shortages.get(item)
    unmet = shortage
    if item in state.cutback.batches:
        made, unmet = _made_again(state, item, parcels)
        state.cutback.unmet[item] = unmet
        last = terms_of(problem, item, found.dates).last
        parcels += cohorts(made, last)
    elif item in state.starts:
        recipe = problem.house.recipes[item]
        made = by_ready(state.starts[item], recipe.takes_days) * recipe.makes
        parcels += cohorts(made, terms_of(problem, item, found.dates).last)
    if unmet is None:
        return parcels, -1, shortage
    short = np.flatnonzero(unmet.max(axis=1) > EPS)
    return parcels, int(short[-1]) if short.size else -1, shortage


def _made_again(state: AllocationState, item: str, parcels: list[Parcel]) -> tuple[Array, Array]:
    """What can still be made where batches were given up, and what that leaves unmet. Both [day, path].

    Days that were not held back may make more, for those who come after.
    """
    problem, found = state.problem, state.found
    recipe, given_up = problem.house.recipes[item], state.cutback.batches[item]
    most = np.where(given_up > 0, np.maximum(state.starts[item] - given_up, 0.0), np.inf)
    if item in problem.limits:
        most = np.minimum(most, problem.limits[item][:, None])
    gross = gross_of(problem, state.starts, item)
    terms = terms_of(problem, item, found.dates)
    made, unmet = limited(draw(parcels, gross).unmet, terms, by_ready(most, recipe.takes_days))
    return made * recipe.makes, unmet


def _claims(state: AllocationState, item: str, until: int) -> Iterable[Claim]:
    """Every draw on an item up to a day."""
    for name in state.problem.graph.dishes.get(item, ()):
        yield from _dish_claims(state, name, until)
    for use in state.problem.graph.uses.get(item, ()):
        if use.recipe in state.starts and use.quantity > 0:
            yield from _recipe_claims(state, use, until)
        if use.recipe in state.problem.begun:
            yield from _begun_claims(state, use, until)
    consumed = state.problem.consumables.get(item)
    if consumed is not None:
        for t in range(until + 1):
            yield Claim((t, 1, 0.0, ""), t, consumed[t])


def _dish_claims(state: AllocationState, name: str, until: int) -> Iterable[Claim]:
    dish = state.problem.house.dishes[name]
    loss = state.value.portions.get(name, 0.0) / dish.portion
    portions = state.problem.portions(name)
    sitting, day = 0, -1
    for k, slot in enumerate(state.problem.forecast.slots):
        sitting, day = (sitting + 1, day) if slot.day == day else (0, slot.day)
        need = portions[k] * dish.portion
        if slot.day <= until and need.max() > EPS:
            yield Claim((slot.day + sitting * 1e-3, 0, -loss, name), slot.day, need, dish.portion, name, k)


def _recipe_claims(state: AllocationState, use: Use, until: int) -> Iterable[Claim]:
    recipe, started = state.problem.house.recipes[use.recipe], state.starts[use.recipe]
    lag = recipe.takes_days - use.at_days + state.lags[use.recipe]
    loss = (state.value.loss.get(use.recipe) or 0.0) * recipe.makes / use.quantity
    for t in range(use.at_days, min(until + 1, state.problem.n_days)):
        need = started[t - use.at_days] * use.quantity
        if need.max() > EPS:
            piece = use.quantity * recipe.step if recipe.is_whole else 0.0
            turn = 2 if use.is_optional else 0
            yield Claim((t + lag, turn, -loss, use.recipe), t, need, piece, use=use)


def _begun_claims(state: AllocationState, use: Use, until: int) -> Iterable[Claim]:
    """Batches under way come first: without the rest of their lines all that is in them is lost."""
    drawn = draws_begun(state.problem, use)
    for t in np.flatnonzero(drawn[: until + 1] > EPS).tolist():
        rank = (t, 2, 0.0, use.recipe) if use.is_optional else (-1, 0, 0.0, use.recipe)
        yield Claim(rank, t, np.full(state.problem.n_paths, drawn[t]))


def _shares(
    state: AllocationState, item: str, day: int, unmet: Array, direct: Array | None
) -> dict[ShortageSource, float]:
    """Which sources an unmet draw is owed to, each as if it were the only one: shares of at most 1.

    unmet : [path]; direct : [day, path].
    """
    own = 1.0
    if item in state.cutback.batches:
        own = 0.0 if direct is None else min(1.0, float(direct[day].mean() / unmet.mean()))
    shares: dict[ShortageSource, float] = {}
    if own > 0:
        source = (item, day)
        shares[source] = own
        state.cutback.sources[source] = state.cutback.sources.get(source, 0.0) + unmet * own
    if own < 1:
        takes = state.problem.house.recipes[item].takes_days
        given_up = state.cutback.batches[item].mean(axis=1)
        started = np.flatnonzero(given_up > 0)
        in_time = started[started <= day - takes]
        if started.size:  # one given up later is felt sooner where what there is goes to whoever ranks first
            s = int(in_time[-1] if in_time.size else started[0])
            for source, amount in state.attribution[item].items():
                share = min(1.0, float(amount[s]) / float(given_up[s])) * (1 - own)
                if share > 0:
                    shares[source] = share
    return shares


def _give_up_batches(
    state: AllocationState, claim: Claim, unmet: Array, shares: Mapping[ShortageSource, float]
) -> None:
    """Note batches not begun because a part is short; unmet : [path]."""
    use = claim.use
    assert use is not None
    recipe, started = state.problem.house.recipes[use.recipe], state.starts[use.recipe]
    s = claim.day - use.at_days
    lost = unmet / use.quantity
    lost = np.minimum(whole(lost, recipe.step) if recipe.is_whole else lost, started[s])
    given_up = state.cutback.batches.setdefault(use.recipe, np.zeros_like(started))
    given_up[s] = np.maximum(given_up[s], lost)
    for source, share in shares.items():
        attribution = state.attribution[use.recipe].setdefault(source, np.zeros(state.problem.n_days))
        attribution[s] += float(lost.mean()) * share


def _give_up_portions(
    state: AllocationState, claim: Claim, unmet: Array, shares: Mapping[ShortageSource, float]
) -> None:
    """Note portions not served; unmet : [path]."""
    portions = state.problem.portions(claim.dish)
    lost = np.minimum(whole(unmet / state.problem.house.dishes[claim.dish].portion), portions[claim.slot])
    for source, share in shares.items():
        hits = state.cutback.hits[source]
        key = (claim.dish, claim.slot)
        hits[key] = hits.get(key, 0.0) + float(lost.mean()) * share
