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
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ordering.amounts import EPS
from ordering.explode.graph import Use
from ordering.explode.horizon import service_lags
from ordering.net.batches import Making, held_back, limited, whole
from ordering.net.problem import Problem, draws_begun, gross_of, parcels_of
from ordering.net.safety_stock import Worth
from ordering.net.shelf_life import Parcel, cohorts, draw, drawn_from, in_turn
from ordering.net.start_days import later
from ordering.net.sweep import Sweep
from ordering.records.plan import Array

ShortageSource = tuple[str, int]  # what is short, on which day index it was to be drawn


@dataclass(slots=True)
class Cutback:
    """What cannot be had, and who goes without.

    sources : what is short, [path] of its unit; hits : by source, mean portions by (dish, slot index);
    batches : by recipe, batches that cannot be made because parts are short, [day, path], by start day
    attribution : by recipe and source, mean of those batches by start day, [day]
    unmet : by recipe of which fewer are made, what of its draws that leaves unmet, [day, path]
    """

    sources: dict[ShortageSource, Array] = field(default_factory=dict)
    hits: dict[ShortageSource, dict[tuple[str, int], float]] = field(
        default_factory=lambda: defaultdict(dict)
    )
    batches: dict[str, Array] = field(default_factory=dict)
    attribution: dict[str, dict[ShortageSource, Array]] = field(default_factory=lambda: defaultdict(dict))
    unmet: dict[str, Array] = field(default_factory=dict)


@dataclass(slots=True)
class Claim:
    """One draw on an item: rank by the rule, day, what each path needs, pieces (0: any), who claims."""

    rank: tuple[float, int, float, str]
    day: int
    need: Array
    piece: float = 0.0
    dish: str = ""
    slot: int = -1
    use: Use | None = None


@dataclass(slots=True)
class AllocationState:
    """The state of one way up; `starts` : by recipe, batches by start day, [day, path]."""

    problem: Problem
    shortages: Mapping[str, Array]
    found: Sweep
    value: Worth
    lags: Mapping[str, int]
    starts: Mapping[str, Array]
    limited_by: Mapping[str, Cutback]
    cutback: Cutback = field(default_factory=Cutback)


def cutback_of(
    problem: Problem,
    found: Sweep,
    shortages: Mapping[str, Array],
    value: Worth,
    limited_by: Mapping[str, Cutback],
) -> Cutback:
    """Who goes without because of what a sweep found short, up to the portions not served.

    shortages : by item, [day, path]; limited_by : by recipe of which no more is begun than its parts allow,
    where that was found: what is short of it now is owed to the same parts
    """
    lags = service_lags(problem.house, problem.graph)
    state = AllocationState(problem, shortages, found, value, lags, found.starts, limited_by)
    for item in reversed(problem.graph.items):
        if item in shortages or item in state.cutback.batches:
            _share_out(state, item)
    return state.cutback


def _share_out(state: AllocationState, item: str) -> None:
    """Share what there is of one item among its draws; note who goes without."""
    parcels, until = _supply(state, item)
    if until < 0:
        return
    claims = sorted(_claims(state, item, until), key=lambda a: a.rank)
    for claim, unmet in refused(parcels, claims):
        shares = _shares(state, item, claim.day, unmet)
        if claim.dish:
            _give_up_portions(state, claim, unmet, shares)
        elif claim.use is not None and not claim.use.is_optional:
            _give_up_batches(state, claim.use, claim.day, unmet, shares)


def _supply(state: AllocationState, item: str) -> tuple[list[Parcel], int]:
    """Parcels to share, and the last day on which any path goes short; -1: none."""
    problem, found = state.problem, state.found
    parcels = parcels_of(problem, state.starts, item, found.dates.get(item))
    unmet = state.shortages.get(item)
    if item in state.starts:
        terms = state.found.made[item].terms
        made = later(state.starts[item], terms.first_ready) * terms.makes
        if item in state.cutback.batches:
            made, unmet = _made_again(state, item, parcels, terms)
            state.cutback.unmet[item] = unmet
        parcels += cohorts(made, terms.last)
    return parcels, -1 if unmet is None else int(np.nonzero(unmet > EPS)[0].max(initial=-1))


def _made_again(
    state: AllocationState, item: str, parcels: list[Parcel], terms: Making
) -> tuple[Array, Array]:
    """What can still be made where batches were given up, and what that leaves unmet. Both [day, path].

    Days that were not held back may make more, for those who come after.
    """
    problem, given_up = state.problem, state.cutback.batches[item]
    most = np.where(given_up > 0, np.maximum(state.starts[item] - given_up, 0.0), np.inf)
    if item in problem.limits:
        most = np.minimum(most, problem.limits[item][:, None])
    gross = gross_of(problem, state.starts, item)
    made, unmet = limited(draw(parcels, gross).unmet, terms, later(most, terms.first_ready))
    return made * terms.makes, unmet


def _claims(state: AllocationState, item: str, until: int) -> Iterable[Claim]:
    """Every draw on an item up to a day."""
    for name in state.problem.graph.dishes.get(item, ()):
        yield from _dish_claims(state, name, until)
    for use in state.problem.graph.uses.get(item, ()):
        if use.recipe in state.starts and use.quantity > 0:
            yield from _recipe_claims(state, use, until)
        if use.recipe in state.problem.begun:
            yield from _begun_claims(state, use, until)
    for t, need in enumerate(state.problem.consumables.get(item, ())[: until + 1]):
        yield Claim((t, 1, 0.0, ""), t, need)


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
    loss = state.value.stakes[use.recipe].loss * recipe.makes / use.quantity
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


def _shares(state: AllocationState, item: str, day: int, unmet: Array) -> dict[ShortageSource, float]:
    """Which sources an unmet draw is owed to, each as if it were the only one: shares of at most 1.

    unmet : [path].
    """
    own, shares = 1.0, dict[ShortageSource, float]()
    if item in state.cutback.batches:
        direct = state.shortages.get(item)
        own = 0.0 if direct is None else min(1.0, float(direct[day].mean() / unmet.mean()))
        shares = _owed_to(state, state.cutback, item, day, 1.0 - own)
    if own > 0 and item in state.limited_by:
        owed = _owed_to(state, state.limited_by[item], item, day, own)
        shares |= {source: max(share, shares.get(source, 0.0)) for source, share in owed.items()}
        own = 0.0 if owed else own
    if own > 0:
        source = (item, day)
        shares[source] = own
        state.cutback.sources[source] = state.cutback.sources.get(source, 0.0) + unmet * own
    return shares


def _owed_to(
    state: AllocationState, cutback: Cutback, item: str, day: int, part: float
) -> dict[ShortageSource, float]:
    """Sources whose lack made batches be given up that would have served a day, each with its share."""
    given_up = cutback.batches[item].mean(axis=1)
    terms = state.found.made[item].terms
    started = np.flatnonzero(given_up > 0)
    in_time = started[started <= day - terms.first_ready]
    if cutback is not state.cutback:  # held back since: felt as long as it would have kept
        started = in_time = in_time[terms.last[in_time + terms.first_ready] >= day]
    if part <= 0 or not started.size:
        return {}
    # one given up later is felt sooner where what there is goes to whoever ranks first
    s = int(in_time[-1] if in_time.size else started[0])
    return {
        source: share
        for source, by_day in cutback.attribution[item].items()
        if (share := min(1.0, float(by_day[s]) / float(given_up[s])) * part) > 0
    }


def _give_up_batches(
    state: AllocationState, use: Use, day: int, unmet: Array, shares: Mapping[ShortageSource, float]
) -> None:
    """Note batches not begun because a part is short; unmet : [path]."""
    recipe, started = state.problem.house.recipes[use.recipe], state.starts[use.recipe]
    s = day - use.at_days
    lost = unmet / use.quantity
    lost = np.minimum(held_back(lost, recipe.step) if recipe.is_whole else lost, started[s])
    given_up = state.cutback.batches.setdefault(use.recipe, np.zeros_like(started))
    given_up[s] = np.maximum(given_up[s], lost)
    for source, share in shares.items():
        attribution = state.cutback.attribution[use.recipe].setdefault(source, np.zeros(state.problem.n_days))
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


def refused(parcels: Iterable[Parcel], claims: Sequence[Claim]) -> Iterable[tuple[Claim, Array]]:
    """Each claim that must do without something, and what it is short of, [path] of the item's unit.

    A claim is given all that can be given beside those before it, whichever parcels these must then draw:
    Monday's stock is for a batch of next week where the guests of this week can have Tuesday's. What can
    be given to several is what they leave nobody without when they draw the earliest date first. What
    makes up no whole piece of what a claim wants is left to those after it, and is short where they take it.
    So what is short adds up to what must be got to meet every claim, and no more.

    claims : in the order they are served
    """
    if not claims:
        return
    asked = np.zeros((max(a.day for a in claims) + 1, claims[0].need.size))
    for claim in claims:
        asked[claim.day] += claim.need
    turn = in_turn(p for p in parcels if p.first < len(asked))
    unmet = draw(turn, asked).unmet
    if unmet.max() <= EPS:
        return
    found = list(_short_in_turn(turn, np.zeros_like(asked), claims))
    # What is short to meet every claim; what each left to others it is short of first.
    rest = np.maximum(_in_all(unmet) - sum(short for _, short, _ in found), 0.0)
    for claim, short, over in found:
        more = np.minimum(rest, over)
        rest = rest - more
        yield claim, short + np.where(more > EPS, more, 0.0)


def _short_in_turn(
    turn: Sequence[Parcel], given: Array, claims: Iterable[Claim]
) -> Iterable[tuple[Claim, Array, Array]]:
    """Each claim that is short, of how much, and what it leaves to others of a piece, both [path].

    given : [day, path], what those before them are given, added to
    """
    left = [one.left for one in draw(turn, given).taken]
    full = np.zeros(given.shape, dtype=np.bool_)  # where nothing more can be had, whoever asks
    for claim in claims:
        need = np.where(full[claim.day], 0.0, claim.need)
        usable = (rest for one, rest in zip(turn, left, strict=True) if one.first <= claim.day <= one.last)
        short = drawn_from(usable, need)
        given[claim.day] += need
        is_short = short > EPS
        over = np.zeros_like(need)
        if is_short.any():
            # those who draw later may draw what comes later still, in place of what is there today
            spare = (rest for one, rest in zip(turn, left, strict=True) if one.first > claim.day)
            can_move = is_short & given[claim.day + 1 :].any(axis=0) & (sum(spare, np.zeros_like(need)) > EPS)
            moved = short - np.minimum(_in_all(draw(turn, given).unmet), short) if can_move.any() else over
            short = np.where(is_short, short - np.where(can_move, moved, 0.0), 0.0)
            if claim.piece:
                rounded = held_back if claim.use else whole
                over = np.minimum(rounded(short / claim.piece) * claim.piece, need) - short
            full[claim.day] |= is_short & (short > 0) & (over <= EPS)
            given[claim.day] -= short + over
            if max(moved.max(), over.max()) > EPS:
                left = [one.left for one in draw(turn, given).taken]
        short = short + (claim.need - need)
        if short.max() > EPS:
            yield claim, short, over


def _in_all(unmet: Array) -> Array:
    """What is unmet, [day, path], over all days, [path]."""
    return np.asarray(np.where(unmet > EPS, unmet, 0.0).sum(axis=0))
