"""Who goes without when something cannot be had in time: shortages carried up to the portions they cost.

Stated rule: scarce stock goes to the earliest service, then to whoever loses most by going without, for each
unit of the scarce item (margin, and what a missed portion costs beyond), then by name. Consumables of
a day come after the dishes of that day. The rule is applied item by item, from ingredients upward:
what a recipe goes without it cannot make, and whoever draws from it shares what is left by the
same rule. Who comes later in that order gives nothing up that those before it can have from elsewhere:
what is drawn today and comes again tomorrow is no reason to begin nothing today.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from ordering.explode.graph import Use
from ordering.net.batches import limited, whole
from ordering.net.lots import DUST, Parcel, cohorts, draw, in_turn
from ordering.net.problem import Problem, by_ready, draws_begun, gross_of, parcels_of, terms_of
from ordering.net.stakes import Worth
from ordering.net.sweep import Sweep
from ordering.records.plan import Array

# What is short, on which day index it was to be drawn.
Root = tuple[str, int]
FAR_DAYS = 10_000


@dataclass(slots=True)
class Relief:
    """What cannot be had, and who goes without.

    roots : what lacked, [path] of its unit; hits : by root, mean portions by (dish, slot index); batches : by
    recipe, batches that cannot be made for want of parts, [day, path], by start day
    """

    roots: dict[Root, Array] = field(default_factory=dict)
    hits: dict[Root, dict[tuple[str, int], float]] = field(default_factory=lambda: defaultdict(dict))
    batches: dict[str, Array] = field(default_factory=dict)


@dataclass(slots=True)
class Ask:
    """One draw on an item: rank as the rule says, day, what each path needs, in which pieces (0: any), who
    asks."""

    rank: tuple[float, int, float, str]
    day: int
    need: Array
    piece: float = 0.0
    dish: str = ""
    slot: int = -1
    use: Use | None = None


@dataclass(slots=True)
class Climb:
    """The state of one way up. starts : by recipe, batches by start day, [day, path]; blame : by recipe and
    root, mean batches given up by start day."""

    problem: Problem
    lacks: Mapping[str, Array]
    found: Sweep
    value: Worth
    lags: Mapping[str, int]
    starts: Mapping[str, Array]
    relief: Relief = field(default_factory=Relief)
    blame: dict[str, dict[Root, Array]] = field(default_factory=lambda: defaultdict(dict))


def relieve(problem: Problem, found: Sweep, lacks: Mapping[str, Array], value: Worth) -> Relief:
    """Who goes without for want of what a sweep found lacking, up to the portions not served."""
    climb = Climb(problem, lacks, found, value, service_lags(problem), found.starts)
    for item in reversed(problem.graph.items):
        if item in lacks or item in climb.relief.batches:
            _share_out(climb, item)
    return climb.relief


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


def _share_out(climb: Climb, item: str) -> None:
    """Share what there is of one item among its draws; note who goes without."""
    parcels, until, direct = _supply(climb, item)
    if until < 0:
        return
    asks = sorted(_asks(climb, item, until), key=lambda a: a.rank)
    for ask, unmet in refused(parcels, asks):
        shares = _shares(climb, item, ask.day, unmet, direct)
        if ask.use is not None:
            _give_up_batches(climb, ask, unmet, shares)
        elif ask.dish:
            _give_up_portions(climb, ask, unmet, shares)


def _supply(climb: Climb, item: str) -> tuple[list[Parcel], int, Array | None]:
    """Parcels to share, the last day on which any path goes short, and what lacks by itself."""
    problem, found = climb.problem, climb.found
    parcels = parcels_of(problem, climb.starts, item)
    lack = climb.lacks.get(item)
    unmet = lack
    if item in climb.relief.batches:
        made, unmet = _made_again(climb, item, parcels)
        last = terms_of(problem, item, found.dates).last
        parcels += cohorts(made, last)
    elif item in climb.starts:
        recipe = problem.house.recipes[item]
        made = by_ready(climb.starts[item], recipe.takes_days) * recipe.makes
        parcels += cohorts(made, terms_of(problem, item, found.dates).last)
    if unmet is None:
        return parcels, -1, lack
    short = np.flatnonzero(unmet.max(axis=1) > DUST)
    return parcels, int(short[-1]) if short.size else -1, lack


def _made_again(climb: Climb, item: str, parcels: list[Parcel]) -> tuple[Array, Array]:
    """What can still be made where batches were given up, and what that leaves unmet: days that were
    not held back may make more, for those who come after."""
    problem, found = climb.problem, climb.found
    recipe, given_up = problem.house.recipes[item], climb.relief.batches[item]
    most = np.where(given_up > 0, np.maximum(climb.starts[item] - given_up, 0.0), np.inf)
    if item in problem.limits:
        most = np.minimum(most, problem.limits[item][:, None])
    gross = gross_of(problem, climb.starts, item)
    terms = terms_of(problem, item, found.dates)
    made, unmet = limited(draw(parcels, gross).unmet, terms, by_ready(most, recipe.takes_days))
    return made * recipe.makes, unmet


def _asks(climb: Climb, item: str, until: int) -> Iterable[Ask]:
    """Every draw on an item up to a day."""
    for name in climb.problem.graph.dishes.get(item, ()):
        yield from _dish_asks(climb, name, until)
    for use in climb.problem.graph.uses.get(item, ()):
        if use.recipe in climb.starts and use.quantity > 0:
            yield from _recipe_asks(climb, use, until)
        if use.recipe in climb.problem.begun:
            yield from _begun_asks(climb, use, until)
    consumed = climb.problem.consumables.get(item)
    if consumed is not None:
        for t in range(until + 1):
            yield Ask((t, 1, 0.0, ""), t, consumed[t])


def _dish_asks(climb: Climb, name: str, until: int) -> Iterable[Ask]:
    dish = climb.problem.house.dishes[name]
    loss = climb.value.portions.get(name, 0.0) / dish.portion
    portions = climb.problem.portions(name)
    sitting, day = 0, -1
    for k, slot in enumerate(climb.problem.forecast.slots):
        sitting, day = (sitting + 1, day) if slot.day == day else (0, slot.day)
        need = portions[k] * dish.portion
        if slot.day <= until and need.max() > DUST:
            yield Ask((slot.day + sitting * 1e-3, 0, -loss, name), slot.day, need, dish.portion, name, k)


def _recipe_asks(climb: Climb, use: Use, until: int) -> Iterable[Ask]:
    recipe, started = climb.problem.house.recipes[use.recipe], climb.starts[use.recipe]
    lag = recipe.takes_days - use.at_days + climb.lags[use.recipe]
    loss = (climb.value.loss.get(use.recipe) or 0.0) * recipe.makes / use.quantity
    for t in range(use.at_days, min(until + 1, climb.problem.n_days)):
        need = started[t - use.at_days] * use.quantity
        if need.max() > DUST:
            piece = use.quantity if recipe.is_whole else 0.0
            yield Ask((t + lag, 0, -loss, use.recipe), t, need, piece, use=use)


def _begun_asks(climb: Climb, use: Use, until: int) -> Iterable[Ask]:
    """Batches under way come first: without the rest of their lines all that is in them is lost."""
    drawn = draws_begun(climb.problem, use)
    for t in np.flatnonzero(drawn[: until + 1] > DUST).tolist():
        yield Ask((-1, 0, 0.0, use.recipe), t, np.full(climb.problem.n_paths, drawn[t]))


def refused(parcels: list[Parcel], asks: list[Ask]) -> Iterable[tuple[Ask, Array]]:
    """Each ask that must do without something, and what it lacks, [path] of the item's unit.

    An ask is given all that can be given beside those before it, whichever parcels these must then draw:
    Monday's stock is for a batch of next week where the guests of this week can have Tuesday's. What can
    be given to several is what they leave nobody without when they draw the earliest date first. What
    makes up no whole piece of what an ask wants is left to those after it, and lacks where they take it.
    So what lacks adds up to what must be got to meet every ask, and no more.

    asks : in the order they are served
    """
    if not asks:
        return
    given = np.zeros((max(a.day for a in asks) + 1, asks[0].need.size))
    turn, found = in_turn(p for p in parcels if p.first < len(given)), []
    left = _left(turn, given)
    full = np.zeros(given.shape, dtype=np.bool_)  # where nothing more can be had, whoever asks
    for ask in asks:
        need = np.where(full[ask.day], 0.0, ask.need)
        lacks = need - _taken_off(turn, left, ask.day, need)
        given[ask.day] += need
        is_short = lacks > DUST
        over = np.zeros_like(need)
        if is_short.any():
            can_move = is_short & (sum(left, np.zeros_like(need)) > DUST)
            moved = lacks - np.minimum(_nobody_gives(turn, given), lacks) if can_move.any() else over
            lacks = np.where(is_short, lacks - np.where(can_move, moved, 0.0), 0.0)
            if ask.piece:
                over = np.minimum(whole(lacks / ask.piece) * ask.piece, need) - lacks
            full[ask.day] |= is_short & (lacks > 0) & (over <= DUST)
            given[ask.day] -= lacks + over
            if max(moved.max(), over.max()) > DUST:
                left = _left(turn, given)
        lacks += ask.need - need
        if lacks.max() > DUST:
            found.append((ask, lacks, over))
    yield from _with_pieces(turn, asks, found)


def _left(turn: Sequence[Parcel], given: Array) -> list[Array]:
    """What nobody is given of each parcel. [path]"""
    return [one.left for one in draw(turn, given).taken]


def _with_pieces(
    turn: Sequence[Parcel], asks: Iterable[Ask], found: Sequence[tuple[Ask, Array, Array]]
) -> Iterable[tuple[Ask, Array]]:
    """What lacks to meet every ask, shared by those refused: what each left to others lacks it first."""
    if not any(over.max() > DUST for _, _, over in found):
        yield from ((ask, lacks) for ask, lacks, _ in found)
        return
    gross = np.zeros((max(a.day for a in asks) + 1, found[0][1].size))
    for ask in asks:
        gross[ask.day] += ask.need
    rest = np.maximum(_nobody_gives(turn, gross) - sum(lacks for _, lacks, _ in found), 0.0)
    for ask, lacks, over in found:
        more = np.minimum(rest, over)
        rest = rest - more
        yield ask, lacks + np.where(more > DUST, more, 0.0)


def _nobody_gives(turn: Sequence[Parcel], gross: Array) -> Array:
    """What parcels cannot give of all that is asked, over all days. [path]"""
    unmet = draw(turn, gross).unmet
    lacks: Array = np.where(unmet > DUST, unmet, 0.0).sum(axis=0)
    return lacks


def _taken_off(turn: Sequence[Parcel], left: Sequence[Array], day: int, need: Array) -> Array:
    """What nobody has been given yet of what can be used on a day, up to a need. [path]"""
    given = np.zeros_like(need)
    for parcel, rest in zip(turn, left, strict=True):
        if parcel.first <= day <= parcel.last:
            part = np.minimum(rest, need - given)
            rest -= part
            given += part
    return given


def _shares(climb: Climb, item: str, day: int, unmet: Array, direct: Array | None) -> dict[Root, float]:
    """Which roots an unmet draw is owed to, each as if it were the only one: shares of at most 1."""
    own = 1.0
    if item in climb.relief.batches:
        own = 0.0 if direct is None else min(1.0, float(direct[day].mean() / unmet.mean()))
    shares: dict[Root, float] = {}
    if own > 0:
        root = (item, day)
        shares[root] = own
        climb.relief.roots[root] = climb.relief.roots.get(root, 0.0) + unmet * own
    if own < 1:
        takes = climb.problem.house.recipes[item].takes_days
        given_up = climb.relief.batches[item].mean(axis=1)
        started = np.flatnonzero(given_up > 0)
        in_time = started[started <= day - takes]
        if started.size:  # one given up later is felt sooner where what there is goes to whoever ranks first
            s = int(in_time[-1] if in_time.size else started[0])
            for root, amount in climb.blame[item].items():
                share = min(1.0, float(amount[s]) / float(given_up[s])) * (1 - own)
                if share > 0:
                    shares[root] = share
    return shares


def _give_up_batches(climb: Climb, ask: Ask, unmet: Array, shares: Mapping[Root, float]) -> None:
    use = ask.use
    assert use is not None
    recipe, started = climb.problem.house.recipes[use.recipe], climb.starts[use.recipe]
    s = ask.day - use.at_days
    lost = unmet / use.quantity
    lost = np.minimum(whole(lost) if recipe.is_whole else lost, started[s])
    given_up = climb.relief.batches.setdefault(use.recipe, np.zeros_like(started))
    given_up[s] = np.maximum(given_up[s], lost)
    for root, share in shares.items():
        blame = climb.blame[use.recipe].setdefault(root, np.zeros(climb.problem.n_days))
        blame[s] += float(lost.mean()) * share


def _give_up_portions(climb: Climb, ask: Ask, unmet: Array, shares: Mapping[Root, float]) -> None:
    portions = climb.problem.portions(ask.dish)
    lost = np.minimum(whole(unmet / climb.problem.house.dishes[ask.dish].portion), portions[ask.slot])
    for root, share in shares.items():
        hits = climb.relief.hits[root]
        key = (ask.dish, ask.slot)
        hits[key] = hits.get(key, 0.0) + float(lost.mean()) * share
