"""The last day that is written beside a start: no later than that of any marked part that may go into it.

What is decided carries a margin, and what the margin leaves of a part goes, a day older, into the next
batch of a recipe that keeps the date of its parts (`net/dates.py`). The sweep that the plan is made with
knows nothing of margins. So once all is decided, dates are worked out anew, parts first, from what is there
on any path when a batch is begun. Nothing is decided again: the plan may count on a batch for longer than
is written on it, and the next run, which finds the written date in the count, plans with that.
"""

from __future__ import annotations

import numpy as np

from ordering.net.dates import dated_parts
from ordering.net.flows import Basis, Decision
from ordering.net.stock import Days, Parcel, cohorts, draw
from ordering.net.sweep import by_ready, gross_of, oldest_drawn, parcels_of, terms_of
from ordering.records.plan import Array


def printed_last(basis: Basis, decision: Decision) -> dict[str, Days]:
    """By recipe, the last day index, [day], to write on what is ready that day; never later than decided."""
    frame = basis.frame
    dated = {part for recipe in frame.house.recipes for part in dated_parts(frame.house, recipe)}
    last, oldest = dict(decision.last), dict[str, Days]()
    for item in reversed(frame.graph.items):
        terms, made = None, list[Parcel]()
        if item in last:
            terms = terms_of(frame, item, oldest)
            last[item] = np.minimum(last[item], terms.last)
            made = cohorts(_made(basis, decision, item), last[item]) if item in dated else made
        if item in dated:
            gross = gross_of(frame, basis.demand, decision.starts, item)
            drawn = draw(parcels_of(frame, decision.starts, item), gross)
            oldest[item] = oldest_drawn(frame, item, drawn, made, terms)
    return last


def _made(basis: Basis, decision: Decision, item: str) -> Array:
    """What is made of an item by ready day, [day, path], without batches begun sooner: parcels have those."""
    recipe = basis.frame.house.recipes[item]
    started = decision.starts[item].copy()
    for one in basis.frame.sooner.get(item, ()):
        if one.day < started.shape[0]:
            started[one.day] = np.maximum(started[one.day] - one.batches, 0.0)
    return by_ready(started, recipe.takes_days) * recipe.makes
