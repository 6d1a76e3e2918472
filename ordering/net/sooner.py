"""Planned starts begun sooner, so that a lot that would go past its date is used.

A lot in the house or on its way, of which more than half of the paths leave something after its last day, is
looked at with every recipe that takes it, straight or by way of a part made the same day. Where what such a
recipe makes keeps until starts that are planned later would have been ready, one or more of those are begun
from the lot instead: on the lot's last day, or on the last open day before on which all its material can be
there. On every path alike: it is a decided batch, and the rest is planned around it.

No more is begun than half of the paths have left of the lot, start later within the time the batch keeps, and
draw in that time. Of a whole batch half of the paths must draw `LEAST_USED` in that time, and so much that
what is left of it costs less than the lot. Nothing is begun that makes something lack that did not before.

Not looked at: lots nobody planned to draw from again in time, which stay on the list of what to use up; two
lots that would fill a batch together; by-products to come.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from ordering.net.dates import dated_parts
from ordering.net.decide import quantile
from ordering.net.expiring import Lots
from ordering.net.frame import Frame, Sooner
from ordering.net.starts import most_batches, rolled
from ordering.net.stock import DUST, draw
from ordering.net.sweep import Demand, by_ready, gross_of, parcels_of, terms_of
from ordering.net.windows import Days
from ordering.records.house import Recipe
from ordering.records.plan import Array

LEAST_USED = 0.5  # of a whole batch


@dataclass(frozen=True, slots=True)
class Planned:
    """What is decided so far: starts by recipe, [day, path]; by item, lots left over, dates drawn, costs."""

    demand: Demand
    starts: Mapping[str, Array]
    left: Mapping[str, Lots]
    oldest: Mapping[str, Days]
    cost: Mapping[str, float | None]


def begun_sooner(frame: Frame, plan: Planned) -> dict[str, tuple[Sooner, ...]]:
    """By recipe, batches to begin from lots that would be left over."""
    found: dict[str, tuple[Sooner, ...]] = {}
    for item in frame.graph.items:
        for (_, first, last), (_, left) in sorted(plan.left.get(item, {}).items(), key=lambda x: x[0][2]):
            spare = float(quantile(left, 0.5))
            for recipe, each, at in _users(frame, item):
                day = _last_day(frame, recipe, first - at, last - at)
                if day is None or spare <= DUST:
                    continue
                until = last if item in dated_parts(frame.house, recipe.id) else frame.n_days
                least = _least_used(plan, recipe, (plan.cost.get(item) or 0.0) * each)
                one = _worth_it(
                    frame, plan, (recipe, day, until, least), spare / each, found.get(recipe.id, ())
                )
                if one is not None:
                    batches, good_until = one
                    spare -= batches * each
                    begun = Sooner(
                        day, batches, day + recipe.takes_days, good_until, item, batches * each, last
                    )
                    found[recipe.id] = (*found.get(recipe.id, ()), begun)
    return found


def _users(frame: Frame, item: str) -> Iterator[tuple[Recipe, float, int]]:
    """Recipes whose product is a store that take an item: how much a batch, how many days after its start."""
    ring = [(item, 1.0, 0)]
    while ring:
        part, factor, lag = ring.pop(0)
        for use in frame.graph.uses.get(part, ()):
            recipe = frame.house.recipes[use.recipe]
            each, at = use.quantity * factor, use.at_days + lag
            if use.returns or each <= 0:
                continue
            if recipe.takes_days or frame.offsets[recipe.id]:
                yield recipe, each, at
            if not recipe.takes_days:
                ring.append((recipe.id, each / recipe.makes, at))


def _least_used(plan: Planned, recipe: Recipe, saved: float) -> float:
    """The share of a whole batch that must be used, where so much money of a lot is saved by each batch."""
    each = plan.cost.get(recipe.id)
    return max(LEAST_USED, 1.0 - saved / (each * recipe.makes)) if each else 1.0


def _last_day(frame: Frame, recipe: Recipe, first: int, last: int) -> int | None:
    """The last of these days on which a recipe can be started, somebody is in, and its batch is in sight."""
    window = frame.windows.get(recipe.id)
    for day in range(min(last, frame.n_days - 1 - recipe.takes_days), max(0, first) - 1, -1):
        if window is None or window.preferred[day]:
            return day
    return None


def _worth_it(
    frame: Frame,
    plan: Planned,
    start: tuple[Recipe, int, int, float],
    spare: float,
    begun: tuple[Sooner, ...],
) -> tuple[float, int] | None:
    """Batches of a recipe to begin on a day from what is spare, and the last day they are good; None: none.

    start : recipe, day index, last day its parts allow, share of a whole batch to be used; spare : batches;
    begun : what is sooner already
    """
    recipe, day, until, least = start
    own = plan.starts.get(recipe.id)
    if own is None:
        return None
    terms = terms_of(frame, recipe.id, plan.oldest)
    ready = day + recipe.takes_days
    until = min(int(terms.last[ready]), until)
    made = by_ready(own, recipe.takes_days)
    later = made[ready + 1 : until + 1].sum(axis=0)
    if quantile(later, 0.5) <= DUST:
        return None
    drawn = draw(
        parcels_of(frame, plan.starts, recipe.id), gross_of(frame, plan.demand, plan.starts, recipe.id)
    )
    before = made * recipe.makes
    before[ready + 1 :] = 0.0
    unmet, _ = rolled(before, drawn.unmet, terms.last)
    wanted = unmet[ready : until + 1].sum(axis=0) / recipe.makes
    done = sum(one.batches for one in begun)
    most = most_batches(recipe)
    room = np.inf if most is None else most - float(own[day].max())
    batches = min(spare, room, float(quantile(later, 0.5)) - done)
    used = float(quantile(wanted, 0.5)) - done
    if recipe.is_whole:
        batches = float(np.floor(min(batches, used + 1 - least) + DUST))
    else:
        batches = min(batches, used)
    return (batches, until) if batches * recipe.makes > DUST else None
