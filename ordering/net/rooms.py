"""What a chef must hear of stages to come: a room that is full, a hole in the row of ages, no starter."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date

import numpy as np

from ordering.amounts import plural, shown, to_get
from ordering.days import said
from ordering.net.problem import Problem
from ordering.net.scarce import Relief
from ordering.net.starts import most_batches
from ordering.net.stock import DUST
from ordering.records.house import House, Recipe
from ordering.records.plan import Array, Opening, Start

AGEING_DAYS = 7  # a stage of this many days or more has a row of ages worth watching
LEAST_PORTIONS = 0.5


def room_warnings(
    problem: Problem, starts: Mapping[str, Array], reliefs: Iterable[Relief]
) -> tuple[str, ...]:
    """What a chef must hear weeks before it hurts, one sentence each, by recipe.

    starts : by recipe, batches by start day, [day, path]. A day is said to be full when more than half
    of the paths would put up all that `largest` allows; a hole is a stretch of days ahead on which the
    row of ages already begun cannot serve what is expected and nothing begun now is ready.
    """
    said_of: list[str] = []
    reliefs = list(reliefs)
    for item in sorted(problem.house.recipes):
        recipe = problem.house.recipes[item]
        if recipe.takes_days >= AGEING_DAYS:
            said_of += _full(problem, recipe, starts.get(item))
            said_of += _hole(problem, recipe, reliefs)
    return tuple(said_of)


def begun_from_nothing(
    house: House, opening: Opening, starts: Iterable[Start]
) -> tuple[tuple[Start, ...], tuple[str, ...]]:
    """The starts, those noted that need part of their own last batch while none is there; one warning each.

    They stay on the list: a chef must begin from something. What is in process counts as there, and what
    the first of them gives serves those begun when it is ready.
    """
    there = {lot.item: date.min for lot in opening.lots if lot.quantity > DUST}
    noted, said_of = [], []
    for start in starts:
        recipe = house.recipes[start.recipe]
        own = sum(x.drawn for x in recipe.lines if x.item == recipe.id and x.returns)
        is_first = recipe.id not in there
        if own and start.start_on < there.setdefault(recipe.id, start.ready_on):
            of_it = f"{shown(own * start.batches, recipe.unit)} of its last batch"
            note = f"takes {of_it}, and there is none: start it without"
            start = replace(start, note="; ".join(x for x in (start.note, note) if x))
            if is_first:
                said_of.append(
                    f"{recipe.name}, {said(start.start_on)}: it is started with {of_it}, and there is "
                    "none in the house: start it without, or get some from another kitchen"
                )
        noted.append(start)
    return tuple(noted), tuple(said_of)


def has_full_days(recipe: Recipe) -> bool:
    """Whether it is said of a recipe on which days its room is full."""
    return recipe.takes_days >= AGEING_DAYS and recipe.largest is not None


def _full(problem: Problem, recipe: Recipe, started: Array | None) -> list[str]:
    most = most_batches(recipe)
    if started is None or most is None or recipe.largest is None:
        return []
    days = np.flatnonzero((started >= most * (1 - DUST)).mean(axis=1) > 0.5)
    if not days.size:
        return []
    first, last = problem.forecast.days[int(days[0])], problem.forecast.days[int(days[-1])]
    when = f"on {said(first)}" if first == last else f"on {days.size} days from {said(first)} to {said(last)}"
    return [
        f"{recipe.name}: the {shown(recipe.largest, recipe.unit)} a day there is room for is full {when}. "
        "What does not fit is started earlier where it keeps, and is short where it does not"
    ]


def _hole(problem: Problem, recipe: Recipe, reliefs: list[Relief]) -> list[str]:
    lost: dict[int, float] = {}
    portions: dict[int, float] = {}
    for relief in reliefs:
        for (item, day), amount_short in relief.roots.items():
            if item == recipe.id and day < recipe.takes_days:
                lost[day] = lost.get(day, 0.0) + float(np.mean(amount_short))
                hit = sum(relief.hits.get((item, day), {}).values())
                portions[day] = portions.get(day, 0.0) + hit
    days = sorted(d for d in lost if portions[d] >= LEAST_PORTIONS)
    if not days:
        return []
    first, last = problem.forecast.days[days[0]], problem.forecast.days[days[-1]]
    when = said(first) if first == last else f"{said(first)} to {said(last)}"
    missing = shown(to_get(sum(lost[d] for d in days), recipe.unit), recipe.unit)
    served = plural(math.ceil(sum(portions[d] for d in days) - DUST), "portion")
    does = "hung" if "long-ageing" in recipe.hazards else "started"
    ready = "is ready too late to help"
    if recipe.takes_days < problem.n_days:
        ready = f"is ready on {said(problem.forecast.days[recipe.takes_days])}"
    return [f"{recipe.name}: {missing} short ({served}), {when}. Anything {does} today {ready}"]
