"""The par of what is made: batches that bring it back to the amount that is always to lie ready.

From the first day on which a batch can be ready, what lies ready and in date at the end of each day, after
its draws, is not below the par on any path, if a start can make it so: whole batches, `largest`, keeping time
and the days on which a recipe can be started all hold, and no house that is closed is opened for it. It is
drawn like anything else, the oldest first, and what goes past its date is made anew. Guests come before a
par: short is what they do not get, and no portion is given up to keep one. A decided start holds the par as
surely as it holds the dishes, at the service level.

A par waits for its material: where something that goes into it would lack before more of it can be had, the
par is kept from the first day on which a batch of what can then be had is ready.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from ordering.net.frame import Frame
from ordering.net.starts import Making, batches, drawn_from, whole
from ordering.net.stock import DUST, Drawn
from ordering.records.plan import Array

Cohorts = list[tuple[int, Array]]  # last day index and what is left, [path], first to expire first


def planned(drawn: Drawn, terms: Making) -> tuple[Array, Array]:
    """Batches by ready day for what parcels do not meet and for the par, and what is left unmet."""
    if not terms.par:
        return batches(drawn.unmet, terms)
    gap = np.maximum(terms.par - drawn.lying(), 0.0)
    gap[: max(terms.first_ready, terms.par_from)] = 0.0
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


def waits(frame: Frame, lacks: Mapping[str, Array]) -> dict[str, int]:
    """By recipe with a par for which something lacks: the first day on which more can be ready."""
    first: dict[str, int] = {}
    for item in reversed(frame.graph.items):
        recipe = frame.house.recipes.get(item)
        if recipe is None:
            arrival = frame.arrival.get(item, frame.n_days)
            first[item] = arrival if item in lacks else 0
            continue
        below = [first[x.item] - x.at_days for x in recipe.lines if x.drawn > 0 and first.get(x.item)]
        is_late = bool(below) or item in lacks
        first[item] = recipe.takes_days + max([0, *below]) if is_late else 0
    return {r: first[r] for r, one in frame.house.recipes.items() if one.par and first[r] > one.takes_days}
