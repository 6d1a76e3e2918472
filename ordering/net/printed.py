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
from ordering.net.problem import Problem, by_ready, gross_of, parcels_of, terms_of
from ordering.net.recipe_plan import without_sooner
from ordering.net.stock import Days, Parcel, cohorts, draw
from ordering.net.sweep import Sweep, oldest_drawn


def printed_last(problem: Problem, found: Sweep) -> dict[str, Days]:
    """By recipe, the last day index, [day], to write on what is ready that day; never later than planned."""
    starts = found.starts
    dated = {part for recipe in problem.house.recipes for part in dated_parts(problem.house, recipe)}
    last, oldest = {item: one.last for item, one in found.made.items()}, dict[str, Days]()
    for item in reversed(problem.graph.items):
        terms, made = None, list[Parcel]()
        if item in last:
            terms = terms_of(problem, item, oldest)
            last[item] = np.minimum(last[item], terms.last)
        if item not in dated:
            continue
        if terms is not None:
            ready = by_ready(without_sooner(problem, item, starts[item]), terms.first_ready)
            made = cohorts(ready * terms.makes, last[item])
        drawn = draw(parcels_of(problem, starts, item), gross_of(problem, starts, item))
        oldest[item] = oldest_drawn(problem, item, drawn, made, terms)
    return last
