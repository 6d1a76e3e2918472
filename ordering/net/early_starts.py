"""Planned starts begun sooner, so that a lot that would go past its date is used.

A lot in the house or on its way, of which more than half of the paths leave something after its last day, is
looked at with every recipe that takes it, straight or by way of a part made the same day. Where what such a
recipe makes keeps until starts that are planned later would have been ready, one or more of those are begun
from the lot instead: on the lot's last day, or on the last open day before on which all its material can be
there. On every path alike: it is a decided batch, and the rest is planned around it.

No more is begun than half of the paths have left of the lot, start later within the time the batch keeps, and
draw in that time. Of a whole batch half of the paths must draw `LEAST_USED` in that time, and so much that
what is left of it costs less than the lot. A lot that is no more than `LEAST_SHARE` of what the batch costs
moves nothing. Nothing is begun that makes something short that was not (on the days decided on any path,
later on most of them: a later run begins what is left then), or whose other parts carry an earlier date
than it was planned with.

Not looked at: lots nobody planned to draw from again in time, which stay on the list of what to use up; two
lots that would fill a batch together; by-products to come; of recipes that go into one another, more than one
in a run.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field

import numpy as np

from ordering.amounts import EPS
from ordering.net.batches import rolled
from ordering.net.problem import EarlyStart, Problem, gross_of, parcels_of, terms_of
from ordering.net.shelf_life import Days, Lots, dated_parts, draw, median
from ordering.net.start_days import later
from ordering.records.house import Recipe
from ordering.records.plan import Array

LEAST_USED = 0.5  # of a whole batch
LEAST_SHARE = 0.2  # of what a batch costs: for less of it no plan is changed


@dataclass(frozen=True, slots=True)
class Planned:
    """What is decided so far: starts by recipe, [day, path]; of an item, lots left over; dates drawn, costs.

    net : by recipe looked at, what stock does not meet of it, [day, path]
    """

    starts: Mapping[str, Array]
    left: Callable[[str], Lots]
    oldest: Mapping[str, Days]
    cost: Mapping[str, float | None]
    net: dict[str, Array] = field(default_factory=dict)

    def net_of(self, problem: Problem, recipe: str) -> Array:
        """What stock does not meet of a recipe, [day, path]."""
        if recipe not in self.net:
            parcels = parcels_of(problem, self.starts, recipe, self.oldest.get(recipe))
            self.net[recipe] = draw(parcels, gross_of(problem, self.starts, recipe)).unmet
        return self.net[recipe]


def early_starts(problem: Problem, plan: Planned) -> dict[str, tuple[EarlyStart, ...]]:
    """By recipe, batches to begin from lots that would be left over."""
    found: dict[str, tuple[EarlyStart, ...]] = {}
    takers: set[str] = set()  # of what is begun sooner: their need of it is not what it was
    for item in problem.graph.items:
        is_in_sight = any(one.last + 1 < problem.n_days for one in problem.parcels.get(item, ()))
        users = _users(problem, plan, item) if is_in_sight else []
        if not users:
            continue
        for (_, first, last), (_, left) in sorted(plan.left(item).items(), key=lambda x: x[0][2]):
            spare = median(left)
            for recipe, each, at, is_dated, share in users:
                day = _last_day(problem, recipe, first - at, last - at)
                if day is None or spare <= EPS:
                    continue
                above = all_above(problem, {recipe.id}) - {recipe.id}
                if recipe.id in takers or not found.keys().isdisjoint(above):
                    continue
                until = last if is_dated else problem.n_days
                least = 1.0 if share is None else max(LEAST_USED, 1.0 - share)
                one = _worth_it(
                    problem, plan, (recipe, day, until, least), spare / each, found.get(recipe.id, ())
                )
                if one is not None:
                    batches, good_until = one
                    spare -= batches * each
                    before = found.get(recipe.id, ())
                    own = _own(plan, recipe.id, day, before)
                    begun = EarlyStart(
                        day=day,
                        batches=batches + own,
                        own=own,
                        ready=day + recipe.takes_days,
                        last=good_until,
                        item=item,
                        quantity=batches * each,
                        lot_last=last,
                    )
                    found[recipe.id] = (*before, begun)
                    takers |= above
    return found


def _own(plan: Planned, recipe: str, day: int, begun: tuple[EarlyStart, ...]) -> float:
    """Batches planned for a day on every path.

    What is begun sooner comes on top of them, and would else take their place.
    """
    own = plan.starts.get(recipe)
    if own is None or any(one.day == day for one in begun):
        return 0.0
    return float(own[day].min())


def all_above(problem: Problem, items: Iterable[str]) -> set[str]:
    """These items and all recipes on the way up from them."""
    above, ring = set(items), list(items)
    while ring:
        users = {use.recipe for use in problem.graph.uses.get(ring.pop(), ())} - above
        above |= users
        ring += users
    return above


def _users(problem: Problem, plan: Planned, item: str) -> list[tuple[Recipe, float, int, bool, float | None]]:
    """Recipes whose product is a store that take enough of an item to matter.

    How much a batch, how many days after its start, whether what they make keeps its date, and what of the
    money in a batch that much is.
    """
    users = []
    ring = [(item, 1.0, 0, True)]
    while ring:
        part, factor, lag, was_dated = ring.pop(0)
        for use in problem.graph.uses.get(part, ()):
            recipe = problem.house.recipes[use.recipe]
            each, at = use.quantity * factor, use.at_days + lag
            is_dated = was_dated and part in dated_parts(problem.house, recipe.id)
            if use.returns or each <= 0:
                continue
            share = _share(plan, recipe, item, each)
            if (recipe.takes_days or problem.offsets[recipe.id]) and (share is None or share >= LEAST_SHARE):
                users.append((recipe, each, at, is_dated, share))
            if not recipe.takes_days:
                ring.append((recipe.id, each / recipe.makes, at, is_dated))
    return users


def _share(plan: Planned, recipe: Recipe, item: str, each: float) -> float | None:
    """What of the money in a batch is in so much of an item; None: something has no price."""
    batch, part = plan.cost.get(recipe.id), plan.cost.get(item)
    return part * each / (batch * recipe.makes) if batch and part is not None else None


def _last_day(problem: Problem, recipe: Recipe, first: int, last: int) -> int | None:
    """The last of these days on which a recipe can be started, somebody is in, and its batch is in sight."""
    window = problem.windows.get(recipe.id)
    for day in range(min(last, problem.n_days - 1 - recipe.takes_days), max(0, first) - 1, -1):
        if window is None or window.preferred[day]:
            return day
    return None


def _worth_it(
    problem: Problem,
    plan: Planned,
    start: tuple[Recipe, int, int, float],
    spare: float,
    begun: tuple[EarlyStart, ...],
) -> tuple[float, int] | None:
    """Batches of a recipe to begin on a day from what is spare, and the last day they are good; None: none.

    start : recipe, day index, last day its parts allow, share of a whole batch to be used; spare : batches;
    begun : what is sooner already
    """
    recipe, day, until, least = start
    own = plan.starts.get(recipe.id)
    if own is None:
        return None
    terms = terms_of(problem, recipe.id, plan.oldest)
    ready = day + recipe.takes_days
    until = min(int(terms.last[ready]), until)
    planned = own[day + 1 : max(0, until - recipe.takes_days + 1)].sum(axis=0)
    if median(planned) <= EPS:
        return None
    net = plan.net_of(problem, recipe.id)[: until + 1]
    before = later(own, recipe.takes_days)[: until + 1] * recipe.makes
    before[ready + 1 :] = 0.0
    unmet, _ = rolled(before, net, terms.last)
    wanted = unmet[ready:].sum(axis=0) / recipe.makes
    done = sum(one.batches - one.own for one in begun)
    most = recipe.most_batches
    room = np.inf if most is None else most - float(own[day].max())
    used = median(wanted) - done + (1 - least if recipe.is_whole else 0.0)
    batches = recipe.at_most(min(spare, room, median(planned) - done, used))
    return (batches, until) if batches * recipe.makes > max(EPS, (recipe.smallest or 0.0) - EPS) else None
